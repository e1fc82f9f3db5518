"""Faces that hide one another along a pull, decided in integers.

A solid leaves in two parts along +-d exactly when every line parallel to d meets it in one interval; on a
mesh that is when no two faces that look the same way overlap in plan (moldability fact F1, read for a closed
mesh).
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.lattice import Lattice, LatticeMesh, pull_rotation, to_lattice
from claybed.geometry.mesh import Floats, Ints, Mesh
from claybed.geometry.plan_bins import bin_triangles

# Rounding to the lattice can change which of two surfaces is the higher when they are nearer than this.
CLEARLY_BELOW_UNITS = 16.0
# A face further along the pull by less than this does not hide what lies under it.
HIDES_FROM_UNITS = 1.0

Flags = NDArray[np.bool_]


@njit(cache=True, nogil=True, inline="always")
def _edge_parts(tri: Lattice, k: int, e: int, other: int) -> bool:
    # True when edge e of counter-clockwise triangle k has all of triangle `other` on its outer side or on it.
    ax = tri[k, 2 * e]
    ay = tri[k, 2 * e + 1]
    f = (e + 1) % 3
    dx = tri[k, 2 * f] - ax
    dy = tri[k, 2 * f + 1] - ay
    for v in range(3):
        if dx * (tri[other, 2 * v + 1] - ay) - dy * (tri[other, 2 * v] - ax) > 0:
            return False
    return True


@njit(cache=True, nogil=True, inline="always")
def _apart(tri: Lattice, a: int, b: int) -> bool:
    # Of triangles whose bounds overlap.
    for e in range(3):
        if _edge_parts(tri, a, e, b) or _edge_parts(tri, b, e, a):
            return True
    return False


@njit(cache=True, nogil=True)
def _flag_overlaps(
    tri: Lattice,
    x0: int,
    y0: int,
    cell: int,
    gx: int,
    gy: int,
    starts: Lattice,
    items: Ints,
    stop_at_first: bool,
) -> Flags:
    flags = np.zeros(tri.shape[0], np.bool_)
    most = 0
    for c in range(gx * gy):
        most = max(most, starts[c + 1] - starts[c])
    # The bounds of a cell's triangles stand together, x from and to, y from and to.
    box = np.empty((most, 4), np.int64)
    for c in range(gx * gy):
        left, bottom = x0 + c % gx * cell, y0 + c // gx * cell
        first, count = starts[c], starts[c + 1] - starts[c]
        for i in range(count):
            k = items[first + i]
            box[i, 0] = min(tri[k, 0], tri[k, 2], tri[k, 4])
            box[i, 1] = max(tri[k, 0], tri[k, 2], tri[k, 4])
            box[i, 2] = min(tri[k, 1], tri[k, 3], tri[k, 5])
            box[i, 3] = max(tri[k, 1], tri[k, 3], tri[k, 5])
        for i in range(count):
            a = items[first + i]
            for j in range(i + 1, count):
                x, y = max(box[i, 0], box[j, 0]), max(box[i, 2], box[j, 2])
                if x >= min(box[i, 1], box[j, 1]) or y >= min(box[i, 3], box[j, 3]):
                    continue
                # A pair that shares several cells is compared in the one where its common bounds begin.
                if x < left or y < bottom or x >= left + cell or y >= bottom + cell:
                    continue
                b = items[first + j]
                if (flags[a] and flags[b]) or _apart(tri, a, b):
                    continue
                flags[a] = True
                flags[b] = True
                if stop_at_first:
                    return flags
    return flags


@njit(cache=True, nogil=True)
def _runs_through(tri: Lattice, k: int, ax: int, ay: int, bx: int, by: int) -> bool:
    # Whether the open segment a-b meets the inside of counter-clockwise triangle k.
    left, right = False, False
    for e in range(3):
        x, y = tri[k, 2 * e], tri[k, 2 * e + 1]
        f = (e + 1) % 3
        dx, dy = tri[k, 2 * f] - x, tri[k, 2 * f + 1] - y
        if dx * (ay - y) - dy * (ax - x) <= 0 and dx * (by - y) - dy * (bx - x) <= 0:
            return False
        side = (bx - ax) * (y - ay) - (by - ay) * (x - ax)
        left = left or side > 0
        right = right or side < 0
    return left and right


@njit(cache=True, nogil=True, error_model="numpy")
def _clear_above(
    tri: Lattice, z: Lattice, k: int, ax: int, ay: int, bx: int, by: int, za: int, zb: int, room: float
) -> bool:
    # Whether triangle k lies over a segment by more than `room` wherever they share the plan.
    t0, t1 = 0.0, 1.0
    w0, w1 = np.empty(3), np.empty(3)
    for e in range(3):
        x, y = tri[k, 2 * e], tri[k, 2 * e + 1]
        f = (e + 1) % 3
        dx, dy = tri[k, 2 * f] - x, tri[k, 2 * f + 1] - y
        s, t = float(dx * (ay - y) - dy * (ax - x)), float(dx * (by - y) - dy * (bx - x))
        w0[(e + 2) % 3], w1[(e + 2) % 3] = s, t
        if s < 0.0 < t:
            t0 = max(t0, s / (s - t))
        elif t < 0.0 < s:
            t1 = min(t1, s / (s - t))
    whole = w0[0] + w0[1] + w0[2]
    for t in (t0, max(t0, t1)):
        h = 0.0
        for v in range(3):
            h += (w0[v] + t * (w1[v] - w0[v])) / whole * z[k, v]
        if h - (za + t * (zb - za)) <= room:
            return False
    return True


@njit(cache=True, nogil=True)
def _crossed(
    tri: Lattice,
    z: Lattice,
    x0: int,
    y0: int,
    cell: int,
    gx: int,
    gy: int,
    starts: Lattice,
    items: Ints,
    segment: Lattice,
    ends: Lattice,
    room: float,
) -> Lattice:
    found = np.empty((256, 2), np.int64)
    count = 0
    seen = np.full(tri.shape[0], -1, np.int64)
    for q in range(segment.shape[0]):
        ax, ay, bx, by = segment[q, 0], segment[q, 1], segment[q, 2], segment[q, 3]
        for iy in range(max((min(ay, by) - y0) // cell, 0), min((max(ay, by) - y0) // cell, gy - 1) + 1):
            for ix in range(max((min(ax, bx) - x0) // cell, 0), min((max(ax, bx) - x0) // cell, gx - 1) + 1):
                for i in range(starts[iy * gx + ix], starts[iy * gx + ix + 1]):
                    k = items[i]
                    if seen[k] == q:
                        continue
                    seen[k] = q
                    if not _runs_through(tri, k, ax, ay, bx, by):
                        continue
                    if _clear_above(tri, z, k, ax, ay, bx, by, ends[q, 0], ends[q, 1], room):
                        continue
                    if count == found.shape[0]:
                        more = np.empty((2 * count, 2), np.int64)
                        more[:count] = found
                        found = more
                    found[count, 0], found[count, 1] = k, q
                    count += 1
    return found[:count]


@njit(cache=True, nogil=True, inline="always")
def _holds(tri: Lattice, k: int, x: float, y: float, times: int, w: Floats) -> bool:
    # Whether counter-clockwise triangle k holds the point (x, y) / times; the weights of its corners there go
    # to w. In whole numbers where x and y are.
    for e in range(3):
        f = (e + 1) % 3
        s = (tri[k, 2 * f] - tri[k, 2 * e]) * (y - times * tri[k, 2 * e + 1]) - (
            tri[k, 2 * f + 1] - tri[k, 2 * e + 1]
        ) * (x - times * tri[k, 2 * e])
        if s < 0:
            return False
        w[(e + 2) % 3] = s
    return True


@njit(cache=True, nogil=True)
def _cover(
    tri: Lattice,
    x0: int,
    y0: int,
    cell: int,
    gx: int,
    gy: int,
    starts: Lattice,
    items: Ints,
    px3: Lattice,
    py3: Lattice,
    z: Lattice,
    out_face: Lattice,
    out_z: Floats,
    sense: float,
) -> None:
    # px3, py3: three times the query point, so that centroids are whole numbers.
    w = np.zeros(3)
    for q in range(px3.shape[0]):
        ix = (px3[q] // 3 - x0) // cell
        iy = (py3[q] // 3 - y0) // cell
        out_face[q] = -1
        if ix < 0 or iy < 0 or ix >= gx or iy >= gy:
            continue
        c = iy * gx + ix
        for i in range(starts[c], starts[c + 1]):
            k = items[i]
            if not _holds(tri, k, px3[q], py3[q], 3, w):
                continue
            h = (w[0] * z[k, 0] + w[1] * z[k, 1] + w[2] * z[k, 2]) / (w[0] + w[1] + w[2])
            if out_face[q] < 0 or sense * h > sense * out_z[q]:
                out_face[q] = k
                out_z[q] = h


@njit(cache=True, nogil=True, error_model="numpy")
def _covered(
    tri: Lattice,
    x0: int,
    y0: int,
    cell: int,
    gx: int,
    gy: int,
    starts: Lattice,
    items: Ints,
    z: Lattice,
    points: Floats,
    heights: Floats,
    own: Lattice,
    room: float,
    hidden: Flags,
) -> None:
    w = np.zeros(3)
    for q in range(points.shape[0]):
        x, y = points[q, 0], points[q, 1]
        ix, iy = (int(np.floor(x)) - x0) // cell, (int(np.floor(y)) - y0) // cell
        if ix < 0 or iy < 0 or ix >= gx or iy >= gy:
            continue
        for i in range(starts[iy * gx + ix], starts[iy * gx + ix + 1]):
            k = items[i]
            if k == own[q, 0] or k == own[q, 1] or max(z[k, 0], z[k, 1], z[k, 2]) <= heights[q] + room:
                continue
            if not _holds(tri, k, x, y, 1, w):
                continue
            if (w[0] * z[k, 0] + w[1] * z[k, 1] + w[2] * z[k, 2]) / (w[0] + w[1] + w[2]) > heights[q] + room:
                hidden[q] = True
                break


def kernel_cache() -> tuple[str, str]:
    """Where compiled kernels are kept: a folder, and a pattern that a kept one matches."""
    return str(_flag_overlaps.stats.cache_path), "overlap._flag_overlaps*.nbi"


class PlanFaces:
    """Counter-clockwise plan triangles in a grid of bins, for overlap and point queries.

    `plan` (m, 6) int64 corner coordinates x0 y0 x1 y1 x2 y2; `heights` (m, 3) int64.
    """

    def __init__(self, plan: Lattice, heights: Lattice) -> None:
        self.plan = np.ascontiguousarray(plan)
        self.heights = np.ascontiguousarray(heights)
        self._bins = bin_triangles(self.plan) if len(plan) else None

    def overlapping(self, *, first_only: bool = False) -> Flags:
        """Which triangles share interior area with another, (m,) bool; `first_only` stops at the first
        pair.
        """
        if self._bins is None:
            return np.zeros(0, bool)
        flags: Flags = _flag_overlaps(self.plan, *self._bins, first_only)
        return flags

    def crossed_by(self, segments: Lattice, heights: Lattice) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Triangles whose inside a plan segment (k, 4) runs through and not clearly below: pairs by number.

        `heights` (k, 2) at the segments' ends. Returns triangle numbers and segment numbers, each (p,);
        whether they meet in plan is exact, ends and edges do not count as inside.
        """
        if self._bins is None or not len(segments):
            return np.zeros(0, np.int64), np.zeros(0, np.int64)
        found = _crossed(
            self.plan,
            self.heights,
            *self._bins,
            np.ascontiguousarray(segments),
            np.ascontiguousarray(heights),
            CLEARLY_BELOW_UNITS,
        )
        return found[:, 0], found[:, 1]

    def hidden_at(self, points: Floats, heights: Floats, own: NDArray[np.int64]) -> Flags:
        """Whether a triangle other than its `own` (n, 2) lies above each of some points, by over a unit.

        `points` (n, 2) in plan and `heights` (n,), lattice units, need not be whole.
        """
        hidden = np.zeros(len(points), bool)
        if self._bins is not None and len(points):
            _covered(self.plan, *self._bins, self.heights, points, heights, own, HIDES_FROM_UNITS, hidden)
        return hidden

    def extreme_at(self, thirds: Lattice, *, highest: bool) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """The highest (or lowest) triangle over each point, and its height there.

        `thirds` (q, 2) int64 holds three times the plan coordinates. Returns face numbers (q,), -1 where none
        covers the point, and heights (q,) in lattice units.
        """
        face = np.full(len(thirds), -1, np.int64)
        height = np.zeros(len(thirds))
        if self._bins is not None and len(thirds):
            _cover(
                self.plan,
                *self._bins,
                np.ascontiguousarray(thirds[:, 0]),
                np.ascontiguousarray(thirds[:, 1]),
                self.heights,
                face,
                height,
                1.0 if highest else -1.0,
            )
        return face, height


def facing(lat: LatticeMesh, *, up: bool) -> tuple[NDArray[np.int64], PlanFaces]:
    """Faces that look along the pull (`up`) or against it, and their plan triangles turned
    counter-clockwise.
    """
    which = np.flatnonzero(lat.twice_area > 0 if up else lat.twice_area < 0)
    f = lat.faces[which] if up else lat.faces[which][:, ::-1]
    plan = lat.points[:, :2][f].reshape(-1, 6)
    return which, PlanFaces(plan, lat.points[:, 2][f])


def has_gap(mesh: Mesh, pull: tuple[float, float, float]) -> bool:
    """Whether any line parallel to `pull` meets the snapped solid in more than one interval.

    Exact on the lattice (2^-10 mm in plan); a scan's noise at the silhouette counts. Raises ValueError for a
    zero pull.
    """
    rotation = pull_rotation(pull)
    middle = mesh.bounds_mm.mean(axis=0) @ rotation.T
    lat = to_lattice(mesh, rotation, -middle)
    return bool(facing(lat, up=True)[1].overlapping(first_only=True).any())
