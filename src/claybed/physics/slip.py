"""Casting slip: how much clay and how much water a weight stands for."""

from __future__ import annotations

from claybed.errors import InputError
from claybed.physics._ranges import above, within


def solids_volume_fraction(slip_ratio: float, solids_ratio: float) -> float:
    """Share of the slip's volume that is solid.

    (SG - 1) / (solids - 1).

    Parameters
    ----------
    slip_ratio : float
        Density of the slip over that of water, [-]
    solids_ratio : float
        Density of the dry solids over that of water, [-]

    Returns
    -------
    float
        Volume of solids over volume of slip, [-]

    Raises
    ------
    InputError
        If the slip is not heavier than water and lighter than its solids.

    Notes
    -----
    No air in the slip: let it stand before weighing.

    References
    ----------
    [brongniart]

    Examples
    --------
    >>> round(solids_volume_fraction(1.75, 2.60), 5)
    0.46875
    """
    _lighter(slip_ratio, solids_ratio)
    return (slip_ratio - 1.0) / (solids_ratio - 1.0)


def solids_mass_fraction(slip_ratio: float, solids_ratio: float) -> float:
    """Share of the slip's mass that is solid.

    solids (SG - 1) / (SG (solids - 1)).

    Parameters
    ----------
    slip_ratio : float
        Density of the slip over that of water, [-]
    solids_ratio : float
        Density of the dry solids over that of water, [-]

    Returns
    -------
    float
        Mass of solids over mass of slip, [-]

    Raises
    ------
    InputError
        If the slip is not heavier than water and lighter than its solids.

    Notes
    -----
    The rest is water: 28.3 % at 1.79.

    References
    ----------
    [brongniart], [hansen]

    Examples
    --------
    >>> round(100 * (1.0 - solids_mass_fraction(1.79, 2.60)), 2)
    28.28
    """
    _lighter(slip_ratio, solids_ratio)
    return solids_ratio * (slip_ratio - 1.0) / (slip_ratio * (solids_ratio - 1.0))


def slurry_density_ratio(
    solids_mass_fraction: float, solids_ratio: float, *, liquid_ratio: float = 1.0
) -> float:
    """Density of a mix of solids and a liquid.

    Ss Sl / (Ss + c (Sl - Ss)).

    Parameters
    ----------
    solids_mass_fraction : float
        Mass of solids over mass of the mix, [-]
    solids_ratio : float
        Density of the dry solids over that of water, [-]
    liquid_ratio : float
        Density of the liquid over that of water, [-]

    Returns
    -------
    float
        Density of the mix over that of water, [-]

    Raises
    ------
    InputError
        If the share is not from 0 to 1 or a density not positive.

    Notes
    -----
    Volumes add up: nothing dissolves, no air.

    References
    ----------
    [hydraulic-institute]

    Examples
    --------
    >>> round(slurry_density_ratio(0.35, 2.2, liquid_ratio=1.2), 3)
    1.427
    """
    share = within(solids_mass_fraction, 0.0, 1.0, "solids_mass_fraction", "")
    solids, liquid = (
        above(solids_ratio, 0.0, "solids_ratio", ""),
        above(liquid_ratio, 0.0, "liquid_ratio", ""),
    )
    return solids * liquid / (solids + share * (liquid - solids))


def batch_volume_m3(
    solids_kg: float, water_kg: float, solids_ratio: float, *, water_kg_per_m3: float = 1000.0
) -> float:
    """Volume of a batch of clay and water.

    solids / their density + water / its density.

    Parameters
    ----------
    solids_kg : float
        Dry clay, [kg]
    water_kg : float
        Water, [kg]
    solids_ratio : float
        Density of the dry solids over that of water, [-]
    water_kg_per_m3 : float
        Density of water, [kg/m3]

    Returns
    -------
    float
        Volume of the batch, [m3]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    No air, and dry clay means dry: bagged powder holds a per cent or two of water.

    References
    ----------
    [brongniart]

    Examples
    --------
    >>> round(1000 * batch_volume_m3(20.0, 8.4, 2.60), 2)
    16.09
    """
    above(solids_ratio, 1.0, "solids_ratio", "")
    solids = above(solids_kg, 0.0, "solids_kg", "kg") / solids_ratio
    return (solids + above(water_kg, 0.0, "water_kg", "kg")) / above(
        water_kg_per_m3, 0.0, "water_kg_per_m3", "kg/m3"
    )


def dry_content_kg_per_m3(
    slip_kg_per_m3: float, solids_ratio: float, *, water_kg_per_m3: float = 1000.0
) -> float:
    """Dry clay in a volume of slip (Brongniart).

    (slip - water) solids / (solids - 1).

    Parameters
    ----------
    slip_kg_per_m3 : float
        Mass of a volume of slip, [kg/m3]
    solids_ratio : float
        Density of the dry solids over that of water, [-]
    water_kg_per_m3 : float
        Density of water, [kg/m3]

    Returns
    -------
    float
        Dry clay per volume of slip, [kg/m3]

    Raises
    ------
    InputError
        If the slip is not heavier than water and lighter than its solids.

    Notes
    -----
    The same as Brongniart's W = (P - 20) G / (G - 1) in ounces per imperial pint, which holds 20 oz of water;
    a US pint holds 16.69.

    References
    ----------
    [brongniart], [altmann]

    Examples
    --------
    >>> round(dry_content_kg_per_m3(1500.0, 2.5), 1)
    833.3
    """
    above(water_kg_per_m3, 0.0, "water_kg_per_m3", "kg/m3")
    _lighter(slip_kg_per_m3 / water_kg_per_m3, solids_ratio)
    return (slip_kg_per_m3 - water_kg_per_m3) * solids_ratio / (solids_ratio - 1.0)


def thinning_water_m3(slip_m3: float, from_ratio: float, to_ratio: float) -> float:
    """Water that thins a slip to a lower density.

    V (a - b) / (b - 1).

    Parameters
    ----------
    slip_m3 : float
        Volume of slip, [m3]
    from_ratio : float
        Its density over that of water, [-]
    to_ratio : float
        Density wanted over that of water, [-]

    Returns
    -------
    float
        Volume of water to add, [m3]

    Raises
    ------
    InputError
        If the volume is not positive, or the wanted density is not above 1 and at most the present one.

    Notes
    -----
    Add less, stir, weigh again: thin slip is thickened with difficulty.

    References
    ----------
    [brongniart]

    Examples
    --------
    >>> round(1e6 * thinning_water_m3(1e-3, 1.80, 1.75), 2)
    66.67
    """
    above(to_ratio, 1.0, "to_ratio", "")
    within(to_ratio, 1.0, from_ratio, "to_ratio", "")
    return above(slip_m3, 0.0, "slip_m3", "m3") * (from_ratio - to_ratio) / (to_ratio - 1.0)


def thickening_solids_kg(
    slip_m3: float,
    from_ratio: float,
    to_ratio: float,
    solids_ratio: float,
    *,
    water_kg_per_m3: float = 1000.0,
) -> float:
    """Dry clay that thickens a slip to a higher density.

    V (b - a) / (1 - b / solids), in masses of water.

    Parameters
    ----------
    slip_m3 : float
        Volume of slip, [m3]
    from_ratio : float
        Its density over that of water, [-]
    to_ratio : float
        Density wanted over that of water, [-]
    solids_ratio : float
        Density of the dry solids over that of water, [-]
    water_kg_per_m3 : float
        Density of water, [kg/m3]

    Returns
    -------
    float
        Dry clay to add, [kg]

    Raises
    ------
    InputError
        If the volume is not positive, or the wanted density is not from the present one up to that of the
        solids.

    Notes
    -----
    Powder needs deflocculant of its own; stir it in and weigh again the next day.

    References
    ----------
    [brongniart]

    Examples
    --------
    >>> round(thickening_solids_kg(1e-3, 1.70, 1.75, 2.60), 4)
    0.1529
    """
    _lighter(to_ratio, solids_ratio)
    within(to_ratio, from_ratio, solids_ratio, "to_ratio", "")
    slip_kg = above(slip_m3, 0.0, "slip_m3", "m3") * above(water_kg_per_m3, 0.0, "water_kg_per_m3", "kg/m3")
    return slip_kg * (to_ratio - from_ratio) / (1.0 - to_ratio / solids_ratio)


def _lighter(slip_ratio: float, solids_ratio: float) -> None:
    above(slip_ratio, 1.0, "slip_ratio", "")
    if not slip_ratio < solids_ratio:
        raise InputError(
            f"a slip of {slip_ratio:g} cannot be made of solids of {solids_ratio:g}.",
            where="slip_ratio",
            remedy="Weigh a known volume again; casting slips are 1.6 to 1.9 times as heavy as water.",
        )
