"""What floats, in water and in slurry, and what holds it down."""

from __future__ import annotations

from typing import Final

from claybed.physics._ranges import above, within

STANDARD_GRAVITY: Final = 9.80665  # m/s2, by definition


def relative_density_ratio(body_kg: float, body_m3: float, *, water_kg_per_m3: float) -> float:
    """Density of a body against water.

    m / (V rho_water).

    Parameters
    ----------
    body_kg : float
        Mass of the body, [kg]
    body_m3 : float
        Volume enclosed by its outside, [m3]
    water_kg_per_m3 : float
        Density of water, [kg/m3]

    Returns
    -------
    float
        Relative density, [-]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Of the body as a sealed whole. Between 1.0 and about 1.55 it sinks in water and floats in slurry.

    References
    ----------
    [archimedes]

    Examples
    --------
    >>> round(relative_density_ratio(0.62, 0.50e-3, water_kg_per_m3=998.0), 2)
    1.24
    """
    above(body_kg, 0.0, "body_kg", "kg")
    above(water_kg_per_m3, 0.0, "water_kg_per_m3", "kg/m3")
    return body_kg / (above(body_m3, 0.0, "body_m3", "m3") * water_kg_per_m3)


def net_lift_N(body_kg: float, body_m3: float, *, liquid_kg_per_m3: float) -> float:
    """Upward force on a body held under in a liquid.

    g (rho V - m).

    Parameters
    ----------
    body_kg : float
        Mass of the body, [kg]
    body_m3 : float
        Volume enclosed by its outside, [m3]
    liquid_kg_per_m3 : float
        Density of the liquid, [kg/m3]

    Returns
    -------
    float
        Lift, negative when it sinks, [N]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Liquid on all sides. A body sealed flat to the board feels no lift there until liquid creeps under;
    reckon with the whole of it.

    References
    ----------
    [archimedes]

    Examples
    --------
    >>> round(net_lift_N(0.30, 0.90e-3, liquid_kg_per_m3=1585.0), 1)
    11.0
    """
    above(body_kg, 0.0, "body_kg", "kg")
    above(body_m3, 0.0, "body_m3", "m3")
    return STANDARD_GRAVITY * (above(liquid_kg_per_m3, 0.0, "liquid_kg_per_m3", "kg/m3") * body_m3 - body_kg)


def submerged_fraction(body_kg: float, body_m3: float, *, liquid_kg_per_m3: float) -> float:
    """Share of a body that is under when it rests in a liquid.

    m / (rho V), at most 1.

    Parameters
    ----------
    body_kg : float
        Mass of the body, [kg]
    body_m3 : float
        Volume enclosed by its outside, [m3]
    liquid_kg_per_m3 : float
        Density of the liquid, [kg/m3]

    Returns
    -------
    float
        Volume under over whole volume, [-]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    One means it sinks. Surface tension left out.

    References
    ----------
    [archimedes]

    Examples
    --------
    >>> round(submerged_fraction(0.62, 0.50e-3, liquid_kg_per_m3=1585.0), 2)
    0.78
    """
    above(body_kg, 0.0, "body_kg", "kg")
    above(body_m3, 0.0, "body_m3", "m3")
    return min(body_kg / (above(liquid_kg_per_m3, 0.0, "liquid_kg_per_m3", "kg/m3") * body_m3), 1.0)


def weight_on_top_kg(
    body_kg: float, body_m3: float, *, liquid_kg_per_m3: float, margin_ratio: float = 1.0
) -> float:
    """Mass to set on a body so that it stays down, kept out of the liquid itself.

    margin x (rho V - m), never below nothing.

    Parameters
    ----------
    body_kg : float
        Mass of the body, [kg]
    body_m3 : float
        Volume enclosed by its outside, [m3]
    liquid_kg_per_m3 : float
        Density of the liquid, [kg/m3]
    margin_ratio : float
        How many times the lift to hold, at least 1, [-]

    Returns
    -------
    float
        Mass on top, [kg]

    Raises
    ------
    InputError
        If an amount is not positive or the margin is not from 1 to 10.

    Notes
    -----
    1.5 to 2 times is usual. A weight that itself goes under holds less, by its own lift.

    References
    ----------
    [archimedes], [practice]

    Examples
    --------
    >>> round(weight_on_top_kg(0.62, 0.50e-3, liquid_kg_per_m3=1585.0), 2)
    0.17
    """
    within(margin_ratio, 1.0, 10.0, "margin_ratio", "")
    lift_N = net_lift_N(body_kg, body_m3, liquid_kg_per_m3=liquid_kg_per_m3)
    return max(lift_N / STANDARD_GRAVITY * margin_ratio, 0.0)


def ballast_inside_kg(body_kg: float, body_m3: float, *, liquid_kg_per_m3: float) -> float:
    """Mass to put inside a hollow body so that it just sinks.

    rho V - m, never below nothing.

    Parameters
    ----------
    body_kg : float
        Mass of the body, [kg]
    body_m3 : float
        Volume enclosed by its outside, [m3]
    liquid_kg_per_m3 : float
        Density of the liquid, [kg/m3]

    Returns
    -------
    float
        Mass inside, [kg]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    It must fit: dry sand weighs about 1.6 kg a litre, barely more than slurry, so a full shell can still
    float.

    References
    ----------
    [archimedes]

    Examples
    --------
    >>> round(ballast_inside_kg(0.30, 0.90e-3, liquid_kg_per_m3=1585.0), 2)
    1.13
    """
    return max(net_lift_N(body_kg, body_m3, liquid_kg_per_m3=liquid_kg_per_m3) / STANDARD_GRAVITY, 0.0)
