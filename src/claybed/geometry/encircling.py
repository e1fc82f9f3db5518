"""The smallest circle around plan points."""

from __future__ import annotations

import numpy as np
from numba import njit

from claybed.geometry.mesh import Floats

STEPS = 1000


def least_circle(points: Floats) -> tuple[Floats, float]:
    """Centre (2,) and radius of the smallest circle around plan points (n, 2), n at least 1.

    By ever smaller steps towards the farthest point, so that it is a little larger than the smallest, never
    smaller. Source: Badoiu and Clarkson, core-sets for the smallest enclosing ball (from memory).
    """
    centre: Floats = (points.min(axis=0) + points.max(axis=0)) / 2.0
    _drawn_to(np.ascontiguousarray(points), centre, STEPS)
    return centre, float(np.sqrt(((points - centre) ** 2).sum(axis=1).max()))


@njit(cache=True, nogil=True)
def _drawn_to(points: Floats, centre: Floats, steps: int) -> None:
    for count in range(2, steps):
        farthest, most = 0, -1.0
        for k in range(points.shape[0]):
            away = (points[k, 0] - centre[0]) ** 2 + (points[k, 1] - centre[1]) ** 2
            if away > most:
                farthest, most = k, away
        for axis in range(2):
            centre[axis] += (points[farthest, axis] - centre[axis]) / count
