"""Triangles by their marked corners, and corners by their marked triangles."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray


def marked_corners(faces: NDArray[np.integer], marked: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """How many corners of triangles (m, 3) are among the `marked` (n,) of the points, 0 to 3 each (m,)."""
    count: NDArray[np.uint8] = _count(faces, marked)
    return count


def corners_of(faces: NDArray[np.integer], which: NDArray[np.bool_], count: int) -> NDArray[np.bool_]:
    """Which of `count` points are corners of some of the triangles (m, 3): those in `which` (m,)."""
    corners: NDArray[np.bool_] = _corners(faces, which, count)
    return corners


@njit(cache=True, nogil=True)
def _corners(faces: NDArray[np.integer], which: NDArray[np.bool_], count: int) -> NDArray[np.bool_]:
    corners = np.zeros(count, np.bool_)
    for f in range(faces.shape[0]):
        if which[f]:
            for k in range(3):
                corners[faces[f, k]] = True
    return corners


@njit(cache=True, nogil=True)
def _count(faces: NDArray[np.integer], marked: NDArray[np.bool_]) -> NDArray[np.uint8]:
    count = np.empty(faces.shape[0], np.uint8)
    for f in range(faces.shape[0]):
        count[f] = np.uint8(marked[faces[f, 0]]) + marked[faces[f, 1]] + marked[faces[f, 2]]
    return count
