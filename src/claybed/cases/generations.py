"""Block and case: a printed piece, the case of cement poured over it, and how lengths grow on the way."""

from __future__ import annotations

import math

import numpy as np

from claybed.cases.bedding import cut_levels, lay_on_bed
from claybed.cases.crowns import flakes_lying, peg_holes
from claybed.cases.flanges import turned
from claybed.cases.sizes import size_mm
from claybed.cases.vessel import in_case
from claybed.errors import CannotError
from claybed.geometry.carving import Solid
from claybed.geometry.forming import (
    bodies,
    bounds_mm,
    closed,
    grown,
    halved,
    hull,
    on_lattice,
    reach_mm,
    rod,
    united,
    unturned,
)
from claybed.geometry.lattice import Z_PER_MM, lattice_mm
from claybed.geometry.slab import LatticeSolid
from claybed.records.cases import CasePart, CementCase, Generation, Master, Poured

DOWEL_MM = size_mm("dowel")
DOWEL_DEEP_MM = size_mm("dowel_deep")
DOWEL_IN_MM = size_mm("dowel_in")  # of the outside, in the thick of the wall
ROUND_CORNERS = 12


def chain(generations: int, *, plaster_fraction: float, cement_fraction: float) -> tuple[Generation, ...]:
    """The steps from print to working mold, each with its size against the plan's own pieces once set.

    1: printed case, working mold. 2: printed piece, case of cement, working mold. 3: printed case, block
    piece of plaster, case of cement, working mold. The print is made smaller so that the working mold has the
    size that a piece poured on the model would have; `plaster_fraction` and `cement_fraction` are what these
    grow in setting, as shares of length.
    """
    plaster = ("plaster", plaster_fraction)
    cement = ("hard cement", cement_fraction)
    castings = {
        1: [("working mold", *plaster)],
        2: [("case", *cement), ("working mold", *plaster)],
        3: [("block piece", *plaster), ("case", *cement), ("working mold", *plaster)],
    }[generations]
    size = print_scale(generations, plaster_fraction=plaster_fraction, cement_fraction=cement_fraction)
    size /= 1.0 + plaster_fraction
    steps = [Generation("printed piece" if generations == 2 else "printed case", "plastic", 0.0, size)]
    for what, of, grows in castings:
        size *= 1.0 + grows
        steps.append(Generation(what, of, grows, size))
    return tuple(steps)


def print_scale(generations: int, *, plaster_fraction: float, cement_fraction: float) -> float:
    """How large a print is against the plan, so that what grows between it and the last casting is made up
    for; the last casting grows as the plan's own pieces do.
    """
    more = {1: 1.0, 2: 1.0 + cement_fraction, 3: (1.0 + cement_fraction) * (1.0 + plaster_fraction)}
    return 1.0 / more[generations]


def build_master(poured: Poured, printer_mm: tuple[float, float, float], clearance_mm: float) -> Master:
    """The piece itself to print, lying on its back as it is poured over, cut to fit, dowel holes in the cuts.

    Raises CannotError when no cut makes it fit the printer.
    """
    lying = _on_back(poured.solid, poured)
    solid = closed(lattice_mm(lying.points), lying.faces)
    low, high = bounds_mm(solid)
    wide, deep, tall = (float(v) for v in high - low)
    levels: tuple[float, ...] | None = ()
    if tall > printer_mm[2]:
        levels = cut_levels(
            tall,
            printer_mm[2],
            least_mm=DOWEL_IN_MM,
            upper_mm=DOWEL_IN_MM,
            tongue_mm=0.0,
            flakes=flakes_lying(poured),
        )
    bedded = None if levels is None else lay_on_bed((wide, deep), printer_mm, flange_mm=0.0)
    if levels is None or bedded is None:
        raise CannotError(
            f"it is {wide:.0f} × {deep:.0f} × {tall:.0f} mm, and no cut makes it fit the printer.",
            where=f"printed piece {poured.piece}",
            remedy="Name a larger printer with --printer.",
        )
    layers = [(0.0, solid)]
    for level in levels:
        bed_mm, last = layers.pop()
        below, above = halved(last, (0.0, 0.0, 1.0), level)
        layers += [(bed_mm, below), (level, above)]
    outline = poured.low_outline_mm * (1.0, -1.0)
    rim = poured.top_mm - poured.low_mm
    holes: list[Solid] = []
    pieces = layers
    for along, cuts in enumerate((bedded.cuts_x_mm, bedded.cuts_y_mm)):
        for at in cuts:
            ends = reach_mm(outline, along, at)
            for bed_mm, top_mm in zip((0.0, *levels), (*levels, rim), strict=True):
                # As high as there is wall on both sides; what is left of it above a level cut may be too low.
                level = (bed_mm + min(top_mm, rim)) / 2.0
                if min(top_mm, rim) - bed_mm < 2.0 * DOWEL_MM:
                    continue
                for side in (ends[0] + DOWEL_IN_MM, ends[1] - DOWEL_IN_MM):
                    holes.append(
                        rod(
                            turned(along, at - DOWEL_DEEP_MM, side, level),
                            turned(along, at + DOWEL_DEEP_MM, side, level),
                            DOWEL_MM / 2.0 + clearance_mm / 2.0,
                        )
                    )
            normal = [0.0, 0.0, 0.0]
            normal[along] = 1.0
            pieces = [
                (bed_mm, half)
                for bed_mm, one in pieces
                for half in halved(one, normal, at)
                if not half.is_empty()
            ]
    if levels:
        pieces = [(bed_mm, body) for bed_mm, one in pieces for body in bodies(one)]
        for bed_mm, one in pieces:
            below_it = [two for other_mm, two in pieces if other_mm < bed_mm]
            holes += peg_holes(one, below_it, bed_mm, clearance_mm) if bed_mm else []
    drilled = united(holes) if holes else None
    parts = []
    ordered = sorted(pieces, key=lambda p: (p[0], *np.round(bounds_mm(p[1]).mean(axis=0) * (1, -1, 1), 1)))
    for k, (bed_mm, one) in enumerate(ordered):
        cut = unturned(on_lattice(one if drilled is None else one - drilled), lying)
        name = f"{poured.piece}{k + 1}" if len(ordered) > 1 else poured.piece
        size = np.ptp(lattice_mm(cut.points), axis=0)
        parts.append(CasePart(name, cut, (float(size[0]), float(size[1]), float(size[2])), bed_mm))
    return Master(poured, tuple(parts), len(holes), (wide, deep, tall))


def _on_back(solid: LatticeSolid, poured: Poured) -> LatticeSolid:
    """Turned over, so that the piece's back lies on z = 0."""
    p = solid.points
    top = round(poured.top_mm * Z_PER_MM)
    return LatticeSolid(np.stack([p[:, 0], -p[:, 1], top - p[:, 2]], axis=1), solid.faces, solid.origin)


def build_cement_case(poured: Poured, wall_mm: float) -> CementCase:
    """The case of cement that is poured over a piece lying on its back: `wall_mm` beside it and over it.

    Its outside is upright, as its form's. It is given as it is used: turned over, open side up.
    """
    ring = grown(poured.top_outline_mm, wall_mm)
    if len(ring) < ROUND_CORNERS:
        low, high = ring.min(axis=0), ring.max(axis=0)
        ring = np.array([low, [high[0], low[1]], high, [low[0], high[1]]])
    tall = poured.top_mm + wall_mm
    placed = in_case(poured, wall_mm)
    ends = [np.c_[ring, np.full(len(ring), level)] for level in (0.0, tall)]
    solid = hull(np.concatenate(ends)) - closed(lattice_mm(placed.points), placed.faces)
    wide, deep = (float(v) for v in np.ptp(ring, axis=0))
    return CementCase(poured, unturned(on_lattice(solid), placed), (wide, deep, tall), wall_mm)


def molds_a_day(turn_min: float, day_h: float) -> int:
    """Working molds that one case gives in a day: whole turns, from one mixing to the next."""
    return math.floor(60.0 * day_h / turn_min + 1e-9)
