"""The case around a piece: outer body, flanges and bolt holes, hand-holds, pockets below, parts."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from claybed.cases.bedding import Bedded, cut_levels, lay_on_bed
from claybed.cases.crowns import flakes
from claybed.cases.cutting import cut_parts, longest_stay_mm
from claybed.cases.finger_slots import slot_screws
from claybed.cases.flanges import (
    FLANGE_OUT_MM,
    FLANGE_THICK_MM,
    HOLE_MM,
    INTO_MM,
    RIDGE_TALL_MM,
    UPPER_MM,
    Body,
    level_bolts,
    level_flange,
    rings,
    upright_flanges,
)
from claybed.cases.loose_keys import screw_holes
from claybed.cases.pockets import pockets
from claybed.cases.sizes import size_mm
from claybed.errors import CannotError
from claybed.geometry.carving import Solid
from claybed.geometry.forming import (
    bounds_mm,
    box,
    closed,
    grown,
    hull,
    on_lattice,
    united,
    unturned,
    volume_mm3,
)
from claybed.geometry.lattice import Z_PER_MM, lattice_mm
from claybed.geometry.slab import LatticeSolid
from claybed.records.cases import Case, CasePart, Poured, Shape

HOLE_RADIUS_MM = HOLE_MM / 2.0
GRIP_OUT_MM = size_mm("grip_out")
GRIP_WIDE_MM = size_mm("grip_wide")
GRIP_LEAST_MM = size_mm("grip_least")  # less is no hold for two fingers
GRIP_THICK_MM = size_mm("grip_thick")
SLOT_MM = (size_mm("grip_slot_wide"), size_mm("grip_slot_deep"))  # four fingers in a glove
_OVER_FLANGE_MM = size_mm("grip_over_level")
# Least height of a level cut over the lowest rim, so that there is wall above it and not floor alone.
_OVER_RIM_MM = size_mm("floor_over_rim")


def build_case(poured: Poured, shape: Shape) -> Case:
    """The case of a piece, cut so that each part fits the printer.

    The rim is the fill line: plaster is struck off level with it. The underside is flat, and hollow in
    pockets with roofs at 45 degrees wherever the plastic would be thick. A case taller than the printer is
    cut level, with a flange all round; what of the model stands free above such a cut is a part of its own.
    Raises CannotError when no cut makes it fit.
    """
    body = outer_body(poured, shape)
    bedded = _laid(body, poured, shape)
    if bedded is None:
        wide, deep, tall = (*_span(body, shape), body.rim_mm)
        room = " × ".join(f"{v:.0f}" for v in shape.printer_mm)
        raise CannotError(
            f"it is {wide:.0f} × {deep:.0f} × {tall:.0f} mm, and no cut makes it fit a printer of {room} mm.",
            where=f"case of piece {poured.piece}",
            remedy="Name a larger printer with --printer, or use --block-and-case.",
        )
    cuts_mm = (bedded.cuts_x_mm, bedded.cuts_y_mm)
    # A block for a finger slot at the same end is screwed from where a hand-hold would be.
    at_ends = any(abs(float(slot.out[0])) > 0.5 for slot in poured.slots)
    grips = _grips(body, bedded) if shape.grips and not at_ends else []
    upright: list[Solid] = []
    flanges = [
        solid
        for along, cuts in enumerate((bedded.cuts_x_mm, bedded.cuts_y_mm))
        for at in cuts
        for solid in upright_flanges(body, along, at, bedded.levels_mm, shape.bolts_apart_mm, upright)
    ]
    around, apart_mm, counts = [], [], []
    for level in bedded.levels_mm:
        flanges.append(level_flange(body, level))
        found, apart = level_bolts(body, level, cuts_mm, shape.bolts_apart_mm)
        around += found
        apart_mm.append(apart)
        counts.append(len(found) // 2)
    holes = [*upright, *around, *screw_holes(poured, shape.wall_mm, shape.floor_mm, HOLE_RADIUS_MM)]
    placed = in_case(poured, shape.floor_mm)
    inside = closed(lattice_mm(placed.points), placed.faces)
    hollow = pockets(poured, shape, bedded)
    outer = hull(rings(body.low_mm, 0.0, body.top_mm, body.rim_mm))
    solid = united([outer, *flanges, *[grip for grip, _ in grips]])
    away = [*hollow, *holes, *[slot for _, slot in grips]]
    solid = solid - united(away) if away else solid
    body_mm3 = volume_mm3(solid)
    solid = solid - inside
    screws = slot_screws(poured, cuts_mm, shape.wall_mm, shape.floor_mm, HOLE_RADIUS_MM)
    if screws:
        # These begin in the plaster, wherever its outside lies; only what they take of the wall is missing.
        unscrewed_mm3 = volume_mm3(solid)
        solid = solid - united(screws)
        body_mm3 -= unscrewed_mm3 - volume_mm3(solid)
    cut = cut_parts(solid, body, poured, shape, bedded, placed)
    low, high = bounds_mm(solid)
    return Case(
        poured=poured,
        shape=shape,
        whole=unturned(on_lattice(solid), placed),
        parts=cut.parts,
        cuts_x_mm=bedded.cuts_x_mm,
        cuts_y_mm=bedded.cuts_y_mm,
        levels_mm=bedded.levels_mm,
        bolts=len(upright),
        level_bolts=tuple(counts),
        level_apart_mm=tuple(apart_mm),
        rings_mm=tuple(_length(body, level) for level in bedded.levels_mm),
        crowns=cut.crowns,
        pegs=cut.pegs,
        cells=len(hollow),
        grips=len(grips),
        stay_mm=longest_stay_mm(body, bedded),
        outer_mm=tuple(float(v) for v in high - low),  # type: ignore[arg-type]
        body_mm3=body_mm3,
        joints_mm3=cut.joints_mm3,
    )


def wall_stay_mm(poured: Poured, shape: Shape) -> float:
    """The longest straight stretch of wall between corners or flanges that the case will have, mm."""
    body = outer_body(poured, shape)
    bedded = _laid(body, poured, shape)
    return longest_stay_mm(body, bedded or Bedded((), (), (0.0,), 0.0))


def in_case(poured: Poured, floor_mm: float) -> LatticeSolid:
    """The piece where it lies in its case, `floor_mm` of plastic under its lowest point."""
    lift = np.array([0, 0, round(floor_mm * Z_PER_MM)])
    return LatticeSolid(poured.solid.points + lift, poured.solid.faces, poured.solid.origin)


def on_bed(part: CasePart) -> LatticeSolid:
    """A part as it is printed: where it stands in plan, its lowest face on the bed."""
    drop = np.array([0, 0, round(part.bed_mm * Z_PER_MM)])
    return replace(part.solid, points=part.solid.points - drop)


def _laid(body: Body, poured: Poured, shape: Shape) -> Bedded | None:
    """Where the case is cut, or None when no cut makes it fit the printer."""
    levels: tuple[float, ...] | None = ()
    if body.rim_mm > shape.printer_mm[2]:
        levels = cut_levels(
            body.rim_mm,
            shape.printer_mm[2],
            least_mm=max(
                poured.low_mm + shape.floor_mm + _OVER_RIM_MM, FLANGE_THICK_MM + FLANGE_OUT_MM + 1.0
            ),
            upper_mm=UPPER_MM,
            tongue_mm=RIDGE_TALL_MM,
            flakes=flakes(poured, shape.floor_mm),
        )
    if levels is None:
        return None
    return lay_on_bed(_span(body, shape), shape.printer_mm, flange_mm=FLANGE_OUT_MM, levels_mm=levels)


def _length(body: Body, level_mm: float) -> float:
    ring = body.ring(level_mm)
    return float(np.linalg.norm(ring - np.roll(ring, -1, axis=0), axis=1).sum())


def outer_body(poured: Poured, shape: Shape) -> Body:
    """The outline of the case: the piece's outside a wall away, leaning with it, down to the underside."""
    slope = math.tan(math.radians(poured.draft_deg))
    drop = poured.low_mm + shape.floor_mm
    # Under the lowest rim it draws in no further than half a wall, however steep: bumps stand there.
    low = grown(poured.low_outline_mm, shape.wall_mm - min(slope * drop, shape.wall_mm / 2.0))
    return Body(low, grown(poured.top_outline_mm, shape.wall_mm), poured.top_mm + shape.floor_mm)


def _span(body: Body, shape: Shape) -> tuple[float, float]:
    wide, deep = (float(v) for v in np.ptp(body.top_mm, axis=0))
    return wide + (2.0 * GRIP_OUT_MM if shape.grips else 0.0), deep


def _grips(body: Body, bedded: Bedded) -> list[tuple[Solid, Solid]]:
    """Hand-holds at both ends along x, under the rim, each with its slot; a slope under each, to print."""
    made: list[tuple[Solid, Solid]] = []
    top = body.rim_mm
    # Over a level flange they would leave no way for its bolts, and hang the case on what stands above it.
    if any(level > top - GRIP_THICK_MM - GRIP_OUT_MM - _OVER_FLANGE_MM for level in bedded.levels_mm):
        return made
    wide = min(GRIP_WIDE_MM, bedded.least_y_mm - 2.0 * FLANGE_THICK_MM - 8.0)
    if wide < GRIP_LEAST_MM:
        return made
    # One in the middle of each end, or beside the cut that runs there.
    for y in (0.0,) if len(bedded.cuts_y_mm) % 2 == 0 else bedded.middles_y_mm:
        for end in (0, 1):
            out = 1.0 if end else -1.0
            beside = (y - wide / 2, y, y + wide / 2)
            near = [body.across(1, at, top)[end] for at in beside]
            root = (min(near) if end else max(near)) - out * INTO_MM
            far = (max(near) if end else min(near)) + out * GRIP_OUT_MM
            thick_low = max(top - GRIP_THICK_MM - abs(far - root), 0.0)
            # The wall leans in below the rim, and the slope under the hand-hold follows it down.
            below = [body.across(1, at, thick_low)[end] for at in beside]
            foot = (min(below) if end else max(below)) - out * INTO_MM
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
