"""Where the slip's water goes: through the cast wall, into the plaster."""

from __future__ import annotations

from claybed.physics._ranges import above, within


def water_sent_ratio(slip_fraction: float, clay_fraction: float) -> float:
    """Water that goes into the mold for each volume of clay cast.

    clay solids share / slip solids share - 1.

    Parameters
    ----------
    slip_fraction : float
        Solids of the slip by volume, [-]
    clay_fraction : float
        Solids of the cast wall by volume, [-]

    Returns
    -------
    float
        Volume of water per volume of clay, [-]

    Raises
    ------
    InputError
        If a share is not from 0 to 1 or the slip has more solids than the wall.

    Notes
    -----
    Exact for a full, unyielding wall. As much slip has to be topped up.

    References
    ----------
    [mass-balance]

    Examples
    --------
    >>> round(water_sent_ratio(0.46875, 0.57692), 4)
    0.2308
    """
    within(clay_fraction, 0.0, 1.0, "clay_fraction", "")
    within(slip_fraction, 0.01, clay_fraction, "slip_fraction", "")
    return clay_fraction / slip_fraction - 1.0


def water_lost_kg_per_kg(from_fraction: float, to_fraction: float) -> float:
    """Water that clay gives up between two states, for each mass of dry clay.

    w1 / (1 - w1) - w2 / (1 - w2).

    Parameters
    ----------
    from_fraction : float
        Water over wet mass before, [-]
    to_fraction : float
        Water over wet mass after, [-]

    Returns
    -------
    float
        Mass of water per mass of dry clay, [kg/kg]

    Raises
    ------
    InputError
        If a share is not from 0 to 0.95 or it takes water up.

    Notes
    -----
    From slip to leather-hard, counted as if all of it went into the plaster.

    References
    ----------
    [mass-balance]

    Examples
    --------
    >>> round(water_lost_kg_per_kg(0.30357, 0.18), 4)
    0.2164
    """
    within(from_fraction, 0.0, 0.95, "from_fraction", "")
    within(to_fraction, 0.0, from_fraction, "to_fraction", "")
    return from_fraction / (1.0 - from_fraction) - to_fraction / (1.0 - to_fraction)


def darcy_rate_m2_per_s(
    suction_Pa: float,
    sent_ratio: float,
    *,
    viscosity_Pa_s: float,
    clay_m2: float,
    plaster_m2: float,
    fillable_fraction: float,
) -> float:
    """Casting rate from suction, permeabilities and viscosity.

    2 dP / (eta n (1 / Kc + n / (eps Km))).

    Parameters
    ----------
    suction_Pa : float
        Suction of the plaster, [Pa]
    sent_ratio : float
        Water sent into the mold per volume of clay cast, [-]
    viscosity_Pa_s : float
        Viscosity of the water, [Pa s]
    clay_m2 : float
        Permeability of the cast wall, [m2]
    plaster_m2 : float
        Permeability of the plaster, infinite for none, [m2]
    fillable_fraction : float
        Pores of the plaster that water can fill, by volume, [-]

    Returns
    -------
    float
        Casting rate k, [m2/s]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Wall and wetted plaster grow in proportion, so the law stays a square root until the front reaches the
    back of the mold.

    References
    ----------
    [darcy], [mass-balance]

    Examples
    --------
    >>> mold = {'clay_m2': 1e-16, 'plaster_m2': 1e-15, 'fillable_fraction': 0.396}
    >>> rate = darcy_rate_m2_per_s(1e5, 0.23077, viscosity_Pa_s=1.002e-3, **mold)
    >>> round(rate * 6e7, 3)
    4.904
    """
    n = above(sent_ratio, 0.0, "sent_ratio", "")
    pores = above(within(fillable_fraction, 0.0, 1.0, "fillable_fraction", ""), 0.0, "fillable_fraction", "")
    wall = 1.0 / above(clay_m2, 0.0, "clay_m2", "m2")
    plaster = n / (pores * plaster_m2) if plaster_m2 > 0.0 else above(plaster_m2, 0.0, "plaster_m2", "m2")
    viscosity = above(viscosity_Pa_s, 0.0, "viscosity_Pa_s", "Pa s")
    return 2.0 * above(suction_Pa, 0.0, "suction_Pa", "Pa") / (viscosity * n * (wall + plaster))


def wet_depth_m(sent_ratio: float, wall_m: float, *, fillable_fraction: float) -> float:
    """How deep one cast wets the plaster behind a flat wall.

    n L / eps.

    Parameters
    ----------
    sent_ratio : float
        Water sent into the mold per volume of clay cast, [-]
    wall_m : float
        Wall of clay cast, [m]
    fillable_fraction : float
        Pores of the plaster that water can fill, by volume, [-]

    Returns
    -------
    float
        Depth of the wet front, [m]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    About 2.3 mm for 4 mm of clay: a thick mold is never soaked through in one cast.

    References
    ----------
    [mass-balance]

    Examples
    --------
    >>> round(1000 * wet_depth_m(0.23077, 0.004, fillable_fraction=0.396), 2)
    2.33
    """
    above(sent_ratio, 0.0, "sent_ratio", "")
    above(wall_m, 0.0, "wall_m", "m")
    above(fillable_fraction, 0.0, "fillable_fraction", "")
    return sent_ratio * wall_m / within(fillable_fraction, 0.0, 1.0, "fillable_fraction", "")


def plaster_capacity_kg_per_m3(dry_kg_per_m3: float, absorption_fraction: float) -> float:
    """Water that a volume of dry plaster can take up.

    dry density x absorption.

    Parameters
    ----------
    dry_kg_per_m3 : float
        Density of the dry plaster, [kg/m3]
    absorption_fraction : float
        Total absorption, against dry mass, [-]

    Returns
    -------
    float
        Mass of water per volume of plaster, [kg/m3]

    Raises
    ------
    InputError
        If the density is not positive or the absorption not from 0 to 1.

    Notes
    -----
    A makers' figure; less than its pores, since air stays behind.

    References
    ----------
    [usg-pottery], [usg-ig1365]

    Examples
    --------
    >>> round(plaster_capacity_kg_per_m3(1100.0, 0.36), 0)
    396.0
    """
    share = within(absorption_fraction, 0.0, 1.0, "absorption_fraction", "")
    return above(dry_kg_per_m3, 0.0, "dry_kg_per_m3", "kg/m3") * share


def casts_to_limit_ratio(
    plaster_kg_per_m2: float, start_fraction: float, limit_fraction: float, water_kg_per_m2: float
) -> float:
    """How many casts a mold takes before it must dry.

    plaster (limit - start) / water per cast.

    Parameters
    ----------
    plaster_kg_per_m2 : float
        Dry plaster behind a unit of cavity wall, [kg/m2]
    start_fraction : float
        Water in the plaster to begin with, against its dry mass, [-]
    limit_fraction : float
        Water at which casting is stopped, [-]
    water_kg_per_m2 : float
        Water that a cast gives to a unit of wall, [kg/m2]

    Returns
    -------
    float
        Number of casts, not rounded, [-]

    Raises
    ------
    InputError
        If an amount is not positive or the limit is below the start.

    Notes
    -----
    Count the plaster near the cavity, not the whole mold: what lies deeper takes days to draw the water in.
    Counted whole, a thick mold comes out at several times what studios see.

    References
    ----------
    [usg-ig526], [hot-clay]

    Examples
    --------
    >>> round(casts_to_limit_ratio(38.5, 0.0, 0.15, 1.298), 2)
    4.45
    """
    above(plaster_kg_per_m2, 0.0, "plaster_kg_per_m2", "kg/m2")
    within(start_fraction, 0.0, limit_fraction, "start_fraction", "")
    room_kg_per_m2 = plaster_kg_per_m2 * (
        within(limit_fraction, 0.0, 1.0, "limit_fraction", "") - start_fraction
    )
    return room_kg_per_m2 / above(water_kg_per_m2, 0.0, "water_kg_per_m2", "kg/m2")
