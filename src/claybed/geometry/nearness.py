"""How far points lie from a surface."""

from __future__ import annotations

import igl
import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.closest import nearest_within
from claybed.geometry.lattice import XY_PER_MM
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.plan_bins import bin_triangles, near_any

# Points this many times further from a corner than most are measured first: the largest is among them.
APART_TIMES = 4.0
# A corner further off than this is not asked for: more than rounding to the lattice moves a point.
CORNER_MM = 0.01
EMPTY = -1
# Triangles this close are looked for first, among those within so many lattice steps in plan.
CLOSE_MM = 0.05
NEAR_UNITS = 64


def distances_mm(points_mm: Floats, surface: Mesh) -> Floats:
    """Distance (n,) mm of points (n, 3) mm from the triangles of a mesh.

    Source: point-to-triangle distance with an axis-aligned box tree.
    """
    if not len(points_mm):
        return np.zeros(0)
    square, _, _ = igl.point_mesh_squared_distance(
        np.ascontiguousarray(points_mm),
        np.ascontiguousarray(surface.vertices_mm),
        np.ascontiguousarray(surface.faces, np.int64),
    )
    far: Floats = np.sqrt(np.maximum(square, 0.0))
    return far


def nearest_mm(points_mm: Floats, surface: Mesh) -> tuple[Floats, NDArray[np.int64]]:
    """The place on a mesh nearest to each point (n, 3) mm, and the face (n,) it lies in.

    Source: point-to-triangle distance with an axis-aligned box tree.
    """
    _, face, foot = igl.point_mesh_squared_distance(
        np.ascontiguousarray(points_mm),
        np.ascontiguousarray(surface.vertices_mm),
        np.ascontiguousarray(surface.faces, np.int64),
    )
    return np.asarray(foot, np.float64), np.asarray(face, np.int64)


def surrounded(points_mm: Floats, surface: Mesh) -> NDArray[np.bool_]:
    """Which of some points (n, 3) mm, none on it, a closed mesh goes round.

    Source: winding number, by its far-field sum (Barill and others 2018; from memory).
    """
    if not len(points_mm) or not len(surface.faces):
        return np.zeros(len(points_mm), bool)
    around = igl.fast_winding_number(
        np.ascontiguousarray(surface.vertices_mm),
        np.ascontiguousarray(surface.faces, np.int64),
        np.ascontiguousarray(points_mm),
    )
    return np.asarray(around) > 0.5


def largest_distance_mm(points_mm: Floats, surface: Mesh) -> tuple[float, int]:
    """The largest distance (mm) from points (n, 3) mm to the triangles of a mesh, and which point it is.

    No point is further off than the corner nearest to it. So only those further from a corner than the
    largest distance known so far, or with none near them, need to be measured against the triangles. Returns
    (0.0, -1) for no points.
    Source: point-to-triangle distance with an axis-aligned box tree.
    """
    if not len(points_mm):
        return 0.0, -1
    most_mm = _corner_near(surface.vertices_mm, points_mm)
    largest_mm, worst = -1.0, -1
    left = most_mm >= min(APART_TIMES * float(np.median(most_mm)), float(most_mm.max()))
    for _ in range(2):
        which = np.flatnonzero(left)
        if len(which):
            far = _measured(points_mm[which], surface)
            if float(far.max()) > largest_mm:
                largest_mm, worst = float(far.max()), int(which[np.argmax(far)])
        left = ~left & (most_mm > largest_mm)
    return largest_mm, worst


def _corner_near(corners_mm: Floats, points_mm: Floats) -> Floats:
    """Distance (n,) mm to the nearest corner for each point that has one within CORNER_MM, else inf."""
    side = 2.0 * CORNER_MM
    low = np.minimum(corners_mm.min(axis=0), points_mm.min(axis=0)) - side
    near: Floats = _nearest_corner((corners_mm - low) / side, (points_mm - low) / side)
    return np.where(near <= 0.5, near * side, np.inf)


@njit(cache=True, nogil=True)
def _slot(x: int, y: int, z: int, mask: int) -> int:
    h = (x * 73856093) ^ (y * 19349663) ^ (z * 83492791)
    h ^= h >> 17
    slot: int = (h * 40503 ^ (h >> 9)) & mask
    return slot


@njit(cache=True, nogil=True)
def _nearest_corner(corners: Floats, points: Floats) -> Floats:
    # In cells of one: corners chained by a hash of their cell; a point looks into the eight cells nearest to
    # it.
    size = 16
    while size < 2 * corners.shape[0]:
        size *= 2
    head = np.full(size, EMPTY, np.int32)
    after = np.full(corners.shape[0], EMPTY, np.int32)
    for k in range(corners.shape[0]):
        s = _slot(int(corners[k, 0]), int(corners[k, 1]), int(corners[k, 2]), size - 1)
        after[k] = head[s]
        head[s] = k
    near = np.full(points.shape[0], np.inf)
    for q in range(points.shape[0]):
        x, y, z = int(points[q, 0] - 0.5), int(points[q, 1] - 0.5), int(points[q, 2] - 0.5)
        best = np.inf
        for i in range(8):
            k = head[_slot(x + (i & 1), y + ((i >> 1) & 1), z + (i >> 2), size - 1)]
            while k != EMPTY:
                dx, dy, dz = (
                    corners[k, 0] - points[q, 0],
                    corners[k, 1] - points[q, 1],
                    corners[k, 2] - points[q, 2],
                )
                best = min(best, dx * dx + dy * dy + dz * dz)
                k = after[k]
        near[q] = np.sqrt(best)
    return near


def _measured(points_mm: Floats, surface: Mesh) -> Floats:
    """Distances (n,) mm as `distances_mm` gives them; most points have a triangle close by."""
    plan = np.rint(surface.vertices_mm[:, :2] * XY_PER_MM).astype(np.int64)[surface.faces].reshape(-1, 6)
    spots = np.tile(np.rint(points_mm[:, :2] * XY_PER_MM).astype(np.int64), 3)
    near = near_any(plan, bin_triangles(spots), NEAR_UNITS)
    far = np.full(len(points_mm), np.inf)
    if near.any():
        far = nearest_within(points_mm, surface.vertices_mm[surface.faces[near]], CLOSE_MM)[1]
    again = np.isinf(far)
    if again.any():
        far[again] = distances_mm(points_mm[again], surface)
    return far
