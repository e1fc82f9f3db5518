"""Plastic clay: water told two ways, density, and the share of solids."""

from __future__ import annotations

from claybed.physics._ranges import above, within


def dry_basis_fraction(water_fraction: float) -> float:
    """Water against the dry mass, from water against the wet mass.

    w / (1 - w).

    Parameters
    ----------
    water_fraction : float
        Water over the mass of the wet clay, [-]

    Returns
    -------
    float
        Water over the mass of the dry clay, [-]

    Raises
    ------
    InputError
        If the water is not from 0 to 0.95.

    Notes
    -----
    22 % of the wet mass is 28.2 % of the dry: say which is meant.

    References
    ----------
    [moisture-bases]

    Examples
    --------
    >>> round(100 * dry_basis_fraction(0.22), 3)
    28.205
    """
    return _water(water_fraction) / (1.0 - water_fraction)


def clay_density_kg_per_m3(
    water_fraction: float, *, solids_kg_per_m3: float = 2600.0, water_kg_per_m3: float = 1000.0
) -> float:
    """Density of plastic clay without air.

    1 / ((1 - w) / solids + w / water).

    Parameters
    ----------
    water_fraction : float
        Water over the mass of the wet clay, [-]
    solids_kg_per_m3 : float
        Density of the dry solids, [kg/m3]
    water_kg_per_m3 : float
        Density of water, [kg/m3]

    Returns
    -------
    float
        Density of the wet clay, [kg/m3]

    Raises
    ------
    InputError
        If the water is not from 0 to 0.95 or a density not positive.

    Notes
    -----
    An upper bound below about 18 % of water, where air comes in; pugged clay is 1850 to 1950.

    References
    ----------
    [moisture-bases]

    Examples
    --------
    >>> round(clay_density_kg_per_m3(0.22), 1)
    1923.1
    """
    solids_m3 = (1.0 - _water(water_fraction)) / above(solids_kg_per_m3, 0.0, "solids_kg_per_m3", "kg/m3")
    return 1.0 / (solids_m3 + water_fraction / above(water_kg_per_m3, 0.0, "water_kg_per_m3", "kg/m3"))


def clay_solids_volume_fraction(water_fraction: float, *, solids_ratio: float = 2.6) -> float:
    """Share of the clay's volume that is solid.

    (1 - w) clay density / solids density.

    Parameters
    ----------
    water_fraction : float
        Water over the mass of the wet clay, [-]
    solids_ratio : float
        Density of the dry solids over that of water, [-]

    Returns
    -------
    float
        Volume of solids over volume of wet clay, [-]

    Raises
    ------
    InputError
        If the water is not from 0 to 0.95 or the solids are not denser than water.

    Notes
    -----
    No air. 22 % of water gives 0.577.

    References
    ----------
    [moisture-bases]

    Examples
    --------
    >>> round(clay_solids_volume_fraction(0.22), 5)
    0.57692
    """
    solids = (1.0 - _water(water_fraction)) / above(solids_ratio, 1.0, "solids_ratio", "")
    return solids / (solids + water_fraction)


def dry_bulk_density_kg_per_m3(wet_kg_per_m3: float, water_fraction: float, drying_fraction: float) -> float:
    """Density of a piece once dry, pores and all.

    wet density (1 - w) / (1 - S)^3.

    Parameters
    ----------
    wet_kg_per_m3 : float
        Density of the wet clay, [kg/m3]
    water_fraction : float
        Water over the mass of the wet clay, [-]
    drying_fraction : float
        Linear drying shrinkage, [-]

    Returns
    -------
    float
        Density of the dry piece, [kg/m3]

    Raises
    ------
    InputError
        If the density is not positive, the water not from 0 to 0.95 or the shrinkage not from 0 to 0.3.

    Notes
    -----
    Solids stay, volume shrinks.

    References
    ----------
    [moisture-bases]

    Examples
    --------
    >>> round(dry_bulk_density_kg_per_m3(1923.1, 0.22, 0.06), 0)
    1806.0
    """
    shrunk = (1.0 - within(drying_fraction, 0.0, 0.3, "drying_fraction", "")) ** 3
    return above(wet_kg_per_m3, 0.0, "wet_kg_per_m3", "kg/m3") * (1.0 - _water(water_fraction)) / shrunk


def _water(amount_fraction: float) -> float:
    return within(amount_fraction, 0.0, 0.95, "water_fraction", "")
