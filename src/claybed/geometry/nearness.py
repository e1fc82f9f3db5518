"""How far points lie from a surface."""

from __future__ import annotations

import igl
import numpy as np

from claybed.geometry.mesh import Floats, Mesh


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

    Returns (0.0, -1) for no points. Source: point-to-triangle distance with an axis-aligned box tree.
    """
    if not len(points_mm):
        return 0.0, -1
    far = distances_mm(points_mm, surface)
    worst = int(np.argmax(far))
    return float(far[worst]), worst
