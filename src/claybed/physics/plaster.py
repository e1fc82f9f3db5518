"""Gypsum plaster by mass: what goes in, what sets, what dries out.

Consistency is water per 100 of plaster by mass. Nothing is lost on setting: 100 of plaster and w of water
become 118.618 of gypsum and w - 18.618 of free water.
"""

from __future__ import annotations

from typing import Final

from claybed.physics._ranges import above, within

# Standard atomic weights, abridged, g/mol [iupac-2021].
_CA, _S, _O, _H = 40.078, 32.06, 15.999, 1.008

WATER_KG_PER_MOL: Final = (2 * _H + _O) / 1000
ANHYDRITE_KG_PER_MOL: Final = (_CA + _S + 4 * _O) / 1000
HEMIHYDRATE_KG_PER_MOL: Final = ANHYDRITE_KG_PER_MOL + 0.5 * WATER_KG_PER_MOL
GYPSUM_KG_PER_MOL: Final = ANHYDRITE_KG_PER_MOL + 2 * WATER_KG_PER_MOL


def hydration_water_per_100(*, purity_fraction: float = 1.0) -> float:
    """Water that 100 parts of plaster bind on setting.

    CaSO4.0.5H2O + 1.5 H2O -> CaSO4.2H2O, so 100 x 1.5 M(H2O) / M(CaSO4.0.5H2O) x purity.

    Parameters
    ----------
    purity_fraction : float
        Share of hemihydrate in the plaster, by mass, [-]

    Returns
    -------
    float
        Water bound, by mass, [per 100]

    Raises
    ------
    InputError
        If the purity is not between 0 and 1.

    Notes
    -----
    Holds for complete hydration; the rest of the plaster is taken as inert.

    References
    ----------
    [iupac-2021]

    Examples
    --------
    >>> round(hydration_water_per_100(), 3)
    18.618
    """
    within(purity_fraction, 0.0, 1.0, "purity_fraction", "")
    return 100.0 * purity_fraction * 1.5 * WATER_KG_PER_MOL / HEMIHYDRATE_KG_PER_MOL


def set_mass_per_100(*, purity_fraction: float = 1.0) -> float:
    """Dry mass of what 100 parts of plaster set to.

    100 + the water bound.

    Parameters
    ----------
    purity_fraction : float
        Share of hemihydrate in the plaster, by mass, [-]

    Returns
    -------
    float
        Dry set plaster, by mass, [per 100]

    Raises
    ------
    InputError
        If the purity is not between 0 and 1.

    Notes
    -----
    Dry means free water gone and combined water kept: dried below about 49 C.

    References
    ----------
    [iupac-2021]

    Examples
    --------
    >>> round(set_mass_per_100(), 3)
    118.618
    """
    return 100.0 + hydration_water_per_100(purity_fraction=purity_fraction)


def gypsum_combined_water_fraction() -> float:
    """Share of gypsum that is combined water.

    2 M(H2O) / M(CaSO4.2H2O).

    Returns
    -------
    float
        Combined water, by mass, [-]

    Notes
    -----
    Pure gypsum. Drying too hot takes this water and the strength with it.

    References
    ----------
    [iupac-2021]

    Examples
    --------
    >>> round(gypsum_combined_water_fraction(), 4)
    0.2093
    """
    return 2.0 * WATER_KG_PER_MOL / GYPSUM_KG_PER_MOL


def consistency_per_100(water_parts: float, plaster_parts: float) -> float:
    """Consistency of a ratio water : plaster.

    100 x water / plaster.

    Parameters
    ----------
    water_parts : float
        Water by mass, in any unit, [-]
    plaster_parts : float
        Plaster by mass, in the same unit, [-]

    Returns
    -------
    float
        Water per 100 of plaster by mass, [per 100]

    Raises
    ------
    InputError
        If either amount is not above nothing.

    Notes
    -----
    By mass, never by volume: loose plaster packs anyhow.

    References
    ----------
    [practice]

    Examples
    --------
    >>> round(consistency_per_100(1.0, 1.3), 3)
    76.923
    """
    above(water_parts, 0.0, "water_parts", "")
    return 100.0 * water_parts / above(plaster_parts, 0.0, "plaster_parts", "")


def free_water_per_100(water_per_100: float, *, purity_fraction: float = 1.0) -> float:
    """Water left free in the set piece.

    w - the water bound.

    Parameters
    ----------
    water_per_100 : float
        Water per 100 of plaster by mass, [per 100]
    purity_fraction : float
        Share of hemihydrate in the plaster, by mass, [-]

    Returns
    -------
    float
        Free water per 100 of dry plaster, by mass, [per 100]

    Raises
    ------
    InputError
        If there is less water than the plaster binds.

    Notes
    -----
    Just after set, before any of it dries.

    References
    ----------
    [iupac-2021]

    Examples
    --------
    >>> round(free_water_per_100(70.0), 3)
    51.382
    """
    bound_per_100 = hydration_water_per_100(purity_fraction=purity_fraction)
    return above(water_per_100, bound_per_100, "water_per_100", "per 100") - bound_per_100


def free_water_of_wet_fraction(water_per_100: float, *, purity_fraction: float = 1.0) -> float:
    """Share of a freshly set piece that will dry out.

    (w - bound) / (100 + w).

    Parameters
    ----------
    water_per_100 : float
        Water per 100 of plaster by mass, [per 100]
    purity_fraction : float
        Share of hemihydrate in the plaster, by mass, [-]

    Returns
    -------
    float
        Free water over wet mass, [-]

    Raises
    ------
    InputError
        If there is less water than the plaster binds.

    Notes
    -----
    Just after set. A piece left in air for a day has lost some already.

    References
    ----------
    [iupac-2021]

    Examples
    --------
    >>> round(free_water_of_wet_fraction(77.0), 4)
    0.3298
    """
    return free_water_per_100(water_per_100, purity_fraction=purity_fraction) / (100.0 + water_per_100)


def free_water_of_dry_fraction(water_per_100: float, *, purity_fraction: float = 1.0) -> float:
    """Free water of a freshly set piece against its dry mass.

    (w - bound) / (100 + bound).

    Parameters
    ----------
    water_per_100 : float
        Water per 100 of plaster by mass, [per 100]
    purity_fraction : float
        Share of hemihydrate in the plaster, by mass, [-]

    Returns
    -------
    float
        Free water over dry mass, [-]

    Raises
    ------
    InputError
        If there is less water than the plaster binds.

    Notes
    -----
    Just after set.

    References
    ----------
    [iupac-2021]

    Examples
    --------
    >>> round(free_water_of_dry_fraction(70.0), 4)
    0.4332
    """
    free_per_100 = free_water_per_100(water_per_100, purity_fraction=purity_fraction)
    return free_per_100 / set_mass_per_100(purity_fraction=purity_fraction)


def dry_from_wet_kg(wet_kg: float, water_per_100: float, *, purity_fraction: float = 1.0) -> float:
    """What a freshly set piece will weigh when dry.

    wet x (100 + bound) / (100 + w).

    Parameters
    ----------
    wet_kg : float
        Mass just after set, trimmed, [kg]
    water_per_100 : float
        Water per 100 of plaster by mass, [per 100]
    purity_fraction : float
        Share of hemihydrate in the plaster, by mass, [-]

    Returns
    -------
    float
        Dry mass, [kg]

    Raises
    ------
    InputError
        If the mass is not positive or there is less water than the plaster binds.

    Notes
    -----
    One point of consistency off moves it by 0.6 %, a purity of 95 % by -0.8 %.

    References
    ----------
    [iupac-2021]

    Examples
    --------
    >>> round(dry_from_wet_kg(1.0, 100 / 1.3), 4)
    0.6704
    """
    above(wet_kg, 0.0, "wet_kg", "kg")
    return wet_kg * (1.0 - free_water_of_wet_fraction(water_per_100, purity_fraction=purity_fraction))
