"""An object on the integer lattice of its pull frame, where every decision is exact.

Plan coordinates are whole multiples of 2^-10 mm and heights of 2^-12 mm: below 4 m every one of them is a
single-precision number, so an STL file holds them without rounding, and 2D determinants fit in 64 bits.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.mesh import Bytes, Floats, Ints, Mesh

Lattice = NDArray[np.int64]

# Powers of two, so that every coordinate up to REACH_MM is a single-precision number as well.
XY_PER_MM = 1024
Z_PER_MM = 4096
UNITS_PER_MM = np.array([XY_PER_MM, XY_PER_MM, Z_PER_MM], dtype=np.float64)
REACH_MM = 2000.0

# Vertices joined by an edge shorter than this in plan share one vertical line: a rotated straight wall is
# straight again.
PLUMB_UNITS = 3
PLUMB_SPREAD_UNITS = 5
# Single precision at a metre and a rotation leave planes this rough.
SAME_PLANE_MM = 2e-5


@dataclass(frozen=True, slots=True, eq=False, weakref_slot=True)
class LatticeMesh:
    """Triangles with integer corners in a pull frame.

    `points` (n, 3) int64 in lattice units (x, y per 2^-10 mm, z per 2^-12 mm); `faces` (m, 3) int32;
    `origin` (m,) uint8; `twice_area` (m,) int64 twice the signed plan area, positive for faces that look
    along the pull.
    """

    points: Lattice
    faces: Ints
    origin: Bytes
    twice_area: Lattice


def pull_rotation(pull: tuple[float, float, float] | Floats, *, turn_rad: float = 0.0) -> Floats:
    """Rotation (3, 3) whose third row is the unit `pull`; `turn_rad` turns the plan about it.

    Raises ValueError for a zero or non-finite pull.
    """
    d = np.asarray(pull, dtype=np.float64)
    norm = float(np.linalg.norm(d))
    if not np.isfinite(norm) or norm < 1e-12:
        raise ValueError("a pull must be a finite vector that is not zero")
    d = d / norm
    # Exact axes stay exact, so that a wall parallel to the pull is not tilted by rounding.
    d = np.where(np.abs(d) < 1e-12, 0.0, d)
    d = np.where(np.abs(np.abs(d) - 1.0) < 1e-12, np.sign(d), d)
    seed = np.zeros(3)
    seed[int(np.argmin(np.abs(d)))] = 1.0
    ex = np.cross(seed, d)
    ex /= np.linalg.norm(ex)
    ey = np.cross(d, ex)
    c, s = np.cos(turn_rad), np.sin(turn_rad)
    return np.stack([c * ex + s * ey, -s * ex + c * ey, d])


def rotation_about(turns_deg: tuple[float, float, float]) -> Floats:
    """Rotation (3, 3) by small turns in degrees about x, y and z, in this order."""
    rotation = np.eye(3)
    for k, degrees in enumerate(turns_deg):
        c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
        i, j = (k + 1) % 3, (k + 2) % 3
        step = np.eye(3)
        step[i, i], step[i, j], step[j, i], step[j, j] = c, -s, s, c
        rotation = step @ rotation
    return rotation


def to_lattice(mesh: Mesh, rotation: Floats, shift_mm: Floats) -> LatticeMesh:
    """Rotate, shift and snap a closed mesh to the lattice; faces that collapse are dropped.

    `rotation` (3, 3), `shift_mm` (3,). The largest move is half a lattice step plus the plumb spread (0.005
    mm). Raises ValueError when a coordinate lies outside +-2 m.
    """
    placed = mesh.vertices_mm @ rotation.T + shift_mm
    if not np.all(np.abs(placed) < REACH_MM):
        raise ValueError("the object reaches further than two metres from the block's middle")
    placed = np.stack([_gathered(placed[:, k]) for k in range(3)], axis=1)
    points = np.rint(placed * UNITS_PER_MM).astype(np.int64)
    points[:, :2] = _plumb(points[:, :2], mesh.faces)
    plan, place = distinct_plan(points[:, :2])
    codes, inverse = np.unique((place << 26) + (points[:, 2] + (1 << 25)), return_inverse=True)
    unique = np.concatenate([plan[codes >> 26], ((codes & ((1 << 26) - 1)) - (1 << 25))[:, None]], axis=1)
    faces = inverse.reshape(-1)[mesh.faces].astype(np.int32)
    keep = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    return lattice_mesh(unique, faces[keep], mesh.origin[keep])


def lattice_mesh(points: Lattice, faces: Ints, origin: Bytes) -> LatticeMesh:
    """A lattice mesh from its arrays, with the plan areas worked out."""
    return LatticeMesh(points, faces, origin, twice_plan_area(points[:, :2], faces))


def twice_plan_area(plan: Lattice, faces: NDArray[np.integer]) -> Lattice:
    """Twice the signed area of each triangle in plan: `plan` (n, 2) int64, `faces` (m, 3); exact below 2^31
    units.
    """
    area: Lattice = _doubled(np.asarray(plan), np.asarray(faces))
    return area


@njit(cache=True, nogil=True)
def _doubled(plan: Lattice, faces: NDArray[np.integer]) -> Lattice:
    area = np.empty(faces.shape[0], np.int64)
    for k in range(faces.shape[0]):
        a, b, c = faces[k, 0], faces[k, 1], faces[k, 2]
        ux, uy = plan[b, 0] - plan[a, 0], plan[b, 1] - plan[a, 1]
        vx, vy = plan[c, 0] - plan[a, 0], plan[c, 1] - plan[a, 1]
        area[k] = ux * vy - uy * vx
    return area


def distinct(values: NDArray[np.int64]) -> Lattice:
    """The different whole numbers of an array, ascending; by sorting, which beats hashing for large
    arrays.
    """
    ranked: Lattice = np.sort(values, axis=None)
    return ranked[np.r_[True, ranked[1:] != ranked[:-1]]] if len(ranked) else ranked


def row_codes(rows: Lattice) -> Lattice:
    """One whole number for each row (n, k) of whole numbers, equal for equal rows and in the rows' order:
    these sort several times as fast.
    """
    if not len(rows):
        return np.zeros(0, np.int64)
    codes, room = np.zeros(len(rows), np.int64), 1
    for column in rows.T:
        low, span = int(column.min()), int(column.max()) - int(column.min()) + 1
        if room * span >= 1 << 62:
            found, codes = np.unique(codes, return_inverse=True)
            room = len(found)
        codes = codes * span + (column - low)
        room *= span
    return codes


def plan_codes(xy: Lattice) -> Lattice:
    """One whole number for each plan point (n, 2), in order of x, then y."""
    codes: Lattice = (xy[:, 0] << 32) + (xy[:, 1] + (1 << 31))
    return codes


def distinct_plan(xy: Lattice) -> tuple[Lattice, Lattice]:
    """The different plan points (k, 2), in order, and the number of each point's own among them (n,)."""
    unique, inverse = np.unique(plan_codes(xy), return_inverse=True)
    plan = np.stack([unique >> 32, (unique & ((1 << 32) - 1)) - (1 << 31)], axis=1)
    return plan, inverse.reshape(-1).astype(np.int64)


def numbered_in(plan: Lattice, xy: Lattice) -> tuple[Lattice, Lattice]:
    """Plan points (k, 2), in order, with those of `xy` (n, 2) that are new at the end; the number of each of
    `xy` (n,).
    """
    known, codes = plan_codes(plan), plan_codes(xy)
    at = np.minimum(np.searchsorted(known, codes), max(len(known) - 1, 0))
    new = known[at] != codes if len(known) else np.ones(len(codes), bool)
    added, place = distinct_plan(xy[new])
    number = at.astype(np.int64)
    number[new] = len(plan) + place
    return np.concatenate([plan, added]), number


def lattice_mm(points: Lattice) -> Floats:
    """Lattice points (n, 3) in millimetres, exact."""
    mm: Floats = points / UNITS_PER_MM
    return mm


def _gathered(values: Floats) -> Floats:
    """Coordinates that differ only by rounding take one value, so that a face square to an axis snaps to one
    plane.
    """
    order = np.argsort(values)
    ranked = values[order]
    group = np.cumsum(np.r_[0, np.diff(ranked) > SAME_PLANE_MM])
    mean = np.bincount(group, ranked) / np.bincount(group)
    # A long run of close values is a smooth surface, not a plane: it is left alone.
    spread = (
        np.maximum.reduceat(ranked, np.flatnonzero(np.r_[True, np.diff(group) > 0]))
        - ranked[np.flatnonzero(np.r_[True, np.diff(group) > 0])]
    )
    level = np.where(spread[group] <= 4 * SAME_PLANE_MM, mean[group], ranked)
    gathered = np.empty_like(values)
    gathered[order] = level
    return gathered


def _plumb(plan: Lattice, faces: Ints) -> Lattice:
    """Move plan points that an edge joins within PLUMB_UNITS onto one common point, unless a chain would
    drift.
    """
    label = _joined_closely(plan, faces)
    some = np.flatnonzero(np.bincount(label)[label] > 1)
    if not len(some):
        return plan
    order = some[np.argsort(label[some], kind="stable")]
    starts = np.flatnonzero(np.r_[True, np.diff(label[order]) > 0])
    lo = np.minimum.reduceat(plan[order], starts)
    hi = np.maximum.reduceat(plan[order], starts)
    tight: NDArray[np.bool_] = np.all((hi - lo) <= PLUMB_SPREAD_UNITS, axis=1)
    size = np.diff(np.r_[starts, len(order)])
    use = np.repeat(tight, size)
    moved = plan.copy()
    moved[order[use]] = np.repeat((lo + hi) // 2, size, axis=0)[use]
    return moved


@njit(cache=True, nogil=True)
def _joined_closely(plan: Lattice, faces: Ints) -> Lattice:
    # For each point the first of those that edges within PLUMB_UNITS join it with.
    root = np.arange(plan.shape[0])
    for f in range(faces.shape[0]):
        for k in range(3):
            a, b = faces[f, k], faces[f, (k + 1) % 3]
            if max(abs(plan[a, 0] - plan[b, 0]), abs(plan[a, 1] - plan[b, 1])) > PLUMB_UNITS:
                continue
            while root[a] != a:
                root[a] = root[root[a]]
                a = root[a]
            while root[b] != b:
                root[b] = root[root[b]]
                b = root[b]
            root[max(a, b)] = min(a, b)
    for p in range(plan.shape[0]):
        root[p] = root[root[p]]
    return root
