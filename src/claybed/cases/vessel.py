"""The case around a piece: outer body, flanges and bolt holes, hand-holds, pockets below, parts."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from claybed.cases.bedding import Bedded, lay_on_bed
from claybed.cases.loose_keys import screw_holes
from claybed.cases.pockets import pockets
from claybed.errors import CannotError
from claybed.geometry.carving import Solid
from claybed.geometry.forming import (
    bounds_mm,
    box,
    closed,
    grown,
    halved,
    hull,
    on_lattice,
    reach_mm,
    rod,
    united,
    unturned,
    volume_mm3,
)
from claybed.geometry.lattice import Z_PER_MM, lattice_mm
from claybed.geometry.mesh import Floats
from claybed.geometry.slab import LatticeSolid
from claybed.records.cases import Case, CasePart, Poured, Shape

FLANGE_OUT_MM = 14.0
FLANGE_THICK_MM = 5.0
BOLT_MM = 4.0
HOLE_MM = 4.5
HOLE_IN_MM = 8.0  # of the wall, so that a washer lies flat
HOLE_APART_MM = 60.0
HOLE_END_MM = 10.0
GRIP_OUT_MM = 32.0
GRIP_WIDE_MM = 110.0
GRIP_LEAST_MM = 46.0  # less is no hold for two fingers
GRIP_THICK_MM = 10.0
SLOT_MM = (84.0, 20.0)  # four fingers in a glove
TONGUE_OUT_MM = 2.5
TONGUE_ROOT_MM = 4.0
TONGUE_TIP_MM = 1.2
_INTO_MM = 0.4  # bodies that are joined reach into one another by this


@dataclass(frozen=True, slots=True, eq=False)
class _Body:
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


def build_case(poured: Poured, shape: Shape) -> Case:
    """The case of a piece, cut so that each part fits the printer.

    The rim is the fill line: plaster is struck off level with it. The underside is flat, and hollow in
    pockets with roofs at 45 degrees wherever the plastic would be thick. Raises CannotError when no cut makes
    it fit.
    """
    body = _outer(poured, shape)
    bedded = lay_on_bed(_span(body, shape), body.rim_mm, shape.printer_mm, flange_mm=FLANGE_OUT_MM)
    if bedded is None:
        wide, deep, tall = (*_span(body, shape), body.rim_mm)
        room = " × ".join(f"{v:.0f}" for v in shape.printer_mm)
        raise CannotError(
            f"it is {wide:.0f} × {deep:.0f} × {tall:.0f} mm, and no cut makes it fit a printer of {room} mm.",
            where=f"case of piece {poured.piece}",
            remedy="Name a larger printer with --printer, or use --block-and-case.",
        )
    holes: list[Solid] = []
    grips = _grips(body, bedded) if shape.grips else []
    flanges = [
        solid
        for along, cuts in enumerate((bedded.cuts_x_mm, bedded.cuts_y_mm))
        for at in cuts
        for solid in _flanges(body, along, at, holes)
    ]
    holes += screw_holes(poured, shape.wall_mm, shape.floor_mm, HOLE_MM / 2.0)
    placed = in_case(poured, shape.floor_mm)
    inside = closed(lattice_mm(placed.points), placed.faces)
    hollow = pockets(poured, shape, bedded)
    outer = hull(_rings(body.low_mm, 0.0, body.top_mm, body.rim_mm))
    solid = united([outer, *flanges, *[grip for grip, _ in grips]])
    away = [*hollow, *holes, *[slot for _, slot in grips]]
    solid = solid - united(away) if away else solid
    body_mm3 = volume_mm3(solid)
    solid = solid - inside
    parts = _parts(solid, body, poured, shape, bedded, placed)
    low, high = bounds_mm(solid)
    return Case(
        poured=poured,
        shape=shape,
        whole=unturned(on_lattice(solid), placed),
        parts=parts,
        cuts_x_mm=bedded.cuts_x_mm,
        cuts_y_mm=bedded.cuts_y_mm,
        bolts=len(holes) - len(poured.plugs),
        cells=len(hollow),
        grips=len(grips),
        stay_mm=_stay(body, bedded),
        outer_mm=tuple(float(v) for v in high - low),  # type: ignore[arg-type]
        body_mm3=body_mm3,
    )


def wall_stay_mm(poured: Poured, shape: Shape) -> float:
    """The longest straight stretch of wall between corners or flanges that the case will have, mm."""
    body = _outer(poured, shape)
    bedded = lay_on_bed(_span(body, shape), body.rim_mm, shape.printer_mm, flange_mm=FLANGE_OUT_MM)
    return _stay(body, bedded or Bedded((), (), (0.0,), 0.0))


def in_case(poured: Poured, floor_mm: float) -> LatticeSolid:
    """The piece where it lies in its case, `floor_mm` of plastic under its lowest point."""
    lift = np.array([0, 0, round(floor_mm * Z_PER_MM)])
    return LatticeSolid(poured.solid.points + lift, poured.solid.faces, poured.solid.origin)


def _outer(poured: Poured, shape: Shape) -> _Body:
    """The outline of the case: the piece's outside a wall away, leaning with it, down to the underside."""
    slope = math.tan(math.radians(poured.draft_deg))
    drop = poured.low_mm + shape.floor_mm
    # Under the lowest rim it draws in no further than half a wall, however steep: bumps stand there.
    low = grown(poured.low_outline_mm, shape.wall_mm - min(slope * drop, shape.wall_mm / 2.0))
    return _Body(low, grown(poured.top_outline_mm, shape.wall_mm), poured.top_mm + shape.floor_mm)


def _span(body: _Body, shape: Shape) -> tuple[float, float]:
    wide, deep = (float(v) for v in np.ptp(body.top_mm, axis=0))
    return wide + (2.0 * GRIP_OUT_MM if shape.grips else 0.0), deep


def _rings(low: Floats, low_mm: float, high: Floats, high_mm: float) -> Floats:
    return np.concatenate([np.c_[low, np.full(len(low), low_mm)], np.c_[high, np.full(len(high), high_mm)]])


def _flanges(body: _Body, along: int, at: float, holes: list[Solid]) -> list[Solid]:
    """The two flanges of a cut, whole from underside to rim; their bolt holes are added to `holes`."""
    made = []
    count = max(2, math.ceil((body.rim_mm - 2.0 * HOLE_END_MM) / HOLE_APART_MM) + 1)
    for end in (0, 1):
        out = 1.0 if end else -1.0
        corners = []
        for height in (0.0, body.rim_mm):
            edge = [body.across(along, at + d, height)[end] for d in (-FLANGE_THICK_MM, 0.0, FLANGE_THICK_MM)]
            reach = max(edge) if end else min(edge)
            # The root lies in the wall all along the flange, also where a round wall falls away from it.
            root = (min(edge) if end else max(edge)) - out * _INTO_MM
            for d in (-FLANGE_THICK_MM, FLANGE_THICK_MM):
                for side in (root, reach + out * FLANGE_OUT_MM):
                    corners.append(turned(along, at + d, side, height))
        made.append(hull(np.array(corners)))
        for k in range(count):
            height = HOLE_END_MM + (body.rim_mm - 2.0 * HOLE_END_MM) * k / (count - 1)
            edge = [body.across(along, at + d, height)[end] for d in (-FLANGE_THICK_MM, 0.0, FLANGE_THICK_MM)]
            side = (max(edge) if end else min(edge)) + out * HOLE_IN_MM
            ends = [turned(along, at + d, side, height) for d in (-FLANGE_THICK_MM - 1, FLANGE_THICK_MM + 1)]
            holes.append(rod(ends[0], ends[1], HOLE_MM / 2.0))
    return made


def _grips(body: _Body, bedded: Bedded) -> list[tuple[Solid, Solid]]:
    """Hand-holds at both ends along x, under the rim, each with its slot; a slope under each, to print."""
    made: list[tuple[Solid, Solid]] = []
    top = body.rim_mm
    wide = min(GRIP_WIDE_MM, bedded.least_y_mm - 2.0 * FLANGE_THICK_MM - 8.0)
    if wide < GRIP_LEAST_MM:
        return made
    # One in the middle of each end, or beside the cut that runs there.
    for y in (0.0,) if len(bedded.cuts_y_mm) % 2 == 0 else bedded.middles_y_mm:
        for end in (0, 1):
            out = 1.0 if end else -1.0
            beside = (y - wide / 2, y, y + wide / 2)
            near = [body.across(1, at, top)[end] for at in beside]
            root = (min(near) if end else max(near)) - out * _INTO_MM
            far = (max(near) if end else min(near)) + out * GRIP_OUT_MM
            thick_low = max(top - GRIP_THICK_MM - abs(far - root), 0.0)
            # The wall leans in below the rim, and the slope under the hand-hold follows it down.
            below = [body.across(1, at, thick_low)[end] for at in beside]
            foot = (min(below) if end else max(below)) - out * _INTO_MM
            profile = ((root, top), (far, top), (far, top - GRIP_THICK_MM), (foot, thick_low))
            corners = [(x, at, z) for at in (beside[0], beside[2]) for x, z in profile]
            inner = far - out * (SLOT_MM[1] + 7.0)
            long = min(SLOT_MM[0], wide - 20.0)
            slot = box(
                (min(inner, far - out * 7.0), y - long / 2, thick_low - 1.0),
                (max(inner, far - out * 7.0), y + long / 2, top + 1.0),
            )
            made.append((hull(np.array(corners)), slot))
    return made


def _parts(
    solid: Solid, body: _Body, poured: Poured, shape: Shape, bedded: Bedded, placed: LatticeSolid
) -> tuple[CasePart, ...]:
    """The case cut at its planes, tongue and groove in the floor at each."""
    pieces = [solid]
    for along, cuts in enumerate((bedded.cuts_x_mm, bedded.cuts_y_mm)):
        others = (bedded.cuts_y_mm, bedded.cuts_x_mm)[along]
        for at in cuts:
            normal = [0.0, 0.0, 0.0]
            normal[along] = 1.0
            tongue = united(_tongues(body, poured, shape, along, at, others, 0.0))
            groove = united(_tongues(body, poured, shape, along, at, others, shape.clearance_mm))
            split = []
            for one in pieces:
                low, high = bounds_mm(one)
                if not low[along] < at - 1.0 < at + 1.0 < high[along]:
                    split.append(one)
                    continue
                behind, before = halved(one, normal, at)
                # A tongue belongs to the part whose floor it grows out of.
                split += [behind + (tongue ^ _slab(low, high, along)), before - groove]
            pieces = split
    made = []
    for k, one in enumerate(sorted(pieces, key=lambda p: tuple(np.round(bounds_mm(p).mean(axis=0), 1)))):
        lattice = unturned(on_lattice(one), placed)
        low, high = bounds_mm(one)
        name = f"{poured.piece}{k + 1}" if len(pieces) > 1 else poured.piece
        size = high - low
        made.append(CasePart(name, lattice, (float(size[0]), float(size[1]), float(size[2]))))
    return tuple(made)


def _slab(low: Floats, high: Floats, along: int) -> Solid:
    """The room beside a part across the cut: tongues of its neighbours in the other direction stay out."""
    reach_low, reach_high = low.copy(), high.copy()
    reach_low[along] -= 1.0
    reach_high[along] += 1.0 + TONGUE_OUT_MM
    return box(reach_low.tolist(), reach_high.tolist())


def _tongues(
    body: _Body,
    poured: Poured,
    shape: Shape,
    along: int,
    at: float,
    others: tuple[float, ...],
    more_mm: float,
) -> list[Solid]:
    """Ridges along a cut in the floor, `more_mm` larger all round for the groove; clear of other cuts."""
    low, high = reach_mm(poured.low_outline_mm, along, at)
    stops = [low, *others, high]
    middle = shape.floor_mm / 2.0
    made = []
    for begin, end in pairwise(stops):
        inner_low = begin + 8.0 - more_mm
        inner_high = end - 8.0 + more_mm
        if inner_high - inner_low < 12.0:
            continue
        corners = []
        for side in (inner_low, inner_high):
            for d, half in (
                (-_INTO_MM, TONGUE_ROOT_MM / 2.0 + more_mm),
                (0.0, TONGUE_ROOT_MM / 2.0 + more_mm),
                (TONGUE_OUT_MM + more_mm, TONGUE_TIP_MM / 2.0 + more_mm),
            ):
                for z in (middle - half, middle + half):
                    corners.append(turned(along, at + d, side, z))
        made.append(hull(np.array(corners)))
    return made


def turned(along: int, at_mm: float, across_mm: float, height_mm: float) -> tuple[float, float, float]:
    """A point by its place on the axis of a cut, across it, and its height."""
    return (at_mm, across_mm, height_mm) if along == 0 else (across_mm, at_mm, height_mm)


def _stay(body: _Body, bedded: Bedded) -> float:
    """The longest straight stretch of wall between two corners or flanges at the rim, mm."""
    longest = 0.0
    for a, b in zip(body.top_mm, np.roll(body.top_mm, -1, axis=0), strict=True):
        shares = [0.0, 1.0]
        for along, cuts in enumerate((bedded.cuts_x_mm, bedded.cuts_y_mm)):
            for at in cuts:
                if abs(b[along] - a[along]) > 1e-6:
                    share = (at - a[along]) / (b[along] - a[along])
                    shares += [float(share)] if 0.0 < share < 1.0 else []
        length = float(np.linalg.norm(b - a))
        longest = max(longest, max(length * (v - u) for u, v in pairwise(sorted(shares))))
    return longest
