"""Walls that grow in round hollows and over ribs, and gaps that grow shut."""

from __future__ import annotations

import math

from claybed.physics._ranges import above, within
from claybed.physics.casting import cast_wall_m


def inside_time_s(wall_m: float, radius_m: float, rate_m2_per_s: float) -> float:
    """How long a wall takes inside a round mold: a bore, a groove.

    ((R^2 - r^2) / 2 - r^2 ln(R / r)) / k with r = R - L.

    Parameters
    ----------
    wall_m : float
        Wall of clay on the plaster, [m]
    radius_m : float
        Radius of the plaster wall, [m]
    rate_m2_per_s : float
        Casting rate k of L² = k t, [m2/s]

    Returns
    -------
    float
        Time, [s]

    Raises
    ------
    InputError
        If an amount is not positive or the wall is thicker than the radius.

    Notes
    -----
    Shorter than on a flat wall, since the cake narrows as it grows; closed (L = R) after R²/(2k).

    References
    ----------
    [casting-law]

    Examples
    --------
    >>> round(inside_time_s(4.379e-3, 10e-3, 1e-6 / 60) / 60, 1)
    16.0
    """
    R = above(radius_m, 0.0, "radius_m", "m")
    r = R - within(wall_m, 0.0, R, "wall_m", "m")
    logged = r * r * math.log(R / r) if r > 0.0 else 0.0
    return ((R * R - r * r) / 2.0 - logged) / above(rate_m2_per_s, 0.0, "rate_m2_per_s", "m2/s")


def outside_time_s(wall_m: float, radius_m: float, rate_m2_per_s: float) -> float:
    """How long a wall takes outside a round rib or core of plaster.

    (r^2 ln(r / R) - (r^2 - R^2) / 2) / k with r = R + L.

    Parameters
    ----------
    wall_m : float
        Wall of clay on the plaster, [m]
    radius_m : float
        Radius of the plaster rib, [m]
    rate_m2_per_s : float
        Casting rate k of L² = k t, [m2/s]

    Returns
    -------
    float
        Time, [s]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Longer than on a flat wall. A rib also holds little plaster and soaks first: round it.

    References
    ----------
    [casting-law]

    Examples
    --------
    >>> round(outside_time_s(3.787e-3, 10e-3, 1e-6 / 60) / 60, 1)
    16.0
    """
    R = above(radius_m, 0.0, "radius_m", "m")
    r = R + above(wall_m, 0.0, "wall_m", "m")
    grown = r * r * math.log(r / R) - (r * r - R * R) / 2.0
    return grown / above(rate_m2_per_s, 0.0, "rate_m2_per_s", "m2/s")


def inside_wall_m(time_s: float, radius_m: float, rate_m2_per_s: float) -> float:
    """How thick the wall is inside a round mold after a time.

    inside_time_s, turned round by halving.

    Parameters
    ----------
    time_s : float
        Time since the slip was poured, [s]
    radius_m : float
        Radius of the plaster wall, [m]
    rate_m2_per_s : float
        Casting rate k of L² = k t, [m2/s]

    Returns
    -------
    float
        Wall of clay, at most the radius, [m]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Once closed it stays the radius.

    References
    ----------
    [casting-law]

    Examples
    --------
    >>> round(1000 * inside_wall_m(960.0, 10e-3, 1e-6 / 60), 3)
    4.379
    """
    above(time_s, 0.0, "time_s", "s")
    if inside_time_s(radius_m, radius_m, rate_m2_per_s) <= time_s:
        return radius_m
    low_m, high_m = 0.0, radius_m
    for _ in range(60):
        middle_m = (low_m + high_m) / 2.0
        if inside_time_s(middle_m, radius_m, rate_m2_per_s) < time_s:
            low_m = middle_m
        else:
            high_m = middle_m
    return (low_m + high_m) / 2.0


def outside_wall_m(time_s: float, radius_m: float, rate_m2_per_s: float) -> float:
    """How thick the wall is outside a round rib after a time.

    outside_time_s, turned round by halving.

    Parameters
    ----------
    time_s : float
        Time since the slip was poured, [s]
    radius_m : float
        Radius of the plaster rib, [m]
    rate_m2_per_s : float
        Casting rate k of L² = k t, [m2/s]

    Returns
    -------
    float
        Wall of clay, [m]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Always below the flat wall, which bounds the search.

    References
    ----------
    [casting-law]

    Examples
    --------
    >>> round(1000 * outside_wall_m(960.0, 10e-3, 1e-6 / 60), 3)
    3.787
    """
    low_m, high_m = 0.0, cast_wall_m(time_s, rate_m2_per_s)
    for _ in range(60):
        middle_m = (low_m + high_m) / 2.0
        if outside_time_s(middle_m, radius_m, rate_m2_per_s) < time_s:
            low_m = middle_m
        else:
            high_m = middle_m
    return (low_m + high_m) / 2.0


def slot_closing_time_s(gap_m: float, rate_m2_per_s: float) -> float:
    """When a flat slot has closed from both sides.

    g^2 / (4 k).

    Parameters
    ----------
    gap_m : float
        Width of the slot, [m]
    rate_m2_per_s : float
        Casting rate k of L² = k t, [m2/s]

    Returns
    -------
    float
        Time, [s]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Also how long a solid cast of that thickness takes. A slot closes at two walls.

    References
    ----------
    [casting-law]

    Examples
    --------
    >>> round(slot_closing_time_s(0.010, 1e-6 / 60) / 60, 2)
    25.0
    """
    above(gap_m, 0.0, "gap_m", "m")
    return gap_m**2 / (4.0 * above(rate_m2_per_s, 0.0, "rate_m2_per_s", "m2/s"))


def bore_closing_time_s(bore_m: float, rate_m2_per_s: float) -> float:
    """When a round bore has closed.

    D^2 / (8 k).

    Parameters
    ----------
    bore_m : float
        Diameter of the bore, [m]
    rate_m2_per_s : float
        Casting rate k of L² = k t, [m2/s]

    Returns
    -------
    float
        Time, [s]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Half the time of a slot as wide: a bore closes at 2.83 walls.

    References
    ----------
    [casting-law]

    Examples
    --------
    >>> round(bore_closing_time_s(0.010, 1e-6 / 60) / 60, 2)
    12.5
    """
    above(bore_m, 0.0, "bore_m", "m")
    return bore_m**2 / (8.0 * above(rate_m2_per_s, 0.0, "rate_m2_per_s", "m2/s"))
