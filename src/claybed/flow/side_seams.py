"""Where the seams of side pieces run on the object, and how much of that lies where no seam may run.

The main seam is laid round such regions, or the mold is refused; a side piece goes where it frees what locks.
So its seams are measured on the finished pieces and told as a check.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from claybed.flow.keeping_out import length_inside_mm
from claybed.flow.molding import KEEP_OUT_LEAST_MM
from claybed.flow.sideways import aside
from claybed.geometry.halfedges import match_sides, side_ends
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.mesh import Floats, Origin
from claybed.geometry.slab import LatticeSolid
from claybed.proof.places import in_words
from claybed.records.assembly import Assembly
from claybed.records.brief import Region
from claybed.records.finding import Check

_ON_OBJECT: Final = (int(Origin.OBJECT), int(Origin.MEND), int(Origin.MOUTH))
_OF_MOLD: Final = (int(Origin.PARTING), int(Origin.OUTSIDE), int(Origin.KEY))


def seam_edges_mm(solid: LatticeSolid) -> Floats:
    """Where a piece stops touching the object and meets another piece: edges (k, 2, 3) in its frame, mm."""
    sides = match_sides(solid.faces, len(solid.points))
    here = np.repeat(np.isin(solid.origin, _ON_OBJECT), 3)
    there = np.isin(solid.origin, _OF_MOLD)[sides.mate // 3] & (sides.mate >= 0)
    ends = side_ends(solid.faces, np.flatnonzero(here & there))
    edges: Floats = lattice_mm(solid.points)[ends]
    return edges


def side_seam_checks(assembly: Assembly, regions: Sequence[Region]) -> tuple[Check, ...]:
    """The check that seams of side pieces keep out of `regions` (object's frame); none without either."""
    sides = [piece for piece in assembly.pieces if aside(piece)]
    if not regions or not sides:
        return ()
    worst: tuple[float, str, tuple[float, float, float] | None] = (0.0, "", None)
    for piece in sides:
        edges = seam_edges_mm(piece.solid)
        own = (edges - assembly.shift_mm) @ assembly.to_block
        length_mm = length_inside_mm(own, regions) if len(own) else 0.0
        if length_mm > worst[0]:
            each = [length_inside_mm(own[k : k + 1], regions) for k in range(len(own))]
            x, y, z = (float(v) for v in edges[int(np.argmax(each))].mean(axis=0))
            worst = length_mm, piece.id, (x, y, z)
    measured, letter, at = worst
    ok = measured <= KEEP_OUT_LEAST_MM
    return (
        Check(
            id="keep_out",
            ok=ok,
            measured=measured,
            limit=KEEP_OUT_LEAST_MM,
            unit="mm",
            sense="most",
            where="the side pieces" if at is None else f"piece {letter}, {in_words(at, assembly)}",
            how="edges between object and parting surface of each side piece, inside the regions",
            remedy=""
            if ok
            else "Leave that spot free for the side piece's seam, fill the place with oil clay instead, or "
            "take another main axis.",
            at_mm=at,
        ),
    )
