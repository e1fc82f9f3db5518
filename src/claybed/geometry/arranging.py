"""Noding plan lines with fixed precision, and cutting the cells between them into triangles."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from claybed.geometry.lattice import Lattice, twice_plan_area


def arranged(lines: Lattice) -> Lattice:
    """Cells between plan lines (k, 4), as triangles (t, 3, 2) on the lattice."""
    segment = _canonical(lines)
    noded = shapely.union_all(
        shapely.linestrings(segment.reshape(-1, 2, 2).astype(np.float64)), grid_size=1.0
    )
    return triangulate_cells(shapely.get_parts(shapely.polygonize([noded])))


def _canonical(segment: Lattice) -> Lattice:
    """Different segments (k, 4), none without length, each from its lower end, in order."""
    swap = (segment[:, 0] > segment[:, 2]) | (
        (segment[:, 0] == segment[:, 2]) & (segment[:, 1] > segment[:, 3])
    )
    segment = np.where(swap[:, None], segment[:, [2, 3, 0, 1]], segment)
    unique: Lattice = np.unique(segment[(segment[:, :2] != segment[:, 2:]).any(axis=1)], axis=0)
    return unique


def triangulate_cells(cells: NDArray[np.object_]) -> Lattice:
    """Polygons with integer corners as triangles (t, 3, 2) int64, counter-clockwise; every corner is kept,
    none is added.
    """
    if not len(cells):
        return np.zeros((0, 3, 2), np.int64)
    simple = (shapely.get_num_coordinates(cells) == 4) & (shapely.get_num_interior_rings(cells) == 0)
    parts = [cells[simple]]
    if not simple.all():
        cut = shapely.constrained_delaunay_triangles(cells[~simple])
        parts.append(shapely.get_parts(cut))
    corners = (
        np.rint(shapely.get_coordinates(np.concatenate(parts))).astype(np.int64).reshape(-1, 4, 2)[:, :3]
    )
    local = np.arange(len(corners) * 3).reshape(-1, 3)
    area = twice_plan_area(corners.reshape(-1, 2), local)
    corners[area < 0] = corners[area < 0][:, ::-1]
    triangles: Lattice = corners[area != 0]
    return triangles
