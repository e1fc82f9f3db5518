"""Pictures of what stands in the form of each pour, for the bench sheet."""

from __future__ import annotations

import numpy as np

from claybed.flow.course import Course
from claybed.flow.pour_views import pour_views
from claybed.flow.sideways import aside
from claybed.records.assembly import BLOCK_FRAME
from claybed.sheets.form_cuts import Standing, form_cut
from claybed.sheets.pictures import as_png


def form_pictures(course: Course, *, sand_mm: float = 0.0) -> dict[str, bytes]:
    """PNG bytes by name: "form-A" from the front and "form-A-above" from above, for each piece; of a hump
    with sand up to `sand_mm` above the board.
    """
    assembly, hollow = course.molded.assembly, course.obj.hollow
    vessel = None
    if hollow is not None:
        vessel = hollow.vessel.moved(assembly.to_block, assembly.shift_mm, frame=BLOCK_FRAME)
    gate = assembly.gate
    plug = (np.array(gate.at_mm), np.array(gate.out)) if gate.kind in ("bore", "mouth") else None
    standing = Standing(
        pieces=tuple(
            (piece.id, piece.solid.mesh(BLOCK_FRAME))
            for piece in sorted(assembly.pieces, key=lambda piece: piece.order)
        ),
        aside=frozenset(piece.id for piece in assembly.pieces if aside(piece)),
        base=assembly.base,
        level_mm=assembly.level_mm,
        model=assembly.model.mesh(BLOCK_FRAME),
        thing=course.obj.mesh.moved(assembly.to_block, assembly.shift_mm, frame=BLOCK_FRAME),
        plug=plug,
        vessel=vessel,
        sand_mm=sand_mm,
    )
    found = {}
    for view in pour_views(assembly):
        for name, from_above in ((f"form-{view.piece}", False), (f"form-{view.piece}-above", True)):
            cut = form_cut(standing, view.piece, view.turn, view.low_mm, view.high_mm, from_above=from_above)
            found[name] = as_png(cut)
    return found
