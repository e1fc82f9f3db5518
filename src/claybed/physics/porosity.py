"""The pores of set plaster: how much room they are and how much water they hold."""

from __future__ import annotations

from claybed.physics._ranges import above, within
from claybed.physics.plaster import hydration_water_per_100, set_mass_per_100


def crystal_density_kg_per_m3(molar_kg_per_mol: float, molar_m3_per_mol: float) -> float:
    """Density of a crystal from its molar volume.

    M / V.

    Parameters
    ----------
    molar_kg_per_mol : float
        Molar mass, [kg/mol]
    molar_m3_per_mol : float
        Molar volume, [m3/mol]

    Returns
    -------
    float
        Crystal density, [kg/m3]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Mineral data bases print molar volumes. One of them is far off for hemihydrate (61.73 cm3/mol);
    compare two.

    References
    ----------
    [phreeqc], [core10]

    Examples
    --------
    >>> round(crystal_density_kg_per_m3(0.172164, 73.9e-6))
    2330
    """
    above(molar_kg_per_mol, 0.0, "molar_kg_per_mol", "kg/mol")
    return molar_kg_per_mol / above(molar_m3_per_mol, 0.0, "molar_m3_per_mol", "m3/mol")


def porosity_fraction(dry_kg_per_m3: float, *, gypsum_kg_per_m3: float) -> float:
    """Share of the dried piece that is pores.

    1 - dry density / crystal density.

    Parameters
    ----------
    dry_kg_per_m3 : float
        Dry mass of the set piece per outside volume, [kg/m3]
    gypsum_kg_per_m3 : float
        Density of gypsum crystal, [kg/m3]

    Returns
    -------
    float
        Pore volume over outside volume, [-]

    Raises
    ------
    InputError
        If a density is not positive or the piece is denser than its crystal.

    Notes
    -----
    All pores, closed ones included. An independent measurement at 998 kg/m3 found 57.5 %; this gives 57.0
    %.

    References
    ----------
    [acee-2019]

    Examples
    --------
    >>> round(porosity_fraction(998.0, gypsum_kg_per_m3=2320.0), 3)
    0.57
    """
    above(gypsum_kg_per_m3, 0.0, "gypsum_kg_per_m3", "kg/m3")
    above(dry_kg_per_m3, 0.0, "dry_kg_per_m3", "kg/m3")
    return 1.0 - within(dry_kg_per_m3, 0.0, gypsum_kg_per_m3, "dry_kg_per_m3", "kg/m3") / gypsum_kg_per_m3


def pore_full_water_fraction(
    dry_kg_per_m3: float, *, gypsum_kg_per_m3: float, water_kg_per_m3: float
) -> float:
    """Water that would fill every pore, against the dry mass.

    porosity x water density / dry density.

    Parameters
    ----------
    dry_kg_per_m3 : float
        Dry mass of the set piece per outside volume, [kg/m3]
    gypsum_kg_per_m3 : float
        Density of gypsum crystal, [kg/m3]
    water_kg_per_m3 : float
        Density of water, [kg/m3]

    Returns
    -------
    float
        Water over dry mass, [-]

    Raises
    ------
    InputError
        If a density is not positive or the piece is denser than its crystal.

    Notes
    -----
    An upper bound; see practical_uptake_fraction for what a piece takes up.

    References
    ----------
    [usg-ig1365]

    Examples
    --------
    >>> round(pore_full_water_fraction(1106.7, gypsum_kg_per_m3=2320.0, water_kg_per_m3=998.0), 3)
    0.472
    """
    above(water_kg_per_m3, 0.0, "water_kg_per_m3", "kg/m3")
    pores_fraction = porosity_fraction(dry_kg_per_m3, gypsum_kg_per_m3=gypsum_kg_per_m3)
    return pores_fraction * water_kg_per_m3 / dry_kg_per_m3


def practical_uptake_fraction(pore_full_fraction: float, filled_fraction: float) -> float:
    """Water a dry piece takes up when immersed, against its dry mass.

    pore-full water x share of the pores that fills.

    Parameters
    ----------
    pore_full_fraction : float
        Water over dry mass with every pore full, [-]
    filled_fraction : float
        Share of the pores that fills, [-]

    Returns
    -------
    float
        Water over dry mass, [-]

    Raises
    ------
    InputError
        If the pore-full water is not positive or the share is not from 0 to 1.

    Notes
    -----
    A share of 0.78 gives 36.8 and 39.4 % where two makers print 36 and 41 %, for 70 and 74 per 100. Their
    basis is not stated: a working figure only.

    References
    ----------
    [usg-pottery], [usg-ig1365]

    Examples
    --------
    >>> round(practical_uptake_fraction(0.4716, 0.78), 3)
    0.368
    """
    above(pore_full_fraction, 0.0, "pore_full_fraction", "")
    return pore_full_fraction * within(filled_fraction, 0.0, 1.0, "filled_fraction", "")


def setting_contraction_fraction(
    *, plaster_kg_per_m3: float, water_kg_per_m3: float, gypsum_kg_per_m3: float
) -> float:
    """Volume that plaster and the water it binds lose when they become gypsum.

    1 - V(gypsum) / (V(plaster) + V(water bound)).

    Parameters
    ----------
    plaster_kg_per_m3 : float
        Effective density of the plaster grains, [kg/m3]
    water_kg_per_m3 : float
        Density of water, [kg/m3]
    gypsum_kg_per_m3 : float
        Density of gypsum crystal, [kg/m3]

    Returns
    -------
    float
        Loss over the volume before, [-]

    Raises
    ------
    InputError
        If a density is not positive.

    Notes
    -----
    It becomes voids inside (3 to 5 % of the piece); the outside does not shrink but grows by about 0.2 %.
    For pure hemihydrate.

    References
    ----------
    [iupac-2021]

    Examples
    --------
    >>> round(
    ...     setting_contraction_fraction(
    ...         plaster_kg_per_m3=2700.0, water_kg_per_m3=998.0, gypsum_kg_per_m3=2320.0
    ...     ), 3
    ... )
    0.082
    """
    above(plaster_kg_per_m3, 0.0, "plaster_kg_per_m3", "kg/m3")
    above(water_kg_per_m3, 0.0, "water_kg_per_m3", "kg/m3")
    above(gypsum_kg_per_m3, 0.0, "gypsum_kg_per_m3", "kg/m3")
    before_m3 = 100.0 / plaster_kg_per_m3 + hydration_water_per_100() / water_kg_per_m3
    return 1.0 - set_mass_per_100() / gypsum_kg_per_m3 / before_m3
