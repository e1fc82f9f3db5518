"""The sides of triangles, each matched with the one that runs back along it.

A side is numbered 3 * face + k and runs from corner k to the next. Sides are put into the basket of the lower
of their two points and matched there, so that the work grows with the number of triangles and nothing is
sorted.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

NONE = -1


class Sides(NamedTuple):
    """How the sides of triangles meet.

    `mate` (3 m,) int32 a side that runs back along this one, -1 when there is none; `lone` (a,) the sides
    without one; `twice` (t,) sides that run along another in the same direction.
    """

    mate: NDArray[np.int32]
    lone: NDArray[np.int64]
    twice: NDArray[np.int64]


def match_sides(faces: NDArray[np.integer], count: int) -> Sides:
    """Match the sides of triangles (m, 3) over `count` points; every entry lies in [0, count)."""
    mate, lone, twice = _match(np.ascontiguousarray(faces, np.int32), count)
    return Sides(mate, np.flatnonzero(lone), np.flatnonzero(twice))


def side_ends(faces: NDArray[np.integer], sides: NDArray[np.int64]) -> NDArray[np.int64]:
    """The points (k, 2) that sides run from and to."""
    row, column = np.divmod(sides, 3)
    return np.stack([faces[row, column], faces[row, (column + 1) % 3]], axis=1).astype(np.int64)


def in_use(faces: NDArray[np.integer], count: int) -> tuple[NDArray[np.bool_], NDArray[np.int32]]:
    """Which of `count` points faces (m, 3) use (count,), and the faces numbered among those (m, 3)."""
    live = np.zeros(count, bool)
    live[faces] = True
    number = np.cumsum(live, dtype=np.int32) - 1
    return live, number[faces]


def bodies_of(mate: NDArray[np.int32]) -> tuple[NDArray[np.int32], int]:
    """For each triangle (m,) the number of the body it belongs to across mated sides, and how many there
    are.
    """
    part, count = _spread(mate)
    return part, int(count)


@njit(cache=True, nogil=True)
def _spread(mate: NDArray[np.int32]) -> tuple[NDArray[np.int32], int]:
    # Spreading over mated sides, which run both ways, from the first face that no body has yet.
    part = np.full(mate.shape[0] // 3, -1, np.int32)
    ahead = np.empty(mate.shape[0] // 3, np.int32)
    bodies = 0
    for start in range(part.shape[0]):
        if part[start] >= 0:
            continue
        part[start] = bodies
        ahead[0], count = start, 1
        while count:
            count -= 1
            f = ahead[count]
            for k in range(3):
                g = mate[3 * f + k] // 3
                if mate[3 * f + k] >= 0 and part[g] < 0:
                    part[g] = bodies
                    ahead[count] = g
                    count += 1
        bodies += 1
    return part, bodies


@njit(cache=True, nogil=True)
def _match(
    faces: NDArray[np.int32], count: int
) -> tuple[NDArray[np.int32], NDArray[np.bool_], NDArray[np.bool_]]:
    m = faces.shape[0]
    starts = np.zeros(count + 1, np.int32)
    for f in range(m):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        starts[min(a, b) + 1] += 1
        starts[min(b, c) + 1] += 1
        starts[min(c, a) + 1] += 1
    for u in range(count):
        starts[u + 1] += starts[u]
    # By lower point: the side, and twice the other point, one more where the side runs down to the lower.
    basket = np.empty((3 * m, 2), np.int32)
    at = starts[:-1].copy()
    for f in range(m):
        for k in range(3):
            a, b = faces[f, k], faces[f, (k + 1) % 3]
            low = min(a, b)
            i = at[low]
            basket[i, 0] = 3 * f + k
            basket[i, 1] = 2 * max(a, b) + np.int32(a > b)
            at[low] = i + 1
    mate = np.empty(3 * m, np.int32)
    lone = np.zeros(3 * m, np.bool_)
    twice = np.zeros(3 * m, np.bool_)
    # The first side seen of each way to another point; a way back differs in its last bit.
    seen = np.full(2 * count, NONE, np.int32)
    for u in range(count):
        for i in range(starts[u], starts[u + 1]):
            h, way = basket[i, 0], basket[i, 1]
            if seen[way] != NONE:
                twice[h] = True
                twice[seen[way]] = True
            else:
                seen[way] = h
        for i in range(starts[u], starts[u + 1]):
            h = basket[i, 0]
            mate[h] = seen[basket[i, 1] ^ 1]
            lone[h] = mate[h] == NONE
        for i in range(starts[u], starts[u + 1]):
            seen[basket[i, 1]] = NONE
    return mate, lone, twice
