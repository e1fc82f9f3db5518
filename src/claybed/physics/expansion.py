"""Setting plaster grows a little, and a cast of a cast grows twice."""

from __future__ import annotations

from claybed.physics._ranges import within


def compounded_expansion_fraction(linear_fraction: float, *, castings: int) -> float:
    """Growth of length over several castings, each taken from the one before.

    (1 + e)^n - 1.

    Parameters
    ----------
    linear_fraction : float
        Linear expansion of one casting, [-]
    castings : int
        How many, at least none

    Returns
    -------
    float
        Linear expansion in all, [-]

    Raises
    ------
    InputError
        If the expansion is not from -0.05 to 0.05 or the castings are negative.

    Notes
    -----
    Block and case double it. Pottery plaster 0.15 to 0.26 %, hard cements for cases about 0.05 %.

    References
    ----------
    [usg-ig526]

    Examples
    --------
    >>> round(100 * compounded_expansion_fraction(0.002, castings=2), 4)
    0.4004
    """
    within(linear_fraction, -0.05, 0.05, "linear_fraction", "")
    within(castings, 0, 100, "castings", "")
    return (1.0 + linear_fraction) ** castings - 1.0


def volume_expansion_fraction(linear_fraction: float) -> float:
    """Growth of volume that goes with a growth of length.

    (1 + e)^3 - 1.

    Parameters
    ----------
    linear_fraction : float
        Linear expansion, [-]

    Returns
    -------
    float
        Expansion of volume, [-]

    Raises
    ------
    InputError
        If the expansion is not from -0.05 to 0.05.

    Notes
    -----
    Same growth in all directions; a form that holds the plaster back makes it grow into the open side.

    References
    ----------
    [usg-ig526]

    Examples
    --------
    >>> round(100 * volume_expansion_fraction(0.0021), 3)
    0.631
    """
    return (1.0 + within(linear_fraction, -0.05, 0.05, "linear_fraction", "")) ** 3 - 1.0
