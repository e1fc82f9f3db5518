"""The solid between two height sheets, closed by vertical walls wherever a sheet steps or ends.

Walls are split at every height that the solid uses on the vertical line they end on, so that faces meet edge
to edge; all corners are lattice points, so that volumes add up exactly and an STL file loses nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.lattice import Lattice, distinct, lattice_mm
from claybed.geometry.mesh import Bytes, Mesh
from claybed.geometry.sheet import Sheet, edge_keys, used_twice

_Z_BITS = 28
_Z_SHIFT = 1 << (_Z_BITS - 1)


@dataclass(frozen=True, slots=True, eq=False)
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
        p = self.points - self.points.min(axis=0)
        a, b, c = (p[self.faces[:, k]] for k in range(3))
        # Plan area times heights stays below 2^63 per face; the sum is taken in Python integers.
        area = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
        lifted = a[:, 2] + b[:, 2] + c[:, 2]
        high, low = np.divmod(area, 1 << 20)
        return (int((high * lifted).sum()) << 20) + int((low * lifted).sum())

    @property
    def volume_mm3(self) -> float:
        """Volume, mm³."""
        return self.six_volumes / 6.0 / (1024.0 * 1024.0 * 4096.0)

    def mesh(self, frame: str) -> Mesh:
        """The solid as a mesh in millimetres in the named frame; coordinates are exact in single
        precision.
        """
        return Mesh.make(lattice_mm(self.points), self.faces, frame=frame, origin=self.origin)


def solid_between(lower: Sheet, upper: Sheet, *, wall_origin: int) -> LatticeSolid:
    """The closed solid above `lower` and below `upper`, which share their plan points and their outline.

    Cells that both sheets hold with equal heights are left out. Walls at steps inside the outline take the
    origin of the face they step from; walls along the outline take `wall_origin`.
    """
    lower, upper = _without_flat_cells(lower, upper)
    n = len(lower.plan)
    strips = _strips(lower, upper, n, wall_origin)
    used = np.concatenate(
        [
            np.stack([s.faces.reshape(-1).astype(np.int64), s.heights.reshape(-1)], axis=1)
            for s in (lower, upper)
        ]
    )
    codes = distinct((used[:, 0] << _Z_BITS) + used[:, 1] + _Z_SHIFT)
    level_plan, level_z = codes >> _Z_BITS, (codes & ((1 << _Z_BITS) - 1)) - _Z_SHIFT
    starts = np.searchsorted(level_plan, np.arange(n + 1))
    wall, wall_from = _zip_strips(strips.ends, strips.low, strips.high, strips.flip, starts, level_z)
    down = _corner_codes(lower)[:, ::-1]
    faces_code = np.concatenate([down, _corner_codes(upper), wall.reshape(-1, 3)])
    origin = np.concatenate([lower.origin, upper.origin, strips.origin[wall_from]])
    unique, index = np.unique(faces_code, return_inverse=True)
    plan_id, z = unique >> _Z_BITS, (unique & ((1 << _Z_BITS) - 1)) - _Z_SHIFT
    points = np.concatenate([lower.plan[plan_id], z[:, None]], axis=1)
    faces = index.reshape(-1, 3).astype(np.int32)
    return LatticeSolid(points, faces, origin.astype(np.uint8))


def odd_faced_edges(solid: LatticeSolid) -> tuple[int, NDArray[np.int64]]:
    """How many edges are unmated, and the edges (k, 2) that more than two faces share."""
    n = len(solid.points)
    keys, mates = (np.sort(k) for k in edge_keys(solid.faces, n))
    open_edges = 0 if np.array_equal(keys, mates) else _unlike(keys, mates)
    crowded = used_twice(solid.faces, n)
    crowded = crowded[(crowded // n) < (crowded % n)]
    return open_edges, np.stack([crowded // n, crowded % n], axis=1)


def _unlike(keys: Lattice, mates: Lattice) -> int:
    """How many entries two multisets differ in."""
    values, index = np.unique(np.concatenate([keys, mates]), return_inverse=True)
    sign = np.repeat([1, -1], [len(keys), len(mates)])
    balance = np.bincount(index.reshape(-1), weights=sign, minlength=len(values))
    return int(np.abs(balance).sum())


@dataclass(frozen=True, slots=True, eq=False)
class _Strips:
    ends: Lattice  # (k, 2) plan points u, v
    low: Lattice  # (k, 2) heights of the lower line at u, v
    high: Lattice
    flip: NDArray[np.bool_]  # True when the wall looks to the left of u -> v
    origin: NDArray[np.int64]


def _corner_codes(sheet: Sheet) -> Lattice:
    codes: Lattice = (sheet.faces.astype(np.int64) << _Z_BITS) + sheet.heights + _Z_SHIFT
    return codes


def _without_flat_cells(lower: Sheet, upper: Sheet) -> tuple[Sheet, Sheet]:
    """Drop the cells in which both sheets run at the same height, corner for corner."""
    n = len(lower.plan)
    plan_low, plan_up = (np.sort(s.faces.astype(np.int64), axis=1) for s in (lower, upper))
    key_low, key_up = ((f[:, 0] * n + f[:, 1]) * n + f[:, 2] for f in (plan_low, plan_up))
    shared = np.intersect1d(key_low, key_up)
    if not len(shared):
        return lower, upper
    rows = [np.flatnonzero(np.isin(k, shared)) for k in (key_low, key_up)]
    codes = [np.sort(_corner_codes(s)[r], axis=1) for s, r in zip((lower, upper), rows, strict=True)]
    _, index, counts = np.unique(np.concatenate(codes), axis=0, return_inverse=True, return_counts=True)
    same = counts[index.reshape(-1)] > 1
    if not same.any():
        return lower, upper
    keep = np.ones(len(key_low), bool), np.ones(len(key_up), bool)
    keep[0][rows[0][same[: len(rows[0])]]] = False
    keep[1][rows[1][same[len(rows[0]) :]]] = False
    first, second = (
        Sheet(s.plan, s.faces[k], s.heights[k], s.origin[k])
        for s, k in zip((lower, upper), keep, strict=True)
    )
    return first, second


def _sides(sheet: Sheet, n: int) -> tuple[Lattice, Lattice, Lattice, Lattice, Lattice]:
    """Undirected edges, their heights (k, 2) on the left and on the right, and face numbers there (-1 where
    there is none).
    """
    f, z = sheet.faces.astype(np.int64), sheet.heights
    a, b = f.T.reshape(-1), np.roll(f, -1, axis=1).T.reshape(-1)
    za, zb = z.T.reshape(-1), np.roll(z, -1, axis=1).T.reshape(-1)
    number = np.tile(np.arange(len(f)), 3)
    forward = a < b
    key = np.where(forward, a * n + b, b * n + a)
    zu, zv = np.where(forward, za, zb), np.where(forward, zb, za)
    keys, at = np.unique(key, return_inverse=True)
    left = np.zeros((len(keys), 2), np.int64)
    right = np.zeros((len(keys), 2), np.int64)
    face_left, face_right = np.full(len(keys), -1, np.int64), np.full(len(keys), -1, np.int64)
    left[at[forward]] = np.stack([zu, zv], axis=1)[forward]
    right[at[~forward]] = np.stack([zu, zv], axis=1)[~forward]
    face_left[at[forward]] = number[forward]
    face_right[at[~forward]] = number[~forward]
    return keys, left, right, face_left, face_right


def _strips(lower: Sheet, upper: Sheet, n: int, wall_origin: int) -> _Strips:
    """Every wall as the strip between two lines over one plan edge."""
    ends, low, high, flip, origin = [], [], [], [], []

    def add(
        keys: Lattice, lo: Lattice, hi: Lattice, left_open: NDArray[np.bool_], where: NDArray[np.int64]
    ) -> None:
        ends.append(np.stack([keys // n, keys % n], axis=1))
        low.append(lo)
        high.append(hi)
        flip.append(left_open)
        origin.append(where)

    lk, ll, lr, lfl, lfr = _sides(lower, n)
    uk, ul, ur, ufl, ufr = _sides(upper, n)
    for keys, left, right, fl, fr, sheet, is_lower in (
        (lk, ll, lr, lfl, lfr, lower, True),
        (uk, ul, ur, ufl, ufr, upper, False),
    ):
        inner = (fl >= 0) & (fr >= 0)
        step = inner & (left != right).any(axis=1)
        k = np.flatnonzero(step)
        left_low = left[k].sum(axis=1) < right[k].sum(axis=1)
        lo = np.where(left_low[:, None], left[k], right[k])
        hi = np.where(left_low[:, None], right[k], left[k])
        # Solid stands on the side whose floor is lower, or whose ceiling is higher; the wall looks to the
        # other side.
        solid_left = left_low if is_lower else ~left_low
        own = np.where(left_low, fr[k], fl[k]) if is_lower else np.where(left_low, fl[k], fr[k])
        add(keys[k], lo, hi, ~solid_left, sheet.origin[own].astype(np.int64))
    rim = np.flatnonzero((lfl < 0) | (lfr < 0))
    at = np.searchsorted(uk, lk[rim])
    at[at == len(uk)] = 0
    if not np.array_equal(uk[at], lk[rim]) or int(((ufl < 0) | (ufr < 0)).sum()) != len(rim):
        raise ArithmeticError("the two sheets of a solid do not share their outline")
    on_left = lfl[rim] >= 0
    lo = np.where(on_left[:, None], ll[rim], lr[rim])
    hi = np.where(on_left[:, None], ul[at], ur[at])
    some = (lo != hi).any(axis=1)
    add(lk[rim][some], lo[some], hi[some], ~on_left[some], np.full(int(some.sum()), wall_origin, np.int64))
    return _Strips(
        np.concatenate(ends),
        np.concatenate(low),
        np.concatenate(high),
        np.concatenate(flip),
        np.concatenate(origin),
    )


@njit(cache=True, nogil=True)
def _chain(plan: int, z1: int, z2: int, starts: Lattice, levels: Lattice, out: Lattice) -> int:
    # Heights from z1 to z2 on the vertical line over a plan point, ends included, in order.
    count = 0
    out[count] = z1
    count += 1
    lo, hi = min(z1, z2), max(z1, z2)
    if z1 <= z2:
        for i in range(starts[plan], starts[plan + 1]):
            if lo < levels[i] < hi:
                out[count] = levels[i]
                count += 1
    else:
        for i in range(starts[plan + 1] - 1, starts[plan] - 1, -1):
            if lo < levels[i] < hi:
                out[count] = levels[i]
                count += 1
    if z2 != z1:
        out[count] = z2
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
) -> tuple[Lattice, Lattice]:
    # Triangles between the two vertical lines of each strip, zipped from bottom to top.
    k = ends.shape[0]
    size = 0
    for i in range(k):
        for s in range(2):
            size += starts[ends[i, s] + 1] - starts[ends[i, s]] + 2
    out = np.empty(3 * size, np.int64)
    who = np.empty(size, np.int64)
    longest = 2
    for i in range(k):
        for s in range(2):
            longest = max(longest, starts[ends[i, s] + 1] - starts[ends[i, s]] + 2)
    cu = np.empty(longest, np.int64)
    cv = np.empty(longest, np.int64)
    t = 0
    for i in range(k):
        u, v = ends[i, 0], ends[i, 1]
        nu = _chain(u, low[i, 0], high[i, 0], starts, levels, cu)
        nv = _chain(v, low[i, 1], high[i, 1], starts, levels, cv)
        a, b = 0, 0
        while a + 1 < nu or b + 1 < nv:
            if b + 1 >= nv:
                up_u = True
            elif a + 1 >= nu:
                up_u = False
            else:
                up_u = cu[a + 1] - cu[0] <= cv[b + 1] - cv[0]
            pu = (u << _Z_BITS) + cu[a] + _Z_SHIFT
            pv = (v << _Z_BITS) + cv[b] + _Z_SHIFT
            if up_u:
                a += 1
                top = (u << _Z_BITS) + cu[a] + _Z_SHIFT
            else:
                b += 1
                top = (v << _Z_BITS) + cv[b] + _Z_SHIFT
            out[3 * t] = pu
            if flip[i]:
                out[3 * t + 1] = top
                out[3 * t + 2] = pv
            else:
                out[3 * t + 1] = pv
                out[3 * t + 2] = top
            who[t] = i
            t += 1
    return out[: 3 * t], who[:t]
