"""A wall of clay grows on plaster with the square root of time."""

from __future__ import annotations

import math

from claybed.physics._ranges import above, within


def casting_rate_m2_per_s(wall_m: float, time_s: float) -> float:
    """Casting rate from a test pour.

    L^2 / t.

    Parameters
    ----------
    wall_m : float
        Wall of clay on the plaster, [m]
    time_s : float
        Time since the slip was poured, [s]

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
    Slips differ tenfold, from 0.5 to 5 mm²/min: the test pour is part of the job. Same mold dampness,
    temperature and slip as the cast to come.

    References
    ----------
    [casting-law]

    Examples
    --------
    >>> round(casting_rate_m2_per_s(0.004, 300.0) * 6e7, 3)
    3.2
    """
    above(wall_m, 0.0, "wall_m", "m")
    return wall_m**2 / above(time_s, 0.0, "time_s", "s")


def casting_time_s(wall_m: float, rate_m2_per_s: float) -> float:
    """How long a flat wall takes.

    L^2 / k.

    Parameters
    ----------
    wall_m : float
        Wall of clay on the plaster, [m]
    rate_m2_per_s : float
        Casting rate k of L² = k t, [m2/s]

    Returns
    -------
    float
        Time from pouring in to pouring out, [s]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Dry, thick plaster behind the wall; in a round hollow it is shorter, over a rib longer.

    References
    ----------
    [casting-law]

    Examples
    --------
    >>> round(casting_time_s(0.004, 1e-6 / 60) / 60, 1)
    16.0
    """
    above(wall_m, 0.0, "wall_m", "m")
    return wall_m**2 / above(rate_m2_per_s, 0.0, "rate_m2_per_s", "m2/s")


def cast_wall_m(time_s: float, rate_m2_per_s: float) -> float:
    """How thick a flat wall is after a time.

    sqrt(k t).

    Parameters
    ----------
    time_s : float
        Time since the slip was poured, [s]
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
    As casting_time_s, turned round.

    References
    ----------
    [casting-law]

    Examples
    --------
    >>> round(1000 * cast_wall_m(900.0, 1e-6 / 60), 3)
    3.873
    """
    above(time_s, 0.0, "time_s", "s")
    return math.sqrt(time_s * above(rate_m2_per_s, 0.0, "rate_m2_per_s", "m2/s"))


def stagger_ratio(time_s: float, stagger_s: float) -> float:
    """Thickness at the bottom over thickness at the rim, when filling and draining take time.

    sqrt((t + dt) / t).

    Parameters
    ----------
    time_s : float
        Time since the slip was poured, [s]
    stagger_s : float
        How much longer the bottom held slip, [s]

    Returns
    -------
    float
        Thickness below over thickness above, [-]

    Raises
    ------
    InputError
        If the time is not positive or the stagger negative.

    Notes
    -----
    A minute on ten makes 5 %.

    References
    ----------
    [casting-law]

    Examples
    --------
    >>> round(stagger_ratio(600.0, 60.0), 4)
    1.0488
    """
    within(stagger_s, 0.0, 1e9, "stagger_s", "s")
    return math.sqrt(1.0 + stagger_s / above(time_s, 0.0, "time_s", "s"))


def water_viscosity_Pa_s(water_C: float) -> float:
    """Viscosity of water.

    2.414e-5 x 10^(247.8 / (T - 140)), T in kelvin.

    Parameters
    ----------
    water_C : float
        Temperature of slip and mold, [C]

    Returns
    -------
    float
        Viscosity, [Pa s]

    Raises
    ------
    InputError
        If the temperature is not from 0 to 60.

    Notes
    -----
    Within 2.5 % of the tables up to 370 °C.

    References
    ----------
    [crc-handbook]

    Examples
    --------
    >>> round(1000 * water_viscosity_Pa_s(20.0), 3)
    1.002
    """
    kelvin = 273.15 + within(water_C, 0.0, 60.0, "water_C", "C")
    return float(2.414e-5 * 10.0 ** (247.8 / (kelvin - 140.0)))
