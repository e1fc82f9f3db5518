"""Plan triangles that cover a convex outline once, and triangles that lie exactly on some of them.

Triangles that all turn one way, whose sides have their mates except along the outline of a convex figure,
cover its inside everywhere equally often; when their areas add up to its own, they cover it once, and no two
of them overlap. All of it is decided in whole numbers, in time that grows with their number.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.halfedges import match_sides, side_ends
from claybed.geometry.lattice import Lattice, twice_plan_area
from claybed.geometry.overlap import Flags

EMPTY = -1


def covers_once(plan: Lattice) -> bool:
    """Whether counter-clockwise plan triangles (m, 6) are known to cover a convex figure once.

    False says no more than that this way of looking does not show it.
    """
    if not len(plan):
        return False
    corners, count = _numbered(np.ascontiguousarray(plan))
    sides = match_sides(corners.reshape(-1, 3), count)
    if len(sides.twice) or not len(sides.lone):
        return False
    at = np.empty((count, 2), np.int64)
    at[corners] = plan.reshape(-1, 2)
    rim = at[side_ends(corners.reshape(-1, 3), sides.lone)].reshape(-1, 4)
    hull = _hull(rim[:, :2])
    if len(hull) < 3:
        return False
    x, y = (hull - hull[0]).T
    whole = int((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())
    doubled = twice_plan_area(plan.reshape(-1, 2), np.arange(3 * len(plan)).reshape(-1, 3))
    # The sum in floating point only rules out that the one in whole numbers went round 64 bits.
    once = int(doubled.sum()) == whole and float(doubled.sum(dtype=np.float64)) < 1.5 * whole
    return once and bool((doubled > 0).all()) and _on_hull(rim, hull)


def lying_on(a: Lattice, za: Lattice, b: Lattice, zb: Lattice) -> Flags:
    """Which triangles b (k, 6) are, in plan, one of the triangles a (m, 6), and nowhere higher than it.

    `za`, `zb` are the corners' heights; both are counter-clockwise. Corners are compared as whole numbers.
    """
    found: Flags = _lying(*(np.ascontiguousarray(v) for v in (a, za, b, zb)))
    return found


def _hull(points: Lattice) -> Lattice:
    """Corners of the convex hull of plan points (n, 2), counter-clockwise, none in a straight line.

    Source: Andrew's monotone chain.
    """
    ranked = np.unique(points, axis=0).tolist()
    halves = []
    for way in (ranked, ranked[::-1]):
        chain: list[list[int]] = []
        for x, y in way:
            while len(chain) > 1 and (chain[-1][0] - chain[-2][0]) * (y - chain[-2][1]) <= (
                chain[-1][1] - chain[-2][1]
            ) * (x - chain[-2][0]):
                chain.pop()
            chain.append([x, y])
        halves += chain[:-1]
    return np.array(halves, np.int64).reshape(-1, 2)


def _on_hull(rim: Lattice, hull: Lattice) -> bool:
    """Whether every plan edge (k, 4) runs along a side of the hull."""
    on = np.zeros(len(rim), bool)
    for a, b in zip(hull, np.roll(hull, -1, axis=0), strict=True):
        dx, dy = b - a
        left = [dx * (rim[:, k + 1] - a[1]) - dy * (rim[:, k] - a[0]) for k in (0, 2)]
        on |= (left[0] == 0) & (left[1] == 0)
    return bool(on.all())


@njit(cache=True, nogil=True)
def _slot(x: int, y: int, mask: int) -> int:
    # Any spread will do; equality is always decided on the numbers themselves.
    h = (x * 73856093) ^ (y * 19349663)
    h ^= h >> 15
    slot: int = (h * 83492791 ^ (h >> 7)) & mask
    return slot


@njit(cache=True, nogil=True)
def _numbered(plan: Lattice) -> tuple[NDArray[np.int32], int]:
    total = 3 * plan.shape[0]
    size = 16
    while size < total:
        size *= 2
    first = np.full(size, EMPTY, np.int32)
    number = np.empty(total, np.int32)
    count = 0
    for k in range(total):
        x, y = plan[k // 3, 2 * (k % 3)], plan[k // 3, 2 * (k % 3) + 1]
        s = _slot(x, y, size - 1)
        while True:
            j = first[s]
            if j == EMPTY:
                first[s] = k
                number[k] = count
                count += 1
                break
            if plan[j // 3, 2 * (j % 3)] == x and plan[j // 3, 2 * (j % 3) + 1] == y:
                number[k] = number[j]
                break
            s = (s + 1) & (size - 1)
    return number, count


@njit(cache=True, nogil=True)
def _first_corner(tri: Lattice, k: int) -> int:
    best = 0
    for v in range(1, 3):
        x, y = tri[k, 2 * v], tri[k, 2 * v + 1]
        if x < tri[k, 2 * best] or (x == tri[k, 2 * best] and y < tri[k, 2 * best + 1]):
            best = v
    return best


@njit(cache=True, nogil=True)
def _key(tri: Lattice, k: int, mask: int) -> int:
    # The middle of a triangle tells it from its neighbours, whichever corner comes first.
    slot: int = _slot(tri[k, 0] + tri[k, 2] + tri[k, 4], tri[k, 1] + tri[k, 3] + tri[k, 5], mask)
    return slot


@njit(cache=True, nogil=True)
def _lying(a: Lattice, za: Lattice, b: Lattice, zb: Lattice) -> NDArray[np.bool_]:
    size = 16
    while size < 2 * a.shape[0]:
        size *= 2
    table = np.full(size, EMPTY, np.int32)
    for i in range(a.shape[0]):
        s = _key(a, i, size - 1)
        while table[s] != EMPTY:
            s = (s + 1) & (size - 1)
        table[s] = i
    lies = np.zeros(b.shape[0], np.bool_)
    for j in range(b.shape[0]):
        s = _key(b, j, size - 1)
        v = _first_corner(b, j)
        while table[s] != EMPTY and not lies[j]:
            i = table[s]
            u = _first_corner(a, i)
            same = True
            for k in range(3):
                p, q = (u + k) % 3, (v + k) % 3
                if a[i, 2 * p] != b[j, 2 * q] or a[i, 2 * p + 1] != b[j, 2 * q + 1] or za[i, p] < zb[j, q]:
                    same = False
            lies[j] = same
            s = (s + 1) & (size - 1)
    return lies
