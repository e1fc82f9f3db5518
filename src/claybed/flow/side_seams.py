"""Where the seams of a finished mold run on the object, and how much of that lies where no seam may run.

The main seam is laid round such regions, or the mold is refused; a side piece goes where it frees what locks,
and takes what it covers of the main seam. So all seams are measured once every piece is cut: a region that a
side piece clears is no matter any more, and one that its own seam crosses is told as a check.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from claybed.flow.keeping_out import KEEP_OUT_LEAST_MM, edges_inside_mm
from claybed.flow.sideways import aside
from claybed.geometry.halfedges import match_sides, side_ends
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.mesh import Floats, Origin
from claybed.geometry.nearness import distances_mm
from claybed.geometry.slab import LatticeSolid
from claybed.proof.faces import MEETS_MM, named
from claybed.proof.places import in_words
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.brief import Region
from claybed.records.finding import Check

# Fill is part of what is cast: a seam shows on it as on the object.
_ON_OBJECT: Final = (Origin.OBJECT, Origin.MEND, Origin.MOUTH, Origin.FILL)
_OF_JOINT: Final = (Origin.PARTING, Origin.KEY)


def seam_edges_mm(solid: LatticeSolid) -> Floats:
    """Where a piece stops touching the object and meets another piece: edges (k, 2, 3) in its frame, mm."""
    sides = match_sides(solid.faces, len(solid.points))
    here = np.repeat(named(solid.origin, _ON_OBJECT), 3)
    there = named(solid.origin, _OF_JOINT)[sides.mate // 3] & (sides.mate >= 0)
    ends = side_ends(solid.faces, np.flatnonzero(here & there))
    edges: Floats = lattice_mm(solid.points)[ends]
    return edges


def main_seam_inside_mm(assembly: Assembly, regions: Sequence[Region]) -> float:
    """Length of the seam between the two main pieces inside `regions` (object's frame), mm, where side pieces
    have taken the rest of it.
    """
    first, *_ = (piece for piece in assembly.pieces if not aside(piece))
    edges, inside_mm = _inside(assembly, first.solid, regions)
    own = inside_mm > 0.0
    if not own.any():
        return 0.0
    middles = edges[own].mean(axis=1)
    off_mm = [
        distances_mm(middles, piece.solid.mesh(BLOCK_FRAME)) for piece in assembly.pieces if aside(piece)
    ]
    between = np.min(off_mm, axis=0) > MEETS_MM if off_mm else np.ones(len(middles), bool)
    return float(inside_mm[own][between].sum())


def seam_checks(assembly: Assembly, regions: Sequence[Region]) -> tuple[Check, ...]:
    """The check that all seams of a mold keep out of `regions` (object's frame); none without regions, or
    with one piece.
    """
    if not regions or len(assembly.pieces) < 2:
        return ()
    total_mm = 0.0
    worst: tuple[float, str, tuple[float, float, float] | None] = (0.0, "", None)
    # The letter told is a side piece's where one has part in it: that is the seam which can be led elsewhere.
    # The pieces on either side of a stretch measure it alike but for rounding.
    for piece in sorted(assembly.pieces, key=lambda p: not aside(p)):
        edges, inside_mm = _inside(assembly, piece.solid, regions)
        length_mm = float(inside_mm.sum())
        # Every stretch of seam has a piece on either side.
        total_mm += length_mm / 2.0
        if length_mm > worst[0] + (KEEP_OUT_LEAST_MM if worst[1] else 0.0):
            x, y, z = (float(v) for v in edges[int(np.argmax(inside_mm))].mean(axis=0))
            worst = length_mm, piece.id, (x, y, z)
    _, letter, at = worst
    ok = total_mm <= KEEP_OUT_LEAST_MM
    return (
        Check(
            id="keep_out",
            ok=ok,
            measured=total_mm,
            limit=KEEP_OUT_LEAST_MM,
            unit="mm",
            sense="most",
            where="all seams" if at is None else f"piece {letter}, {in_words(at, assembly)}",
            how="edges between object and joints of the finished pieces, inside the regions; each is on two "
            "pieces and counts once",
            remedy=""
            if ok
            else "Leave that spot free for the seam, fill the place with oil clay instead, or take another "
            "main axis.",
            at_mm=at,
        ),
    )


def _inside(assembly: Assembly, solid: LatticeSolid, regions: Sequence[Region]) -> tuple[Floats, Floats]:
    """The seam edges of a piece (k, 2, 3), block's frame, and how much of each lies inside regions (k,)
    mm.
    """
    edges = seam_edges_mm(solid)
    own = (edges - assembly.shift_mm) @ assembly.to_block
    return edges, edges_inside_mm(own, regions)
