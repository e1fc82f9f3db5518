"""Each pour as it stands on the bench: how the block is turned for it, and where its form is."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from claybed.flow.sideways import aside, seen_along, stood_along
from claybed.flow.standing import board_mm
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, lattice_mm, pull_rotation
from claybed.geometry.mesh import Floats
from claybed.records.assembly import Assembly, Piece

# A second main piece is poured on the first, turned over front to back.
_TURNED_OVER = np.diag([1.0, -1.0, -1.0])


@dataclass(frozen=True, slots=True, eq=False)
class PourView:
    """One pour: `piece` its letter; `turn` (3, 3) the rotation from the block's frame to the bench's, x to
    the right, y to the back, z up; `low_mm` and `high_mm` (3,) the inside of its form there, from the board
    to the line where the pour stops.
    """

    piece: str
    turn: Floats
    low_mm: Floats
    high_mm: Floats


def pour_views(assembly: Assembly) -> tuple[PourView, ...]:
    """The pours in their order."""
    ordered = sorted(assembly.pieces, key=lambda piece: piece.order)
    return tuple((_aside if aside(piece) else _upright)(assembly, piece) for piece in ordered)


def _upright(assembly: Assembly, piece: Piece) -> PourView:
    low, high = (end(assembly.footprint / XY_PER_MM, axis=0) for end in (np.min, np.max))
    board, top = board_mm(assembly, piece), assembly.height / Z_PER_MM
    if piece.pull[2] > 0.0:
        return PourView(piece.id, np.eye(3), np.array([*low, board]), np.array([*high, top]))
    return PourView(
        piece.id,
        _TURNED_OVER,
        np.array([low[0], -high[1], board - top]),
        np.array([high[0], -low[1], 0.0]),
    )


def _aside(assembly: Assembly, piece: Piece) -> PourView:
    turn = pull_rotation(stood_along(piece, assembly))
    corners = [lattice_mm(one.solid.points) @ turn.T for one in assembly.pieces]
    x, y, low = np.min([points.min(axis=0) for points in corners], axis=0)
    view = seen_along(assembly, piece)
    return PourView(
        piece.id,
        turn,
        np.array([x, y, low]),
        np.array([x + view.inside_mm[0], y + view.inside_mm[1], low + view.height_mm]),
    )
