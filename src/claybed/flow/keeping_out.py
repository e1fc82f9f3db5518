"""Where no seam may run: what a seam is told before it is laid, and how much of it runs there even so."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from claybed.geometry.barred import Barred
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM
from claybed.geometry.mesh import Floats
from claybed.records.brief import KeepOut, KeepOutSpot, Region
from claybed.records.parted import BarredBall, BarredHeights, Layout, Parting

# A region is taken as smaller by this, so that a seam on its border is not inside: a lattice step.
BORDER_MM = 1e-3
# Shorter than this, a seam inside a forbidden region is rounding at its border.
KEEP_OUT_LEAST_MM = 0.5
# A region without an end reaches so far: differences of ends stay numbers.
FAR_MM = 1e6


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


def regions_of(document: Mapping[str, Any]) -> tuple[Region, ...]:
    """Where the plan of a document was asked for no seam, in the object's frame.

    Raises KeyError, TypeError or ValueError when the document tells a place wrongly.
    """
    regions: list[Region] = []
    for row in document["made"]["brief"].get("keep_out") or []:
        if "centre_mm" in row:
            x, y, z = (float(v) for v in row["centre_mm"])
            regions.append(KeepOutSpot((x, y, z), float(row["radius_mm"])))
        else:
            x, y, z = (float(v) for v in row["direction"])
            low, high = (
                end if row[key] is None else float(row[key])
                for key, end in (("lo_mm", -math.inf), ("hi_mm", math.inf))
            )
            regions.append(KeepOut((x, y, z), low, high))
    return tuple(regions)


def all_barred(layout: Layout, regions: Sequence[Region]) -> Barred:
    """All the regions as a seam of a side piece heeds them, in the pull frame of `layout`."""
    return barred_of(regions).placed(layout.rotation, layout.shift_mm)


def barred_of(regions: Sequence[Region]) -> Barred:
    """All the regions as one body, in the object's frame."""
    balls = [(*r.centre_mm, r.radius_mm) for r in regions if isinstance(r, KeepOutSpot)]
    layers = [
        (
            *(np.asarray(r.direction) / np.linalg.norm(r.direction)),
            max(r.lo_mm, -FAR_MM),
            min(r.hi_mm, FAR_MM),
        )
        for r in regions
        if isinstance(r, KeepOut)
    ]
    return Barred(np.array(balls, float).reshape(-1, 4), np.array(layers, float).reshape(-1, 5))


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
    """Length of the edges (k, 2, 3) inside any of the regions, all in one frame, mm."""
    return float(edges_inside_mm(edges_mm, regions).sum())


def edges_inside_mm(edges_mm: Floats, regions: Sequence[Region]) -> Floats:
    """How much of each of the edges (k, 2, 3) lies inside any of the regions, (k,) mm, all in one frame."""
    if not regions:
        return np.zeros(len(edges_mm))
    start, along = edges_mm[:, 0], edges_mm[:, 1] - edges_mm[:, 0]
    # Every region is convex, so that it holds one stretch of an edge: from share to share of its length.
    stretches = np.stack([_stretch(start, along, region) for region in regions], axis=1)
    stretches = np.take_along_axis(stretches, np.argsort(stretches[:, :, :1], axis=1), axis=1)
    share, reached = np.zeros(len(edges_mm)), np.zeros(len(edges_mm))
    for k in range(len(regions)):
        begin = np.maximum(stretches[:, k, 0], reached)
        share += np.maximum(0.0, stretches[:, k, 1] - begin)
        reached = np.maximum(reached, stretches[:, k, 1])
    found: Floats = share * np.linalg.norm(along, axis=1)
    return found


def _stretch(start: Floats, along: Floats, region: Region) -> Floats:
    """From which to which share of their length edges run inside a region (k, 2), an empty stretch at 0 where
    they do not.
    """
    if isinstance(region, KeepOutSpot):
        a = start - np.array(region.centre_mm)
        size2 = np.maximum((along**2).sum(axis=1), 1e-30)
        middle = -(a * along).sum(axis=1) / size2
        off2 = ((a + middle[:, None] * along) ** 2).sum(axis=1)
        half = np.sqrt(np.maximum((region.radius_mm - BORDER_MM) ** 2 - off2, 0.0) / size2)
        ends = middle - half, middle + half
    else:
        direction = np.asarray(region.direction) / np.linalg.norm(region.direction)
        at, rise = start @ direction, along @ direction
        level = np.abs(rise) < 1e-12
        walls = [wall - at for wall in (region.lo_mm + BORDER_MM, region.hi_mm - BORDER_MM)]
        one, two = (wall / np.where(level, 1.0, rise) for wall in walls)
        inside = (walls[0] < 0.0) & (walls[1] > 0.0)
        ends = (
            np.where(level, np.where(inside, 0.0, 1.0), np.minimum(one, two)),
            np.where(level, np.where(inside, 1.0, 0.0), np.maximum(one, two)),
        )
    begin, end = (np.clip(share, 0.0, 1.0) for share in ends)
    stretch: Floats = np.stack([begin, np.maximum(begin, end)], axis=1) * (end > begin)[:, None]
    return stretch
