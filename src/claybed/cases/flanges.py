"""Flanges of a case that is cut: upright ones beside an upright cut, one all round at a level cut; bolts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely

from claybed.cases.sizes import falling_mm, size_mm
from claybed.geometry.carving import Solid
from claybed.geometry.forming import grown, hull, reach_mm, rod, section
from claybed.geometry.mesh import Floats

FLANGE_OUT_MM = size_mm("flange_out")
FLANGE_THICK_MM = size_mm("flange_thick")
BOLT_MM = size_mm("bolt")
HOLE_MM = size_mm("bolt_hole")
WASHER_MM = size_mm("washer")
HOLE_IN_MM = size_mm("bolt_in")
HOLES_APART_MM = falling_mm("bolts_apart", 4)  # the most, then what a heavier liquid asks
HOLE_END_MM = size_mm("bolt_end")
INTO_MM = 0.4  # bodies that are joined reach into one another by this
# Beside a level flange: room for a washer on top of it, and under its slope.
_OVER_LEVEL_MM = size_mm("bolt_over_level")
_UNDER_LEVEL_MM = size_mm("bolt_under_level")
UPPER_MM = size_mm("level_upper")  # least height of wall above a level cut
# The ridge on a level flange, from the outside of the wall: root, tip, and how high it stands.
_RIDGE_ROOT_MM = (size_mm("ridge_in"), size_mm("ridge_in") + size_mm("ridge_wide"))
_RIDGE_TIP_MM = (_RIDGE_ROOT_MM[0] + size_mm("ridge_taper"), _RIDGE_ROOT_MM[1] - size_mm("ridge_taper"))
RIDGE_TALL_MM = size_mm("ridge_tall")
_CORNER_MM = size_mm("bolt_corner")  # of a bolt from a corner, and from an upright cut
_SEAT_MM = WASHER_MM / 2.0 + 0.4  # half the flat place that a washer under a slope lies in
_FEW_CORNERS = 8


@dataclass(frozen=True, slots=True, eq=False)
class Body:
    """Outer outlines (k, 2) of the case at its underside and at its rim, and the rim's height."""

    low_mm: Floats
    top_mm: Floats
    rim_mm: float

    def across(self, along: int, at_mm: float, height_mm: float) -> tuple[float, float]:
        """Where the outside crosses a line square to an axis, at a height."""
        (low_a, high_a) = reach_mm(self.low_mm, along, at_mm)
        (low_b, high_b) = reach_mm(self.top_mm, along, at_mm)
        share = height_mm / self.rim_mm
        return low_a + share * (low_b - low_a), high_a + share * (high_b - high_a)

    def ring(self, level_mm: float) -> Floats:
        """The outline (k, 2) at a height between underside and rim."""
        met = section(hull(rings(self.low_mm, 0.0, self.top_mm, self.rim_mm)), level_mm)
        around: Floats = shapely.get_coordinates(met.convex_hull.simplify(1e-4).exterior)[:-1]
        return around


def rings(low: Floats, low_mm: float, high: Floats, high_mm: float) -> Floats:
    """Corners (n, 3) of two outlines, each at its height."""
    return np.concatenate([np.c_[low, np.full(len(low), low_mm)], np.c_[high, np.full(len(high), high_mm)]])


def turned(along: int, at_mm: float, across_mm: float, height_mm: float) -> tuple[float, float, float]:
    """A point by its place on the axis of a cut, across it, and its height."""
    return (at_mm, across_mm, height_mm) if along == 0 else (across_mm, at_mm, height_mm)


def bolt_heights_mm(rim_mm: float, levels_mm: Sequence[float], apart_mm: float) -> list[float]:
    """Heights of the bolts of an upright flange: no farther apart than `apart_mm`, clear of level flanges."""
    heights = []
    for low, high in pairwise([0.0, *levels_mm, rim_mm]):
        first = low + (_OVER_LEVEL_MM if low else HOLE_END_MM)
        last = high - (_UNDER_LEVEL_MM if high < rim_mm else HOLE_END_MM)
        if last - first < 2.0 * HOLE_MM:
            heights.append((first + last) / 2.0)
            continue
        heights += np.linspace(first, last, max(2, math.ceil((last - first) / apart_mm) + 1)).tolist()
    return heights


def upright_flanges(
    body: Body, along: int, at_mm: float, levels_mm: Sequence[float], apart_mm: float, holes: list[Solid]
) -> list[Solid]:
    """The two flanges of a cut, whole from underside to rim; their bolt holes are added to `holes`."""
    made = []
    for end in (0, 1):
        out = 1.0 if end else -1.0
        corners = []
        for height in (0.0, body.rim_mm):
            edge = [
                body.across(along, at_mm + d, height)[end] for d in (-FLANGE_THICK_MM, 0.0, FLANGE_THICK_MM)
            ]
            reach = max(edge) if end else min(edge)
            # The root lies in the wall all along the flange, also where a round wall falls away from it.
            root = (min(edge) if end else max(edge)) - out * INTO_MM
            for d in (-FLANGE_THICK_MM, FLANGE_THICK_MM):
                for side in (root, reach + out * FLANGE_OUT_MM):
                    corners.append(turned(along, at_mm + d, side, height))
        made.append(hull(np.array(corners)))
        for height in bolt_heights_mm(body.rim_mm, levels_mm, apart_mm):
            edge = [
                body.across(along, at_mm + d, height)[end] for d in (-FLANGE_THICK_MM, 0.0, FLANGE_THICK_MM)
            ]
            side = (max(edge) if end else min(edge)) + out * HOLE_IN_MM
            ends = [
                turned(along, at_mm + d, side, height) for d in (-FLANGE_THICK_MM - 1, FLANGE_THICK_MM + 1)
            ]
            holes.append(rod(ends[0], ends[1], HOLE_MM / 2.0))
    return made


def level_flange(body: Body, level_mm: float) -> Solid:
    """The flange all round a level cut, half of it on either side, with a slope of 45 degrees under it."""
    ring = body.ring(level_mm)
    wide = grown(ring, FLANGE_OUT_MM)
    foot = grown(body.ring(level_mm - FLANGE_THICK_MM - FLANGE_OUT_MM), -INTO_MM)
    return hull(
        np.concatenate(
            [
                rings(wide, level_mm - FLANGE_THICK_MM, wide, level_mm + FLANGE_THICK_MM),
                np.c_[foot, np.full(len(foot), level_mm - FLANGE_THICK_MM - FLANGE_OUT_MM)],
            ]
        )
    )


def ridge(body: Body, level_mm: float, more_mm: float) -> Solid:
    """The ridge that stands on the lower flange of a level cut, `more_mm` larger all round for its groove."""
    ring = body.ring(level_mm)
    tall = RIDGE_TALL_MM + more_mm
    foot = level_mm - INTO_MM

    def wedge(root_mm: float, tip_mm: float, foot_mm: float, top_mm: float) -> Solid:
        # On along the slope past both ends, so that what is cut out of another goes right through.
        slope = (tip_mm - root_mm) / tall
        at_foot = grown(ring, root_mm + slope * (foot_mm - level_mm))
        at_top = grown(ring, root_mm + slope * (top_mm - level_mm))
        return hull(rings(at_foot, foot_mm, at_top, top_mm))

    outer = wedge(_RIDGE_ROOT_MM[1] + more_mm, _RIDGE_TIP_MM[1] + more_mm, foot, level_mm + tall)
    inner = wedge(_RIDGE_ROOT_MM[0] - more_mm, _RIDGE_TIP_MM[0] - more_mm, foot - 1.0, level_mm + tall + 1.0)
    return outer - inner


def level_bolts(
    body: Body,
    level_mm: float,
    cuts_mm: tuple[Sequence[float], Sequence[float]],
    apart_mm: float,
) -> tuple[list[Solid], float]:
    """Bolt holes down through a level flange, each with the seat of its nut, and the longest way between two
    bolts, mm.

    `cuts_mm` the upright cuts along x and along y, which bolts keep clear of as of corners.
    """
    ring = shapely.LinearRing(grown(body.ring(level_mm), HOLE_IN_MM))
    length = float(ring.length)
    stops = [] if len(body.top_mm) > _FEW_CORNERS else [ring.project(shapely.Point(p)) for p in ring.coords]
    low, high = np.array(ring.bounds[:2]), np.array(ring.bounds[2:])
    for along, cuts in enumerate(cuts_mm):
        for at in cuts:
            ends = np.array([low - 1.0, high + 1.0])
            ends[:, along] = at
            met = shapely.get_coordinates(shapely.intersection(ring, shapely.LineString(ends)))
            stops += [ring.project(shapely.Point(p)) for p in met]
    stops = sorted({round(float(stop) % length, 6) for stop in stops})
    places: list[float] = []
    if not stops:
        places = np.linspace(0.0, length, math.ceil(length / apart_mm) + 1)[:-1].tolist()
    for begin, end in pairwise([*stops, stops[0] + length] if stops else []):
        usable = end - begin - 2.0 * _CORNER_MM
        if usable < HOLE_MM:
            places += [(begin + end) / 2.0] if usable > -_CORNER_MM else []
            continue
        places += np.linspace(begin + _CORNER_MM, end - _CORNER_MM, math.ceil(usable / apart_mm) + 1).tolist()
    kept = sorted(place % length for place in places)
    holes = []
    for place in kept:
        point = ring.interpolate(place)
        up, seat = level_mm + FLANGE_THICK_MM + 1.0, level_mm - FLANGE_THICK_MM
        holes.append(rod((point.x, point.y, seat - 1.0), (point.x, point.y, up), HOLE_MM / 2.0))
        # The flange slopes underneath, and a nut wants a flat seat.
        holes.append(rod((point.x, point.y, seat - FLANGE_OUT_MM), (point.x, point.y, seat), _SEAT_MM))
    gaps = [b - a for a, b in pairwise([*kept, kept[0] + length])] if kept else [length]
    return holes, max(gaps)
