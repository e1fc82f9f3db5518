"""How far points lie from a surface."""

from __future__ import annotations

from dataclasses import replace

import igl
import numpy as np
from scipy.spatial import cKDTree

from claybed.geometry.lattice import XY_PER_MM
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.plan_bins import bin_triangles, near_any

# Points this many times further from a corner than most are measured first: the largest is among them.
APART_TIMES = 4.0
# Triangles within this many lattice steps of a point in plan are asked first.
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


def largest_distance_mm(points_mm: Floats, surface: Mesh) -> tuple[float, int]:
    """The largest distance (mm) from points (n, 3) mm to the triangles of a mesh, and which point it is.

    No point is further off than the corner nearest to it. So only those further from a corner than the
    largest distance known so far need to be measured against the triangles. Returns (0.0, -1) for no points.
    Source: point-to-triangle distance with an axis-aligned box tree.
    """
    if not len(points_mm):
        return 0.0, -1
    most_mm: Floats = np.asarray(cKDTree(surface.vertices_mm).query(points_mm)[0])
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


def _measured(points_mm: Floats, surface: Mesh) -> Floats:
    """Distances (n,) mm as `distances_mm` gives them, first from the triangles over or under a point only."""
    plan = np.rint(surface.vertices_mm[:, :2] * XY_PER_MM).astype(np.int64)[surface.faces].reshape(-1, 6)
    spots = np.tile(np.rint(points_mm[:, :2] * XY_PER_MM).astype(np.int64), 3)
    near = near_any(plan, bin_triangles(spots), NEAR_UNITS)
    if not near.any():
        return distances_mm(points_mm, surface)
    # Faces further off in plan than this were left out, so that a smaller distance is the least of all.
    far = distances_mm(points_mm, replace(surface, faces=surface.faces[near], origin=surface.origin[near]))
    again = far > (NEAR_UNITS - 2) / XY_PER_MM
    if again.any():
        far[again] = distances_mm(points_mm[again], surface)
    return far
