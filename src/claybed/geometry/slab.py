"""The solid between two height sheets, closed by vertical walls wherever a sheet steps or ends.

Walls are split at every height that the solid uses on the vertical line they end on, so that faces meet edge
to edge; all corners are lattice points, so that volumes add up exactly and an STL file loses nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.halfedges import match_sides, side_ends
from claybed.geometry.lattice import Lattice, lattice_mm
from claybed.geometry.mesh import Bytes, Mesh
from claybed.geometry.sheet import Sheet, sides_of


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class LatticeSolid:
    """A closed solid with integer corners.

    `points` (n, 3) int64 lattice units, no two equal; `faces` (m, 3) int32 outward; `origin` (m,) uint8.
    """

    points: Lattice
    faces: NDArray[np.int32]
    origin: Bytes

    @property
    def six_volumes(self) -> int:
        """Six times the volume in lattice units (x y z steps), exact."""
        # Plan area times heights stays below 2^63 per face; the sum is taken in parts.
        high, low = _six_volumes(self.points, self.faces, int(self.points[:, 2].min()))
        return (int(high) << 20) + int(low)

    @property
    def volume_mm3(self) -> float:
        """Volume, mm³."""
        return self.six_volumes / 6.0 / (1024.0 * 1024.0 * 4096.0)

    def mesh(self, frame: str) -> Mesh:
        """The solid as a mesh in millimetres in the named frame; coordinates are exact in single
        precision.
        """
        return Mesh.make(lattice_mm(self.points), self.faces, frame=frame, origin=self.origin)


@njit(cache=True, nogil=True)
def _six_volumes(points: Lattice, faces: NDArray[np.int32], floor: int) -> tuple[int, int]:
    high, low = 0, 0
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        area = (points[b, 0] - points[a, 0]) * (points[c, 1] - points[a, 1]) - (
            points[b, 1] - points[a, 1]
        ) * (points[c, 0] - points[a, 0])
        lifted = points[a, 2] + points[b, 2] + points[c, 2] - 3 * floor
        high += (area >> 20) * lifted
        low += (area & ((1 << 20) - 1)) * lifted
    return high, low


def solid_between(lower: Sheet, upper: Sheet, *, wall_origin: int) -> LatticeSolid:
    """The closed solid above `lower` and below `upper`, which share their plan points and their outline.

    Cells that both sheets hold with equal heights are left out. Walls at steps inside the outline take the
    origin of the face they step from; walls along the outline take `wall_origin`. Raises ArithmeticError
    when the outlines differ.
    """
    lower, upper = _without_flat_cells(lower, upper)
    n = len(lower.plan)
    strips = _strips(lower, upper, wall_origin)
    starts, level_z, down, up = _levels(n, lower.faces, lower.heights, upper.faces, upper.heights)
    wall, wall_from = _zip_strips(strips.ends, strips.low, strips.high, strips.flip, starts, level_z)
    faces = np.concatenate([down[:, ::-1], up, wall])
    origin = np.concatenate([lower.origin, upper.origin, strips.origin[wall_from]])
    level_plan = np.repeat(np.arange(n), np.diff(starts))
    points = np.concatenate([lower.plan[level_plan], level_z[:, None]], axis=1)
    return LatticeSolid(points, faces, origin.astype(np.uint8))


def odd_faced_edges(solid: LatticeSolid) -> tuple[int, NDArray[np.int64]]:
    """How many sides of faces have no mate, and the edges (k, 2) that more than two faces share."""
    sides = match_sides(solid.faces, len(solid.points))
    ends = np.sort(side_ends(solid.faces, sides.twice), axis=1)
    crowded = np.unique(ends, axis=0) if len(ends) else ends
    single = np.setdiff1d(sides.lone, sides.twice, assume_unique=True)
    return len(single) + _unbalanced(solid.faces, crowded), crowded


def _unbalanced(faces: NDArray[np.int32], crowded: NDArray[np.int64]) -> int:
    """By how much the sides along crowded edges differ in number from those that run back."""
    if not len(crowded):
        return 0
    known = dict.fromkeys(map(tuple, crowded.tolist()), 0)
    rows = faces[np.isin(faces, crowded).sum(axis=1) >= 2]
    for face in rows.tolist():
        for u, v in zip(face, face[1:] + face[:1], strict=True):
            key = (min(u, v), max(u, v))
            if key in known:
                known[key] += 1 if u < v else -1
    return sum(abs(balance) for balance in known.values())


@dataclass(frozen=True, slots=True, eq=False)
class _Strips:
    ends: Lattice  # (k, 2) plan points u, v
    low: Lattice  # (k, 2) heights of the lower line at u, v
    high: Lattice
    flip: NDArray[np.bool_]  # True when the wall looks to the left of u -> v
    origin: NDArray[np.int64]


def _without_flat_cells(lower: Sheet, upper: Sheet) -> tuple[Sheet, Sheet]:
    """Drop the cells in which both sheets run at the same height, corner for corner."""
    flat = _flat_cells(len(lower.plan), lower.faces, lower.heights, upper.faces, upper.heights)
    if not flat[0].any():
        return lower, upper
    first, second = (
        Sheet(s.plan, s.faces[~f], s.heights[~f], s.origin[~f])
        for s, f in zip((lower, upper), flat, strict=True)
    )
    return first, second


@njit(cache=True, nogil=True)
def _flat_cells(
    count: int, low: NDArray[np.int32], low_z: Lattice, up: NDArray[np.int32], up_z: Lattice
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    # Cells of the lower sheet by their first point; each upper cell is looked for among those of its points.
    starts = np.zeros(count + 1, np.int32)
    for f in range(low.shape[0]):
        starts[min(low[f, 0], low[f, 1], low[f, 2]) + 1] += 1
    for u in range(count):
        starts[u + 1] += starts[u]
    items = np.empty(low.shape[0], np.int32)
    at = starts[:-1].copy()
    for f in range(low.shape[0]):
        u = min(low[f, 0], low[f, 1], low[f, 2])
        items[at[u]] = f
        at[u] += 1
    flat_low, flat_up = np.zeros(low.shape[0], np.bool_), np.zeros(up.shape[0], np.bool_)
    for f in range(up.shape[0]):
        u = min(up[f, 0], up[f, 1], up[f, 2])
        for i in range(starts[u], starts[u + 1]):
            g = items[i]
            for turn in range(3):
                same = True
                for k in range(3):
                    j = (k + turn) % 3
                    if up[f, k] != low[g, j] or up_z[f, k] != low_z[g, j]:
                        same = False
                        break
                if same:
                    flat_low[g] = True
                    flat_up[f] = True
                    break
    return flat_low, flat_up


@njit(cache=True, nogil=True)
def _levels(
    count: int, low: NDArray[np.int32], low_z: Lattice, up: NDArray[np.int32], up_z: Lattice
) -> tuple[Lattice, Lattice, NDArray[np.int32], NDArray[np.int32]]:
    # The different heights over each plan point, ascending, and every corner's number among all of them.
    room = np.zeros(count + 1, np.int64)
    for f in range(low.shape[0]):
        for k in range(3):
            room[low[f, k] + 1] += 1
    for f in range(up.shape[0]):
        for k in range(3):
            room[up[f, k] + 1] += 1
    for u in range(count):
        room[u + 1] += room[u]
    z = np.empty(room[count], np.int64)
    used = np.zeros(count, np.int64)
    for f in range(low.shape[0] + up.shape[0]):
        for k in range(3):
            if f < low.shape[0]:
                u, h = low[f, k], low_z[f, k]
            else:
                u, h = up[f - low.shape[0], k], up_z[f - low.shape[0], k]
            first, last = room[u], room[u] + used[u]
            i = last
            while i > first and z[i - 1] > h:
                i -= 1
            if i > first and z[i - 1] == h:
                continue
            for j in range(last, i, -1):
                z[j] = z[j - 1]
            z[i] = h
            used[u] += 1
    starts = np.zeros(count + 1, np.int64)
    for u in range(count):
        starts[u + 1] = starts[u] + used[u]
    level = np.empty(starts[count], np.int64)
    for u in range(count):
        for i in range(used[u]):
            level[starts[u] + i] = z[room[u] + i]
    number_low, number_up = np.empty(low.shape, np.int32), np.empty(up.shape, np.int32)
    for f in range(low.shape[0]):
        for k in range(3):
            number_low[f, k] = _level_of(low[f, k], low_z[f, k], starts, level)
    for f in range(up.shape[0]):
        for k in range(3):
            number_up[f, k] = _level_of(up[f, k], up_z[f, k], starts, level)
    return starts, level, number_low, number_up


@njit(cache=True, nogil=True)
def _level_of(point: int, z: int, starts: Lattice, level: Lattice) -> int:
    lo, hi = starts[point], starts[point + 1] - 1
    while lo < hi:
        middle = (lo + hi) // 2
        if level[middle] < z:
            lo = middle + 1
        else:
            hi = middle
    number: int = lo
    return number


def _strips(lower: Sheet, upper: Sheet, wall_origin: int) -> _Strips:
    """Every wall as the strip between two lines over one plan edge."""
    parts: list[tuple[Lattice, Lattice, Lattice, NDArray[np.bool_], NDArray[np.int64]]] = []
    rims: list[tuple[Lattice, Lattice]] = []
    for sheet, is_lower in ((lower, True), (upper, False)):
        sides = sides_of(sheet)
        step = _steps(sheet.faces, sheet.heights, sides.mate)
        ends, left = side_ends(sheet.faces, step), _side_heights(sheet.heights, step)
        back = sides.mate[step].astype(np.int64)
        right = _side_heights(sheet.heights, back)[:, ::-1]
        left_low = left.sum(axis=1) < right.sum(axis=1)
        lo = np.where(left_low[:, None], left, right)
        hi = np.where(left_low[:, None], right, left)
        # Solid stands on the side whose floor is lower, or whose ceiling is higher; the wall looks to the
        # other side.
        solid_left = left_low if is_lower else ~left_low
        own = np.where(left_low == is_lower, back // 3, step // 3)
        parts.append((ends, lo, hi, ~solid_left, sheet.origin[own].astype(np.int64)))
        along = side_ends(sheet.faces, sides.lone)
        order = np.lexsort((along[:, 1], along[:, 0]))
        rims.append((along[order], _side_heights(sheet.heights, sides.lone[order])))
    (ends, lo), (other, hi) = rims
    if not np.array_equal(ends, other):
        raise ArithmeticError("the two sheets of a solid do not share their outline")
    some = (lo != hi).any(axis=1)
    count = int(some.sum())
    named = np.full(count, wall_origin, np.int64)
    parts.append((ends[some], lo[some], hi[some], np.zeros(count, bool), named))
    e, low, high, flip, origin = (np.concatenate(column) for column in zip(*parts, strict=True))
    return _Strips(e, low, high, flip, origin)


def _side_heights(heights: Lattice, sides: NDArray[np.int64]) -> Lattice:
    """Heights (k, 2) at the ends of sides."""
    row, column = np.divmod(sides, 3)
    return np.stack([heights[row, column], heights[row, (column + 1) % 3]], axis=1)


@njit(cache=True, nogil=True)
def _steps(faces: NDArray[np.int32], heights: Lattice, mate: NDArray[np.int32]) -> NDArray[np.int64]:
    # Sides that run from the lower to the higher point number and have other heights than their mate.
    found = np.empty(mate.shape[0] // 2 + 1, np.int64)
    count = 0
    for f in range(faces.shape[0]):
        for k in range(3):
            j = (k + 1) % 3
            back = mate[3 * f + k]
            if back < 0 or faces[f, k] > faces[f, j]:
                continue
            g, i = back // 3, back % 3
            if heights[f, k] != heights[g, (i + 1) % 3] or heights[f, j] != heights[g, i]:
                found[count] = 3 * f + k
                count += 1
    return found[:count]


@njit(cache=True, nogil=True)
def _chain(plan: int, z1: int, z2: int, starts: Lattice, levels: Lattice, out: Lattice) -> int:
    # Numbers of the levels from z1 to z2 over a plan point, ends included, in order.
    first, last = _level_of(plan, z1, starts, levels), _level_of(plan, z2, starts, levels)
    step = 1 if last >= first else -1
    count = 0
    for i in range(first, last + step, step):
        out[count] = i
        count += 1
    return count


@njit(cache=True, nogil=True)
def _zip_strips(
    ends: Lattice,
    low: Lattice,
    high: Lattice,
    flip: NDArray[np.bool_],
    starts: Lattice,
    levels: Lattice,
) -> tuple[NDArray[np.int32], Lattice]:
    # Triangles between the two vertical lines of each strip, zipped from bottom to top.
    k = ends.shape[0]
    size = 0
    longest = 1
    for i in range(k):
        for s in range(2):
            room = starts[ends[i, s] + 1] - starts[ends[i, s]]
            size += room
            longest = max(longest, room)
    out = np.empty((size, 3), np.int32)
    who = np.empty(size, np.int64)
    cu = np.empty(longest, np.int64)
    cv = np.empty(longest, np.int64)
    t = 0
    for i in range(k):
        nu = _chain(ends[i, 0], low[i, 0], high[i, 0], starts, levels, cu)
        nv = _chain(ends[i, 1], low[i, 1], high[i, 1], starts, levels, cv)
        a, b = 0, 0
        while a + 1 < nu or b + 1 < nv:
            if b + 1 >= nv:
                up_u = True
            elif a + 1 >= nu:
                up_u = False
            else:
                up_u = levels[cu[a + 1]] - levels[cu[0]] <= levels[cv[b + 1]] - levels[cv[0]]
            pu, pv = cu[a], cv[b]
            if up_u:
                a += 1
                top = cu[a]
            else:
                b += 1
                top = cv[b]
            out[t, 0] = pu
            if flip[i]:
                out[t, 1] = top
                out[t, 2] = pv
            else:
                out[t, 1] = pv
                out[t, 2] = top
            who[t] = i
            t += 1
    return out[:t], who[:t]
