"""A side piece as it is poured: the closed block set up so that the piece's pull is up, the other pieces
under it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from claybed.geometry.lattice import lattice_mm, pull_rotation
from claybed.geometry.levels import column_above_mm3, volume_above_mm3
from claybed.geometry.mesh import Floats, Origin
from claybed.records.assembly import BLOCK_FRAME, Assembly, Piece
from claybed.records.measured import MeasuredObject

SIDE_FRAME = "side"
# A parting surface that reaches further below its level than this has a plug.
PLUG_MM = 1.0


@dataclass(frozen=True, slots=True)
class SideView:
    """A side piece seen along its pull, mm and ml.

    `inside_mm` plan of the form (x, y); `height_mm` from the board under the closed block to the piece's top;
    `interface_mm` from that board to the level on which the piece stands; `over_object_ml` slurry right above
    the model; `object_ml` the part of the object that reaches into the piece (0 when no object was given);
    `plug_mm` how far its plug reaches below that level, 0 when there is none.
    """

    inside_mm: tuple[float, float]
    height_mm: float
    interface_mm: float
    over_object_ml: float
    object_ml: float
    plug_mm: float = 0.0


def aside(piece: Piece) -> bool:
    """Whether a piece is poured on the others, its pull across theirs, rather than up or down."""
    return abs(piece.pull[2]) < 1.0


def seen_along(assembly: Assembly, piece: Piece, obj: MeasuredObject | None = None) -> SideView:
    """The side view of a piece; `obj` is needed for the object's share only."""
    rotation = pull_rotation(piece.pull)
    every = np.concatenate([lattice_mm(p.solid.points) for p in assembly.pieces]) @ rotation.T
    own = lattice_mm(piece.solid.points) @ rotation.T
    low_mm = float(every[:, 2].min())
    top_mm = float(own[:, 2].max())
    joint = piece.solid.faces[piece.solid.origin == int(Origin.PARTING)]
    if piece.id == assembly.base:  # what it has under the object is no plug
        high = lattice_mm(piece.solid.points)[:, 2] > assembly.level_mm + PLUG_MM
        joint = joint[high[joint].all(axis=1)]
    level_mm = _level_mm(own[joint]) if len(joint) else float(np.median(own[:, 2]))
    lowest_mm = float(own[joint][:, :, 2].min()) if len(joint) else level_mm
    model = assembly.model.mesh(BLOCK_FRAME).moved(rotation, np.zeros(3), frame=SIDE_FRAME)
    share_ml = 0.0
    if obj is not None:
        placed = obj.mesh.moved(rotation @ assembly.to_block, rotation @ assembly.shift_mm, frame=SIDE_FRAME)
        share_ml = volume_above_mm3(placed, level_mm) / 1000.0
    span = np.ptp(own[:, :2], axis=0)
    return SideView(
        inside_mm=(float(span[0]), float(span[1])),
        height_mm=top_mm - low_mm,
        interface_mm=level_mm - low_mm,
        over_object_ml=column_above_mm3(model, top_mm) / 1000.0,
        object_ml=share_ml,
        plug_mm=_plug_mm(level_mm, lowest_mm, own if piece.id != assembly.base else None),
    )


def _plug_mm(level_mm: float, lowest_mm: float, own: Floats | None) -> float:
    """How far a piece with corners `own` (n, 3) reaches under its level where its parting surface `lowest_mm`
    does by more than keys; only that counts without corners.
    """
    if level_mm - lowest_mm <= PLUG_MM:
        return 0.0
    return level_mm - (lowest_mm if own is None else float(own[:, 2].min()))


def _level_mm(corner: Floats) -> float:
    """Height of the flat of an interface, by area; its plug and keys reach below it. `corner` (k, 3, 3)."""
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    height = corner[:, :, 2].mean(axis=1)
    order = np.argsort(height)
    # Only what lies across the pull counts.
    flat = np.abs(normal[order, 2]) ** 3 / np.maximum(np.linalg.norm(normal[order], axis=1), 1e-12) ** 2
    share = np.cumsum(flat)
    return float(height[order][int(np.searchsorted(share, 0.5 * share[-1]))])
