"""The faces of a solid that look along a pull or against it, in the plan of that pull."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.lattice import Lattice
from claybed.geometry.slab import LatticeSolid


def turned(points: Lattice, pull: Sequence[float]) -> Lattice:
    """Lattice points (n, 3) with the pull turned to +z.

    They stay as they are for (0, 0, 1), and make half a turn about x for (0, 0, -1).
    The half turn is its own inverse. Raises ValueError for any other pull.
    """
    if tuple(pull) == (0.0, 0.0, 1.0):
        return points
    if tuple(pull) == (0.0, 0.0, -1.0):
        back: Lattice = points * np.array([1, -1, -1])
        return back
    raise ValueError(f"only pulls along z are decided on the lattice, got {tuple(pull)}")


def looking(
    solid: LatticeSolid, pull: Sequence[float], *, along: bool
) -> tuple[NDArray[np.int64], Lattice, Lattice]:
    """Faces that look along the pull, or against it: numbers (m,), plan corners (m, 6), heights (m, 3).

    Triangles are counter-clockwise in the plan of `turned`. Raises ValueError for a pull that is not along z.
    """
    which, plan, heights = _facing(turned(solid.points, pull), solid.faces, along)
    return which, plan, heights


@njit(cache=True, nogil=True)
def _facing(
    points: Lattice, faces: NDArray[np.int32], along: bool
) -> tuple[NDArray[np.int64], Lattice, Lattice]:
    which = np.empty(faces.shape[0], np.int64)
    count = 0
    for k in range(faces.shape[0]):
        a, b, c = faces[k, 0], faces[k, 1], faces[k, 2]
        ux, uy = points[b, 0] - points[a, 0], points[b, 1] - points[a, 1]
        vx, vy = points[c, 0] - points[a, 0], points[c, 1] - points[a, 1]
        area = ux * vy - uy * vx
        if (area > 0) if along else (area < 0):
            which[count] = k
            count += 1
    plan, heights = np.empty((count, 6), np.int64), np.empty((count, 3), np.int64)
    for i in range(count):
        for v in range(3):
            p = faces[which[i], v if along else 2 - v]
            plan[i, 2 * v], plan[i, 2 * v + 1], heights[i, v] = points[p, 0], points[p, 1], points[p, 2]
    return which[:count].copy(), plan, heights
