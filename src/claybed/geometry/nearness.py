"""How far points lie from a surface."""

from __future__ import annotations

import igl
import numpy as np

from claybed.geometry.mesh import Floats, Mesh


def largest_distance_mm(points_mm: Floats, surface: Mesh) -> tuple[float, int]:
    """The largest distance (mm) from points (n, 3) mm to the triangles of a mesh, and which point it is.

    Returns (0.0, -1) for no points. Source: point-to-triangle distance with an axis-aligned box tree.
    """
    if not len(points_mm):
        return 0.0, -1
    square, _, _ = igl.point_mesh_squared_distance(
        np.ascontiguousarray(points_mm),
        np.ascontiguousarray(surface.vertices_mm),
        np.ascontiguousarray(surface.faces, np.int64),
    )
    worst = int(np.argmax(square))
    return float(np.sqrt(max(float(square[worst]), 0.0))), worst
