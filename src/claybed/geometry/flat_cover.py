"""How much of triangles in one plane others leave bare, whatever they overlap.

Every triangle is put down as a convex patch, and those that may lie on it are taken off one by one. What a
convex patch loses to a triangle leaves at most three convex patches, one beyond each side.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.lattice import Lattice
from claybed.geometry.mesh import Floats
from claybed.geometry.plan_bins import bin_triangles

# In lattice units: nearer than this to a line is on it, far less than a step and far more than rounding.
ON_LINE = 1e-6
# Three cuts give a patch three corners more: one with fewer than that to spare is put down as two.
MOST_CORNERS = 16
SPARE_CORNERS = 4
# A patch leaves three, each of which may be put down as two.
MOST_PUT = 6


def bare_areas(corners: Lattice, upper: NDArray[np.bool_], enough: Floats) -> Floats:
    """How much (m,) of each of m triangles of one plane, corners (m, 3, 2) of it, lies on none of those of
    the other side, in squares of the corners' unit.

    `upper` (m,) tells the side. Of a triangle that no more than `enough` (m,) of is bare, no less is looked
    for. A triangle may have no area. Raises ValueError where there are none.
    """
    bins = bin_triangles(corners.reshape(-1, 6))
    placed = np.ascontiguousarray(corners - np.array([bins.x0, bins.y0]), dtype=np.float64)
    edge = placed[:, 1:] - placed[:, :1]
    turned = edge[:, 0, 0] * edge[:, 1, 1] < edge[:, 0, 1] * edge[:, 1, 0]
    placed[turned] = placed[turned, ::-1]
    bare: Floats = _bare(placed, upper, enough, bins.cell, bins.gx, bins.starts, bins.items)
    return bare


@njit(cache=True, nogil=True, error_model="numpy")
def _bare(
    corner: Floats,
    upper: NDArray[np.bool_],
    enough: Floats,
    cell: int,
    gx: int,
    starts: NDArray[np.int64],
    items: NDArray[np.int32],
) -> Floats:
    bare = np.zeros(corner.shape[0])
    seen = np.full(corner.shape[0], -1, np.int64)
    patch = np.empty((64, MOST_CORNERS, 2))
    size = np.empty(64, np.int64)
    box = np.empty((64, 4))
    rest, inner = np.empty((MOST_CORNERS, 2)), np.empty((MOST_CORNERS, 2))
    outer, off = np.empty((MOST_CORNERS, 2)), np.empty(MOST_CORNERS)
    for t in range(corner.shape[0]):
        count = _put(corner[t], 3, patch, size, box, 0)
        left = _area(corner[t], 3)
        x_low, y_low, x_high, y_high = box[0, 0], box[0, 1], box[0, 2], box[0, 3]
        first, last = int(x_low) // cell, int(x_high) // cell
        for row in range(int(y_low) // cell, int(y_high) // cell + 1):
            for i in range(starts[row * gx + first], starts[row * gx + last + 1]):
                k = items[i]
                if left <= enough[t]:
                    break
                if upper[k] == upper[t] or seen[k] == t:
                    continue
                seen[k] = t
                low_x = min(corner[k, 0, 0], corner[k, 1, 0], corner[k, 2, 0]) + ON_LINE
                high_x = max(corner[k, 0, 0], corner[k, 1, 0], corner[k, 2, 0]) - ON_LINE
                low_y = min(corner[k, 0, 1], corner[k, 1, 1], corner[k, 2, 1]) + ON_LINE
                high_y = max(corner[k, 0, 1], corner[k, 1, 1], corner[k, 2, 1]) - ON_LINE
                if low_x >= x_high or high_x <= x_low or low_y >= y_high or high_y <= y_low:
                    continue
                # From the last to the first, so that what is put down anew is not looked at again.
                for p in range(count - 1, -1, -1):
                    if low_x >= box[p, 2] or high_x <= box[p, 0] or low_y >= box[p, 3] or high_y <= box[p, 1]:
                        continue
                    n = size[p]
                    if _apart(patch[p], n, corner[k], 3) or _apart(corner[k], 3, patch[p], n):
                        continue
                    _copy(patch[p], n, rest)
                    count -= 1
                    _put(patch[count], size[count], patch, size, box, p)
                    if count + MOST_PUT > len(size):
                        patch, size, box = _roomier(patch, size, box, count)
                    for side in range(3):
                        a, b = corner[k, side], corner[k, (side + 1) % 3]
                        out, n = _parted(rest, n, a, b, off, outer, inner)
                        if out > 2:
                            count = _put(outer, out, patch, size, box, count)
                        if n < 3:
                            break
                        _copy(inner, n, rest)
                    left -= _area(rest, n)
        bare[t] = 0.0
        for p in range(count):
            bare[t] += _area(patch[p], size[p])
    return bare


@njit(cache=True, nogil=True)
def _area(points: Floats, n: int) -> float:
    # Of a patch whose corners run to the left.
    twice = 0.0
    for k in range(1, n - 1):
        ux, uy = points[k, 0] - points[0, 0], points[k, 1] - points[0, 1]
        vx, vy = points[k + 1, 0] - points[0, 0], points[k + 1, 1] - points[0, 1]
        twice += ux * vy - uy * vx
    return twice / 2.0


@njit(cache=True, nogil=True)
def _copy(points: Floats, n: int, into: Floats) -> None:
    for k in range(n):
        into[k, 0], into[k, 1] = points[k, 0], points[k, 1]


@njit(cache=True, nogil=True)
def _roomier(
    patch: Floats, size: NDArray[np.int64], box: Floats, count: int
) -> tuple[Floats, NDArray[np.int64], Floats]:
    more = np.empty((2 * len(size), MOST_CORNERS, 2))
    sizes, boxes = np.empty(2 * len(size), np.int64), np.empty((2 * len(size), 4))
    for p in range(count):
        _put(patch[p], size[p], more, sizes, boxes, p)
    return more, sizes, boxes


@njit(cache=True, nogil=True)
def _put(points: Floats, n: int, patch: Floats, size: NDArray[np.int64], box: Floats, number: int) -> int:
    # Put a patch down under a number, in two halves where it has too many corners; the next number.
    first = 1
    while n - first > MOST_CORNERS - SPARE_CORNERS - 1:
        number = _put_fan(points, first, MOST_CORNERS // 2, patch, size, box, number)
        first += MOST_CORNERS // 2 - 1
    end: int = _put_fan(points, first, n - first, patch, size, box, number)
    return end


@njit(cache=True, nogil=True)
def _put_fan(
    points: Floats, first: int, n: int, patch: Floats, size: NDArray[np.int64], box: Floats, number: int
) -> int:
    # Put down the first corner of a patch and `n` that follow one another.
    size[number] = n + 1
    for k in range(n + 1):
        x, y = (points[first + k - 1, 0], points[first + k - 1, 1]) if k else (points[0, 0], points[0, 1])
        patch[number, k, 0], patch[number, k, 1] = x, y
        if k == 0:
            box[number, 0], box[number, 1], box[number, 2], box[number, 3] = x, y, x, y
        box[number, 0], box[number, 2] = min(box[number, 0], x), max(box[number, 2], x)
        box[number, 1], box[number, 3] = min(box[number, 1], y), max(box[number, 3], y)
    return number + 1


@njit(cache=True, nogil=True, error_model="numpy")
def _apart(one: Floats, n: int, other: Floats, m: int) -> bool:
    # Whether a side of one patch has all of another beyond it or on it.
    for k in range(n):
        ax, ay = one[k, 0], one[k, 1]
        ux, uy = one[(k + 1) % n, 0] - ax, one[(k + 1) % n, 1] - ay
        room = ON_LINE * np.sqrt(ux * ux + uy * uy)
        beyond = True
        for j in range(m):
            if ux * (other[j, 1] - ay) - uy * (other[j, 0] - ax) > room:
                beyond = False
                break
        if beyond:
            return True
    return False


@njit(cache=True, nogil=True, error_model="numpy")
def _parted(
    points: Floats, n: int, a: Floats, b: Floats, off: Floats, outer: Floats, inner: Floats
) -> tuple[int, int]:
    # Part a patch along the line from a to b: corners to its right into `outer`, to its left into `inner`.
    ux, uy = b[0] - a[0], b[1] - a[1]
    length = np.sqrt(ux * ux + uy * uy)
    for k in range(n):
        off[k] = (ux * (points[k, 1] - a[1]) - uy * (points[k, 0] - a[0])) / length
        if abs(off[k]) <= ON_LINE:
            off[k] = 0.0
    out, within = 0, 0
    for k in range(n):
        j = (k + 1) % n
        if off[k] <= 0.0:
            outer[out, 0], outer[out, 1] = points[k, 0], points[k, 1]
            out += 1
        if off[k] >= 0.0:
            inner[within, 0], inner[within, 1] = points[k, 0], points[k, 1]
            within += 1
        if off[k] * off[j] < 0.0:
            share = off[k] / (off[k] - off[j])
            outer[out, 0] = points[k, 0] + share * (points[j, 0] - points[k, 0])
            outer[out, 1] = points[k, 1] + share * (points[j, 1] - points[k, 1])
            inner[within, 0], inner[within, 1] = outer[out, 0], outer[out, 1]
            out += 1
            within += 1
    return out, within
