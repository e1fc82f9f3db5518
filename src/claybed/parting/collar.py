"""The strip of parting surface next to the object: square to it, whatever height the seam runs at.

Seen in plan a seam may climb steeply, or jump where one contour passes behind another. A surface that is only
smooth would lean against the object there and leave a knife edge of plaster. So rings of corners are laid
round the silhouette, each at the height of the nearest seam point: the strip is level across, and any
steepness runs along the seam.
"""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, Lattice, twice_plan_area
from claybed.geometry.mesh import Floats
from claybed.materials import shelf

# Corners of a ring stand this far apart, or this share of the block; rings keep this far from the block's
# side.
RING_STEP_MM = 0.7
RING_STEP_SHARE = 1.0 / 300.0
FRAME_CLEAR_MM = 1.0
SAMPLE_MM = 0.2
BEYOND_ENDS = 0.25


def ring_widths_mm() -> tuple[float, float]:
    """How far from the silhouette the rings of corners stand, mm. Source: materials/practice."""
    inner, outer = (shelf.value("practice", f"collar_{name}_mm").value for name in ("inner", "outer"))
    return inner, outer


def collar_rings(silhouette: shapely.Geometry, footprint: Lattice) -> list[Lattice]:
    """Closed rings (n, 2) round a silhouette, inside the footprint; lattice units.

    Where the block's side cuts a ring, beside a gate, the ring turns back along the silhouette at half its
    distance.
    """
    size_mm = float((footprint.max(axis=0) - footprint.min(axis=0)).max()) / XY_PER_MM
    step = max(RING_STEP_MM, RING_STEP_SHARE * size_mm) * XY_PER_MM
    inner = shapely.buffer(shapely.Polygon(footprint), -FRAME_CLEAR_MM * XY_PER_MM, join_style="mitre")
    rings = []
    for width_mm in ring_widths_mm():
        grown = _grown(silhouette, width_mm)
        if not shapely.covers(inner, grown):
            grown = shapely.difference(
                shapely.intersection(grown, inner), _grown(silhouette, width_mm - 0.75)
            )
        for polygon in shapely.get_parts(grown):
            for ring in [polygon.exterior, *polygon.interiors]:
                walked = shapely.segmentize(ring, step)
                points = np.rint(shapely.get_coordinates(walked)[:-1]).astype(np.int64)
                points = points[(points != np.roll(points, 1, axis=0)).any(axis=1)]
                if len(points) >= 6 and shapely.Polygon(points).is_valid:
                    rings.append(points)
    return rings


def _grown(silhouette: shapely.Geometry, width_mm: float) -> shapely.Geometry:
    grown = shapely.buffer(silhouette, width_mm * XY_PER_MM, quad_segs=4)
    return shapely.simplify(grown, 0.02 * XY_PER_MM)


class SeamSamples:
    """Points along a seam, for looking up the height of the nearest one.

    `edges` (k, 2, 2) plan ends in mm, `heights` (k, 2) lattice units at them.
    """

    def __init__(self, edges: NDArray[np.float64], heights: Lattice) -> None:
        length = np.linalg.norm(edges[:, 1] - edges[:, 0], axis=1)
        count = np.maximum(np.ceil(length / SAMPLE_MM).astype(np.int64), 1)
        number = np.repeat(np.arange(len(edges)), count)
        step = np.arange(len(number)) - np.repeat(np.cumsum(count) - count, count)
        t = (step + 0.5) / count[number]
        self.number = number
        self._points = edges[number, 0] + t[:, None] * (edges[number, 1] - edges[number, 0])
        self._heights = heights[number, 0] + t * (heights[number, 1] - heights[number, 0])
        self._tree = cKDTree(self._points)

    def nearest(
        self, xy: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.int64]]:
        """Distance (mm), seam height (lattice units) and edge number of the nearest sample to each plan point
        (n, 2).
        """
        distance, index = self._tree.query(xy)
        at = np.asarray(index, np.int64)
        return np.asarray(distance, np.float64), self._heights[at], self.number[at]


def corner_heights(
    faces: NDArray[np.int32],
    plan: Lattice,
    heights: Lattice,
    rim: NDArray[np.int64],
    edge_heights: Lattice,
    samples: SeamSamples,
) -> Lattice:
    """Heights (m, 3) at the corners of outside triangles, each seam corner at the height of the seam edge
    nearest to it.

    Where the seam jumps at a plan point, the triangles on either side keep their own seam height, and a wall
    that dies out within the strip stands between them. `edge_heights` (k, 2) are the heights of the directed
    `rim` edges at their ends.
    """
    z = heights[faces]
    low = np.full(len(plan), np.iinfo(np.int64).max)
    high = np.full(len(plan), np.iinfo(np.int64).min)
    np.minimum.at(low, rim.ravel(), edge_heights.ravel())
    np.maximum.at(high, rim.ravel(), edge_heights.ravel())
    jumps = np.flatnonzero(high - low > Z_PER_MM // 50)
    ends = plan[rim] / XY_PER_MM
    if len(jumps):
        jumping = np.zeros(len(plan), bool)
        jumping[jumps] = True
        row, column = np.nonzero(jumping[faces])
        # The ends of seam edges that meet at each corner, in order of the edges.
        met = rim.ravel()
        order = np.argsort(met, kind="stable")
        first, last = (np.searchsorted(met[order], faces[row, column], side=s) for s in ("left", "right"))
        count = last - first
        asked = np.repeat(np.arange(len(row)), count)
        begins = np.cumsum(count) - count
        end = order[first[asked] + np.arange(len(asked)) - begins[asked]]
        middle = plan[faces[row]].mean(axis=1) / XY_PER_MM
        away = _away(middle[asked], ends[end // 2, 0], ends[end // 2, 1])
        ranked = np.lexsort((np.arange(len(asked)), away, asked))
        z[row, column] = edge_heights.ravel()[end[ranked[begins]]]
    return _squared(z, faces, plan, rim, edge_heights)


def split_ears(
    plan: Lattice, faces: NDArray[np.int32], rim: NDArray[np.int64]
) -> tuple[Lattice, NDArray[np.int32]]:
    """Give outside triangles that lie on two seam edges a corner in their middle, so that each edge has its
    own triangle.

    Returns the plan with the new corners at its end, and the faces.
    """
    n = len(plan)
    f = faces.astype(np.int64)
    keys = np.stack([f[:, k] * n + f[:, (k + 1) % 3] for k in range(3)], axis=1)
    ears = np.flatnonzero(np.isin(keys, rim[:, 1] * n + rim[:, 0]).sum(axis=1) >= 2)
    middle = np.rint(plan[faces[ears]].mean(axis=1)).astype(np.int64)
    points = np.concatenate([plan, middle])
    number = n + np.arange(len(ears))
    parts = [np.stack([f[ears, k], f[ears, (k + 1) % 3], number], axis=1) for k in range(3)]
    good = np.logical_and.reduce([twice_plan_area(points, p) > 0 for p in parts])
    keep = np.ones(len(f), bool)
    keep[ears[good]] = False
    split = np.concatenate([f[keep], *(p[good] for p in parts)]).astype(np.int32)
    return points, split


def _squared(
    z: Lattice, faces: NDArray[np.int32], plan: Lattice, rim: NDArray[np.int64], edge_heights: Lattice
) -> Lattice:
    """Bring the far corner of every triangle on a seam edge within the steepest slope of level, measured
    square to that edge.
    """
    n = len(plan)
    f = faces.astype(np.int64)
    keys = np.stack([f[:, k] * n + f[:, (k + 1) % 3] for k in range(3)], axis=1)
    backward = rim[:, 1] * n + rim[:, 0]
    order = np.argsort(backward)
    at = np.minimum(np.searchsorted(backward[order], keys), max(len(rim) - 1, 0))
    rows, sides = np.nonzero(backward[order][at] == keys)
    edge = order[at[rows, sides]]
    u, v, w = (f[rows, (sides + k) % 3] for k in range(3))
    pu, pv, pw = (plan[p] / XY_PER_MM for p in (u, v, w))
    zu, zv = edge_heights[edge, 1].astype(np.float64), edge_heights[edge, 0].astype(np.float64)
    along = pv - pu
    length2 = (along**2).sum(axis=1)
    t = np.clip(((pw - pu) * along).sum(axis=1) / length2, -BEYOND_ENDS, 1.0 + BEYOND_ENDS)
    off = np.abs(along[:, 0] * (pw - pu)[:, 1] - along[:, 1] * (pw - pu)[:, 0]) / np.sqrt(length2)
    steepest = shelf.value("practice", "collar_steepest_ratio").value
    level, room = zu + t * (zv - zu), steepest * off * Z_PER_MM
    far = (sides + 2) % 3
    z[rows, sides] = zu
    z[rows, (sides + 1) % 3] = zv
    z[rows, far] = np.rint(np.clip(z[rows, far], level - room, level + room)).astype(np.int64)
    return z


def _away(p: Floats, a: Floats, b: Floats) -> Floats:
    """Distance (k,) of plan points from edges a-b, each (k, 2)."""
    along = b - a
    run = np.maximum((along**2).sum(axis=1), 1e-12)
    t = np.clip(((p - a) * along).sum(axis=1) / run, 0.0, 1.0)
    away: Floats = np.hypot(*(a + t[:, None] * along - p).T)
    return away
