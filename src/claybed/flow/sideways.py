"""A side piece as it is poured: the closed block set up so that the piece is up, the other pieces under it.

A block with flat sides stands square, on the side away from the piece: where the pull slants, the face that
the piece is poured on slopes. A round one stands with the pull up.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from claybed.geometry.lattice import lattice_mm, pull_rotation
from claybed.geometry.levels import column_above_mm3, flat_level_mm, volume_above_mm3
from claybed.geometry.mesh import Floats, Origin
from claybed.records.assembly import BLOCK_FRAME, Assembly, Piece
from claybed.records.measured import MeasuredObject

SIDE_FRAME = "side"
# A parting surface that reaches further below its level than this has a plug.
PLUG_MM = 1.0
# Corners this near to a face's level lie on it; a face that rises less is level.
FACE_MM = 0.05
LEVEL_MM = 0.5
# A pull that leans farther off every flat side than this is no pull towards it (cosine).
NEAREST_SHARE = 0.6


@dataclass(frozen=True, slots=True)
class SideView:
    """A side piece as it is poured, mm and ml.

    `inside_mm` plan of the form (x, y), which stands around the whole block; `own_mm` what of it the piece
    takes; `height_mm` from the board under the closed block to the piece's top;
    `interface_mm` from that board to the face on which the piece stands, where that is lowest, and `rise_mm`
    how much higher its highest place is (0 for a level face); `over_object_ml` slurry right above
    the model; `object_ml` the part of the object that reaches into the piece (0 when no object was given);
    `plug_mm` how far its plug reaches below that face, 0 when there is none; `sunk_mm` how far the object
    reaches over the face, 0 where it does not; `beside` the letters of other side pieces that stand as high
    as it beside it.
    """

    inside_mm: tuple[float, float]
    own_mm: tuple[float, float]
    height_mm: float
    interface_mm: float
    over_object_ml: float
    object_ml: float
    plug_mm: float = 0.0
    rise_mm: float = 0.0
    sunk_mm: float = 0.0
    beside: tuple[str, ...] = ()


def aside(piece: Piece) -> bool:
    """Whether a piece is poured on the others, its pull across theirs, rather than up or down."""
    return abs(piece.pull[2]) < 1.0


def seen_along(assembly: Assembly, piece: Piece, obj: MeasuredObject | None = None) -> SideView:
    """The side view of a piece; `obj` is needed for the object's share only."""
    rotation = pull_rotation(piece.pull)
    own = lattice_mm(piece.solid.points) @ rotation.T
    joint = piece.solid.faces[piece.solid.origin == int(Origin.PARTING)]
    if piece.id == assembly.base:  # what it has under the object is no plug
        high = lattice_mm(piece.solid.points)[:, 2] > assembly.level_mm + PLUG_MM
        joint = joint[high[joint].all(axis=1)]
    level_mm = flat_level_mm(own[joint]) if len(joint) else float(np.median(own[:, 2]))
    lowest_mm = float(own[joint][:, :, 2].min()) if len(joint) else level_mm
    model = assembly.model.mesh(BLOCK_FRAME).moved(rotation, np.zeros(3), frame=SIDE_FRAME)
    share_ml = 0.0
    if obj is not None:
        placed = obj.mesh.moved(rotation @ assembly.to_block, rotation @ assembly.shift_mm, frame=SIDE_FRAME)
        share_ml = volume_above_mm3(placed, level_mm) / 1000.0
    over = assembly.model.faces[assembly.model.origin != int(Origin.GATE)]
    sunk_mm = max(0.0, float(model.vertices_mm[np.unique(over)][:, 2].max()) - level_mm)
    stood = pull_rotation(stood_along(piece, assembly))
    every = {p.id: lattice_mm(p.solid.points) @ stood.T for p in assembly.pieces}
    upright = every[piece.id]
    block = np.concatenate(list(every.values()))
    low_mm, top_mm = float(block[:, 2].min()), float(upright[:, 2].max())
    # Of the piece's own corners those on its face, plug, keys and dips apart.
    ends = upright[np.abs(own[:, 2] - level_mm) < FACE_MM][:, 2]
    face = (float(ends.min()), float(ends.max())) if len(ends) else (level_mm, level_mm)
    standing = assembly.model.mesh(BLOCK_FRAME).moved(stood, np.zeros(3), frame=SIDE_FRAME)
    inside, own_span = (np.ptp(corners[:, :2], axis=0) for corners in (block, upright))
    return SideView(
        inside_mm=(float(inside[0]), float(inside[1])),
        own_mm=(float(own_span[0]), float(own_span[1])),
        height_mm=top_mm - low_mm,
        interface_mm=face[0] - low_mm,
        over_object_ml=column_above_mm3(standing, top_mm) / 1000.0,
        object_ml=share_ml,
        plug_mm=_plug_mm(level_mm, lowest_mm, own if piece.id != assembly.base else None),
        rise_mm=face[1] - face[0] if face[1] - face[0] > LEVEL_MM else 0.0,
        sunk_mm=sunk_mm,
        beside=tuple(
            p.id
            for p in assembly.pieces
            if p.id != piece.id and aside(p) and float(every[p.id][:, 2].max()) > top_mm - PLUG_MM
        ),
    )


def stood_along(piece: Piece, assembly: Assembly) -> tuple[float, float, float]:
    """Which way of the block is up while a side piece is poured: its flat side nearest to the pull, or the
    pull itself where the block has none.
    """
    x, y, _ = piece.pull
    if assembly.shape != "boxed" or max(abs(x), abs(y)) < NEAREST_SHARE:
        return piece.pull
    return (float(np.sign(x)), 0.0, 0.0) if abs(x) > abs(y) else (0.0, float(np.sign(y)), 0.0)


def _plug_mm(level_mm: float, lowest_mm: float, own: Floats | None) -> float:
    """How far a piece with corners `own` (n, 3) reaches under its level where its parting surface `lowest_mm`
    does by more than keys; only that counts without corners.
    """
    if level_mm - lowest_mm <= PLUG_MM:
        return 0.0
    return level_mm - (lowest_mm if own is None else float(own[:, 2].min()))
