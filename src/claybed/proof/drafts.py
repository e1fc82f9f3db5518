"""Every wall has the draft that was asked for: each piece leaves even if it is turned by as much."""

from __future__ import annotations

import numpy as np

from claybed.geometry.closest import nearest_within
from claybed.geometry.halfedges import bodies_of, match_sides
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.mesh import Origin
from claybed.materials import shelf
from claybed.proof.faces import MEETS_MM
from claybed.proof.places import in_words, place_of
from claybed.records.assembly import Assembly, Piece
from claybed.records.finding import Check

# A wall that has the draft asked for but for the lattice's rounding of its corners has it.
ROUND_SINE = 1e-3


def walls_have_draft(assembly: Assembly) -> list[Check]:
    """The check that no wall scrapes when a piece leaves turned by the draft asked for; empty where no draft
    was asked of the walls.

    What a piece lies against counts while it is still there: the model, and pieces that open later. A wall
    with less draft that reaches only a little along the way out scrapes by its height times the tangent of
    the draft asked for, and that may be as much as a lock that needs no fill. Source: materials/practice
    (lock_ignore_mm).
    """
    if assembly.draft_deg <= 0.0:
        return []
    pieces = sorted(assembly.pieces, key=lambda piece: piece.opens or piece.order)
    found = [_scrapes(piece, pieces[k + 1 :], assembly) for k, piece in enumerate(pieces)]
    worst = max(range(len(found)), key=lambda k: found[k][0])
    scraped_mm, at = found[worst]
    limit_mm = shelf.value("practice", "lock_ignore_mm").value
    ok = scraped_mm <= limit_mm
    where = f"piece {pieces[worst].id}" + ("" if at is None else f", {in_words(at, assembly)}")
    return [
        Check(
            id="walls_have_draft",
            ok=ok,
            measured=scraped_mm,
            limit=limit_mm,
            unit="mm",
            sense="most",
            where=where,
            how=f"walls with less than {assembly.draft_deg:g} degrees to the way out, less a twentieth of a "
            "degree of rounding, against the model and the pieces still closed: height along the way out "
            "times the tangent of that draft",
            remedy="" if ok else "Give this wall more draft, or ask for less with --pose-tolerance.",
            at_mm=at,
        )
    ]


def _scrapes(
    piece: Piece, later: list[Piece], assembly: Assembly
) -> tuple[float, tuple[float, float, float] | None]:
    """By how much (mm) the worst wall of a piece scrapes, and where it is; 0 and None when none does."""
    solid, way = piece.solid, np.array(piece.way)
    points = lattice_mm(solid.points)
    corner = points[solid.faces]
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    length = np.maximum(np.linalg.norm(across, axis=1), 1e-12)
    # A face of the piece looks against the way out by its draft.
    steep = -(across @ way) / length < np.sin(np.radians(assembly.draft_deg)) - ROUND_SINE
    steep &= solid.origin != int(Origin.OUTSIDE)
    which = np.flatnonzero(steep)
    if not len(which):
        return 0.0, None
    others = [assembly.model, *(p.solid for p in later)]
    around = np.concatenate([lattice_mm(s.points)[s.faces] for s in others])
    # Middles lie on what a face leans against; corners would lie on what it ends at as well.
    meets = nearest_within(corner[which].mean(axis=1), around, MEETS_MM)[0] >= 0
    which = which[meets]
    if not len(which):
        return 0.0, None
    part, count = bodies_of(match_sides(solid.faces[which], len(points)).mate)
    height = (corner[which] @ way).reshape(-1)
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, np.repeat(part, 3), height)
    np.maximum.at(high, np.repeat(part, 3), height)
    tallest = int(np.argmax(high - low))
    at = place_of(corner[which[part == tallest]].mean(axis=(0, 1)))
    return float(high[tallest] - low[tallest]) * float(np.tan(np.radians(assembly.draft_deg))), at
