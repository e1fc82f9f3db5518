"""The boil test: what a fired piece drinks, from three weighings."""

from __future__ import annotations

from claybed.errors import InputError
from claybed.physics._ranges import above


def water_absorption_fraction(dry_kg: float, soaked_kg: float) -> float:
    """Water that a fired piece takes up, against its dry mass.

    (M - D) / D.

    Parameters
    ----------
    dry_kg : float
        Mass after drying to constant mass, [kg]
    soaked_kg : float
        Mass, soaked and blotted, [kg]

    Returns
    -------
    float
        Absorption, [-]

    Raises
    ------
    InputError
        If a mass is not positive or the soaked mass is below the dry one.

    Notes
    -----
    At least five pieces of 50 g or more, dried at 150 °C to constant mass, boiled five hours, soaked a day,
    weighed to 0.01 g.

    References
    ----------
    [astm-c373]

    Examples
    --------
    >>> round(100 * water_absorption_fraction(0.100, 0.104), 3)
    4.0
    """
    above(dry_kg, 0.0, "dry_kg", "kg")
    _in_order(dry_kg, soaked_kg, "soaked_kg")
    return (soaked_kg - dry_kg) / dry_kg


def apparent_porosity_fraction(dry_kg: float, suspended_kg: float, soaked_kg: float) -> float:
    """Open pores of a fired piece, against its outside volume.

    (M - D) / (M - S).

    Parameters
    ----------
    dry_kg : float
        Mass after drying to constant mass, [kg]
    suspended_kg : float
        Apparent mass, soaked and hanging in water, [kg]
    soaked_kg : float
        Mass, soaked and blotted, [kg]

    Returns
    -------
    float
        Apparent porosity, [-]

    Raises
    ------
    InputError
        If a mass is not positive, or they are not in the order suspended < dry <= soaked.

    Notes
    -----
    Closed pores are not counted. Equals absorption times bulk density.

    References
    ----------
    [astm-c373]

    Examples
    --------
    >>> round(100 * apparent_porosity_fraction(0.100, 0.060, 0.104), 3)
    9.091
    """
    _weighed(dry_kg, suspended_kg, soaked_kg)
    return (soaked_kg - dry_kg) / (soaked_kg - suspended_kg)


def apparent_density_ratio(dry_kg: float, suspended_kg: float) -> float:
    """Density of what the water cannot enter, against water.

    D / (D - S).

    Parameters
    ----------
    dry_kg : float
        Mass after drying to constant mass, [kg]
    suspended_kg : float
        Apparent mass, soaked and hanging in water, [kg]

    Returns
    -------
    float
        Apparent relative density, [-]

    Raises
    ------
    InputError
        If a mass is not positive or the suspended mass is not below the dry one.

    Notes
    -----
    Grains and closed pores together.

    References
    ----------
    [astm-c373]

    Examples
    --------
    >>> round(apparent_density_ratio(0.100, 0.060), 3)
    2.5
    """
    above(suspended_kg, 0.0, "suspended_kg", "kg")
    _in_order(suspended_kg, dry_kg, "dry_kg", strictly=True)
    return dry_kg / (dry_kg - suspended_kg)


def bulk_density_ratio(dry_kg: float, suspended_kg: float, soaked_kg: float) -> float:
    """Density of the whole fired piece, against water.

    D / (M - S).

    Parameters
    ----------
    dry_kg : float
        Mass after drying to constant mass, [kg]
    suspended_kg : float
        Apparent mass, soaked and hanging in water, [kg]
    soaked_kg : float
        Mass, soaked and blotted, [kg]

    Returns
    -------
    float
        Bulk density over that of water, [-]

    Raises
    ------
    InputError
        If a mass is not positive, or they are not in the order suspended < dry <= soaked.

    Notes
    -----
    All pores counted in.

    References
    ----------
    [astm-c373]

    Examples
    --------
    >>> round(bulk_density_ratio(0.100, 0.060, 0.104), 4)
    2.2727
    """
    _weighed(dry_kg, suspended_kg, soaked_kg)
    return dry_kg / (soaked_kg - suspended_kg)


def _weighed(dry_kg: float, suspended_kg: float, soaked_kg: float) -> None:
    above(suspended_kg, 0.0, "suspended_kg", "kg")
    _in_order(suspended_kg, dry_kg, "dry_kg", strictly=True)
    _in_order(dry_kg, soaked_kg, "soaked_kg")


def _in_order(less_kg: float, more_kg: float, name: str, *, strictly: bool = False) -> None:
    if not (more_kg > less_kg if strictly else more_kg >= less_kg):
        raise InputError(
            f"{more_kg:g} kg cannot be beside {less_kg:g} kg.",
            where=name,
            remedy="Soaked weighs most, then dry, then hanging in water.",
        )
