"""Molds whose last main piece leaves aslant, because only so all its walls have draft."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from claybed.geometry.slanting import nearest_whole_pull
from claybed.records.assembly import Assembly

Vector = tuple[float, float, float]


def drawn_aslant(assembly: Assembly, leans: Vector, draft_deg: float) -> Assembly:
    """The mold with the main piece that faces `leans` (object's frame, unit) opened last and drawn that way.

    The other one leaves straight before it, and all side pieces before both, so that it has only the model to
    get past. `draft_deg` is what every wall is to have.
    """
    x, y, z = (float(v) for v in assembly.to_block @ np.array(leans))
    way = nearest_whole_pull((x, y, z))
    one, other, *sides = assembly.pieces
    last, before = (one, other) if float(np.dot(one.pull, way)) > 0.0 else (other, one)
    order = {piece.id: piece.opens for piece in sides}
    order |= {before.id: len(sides) + 1, last.id: len(sides) + 2}
    pieces = tuple(
        replace(piece, opens=order[piece.id], leans=way if piece.id == last.id else None)
        for piece in assembly.pieces
    )
    return replace(assembly, pieces=pieces, draft_deg=draft_deg)
