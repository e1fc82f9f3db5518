"""Clay pressed into plaster: how long it must give up water before it can be lifted."""

from __future__ import annotations

from claybed.physics._ranges import above, within


def press_wait_s(slab_m: float, *, usual_s: float, usual_m: float, least_s: float = 0.0) -> float:
    """Wait before opening a press mold.

    usual x (h / usual h)^2, at least the floor.

    Parameters
    ----------
    slab_m : float
        Thickness of the clay, [m]
    usual_s : float
        Usual wait for the usual thickness, [s]
    usual_m : float
        That thickness, [m]
    least_s : float
        Shortest wait, [s]

    Returns
    -------
    float
        Wait, [s]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Drying into one face goes with the square of the thickness; for pressed clay nobody has published it, so
    it is a guess to start from.

    References
    ----------
    [press-law]

    Examples
    --------
    >>> round(press_wait_s(0.009, usual_s=2700.0, usual_m=0.006) / 60, 2)
    101.25
    """
    thick = above(slab_m, 0.0, "slab_m", "m") / above(usual_m, 0.0, "usual_m", "m")
    return max(above(usual_s, 0.0, "usual_s", "s") * thick**2, within(least_s, 0.0, 1e9, "least_s", "s"))


def slab_kg_per_m2(slab_m: float, *, clay_kg_per_m3: float) -> float:
    """Clay in a slab, per area.

    density x thickness.

    Parameters
    ----------
    slab_m : float
        Thickness of the clay, [m]
    clay_kg_per_m3 : float
        Density of the clay, [kg/m3]

    Returns
    -------
    float
        Mass per area, [kg/m2]

    Raises
    ------
    InputError
        If an amount is not positive.

    Notes
    -----
    Both sides plain.

    References
    ----------
    [moisture-bases]

    Examples
    --------
    >>> round(slab_kg_per_m2(0.00635, clay_kg_per_m3=1923.1), 2)
    12.21
    """
    return above(slab_m, 0.0, "slab_m", "m") * above(clay_kg_per_m3, 0.0, "clay_kg_per_m3", "kg/m3")
