"""Noding and triangulating plan lines, cluster by cluster, with fixed precision.

Faces that come nowhere near one another in plan are arranged apart, and a cluster whose lines have not
changed is not arranged again: a second pass then costs only what it changes.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from claybed.geometry.lattice import Lattice, twice_plan_area

# Lines nearer than this, in lattice steps, can move one another when they are noded.
NEAR_UNITS = 3


class Arranger:
    """Arranges plan triangles and loose lines; remembers what it has arranged."""

    def __init__(self) -> None:
        self._known: dict[bytes, Lattice] = {}

    def cells(
        self, triangles: Lattice, lines: Lattice
    ) -> tuple[Lattice, NDArray[np.int64], NDArray[np.int64]]:
        """Cells of the arrangement of plan `triangles` (m, 3, 2) and loose `lines` (k, 4).

        Returns the cells' triangles (t, 3, 2), the cluster each belongs to (t,), and the cluster of every
        given triangle (m,). A cell may enclose another cluster: whoever reads it must ask that its face is of
        its own cluster.
        """
        none = np.zeros(0, np.int64)
        if not len(triangles):
            return np.zeros((0, 3, 2), np.int64), none, none
        edges = np.stack(
            [np.concatenate([triangles[:, k], triangles[:, (k + 1) % 3]], axis=1) for k in range(3)], axis=1
        )
        cluster = _clusters(triangles, lines)
        own = cluster[: len(triangles)]
        segments = np.concatenate([edges.reshape(-1, 4), lines])
        label = np.concatenate([np.repeat(own, 3), cluster[len(triangles) :]])
        order = np.argsort(label, kind="stable")
        starts = np.searchsorted(label[order], np.arange(int(own.max()) + 2))
        found, labels = [], []
        for number in np.unique(own).tolist():
            part = _canonical(segments[order[starts[number] : starts[number + 1]]])
            key = part.tobytes()
            if key not in self._known:
                self._known[key] = _triangulate_lines(part)
            found.append(self._known[key])
            labels.append(np.full(len(found[-1]), number))
        return np.concatenate(found), np.concatenate(labels), own


def _clusters(triangles: Lattice, lines: Lattice) -> NDArray[np.int64]:
    """Cluster numbers of triangles, then lines: those whose boxes come near one another are together."""
    ends = lines.reshape(-1, 2, 2)
    low = np.concatenate([triangles.min(axis=1), ends.min(axis=1)]) - NEAR_UNITS
    high = np.concatenate([triangles.max(axis=1), ends.max(axis=1)]) + NEAR_UNITS
    boxes = shapely.box(*low.astype(np.float64).T, *high.astype(np.float64).T)
    a, b = shapely.STRtree(boxes).query(boxes, predicate="intersects")
    graph = coo_matrix((np.ones(len(a), np.int8), (a, b)), shape=(len(boxes), len(boxes)))
    return connected_components(graph, directed=False)[1].astype(np.int64)


def _canonical(segment: Lattice) -> Lattice:
    """Different segments (k, 4), none without length, each from its lower end, in order."""
    swap = (segment[:, 0] > segment[:, 2]) | (
        (segment[:, 0] == segment[:, 2]) & (segment[:, 1] > segment[:, 3])
    )
    segment = np.where(swap[:, None], segment[:, [2, 3, 0, 1]], segment)
    unique: Lattice = np.unique(segment[(segment[:, :2] != segment[:, 2:]).any(axis=1)], axis=0)
    return unique


def _triangulate_lines(segment: Lattice) -> Lattice:
    """Node plan segments (k, 4) on the lattice and cut the cells they enclose into triangles (t, 3, 2)."""
    lines = shapely.linestrings(segment.reshape(-1, 2, 2).astype(np.float64))
    noded = shapely.union_all(lines, grid_size=1.0)
    return triangulate_cells(shapely.get_parts(shapely.polygonize([noded])))


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
