"""The hump: plaster that fills a seated vessel, and the plinth that is poured with it."""

from __future__ import annotations

import numpy as np

from claybed.geometry.labelling import mark_fill
from claybed.geometry.lattice import Z_PER_MM, LatticeMesh
from claybed.geometry.mesh import Floats, Origin
from claybed.geometry.sheet import Sheet
from claybed.geometry.sheets import Envelope
from claybed.geometry.slab import LatticeSolid, odd_faced_edges, solid_between
from claybed.geometry.uncrowding import CrowdedError, relieve, uncrowd
from claybed.materials import shelf
from claybed.mold.pieces import refuse_unless_tiled
from claybed.records.assembly import Assembly, Gate, Piece
from claybed.records.parted import Layout

OUTSIDE = int(Origin.OUTSIDE)
RELIEVED_TIMES = 5
NO_GATE = Gate("none", float("nan"), float("nan"), 0.0, (0.0, 0.0, 0.0), (0.0, 0.0, 1.0))


def cast_hump(
    sheets: Envelope,
    layout: Layout,
    source: LatticeMesh,
    *,
    board_mm: float,
    ledge_mm: float,
    rim_mm: Floats,
) -> Assembly:
    """Cast a hump on the highest surface of a seated vessel.

    `sheets` and `source` of the seated vessel on the pull frame's lattice, clipped to the layout's footprint;
    `board_mm` the height on which the vessel stands, `ledge_mm` that of the ledge round its rim, pull frame;
    `rim_mm` (k, 3) the rim there. The plinth is as high as the layout's wall, the whole rounded up to a step
    of the ruler. Raises ArithmeticError where no clean solids come of it.
    """
    bottom = round(board_mm * Z_PER_MM)
    top = round((ledge_mm + layout.wall_mm) * Z_PER_MM)
    ruler = round(shelf.value("practice", "ruler_step_mm").value * Z_PER_MM)
    top += -(top - bottom) % ruler
    skin, under, nothing = uncrowd(sheets.top, _level(sheets.top, bottom), _empty(sheets.top))
    for _ in range(RELIEVED_TIMES):
        plaster = solid_between(skin, _level(skin, top), wall_origin=OUTSIDE)
        seat = solid_between(_level(skin, bottom), skin, wall_origin=OUTSIDE)
        crowded = [s.points[odd_faced_edges(s)[1]] for s in (plaster, seat)]
        if not any(len(edges) for edges in crowded):
            break
        skin, under, nothing = relieve(skin, under, nothing, np.concatenate(crowded))
    else:
        raise CrowdedError(np.concatenate(crowded))
    refuse_unless_tiled(skin, layout.footprint)
    seat = mark_fill(seat, source, layout.footprint)
    # Its cut sides are the bed's, and no way in for slip.
    cut = np.where(seat.origin == int(Origin.GATE), OUTSIDE, seat.origin).astype(np.uint8)
    lift = np.array([0.0, 0.0, -bottom / Z_PER_MM])
    solids = [
        LatticeSolid(s.points - np.array([0, 0, bottom]), s.faces, origin)
        for s, origin in ((seat, cut), (plaster, plaster.origin))
    ]
    height = top - bottom
    loop = np.concatenate([rim_mm, rim_mm[:1]]) + lift
    outer = (*layout.outer_plan_mm, height / Z_PER_MM)
    return Assembly(
        shape=layout.shape,
        outer_mm=outer if layout.shape == "boxed" else (layout.outer_plan_mm[0], height / Z_PER_MM),
        footprint=np.ascontiguousarray(layout.footprint),
        height=height,
        wall_mm=layout.wall_mm,
        wall_reason=layout.wall_reason,
        model=solids[0],
        pieces=(Piece("A", 1, (0.0, 0.0, 1.0), solids[1]),),
        contacts=(),
        keys=(),
        gate=NO_GATE,
        seam_loops=(loop,),
        seam_length_mm=float(np.linalg.norm(np.diff(loop, axis=0), axis=1).sum()),
        seam_flat=True,
        off_plane_mm=float(np.ptp(rim_mm[:, 2])),
        level_mm=ledge_mm + float(lift[2]),
        to_block=layout.rotation,
        shift_mm=layout.shift_mm + lift,
        stance=layout.stance,
        square_mm=0.0,
        hidden_faces=sheets.hidden_faces,
        hump=True,
    )


def _level(sheet: Sheet, height: int) -> Sheet:
    return Sheet(
        sheet.plan,
        sheet.faces,
        np.full_like(sheet.heights, height),
        np.full(len(sheet.faces), OUTSIDE, np.uint8),
    )


def _empty(sheet: Sheet) -> Sheet:
    return Sheet(sheet.plan, sheet.faces[:0], sheet.heights[:0], sheet.origin[:0])
