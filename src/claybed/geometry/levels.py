"""How much of a solid lies above a level: exact for triangles, without cutting the mesh."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.mesh import Mesh


def volume_above_mm3(mesh: Mesh, level_mm: float) -> float:
    """Volume (mm³) of the part of a closed, outward mesh that lies above the plane z = `level_mm`.

    It is the integral of the height above the plane, where positive, over each face's signed plan area. That
    integral is a cubic quotient of the corner heights, so nothing is cut and nothing is sampled; the error is
    rounding alone. Source: divergence theorem.
    """
    corners = mesh.corners_mm
    height = np.sort(corners[:, :, 2] - level_mm, axis=1)
    edge_1, edge_2 = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    plan_area = (edge_1[:, 0] * edge_2[:, 1] - edge_1[:, 1] * edge_2[:, 0]) / 2.0
    return float((plan_area * _mean_positive(height)).sum())


def _mean_positive(height: NDArray[np.float64]) -> NDArray[np.float64]:
    """Mean over triangles of the positive part of a linear function; its corner values (m, 3) are sorted."""
    low, middle, high = height[:, 0], height[:, 1], height[:, 2]
    mean = np.zeros(len(height))
    above = low >= 0.0
    mean[above] = (low + middle + high)[above] / 3.0
    two = (low < 0.0) & (middle > 0.0)
    one = (low < 0.0) & (middle <= 0.0) & (high > 0.0)
    # One corner above: a tip similar to the triangle, whose mean is a third of its corner's height.
    a, b, c = low[one], middle[one], high[one]
    mean[one] = c**3 / (3.0 * (c - a) * (c - b))
    # Two corners above: the whole less the negative tip at the third.
    a, b, c = low[two], middle[two], high[two]
    mean[two] = (a + b + c) / 3.0 - a**3 / (3.0 * (b - a) * (c - a))
    return mean


def column_above_mm3(mesh: Mesh, level_mm: float) -> float:
    """Volume (mm³) of the columns that stand on the upper side of a closed, outward mesh, up to `level_mm`.

    Each up-facing face carries a prism from itself to the level; parts above the level carry none. Exact
    for a body that every upright line meets in one interval. Source: divergence theorem.
    """
    corners = mesh.corners_mm
    edge_1, edge_2 = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    plan_area = (edge_1[:, 0] * edge_2[:, 1] - edge_1[:, 1] * edge_2[:, 0]) / 2.0
    up = plan_area > 0.0
    depth = np.sort(level_mm - corners[up][:, :, 2], axis=1)
    return float((plan_area[up] * _mean_positive(depth)).sum())
