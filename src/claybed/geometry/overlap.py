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

Flags = NDArray[np.bool_]


@njit(cache=True, nogil=True)
def _bin_faces(tri: Lattice, x0: int, y0: int, cell: int, gx: int, gy: int) -> tuple[Lattice, Ints]:
    m = tri.shape[0]
    counts = np.zeros(gx * gy + 1, np.int64)
    for k in range(m):
        ax = (min(tri[k, 0], tri[k, 2], tri[k, 4]) - x0) // cell
        bx = (max(tri[k, 0], tri[k, 2], tri[k, 4]) - x0) // cell
        ay = (min(tri[k, 1], tri[k, 3], tri[k, 5]) - y0) // cell
        by = (max(tri[k, 1], tri[k, 3], tri[k, 5]) - y0) // cell
        for iy in range(ay, by + 1):
            for ix in range(ax, bx + 1):
                counts[iy * gx + ix + 1] += 1
    for i in range(gx * gy):
        counts[i + 1] += counts[i]
    items = np.empty(counts[gx * gy], np.int32)
    at = counts[:-1].copy()
    for k in range(m):
        ax = (min(tri[k, 0], tri[k, 2], tri[k, 4]) - x0) // cell
        bx = (max(tri[k, 0], tri[k, 2], tri[k, 4]) - x0) // cell
        ay = (min(tri[k, 1], tri[k, 3], tri[k, 5]) - y0) // cell
        by = (max(tri[k, 1], tri[k, 3], tri[k, 5]) - y0) // cell
        for iy in range(ay, by + 1):
            for ix in range(ax, bx + 1):
                c = iy * gx + ix
                items[at[c]] = k
                at[c] += 1
    return counts, items


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
    if max(tri[a, 0], tri[a, 2], tri[a, 4]) <= min(tri[b, 0], tri[b, 2], tri[b, 4]):
        return True
    if max(tri[b, 0], tri[b, 2], tri[b, 4]) <= min(tri[a, 0], tri[a, 2], tri[a, 4]):
        return True
    if max(tri[a, 1], tri[a, 3], tri[a, 5]) <= min(tri[b, 1], tri[b, 3], tri[b, 5]):
        return True
    if max(tri[b, 1], tri[b, 3], tri[b, 5]) <= min(tri[a, 1], tri[a, 3], tri[a, 5]):
        return True
    for e in range(3):
        if _edge_parts(tri, a, e, b) or _edge_parts(tri, b, e, a):
            return True
    return False


@njit(cache=True, nogil=True)
def _flag_overlaps(tri: Lattice, starts: Lattice, items: Ints, cells: int, stop_at_first: bool) -> Flags:
    flags = np.zeros(tri.shape[0], np.bool_)
    for c in range(cells):
        for i in range(starts[c], starts[c + 1]):
            a = items[i]
            for j in range(i + 1, starts[c + 1]):
                b = items[j]
                if flags[a] and flags[b]:
                    continue
                if not _apart(tri, a, b):
                    flags[a] = True
                    flags[b] = True
                    if stop_at_first:
                        return flags
    return flags


@njit(cache=True, nogil=True)
def _cover(
    tri: Lattice,
    starts: Lattice,
    items: Ints,
    x0: int,
    y0: int,
    cell: int,
    gx: int,
    gy: int,
    px3: Lattice,
    py3: Lattice,
    z: Lattice,
    out_face: Lattice,
    out_z: Floats,
    sense: float,
) -> None:
    # px3, py3: three times the query point, so that centroids are whole numbers.
    for q in range(px3.shape[0]):
        ix = (px3[q] // 3 - x0) // cell
        iy = (py3[q] // 3 - y0) // cell
        out_face[q] = -1
        if ix < 0 or iy < 0 or ix >= gx or iy >= gy:
            continue
        c = iy * gx + ix
        for i in range(starts[c], starts[c + 1]):
            k = items[i]
            inside = True
            w = np.zeros(3)
            for e in range(3):
                f = (e + 1) % 3
                s = (tri[k, 2 * f] - tri[k, 2 * e]) * (py3[q] - 3 * tri[k, 2 * e + 1]) - (
                    tri[k, 2 * f + 1] - tri[k, 2 * e + 1]
                ) * (px3[q] - 3 * tri[k, 2 * e])
                if s < 0:
                    inside = False
                    break
                w[(e + 2) % 3] = s
            if not inside:
                continue
            h = (w[0] * z[k, 0] + w[1] * z[k, 1] + w[2] * z[k, 2]) / (w[0] + w[1] + w[2])
            if out_face[q] < 0 or sense * h > sense * out_z[q]:
                out_face[q] = k
                out_z[q] = h


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
        if len(plan):
            x, y = plan[:, 0::2], plan[:, 1::2]
            self._x0, self._y0 = int(x.min()), int(y.min())
            span = max(int(x.max()) - self._x0, int(y.max()) - self._y0, 1)
            per_side = int(np.clip(np.sqrt(len(plan) / 2.0), 1, 700))
            self._cell = span // per_side + 1
            self._gx = (int(x.max()) - self._x0) // self._cell + 1
            self._gy = (int(y.max()) - self._y0) // self._cell + 1
            self._starts, self._items = _bin_faces(
                self.plan, self._x0, self._y0, self._cell, self._gx, self._gy
            )

    def overlapping(self, *, first_only: bool = False) -> Flags:
        """Which triangles share interior area with another, (m,) bool; `first_only` stops at the first
        pair.
        """
        if not len(self.plan):
            return np.zeros(0, bool)
        flags: Flags = _flag_overlaps(self.plan, self._starts, self._items, self._gx * self._gy, first_only)
        return flags

    def extreme_at(self, thirds: Lattice, *, highest: bool) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """The highest (or lowest) triangle over each point, and its height there.

        `thirds` (q, 2) int64 holds three times the plan coordinates. Returns face numbers (q,), -1 where none
        covers the point, and heights (q,) in lattice units.
        """
        face = np.full(len(thirds), -1, np.int64)
        height = np.zeros(len(thirds))
        if len(self.plan) and len(thirds):
            _cover(
                self.plan,
                self._starts,
                self._items,
                self._x0,
                self._y0,
                self._cell,
                self._gx,
                self._gy,
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
