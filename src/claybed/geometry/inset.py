"""How much of a solid lies within, or beyond, a distance of a part of its surface."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.refining import refined
from claybed.geometry.voxels import solid_fraction

_NEAREST = 4
_EDGE_CELLS = 1.5
_LINES = 3


@dataclass(frozen=True, slots=True, eq=False)
class DepthField:
    """Cells of a solid with their depth below a skin.

    `volume_mm3` (n,) of solid in each cell, `depth_mm` (n,) from its middle to the skin, `cell_mm` its side.
    """

    volume_mm3: Floats
    depth_mm: Floats
    cell_mm: float

    def beyond_mm3(self, depth_mm: float) -> float:
        """Volume deeper than `depth_mm` below the skin, mm³; a cell that the limit crosses counts in part."""
        share = np.clip((self.depth_mm - depth_mm) / self.cell_mm + 0.5, 0.0, 1.0)
        return float((self.volume_mm3 * share).sum())

    def within_mm3(self, depth_mm: float) -> float:
        """Volume no deeper than `depth_mm` below the skin, mm³."""
        return float(self.volume_mm3.sum()) - self.beyond_mm3(depth_mm)


def depth_field(solids: list[Mesh], skin: Mesh, *, cells: int = 56, most_mm: float = math.inf) -> DepthField:
    """Depth of closed solids below `skin`, a part of their surface, on `cells` cells along the longest side.

    Depths beyond `most_mm` are not asked for and come out as infinite, which saves most of the time. All
    meshes in one frame. Raises ValueError for a skin without faces or under 8 cells.
    """
    if not len(skin.faces) or cells < 8:
        raise ValueError("depth needs a skin and at least 8 cells")
    low = np.min([solid.bounds_mm[0] for solid in solids], axis=0)
    high = np.max([solid.bounds_mm[1] for solid in solids], axis=0)
    cell_mm = float((high - low).max()) / cells
    counts = np.maximum(np.ceil((high - low) / cell_mm - 1e-9).astype(int), 1)
    shape = (int(counts[0]), int(counts[1]), int(counts[2]))
    filled = np.zeros(shape)
    for solid in solids:
        filled += solid_fraction(solid, low, cell_mm, shape, lines=_LINES)
    at = np.argwhere(filled > 0.0)
    middles = low + (at + 0.5) * cell_mm
    return DepthField(
        filled[tuple(at.T)] * cell_mm**3,
        distances_mm(middles, skin, _EDGE_CELLS * cell_mm, most_mm=most_mm + 2.0 * cell_mm),
        cell_mm,
    )


def distances_mm(points_mm: Floats, skin: Mesh, edge_mm: float, *, most_mm: float = math.inf) -> Floats:
    """Distance (n,) mm from points (n, 3) to the triangles of `skin`, cut to edges of at most `edge_mm`.

    Exact to the nearest of the triangles whose middles lie nearest, so a hair too long at most;
    infinite beyond `most_mm`.
    """
    fine = refined(skin, edge_mm)
    corners = fine.corners_mm
    count = min(_NEAREST, len(corners))
    # The middle of the nearest face may lie an edge further off than its nearest point.
    _, near = cKDTree(corners.mean(axis=1)).query(points_mm, k=count, distance_upper_bound=most_mm + edge_mm)
    near = near.reshape(len(points_mm), count)
    best = np.full(len(points_mm), np.inf)
    for rank in range(count):
        found = np.flatnonzero(near[:, rank] < len(corners))
        best[found] = np.minimum(best[found], _to_triangles(points_mm[found], corners[near[found, rank]]))
    return best


def _to_triangles(points: Floats, corners: Floats) -> Floats:
    """Distance of each point (n, 3) to its own triangle (n, 3, 3)."""
    a = corners[:, 0]
    ab, ac, ap = corners[:, 1] - a, corners[:, 2] - a, points - a
    d = [np.einsum("ij,ij->i", x, y) for x, y in ((ab, ab), (ab, ac), (ac, ac), (ap, ab), (ap, ac))]
    denominator = np.maximum(d[0] * d[2] - d[1] ** 2, 1e-30)
    v = (d[2] * d[3] - d[1] * d[4]) / denominator
    w = (d[0] * d[4] - d[1] * d[3]) / denominator
    inside = (v >= 0) & (w >= 0) & (v + w <= 1)
    flat = np.linalg.norm(ap - v[:, None] * ab - w[:, None] * ac, axis=1)
    edges = np.minimum.reduce(
        [_to_segments(points, corners[:, k], corners[:, (k + 1) % 3]) for k in range(3)]
    )
    found: Floats = np.where(inside, flat, edges)
    return found


def _to_segments(points: Floats, start: Floats, end: Floats) -> Floats:
    along = end - start
    length = np.maximum(np.einsum("ij,ij->i", along, along), 1e-30)
    t = np.clip(np.einsum("ij,ij->i", points - start, along) / length, 0.0, 1.0)
    found: Floats = np.linalg.norm(points - start - t[:, None] * along, axis=1)
    return found
