"""What the plaster behind a cast resists, read from its uptake or from how casts slow down."""

from __future__ import annotations

from claybed.physics._ranges import above, within


def resistance_ratio(slowdown_fraction: float) -> float:
    """Resistance of the wetted plaster over that of the cast wall, from how much longer a second cast takes.

    d / (2 - d).

    Parameters
    ----------
    slowdown_fraction : float
        Time of the second cast over that of the first, for the same wall, less 1, [-]

    Returns
    -------
    float
        Resistance of plaster over resistance of wall in a first cast, [-]

    Raises
    ------
    InputError
        If the slowdown is not above 0 and below 1.

    Notes
    -----
    Flat wall on thick plaster with a sharp wet front that stays where the cast before left it: cast number c
    takes (1 + (2 c - 1) m) / (1 + m) times as long, so casts slow down evenly. Three casts of one supplier's
    sheet do (3, 3.5 and 4 minutes).

    References
    ----------
    [casting-law]

    Examples
    --------
    >>> round(resistance_ratio(1.0 / 6.0), 4)
    0.0909
    """
    above(slowdown_fraction, 0.0, "slowdown_fraction", "")
    within(slowdown_fraction, 0.0, 0.999, "slowdown_fraction", "")
    return slowdown_fraction / (2.0 - slowdown_fraction)


def front_conductivity_m2_per_s(sorptivity_m_per_sqrt_s: float, *, fillable_fraction: float) -> float:
    """Permeability of wet plaster x suction / viscosity, from its uptake of open water.

    S^2 / (2 f).

    Parameters
    ----------
    sorptivity_m_per_sqrt_s : float
        Sorptivity of dry plaster, [m/s0.5]
    fillable_fraction : float
        Water taken up per volume of plaster behind the front, [-]

    Returns
    -------
    float
        Permeability x suction / viscosity, [m2/s]

    Raises
    ------
    InputError
        If the sorptivity is not positive or the share is not from 0 to 1.

    Notes
    -----
    Sharp front on a flat face under free water.

    References
    ----------
    [hall-hoff]

    Examples
    --------
    >>> round(front_conductivity_m2_per_s(3.8e-3 / 60**0.5, fillable_fraction=0.40) * 1e7, 2)
    3.01
    """
    above(sorptivity_m_per_sqrt_s, 0.0, "sorptivity_m_per_sqrt_s", "m/s0.5")
    above(fillable_fraction, 0.0, "fillable_fraction", "")
    return sorptivity_m_per_sqrt_s**2 / (2.0 * within(fillable_fraction, 0.0, 1.0, "fillable_fraction", ""))
