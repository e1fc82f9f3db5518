"""What one person may lift with both hands: the revised lifting equation of NIOSH."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Literal

from claybed.errors import InputError
from claybed.physics._ranges import above, within

Duration = Literal["short", "moderate", "long"]
Coupling = Literal["good", "fair", "poor"]


@dataclass(frozen=True, slots=True)
class LiftingConstants:
    """The constants of the equation in one system of units, all in kg and m.

    `load_kg` the ideal lift; `reach_m` the nearest the load can be; `knuckle_m` the best height of the hands
    and `slope_per_m` what a metre off it costs; `travel_m` the free travel, `travel_share_m` what is
    divided by a longer one; the `most` ones are where the equation ends.
    """

    load_kg: float
    reach_m: float
    reach_most_m: float
    knuckle_m: float
    slope_per_m: float
    height_most_m: float
    travel_m: float
    travel_share_m: float
    travel_most_m: float


METRIC: Final = LiftingConstants(23.0, 0.25, 0.63, 0.75, 0.3, 1.75, 0.25, 0.045, 1.75)
TWIST_MOST_DEG: Final = 135.0
_RARELY: Final = 0.2
# Lifts a minute -> multiplier for short, moderate and long work; (hands below 0.75 m, at or above it) where
# the two differ.
_FREQUENCY: Final[dict[float, tuple[tuple[float, float], ...]]] = {
    0.2: ((1.00, 1.00), (0.95, 0.95), (0.85, 0.85)),
    0.5: ((0.97, 0.97), (0.92, 0.92), (0.81, 0.81)),
    1.0: ((0.94, 0.94), (0.88, 0.88), (0.75, 0.75)),
    2.0: ((0.91, 0.91), (0.84, 0.84), (0.65, 0.65)),
    3.0: ((0.88, 0.88), (0.79, 0.79), (0.55, 0.55)),
    4.0: ((0.84, 0.84), (0.72, 0.72), (0.45, 0.45)),
    5.0: ((0.80, 0.80), (0.60, 0.60), (0.35, 0.35)),
    6.0: ((0.75, 0.75), (0.50, 0.50), (0.27, 0.27)),
    7.0: ((0.70, 0.70), (0.42, 0.42), (0.22, 0.22)),
    8.0: ((0.60, 0.60), (0.35, 0.35), (0.18, 0.18)),
    9.0: ((0.52, 0.52), (0.30, 0.30), (0.00, 0.15)),
    10.0: ((0.45, 0.45), (0.26, 0.26), (0.00, 0.13)),
    11.0: ((0.41, 0.41), (0.00, 0.23), (0.00, 0.00)),
    12.0: ((0.37, 0.37), (0.00, 0.21), (0.00, 0.00)),
    13.0: ((0.00, 0.34), (0.00, 0.00), (0.00, 0.00)),
    14.0: ((0.00, 0.31), (0.00, 0.00), (0.00, 0.00)),
    15.0: ((0.00, 0.28), (0.00, 0.00), (0.00, 0.00)),
}
_DURATIONS: Final[tuple[Duration, ...]] = ("short", "moderate", "long")
_COUPLING: Final[dict[Coupling, tuple[float, float]]] = {
    "good": (1.00, 1.00),
    "fair": (0.95, 1.00),
    "poor": (0.90, 0.90),
}


@dataclass(frozen=True, slots=True)
class Multipliers:
    """What each circumstance leaves of the ideal lift, each from 0 to 1.

    In the equation's order: how far out (HM), how high (VM), how far it travels (DM), how far the body turns
    (AM), how often (FM), how well it is gripped (CM).
    """

    reach_share: float
    height_share: float
    travel_share: float
    twist_share: float
    frequency_share: float
    coupling_share: float

    @property
    def product_share(self) -> float:
        """All of them together."""
        return (
            self.reach_share
            * self.height_share
            * self.travel_share
            * self.twist_share
            * self.frequency_share
            * self.coupling_share
        )


def hand_reach_m(load_width_m: float, hands_m: float) -> float:
    """How far out the hands are from the ankles, from the size of the load.

    20 cm + W / 2 with the hands at 25 cm or more, 25 cm + W / 2 below.

    Parameters
    ----------
    load_width_m : float
        Width of the load away from the body, [m]
    hands_m : float
        Height of the hands above the floor, [m]

    Returns
    -------
    float
        Reach H, [m]

    Raises
    ------
    InputError
        If the width is not positive or the hands are below the floor.

    Notes
    -----
    An estimate for when the reach cannot be measured.

    References
    ----------
    [niosh-94-110]

    Examples
    --------
    >>> round(hand_reach_m(0.20, 0.90), 2)
    0.3
    """
    above(load_width_m, 0.0, "load_width_m", "m")
    within(hands_m, 0.0, 3.0, "hands_m", "m")
    return (0.20 if hands_m >= 0.25 else 0.25) + load_width_m / 2.0


def multipliers(
    reach_m: float,
    hands_m: float,
    travel_m: float,
    *,
    twist_deg: float = 0.0,
    lifts_per_min: float = 0.2,
    duration: Duration = "short",
    coupling: Coupling = "poor",
    constants: LiftingConstants = METRIC,
) -> Multipliers:
    """What the circumstances of a lift leave of the ideal load, one by one.

    HM = 25/H, VM = 1 - 0.003 |V - 75|, DM = 0.82 + 4.5/D, AM = 1 - 0.0032 A (cm, degrees); FM and CM from
    tables.

    Parameters
    ----------
    reach_m : float
        How far out the hands are from the ankles, H, [m]
    hands_m : float
        Height of the hands above the floor at the end that is judged, V, [m]
    travel_m : float
        How far up or down the load goes, D, [m]
    twist_deg : float
        How far the body turns, A, [deg]
    lifts_per_min : float
        Lifts a minute, [1/min]
    duration : str
        short (to 1 h of work), moderate (to 2 h) or long (to 8 h)
    coupling : str
        good (handles), fair (fingers hooked under at a right angle) or poor
    constants : LiftingConstants
        Metric, or the manual's customary ones

    Returns
    -------
    Multipliers
        Each from 0 to 1; 0 beyond the equation's limits

    Raises
    ------
    InputError
        If a length or angle is negative or not finite.

    Notes
    -----
    Not for one hand, for sitting or kneeling, for loads that shift (an open container of liquid, a mold full
    of slip), for wet floors, or while carrying.

    References
    ----------
    [niosh-94-110]

    Examples
    --------
    >>> m = multipliers(0.30, 0.90, 0.25, coupling="poor")
    >>> round(m.reach_share, 3), round(m.height_share, 3), m.coupling_share
    (0.833, 0.955, 0.9)
    """
    within(reach_m, 0.0, 10.0, "reach_m", "m")
    within(hands_m, 0.0, 10.0, "hands_m", "m")
    within(travel_m, 0.0, 10.0, "travel_m", "m")
    within(twist_deg, 0.0, 360.0, "twist_deg", "deg")
    within(lifts_per_min, 0.0, 1000.0, "lifts_per_min", "1/min")
    c = constants
    hm = 0.0 if reach_m > c.reach_most_m + 1e-9 else c.reach_m / max(reach_m, c.reach_m)
    vm = 0.0 if hands_m > c.height_most_m + 1e-9 else 1.0 - c.slope_per_m * abs(hands_m - c.knuckle_m)
    dm = 1.0 if travel_m <= c.travel_m else 0.82 + c.travel_share_m / travel_m
    dm = 0.0 if travel_m > c.travel_most_m + 1e-9 else min(dm, 1.0)
    am = 0.0 if twist_deg > TWIST_MOST_DEG else 1.0 - 0.0032 * twist_deg
    high = hands_m >= c.knuckle_m - 1e-9
    return Multipliers(
        hm, vm, dm, am, _frequency_share(lifts_per_min, duration, high), _COUPLING[coupling][high]
    )


def recommended_weight_kg(found: Multipliers, *, constants: LiftingConstants = METRIC) -> float:
    """Recommended weight limit of a lift.

    RWL = LC x HM x VM x DM x AM x FM x CM.

    Parameters
    ----------
    found : Multipliers
        What the circumstances leave
    constants : LiftingConstants
        Metric, or the manual's customary ones

    Returns
    -------
    float
        Recommended weight limit, [kg]

    Raises
    ------
    InputError
        Never.

    Notes
    -----
    Nearly all healthy workers can lift this much over a shift without more risk of a bad back. It is no limit
    below which nothing happens.

    References
    ----------
    [niosh-94-110]

    Examples
    --------
    >>> round(recommended_weight_kg(multipliers(0.30, 0.90, 0.25, coupling="poor")), 1)
    16.5
    """
    return constants.load_kg * found.product_share


def lifting_index_ratio(load_kg: float, limit_kg: float) -> float:
    """How heavy a load is against its recommended limit.

    LI = load / RWL.

    Parameters
    ----------
    load_kg : float
        Weight of the load, [kg]
    limit_kg : float
        Recommended weight limit, [kg]

    Returns
    -------
    float
        Lifting index, infinite when the limit is nothing, [-]

    Raises
    ------
    InputError
        If the load is not positive or the limit negative.

    Notes
    -----
    Aim at 1 or less. Above 1 the risk grows for some, above 3 for nearly all.

    References
    ----------
    [niosh-94-110]

    Examples
    --------
    >>> round(lifting_index_ratio(20.0, 7.4), 1)
    2.7
    """
    above(load_kg, 0.0, "load_kg", "kg")
    within(limit_kg, 0.0, 1000.0, "limit_kg", "kg")
    return load_kg / limit_kg if limit_kg > 0.0 else math.inf


def composite_index_ratio(tasks: list[tuple[float, float, float]]) -> float:
    """How heavy a job of several lifts is, from its tasks in falling order of their single index.

    STLI of the first + sum of FILI x (1/FM(all so far) - 1/FM(those before)).

    Parameters
    ----------
    tasks : list
        (index without frequency, multiplier of the frequencies summed up to this task, multiplier summed up
        to the one before) for each task; the first has 0 for the last

    Returns
    -------
    float
        Composite lifting index, [-]

    Raises
    ------
    InputError
        If there is no task or a multiplier is not above 0.

    Notes
    -----
    The first task counts whole, with its own frequency.

    References
    ----------
    [niosh-94-110]

    Examples
    --------
    >>> round(composite_index_ratio([(1.6 * 0.94, 0.94, 0.0), (1.0, 0.88, 0.94), (0.67, 0.70, 0.88)]), 2)
    1.87
    """
    if not tasks:
        raise InputError("there is no task.", where="tasks", remedy="Give at least one.")
    total = 0.0
    for number, (index, so_far, before) in enumerate(tasks):
        within(index, 0.0, 1000.0, "index", "")
        share = 1.0 / above(so_far, 0.0, "multiplier", "")
        total += index * (share - (1.0 / above(before, 0.0, "multiplier", "") if number else 0.0))
    return total


def _frequency_share(lifts_per_min: float, duration: Duration, high: bool) -> float:
    column = _DURATIONS.index(duration)
    often = max(lifts_per_min, _RARELY)
    rows = list(_FREQUENCY.items())
    if often > rows[-1][0]:
        return 0.0
    for (low, below), (upper, beyond) in pairwise(rows):
        if often <= upper:
            share = (often - low) / (upper - low)
            return below[column][high] + share * (beyond[column][high] - below[column][high])
    return 0.0
