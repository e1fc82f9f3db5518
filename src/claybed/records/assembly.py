"""The closed mold: block, model, pieces, keys and gate, all in the block's frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.lattice import Lattice
from claybed.geometry.mesh import Floats
from claybed.geometry.slab import LatticeSolid

BLOCK_FRAME = "block"


@dataclass(frozen=True, slots=True)
class Gate:
    """The way in for slip, or for hands.

    `kind` bore (a round bore at the seam), mouth (the object's own mouth carried out of the block), face (the
    open face of a one-piece mold) or none. `bore_mm` its narrowest diameter (nan when not round),
    `closes_at_wall_mm` the ware wall at which it would close, `spare_ml` what it holds outside the object,
    `at_mm` where it meets the object (block frame), `out` the unit direction in which it leaves the block,
    `laps_mm` how far a bore's inner end laps over the object above and below its middle, `at_object_mm`
    how wide a bore is there where it is narrower at its outer end, else None, `beyond_ml` what of it stands
    on the far side of what it goes through; `taken_mm` over how much of its length the object lies inside a
    bore whole, `taken_ml` of it, and where that is more than a gate may take, `sparing_mm` the widest bore
    there that takes no more, None where there is none.
    """

    kind: Literal["bore", "mouth", "face", "none"]
    bore_mm: float
    closes_at_wall_mm: float
    spare_ml: float
    at_mm: tuple[float, float, float]
    out: tuple[float, float, float]
    laps_mm: tuple[float, float] = (0.0, 0.0)
    at_object_mm: float | None = None
    beyond_ml: float = 0.0
    taken_mm: float = 0.0
    taken_ml: float = 0.0
    sparing_mm: float | None = None


@dataclass(frozen=True, slots=True)
class BlockKey:
    """A key in the block's frame: a bump on `bump_on`, a socket in the other piece; `at_mm` its middle on the
    parting surface. `socket_in` names the other piece where more than two meet.
    """

    at_mm: tuple[float, float, float]
    diameter_mm: float
    depth_mm: float
    bump_on: str
    socket_in: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class Piece:
    """One piece of the mold.

    `id` its letter; `order` 1 for the first pour; `pull` unit vector in which it leaves; `solid` on the
    block's lattice; `opens` its place in the order of opening when that is not the order of pouring; `leans`
    the way in which it leaves instead, aslant, when it is the last one and has draft on all walls only so;
    `bridges` how many walls of other pieces stand across the plug of a side piece.
    """

    id: str
    order: int
    pull: tuple[float, float, float]
    solid: LatticeSolid
    opens: int | None = None
    leans: tuple[float, float, float] | None = None
    bridges: int = 0

    @property
    def way(self) -> tuple[float, float, float]:
        """The unit vector in which it leaves in the end."""
        return self.leans or self.pull


@dataclass(frozen=True, slots=True, eq=False)
class Assembly:
    """A mold as it closes, on the lattice of the block's frame: x and y from the block's middle, z up from
    the board.

    `shape` boxed or round; `outer_mm` boxed (x, y, z), round (diameter, height); `footprint` (k, 2) lattice
    plan, convex and counter-clockwise; `height` lattice units; `wall_mm` the least plaster asked for,
    `wall_reason` why.
    `model` the object with fill and gate; `pieces` in pour order; `contacts` pairs of piece letters that
    meet.
    `seam_loops` polylines (n, 3) mm, closed ones repeat their first point; `seam_length_mm`, `seam_flat`,
    `off_plane_mm`; `level_mm` height of the flat part of the parting surface. `to_block` (3, 3) and
    `shift_mm` (3,) carry a point of the object's frame into the block's. `stance` says how the closed mold
    stands. `square_mm` is how far the parting surface was asked to keep square to the object; `hidden_faces`
    how many object faces hide one another along the pull. A `hump` is one piece that fills the inside of a
    vessel, with a plinth above the level ledge at `level_mm`: `model` is the vessel with its bed. `base` is
    the letter of the side piece that takes all under `level_mm` as well, where one main piece stands on it;
    "" where two main pieces meet. `draft_deg` is the draft that every wall is to have, 0 where none is asked
    of walls that could have none.
    """

    shape: str
    outer_mm: tuple[float, ...]
    footprint: Lattice
    height: int
    wall_mm: float
    wall_reason: str
    model: LatticeSolid
    pieces: tuple[Piece, ...]
    contacts: tuple[tuple[str, str], ...]
    keys: tuple[BlockKey, ...]
    gate: Gate
    seam_loops: tuple[NDArray[np.float64], ...]
    seam_length_mm: float
    seam_flat: bool
    off_plane_mm: float
    level_mm: float
    to_block: Floats
    shift_mm: Floats
    stance: str
    square_mm: float
    hidden_faces: int
    hump: bool = False
    base: str = ""
    draft_deg: float = 0.0
