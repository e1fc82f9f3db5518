"""Where no seam may run: what a seam is told before it is laid, and how much of it runs there even so."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.barred import Barred
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM
from claybed.geometry.mesh import Floats
from claybed.records.brief import KeepOut, KeepOutSpot, Region
from claybed.records.parted import BarredBall, BarredHeights, Layout, Parting

# A place is judged by points no further apart than this along the seam, so that no spot slips between two.
JUDGED_EVERY_MM = 0.5
MOST_PARTS = 64
BORDER_MM = 1e-3


def barred_in(layout: Layout, regions: Sequence[Region]) -> list[BarredHeights | BarredBall]:
    """The regions as a seam in the pull frame of `layout` can heed them: spots as balls, a region across the
    pull as heights. A region that lies along the pull is left out: no height avoids it.
    """
    barred: list[BarredHeights | BarredBall] = []
    for region in regions:
        if isinstance(region, KeepOutSpot):
            x, y, z = (float(v) for v in layout.rotation @ np.array(region.centre_mm) + layout.shift_mm)
            barred.append(BarredBall((x, y, z), region.radius_mm))
        else:
            heights = _as_heights(region, layout)
            if heights is not None:
                barred.append(heights)
    return barred


def all_barred(layout: Layout, regions: Sequence[Region]) -> Barred:
    """All the regions as a seam of a side piece heeds them, in the pull frame of `layout`."""
    balls = [(*r.centre_mm, r.radius_mm) for r in regions if isinstance(r, KeepOutSpot)]
    layers = [
        (*(np.asarray(r.direction) / np.linalg.norm(r.direction)), r.lo_mm, r.hi_mm)
        for r in regions
        if isinstance(r, KeepOut)
    ]
    own = Barred(np.array(balls, float).reshape(-1, 4), np.array(layers, float).reshape(-1, 5))
    return own.placed(layout.rotation, layout.shift_mm)


def _as_heights(region: KeepOut, layout: Layout) -> BarredHeights | None:
    direction = layout.rotation @ (np.asarray(region.direction) / np.linalg.norm(region.direction))
    if abs(abs(float(direction[2])) - 1.0) > 1e-6:
        return None
    sign = float(np.sign(direction[2]))
    lo, hi = sorted((sign * region.lo_mm, sign * region.hi_mm))
    return lo + float(layout.shift_mm[2]), hi + float(layout.shift_mm[2])


def seam_inside_mm(parting: Parting, layout: Layout, regions: Sequence[Region]) -> float:
    """Length of the seam of `parting` inside the regions, mm."""
    if not regions or not len(parting.rim):
        return 0.0
    plan = parting.outside.plan[parting.rim] / XY_PER_MM
    ends = np.concatenate([plan, parting.seam_z[:, :, None] / Z_PER_MM], axis=2)
    return length_inside_mm((ends - layout.shift_mm) @ layout.rotation, regions)


def length_inside_mm(edges_mm: Floats, regions: Sequence[Region]) -> float:
    """Length of the edges (k, 2, 3) inside any of the regions, all in one frame, mm.

    Each edge is cut into equal parts of at most half a millimetre, up to 64, judged by their middles.
    """
    length = np.linalg.norm(edges_mm[:, 1] - edges_mm[:, 0], axis=1)
    parts = np.clip(np.ceil(length / JUDGED_EVERY_MM), 1, MOST_PARTS).astype(np.int64)
    edge = np.repeat(np.arange(len(edges_mm)), parts)
    first = np.cumsum(parts) - parts
    share = (np.arange(len(edge)) - first[edge] + 0.5) / parts[edge]
    at = edges_mm[edge, 0] + share[:, None] * (edges_mm[edge, 1] - edges_mm[edge, 0])
    inside = np.zeros(len(at), bool)
    for region in regions:
        inside |= _within(at, region)
    return float((length / parts)[edge][inside].sum())


def _within(at_mm: Floats, region: Region) -> NDArray[np.bool_]:
    if isinstance(region, KeepOutSpot):
        away = np.linalg.norm(at_mm - np.array(region.centre_mm), axis=1)
        return np.asarray(away < region.radius_mm - BORDER_MM)
    along = at_mm @ (np.asarray(region.direction) / np.linalg.norm(region.direction))
    return np.asarray((along > region.lo_mm + BORDER_MM) & (along < region.hi_mm - BORDER_MM))
