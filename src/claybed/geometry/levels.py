"""How much of a solid lies above a level: exact for triangles, without cutting the mesh."""

from __future__ import annotations

import numpy as np
from numba import njit

from claybed.geometry.mesh import Floats, Ints, Mesh


def volume_above_mm3(mesh: Mesh, level_mm: float) -> float:
    """Volume (mm³) of the part of a closed, outward mesh that lies above the plane z = `level_mm`.

    It is the integral of the height above the plane, where positive, over each face's signed plan area. That
    integral is a cubic quotient of the corner heights, so nothing is cut and nothing is sampled; the error is
    rounding alone. Source: divergence theorem.
    """
    return float(_prisms(mesh.vertices_mm, mesh.faces, level_mm, 1.0))


def flat_level_mm(corner: Floats) -> float:
    """Height, mm, of the flat that makes up most of some triangles, corners (k, 3, 3) mm with k at least 1,
    by area: what stands upright hardly counts.
    """
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    height = corner[:, :, 2].mean(axis=1)
    order = np.argsort(height)
    # Only what lies across counts.
    flat = np.abs(normal[order, 2]) ** 3 / np.maximum(np.linalg.norm(normal[order], axis=1), 1e-12) ** 2
    share = np.cumsum(flat)
    return float(height[order][int(np.searchsorted(share, 0.5 * share[-1]))])


def column_above_mm3(mesh: Mesh, level_mm: float) -> float:
    """Volume (mm³) of the columns that stand on the upper side of a closed, outward mesh, up to `level_mm`.

    Each up-facing face carries a prism from itself to the level; parts above the level carry none. Exact
    for a body that every upright line meets in one interval. Source: divergence theorem.
    """
    return float(_prisms(mesh.vertices_mm, mesh.faces, level_mm, -1.0))


@njit(cache=True, nogil=True)
def _prisms(points: Floats, faces: Ints, level: float, way: float) -> float:
    # Plan area times the mean of what is positive of the heights over the level; with `way` -1 of the depths
    # under it, and only over faces that look up.
    total = 0.0
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        area = (points[b, 0] - points[a, 0]) * (points[c, 1] - points[a, 1]) - (
            points[b, 1] - points[a, 1]
        ) * (points[c, 0] - points[a, 0])
        if way < 0.0 and area <= 0.0:
            continue
        x, y, z = way * (points[a, 2] - level), way * (points[b, 2] - level), way * (points[c, 2] - level)
        low, high = min(x, y, z), max(x, y, z)
        middle = max(min(x, y), min(max(x, y), z))
        if low >= 0.0:
            mean = (low + middle + high) / 3.0
        elif middle > 0.0:
            # Two corners above: the whole less the negative tip at the third.
            mean = (low + middle + high) / 3.0 - low**3 / (3.0 * (middle - low) * (high - low))
        elif high > 0.0:
            # One corner above: a tip similar to the triangle, whose mean is a third of its corner's height.
            mean = high**3 / (3.0 * (high - low) * (high - middle))
        else:
            continue
        total += area / 2.0 * mean
    return total
