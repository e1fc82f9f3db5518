"""Every wall has the draft that was asked for: each piece leaves even if it is turned by as much."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.closest import nearest_within
from claybed.geometry.halfedges import bodies_of, match_sides
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.mesh import Floats, Origin
from claybed.geometry.slab import LatticeSolid
from claybed.materials import shelf
from claybed.proof.faces import MEETS_MM
from claybed.proof.places import in_words, place_of
from claybed.records.assembly import Assembly, Piece
from claybed.records.finding import Check

# A wall that has the draft asked for but for the lattice's rounding of its corners has it.
ROUND_SINE = 1e-3
SLIVERS_MM2 = 1.0
# A pull whose upright share is less leaves to a side.
UPRIGHT = 1.0 - 1e-9
_STEEP_DEG = 10.0


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


def side_drafts_deg(assembly: Assembly) -> dict[str, float]:
    """The least draft of each piece that leaves to a side, by its letter: the angle between its way out and
    the walls that it slides along, those of the model and of pieces that open later, 0 to 90 degrees.

    Rounding leaves slivers that stand anyhow: the least is that of all but a square millimetre. Straight
    walls that reach but a little along the way out hold nothing, and are left out.
    """
    pieces = sorted(assembly.pieces, key=lambda piece: piece.opens or piece.order)
    return {
        piece.id: _least_deg(piece, [assembly.model, *(p.solid for p in pieces[k + 1 :])])
        for k, piece in enumerate(pieces)
        if abs(piece.pull[2]) < UPRIGHT
    }


def _least_deg(piece: Piece, others: Sequence[LatticeSolid]) -> float:
    """The least angle of a piece's walls to its way out, where they meet one of the others."""
    solid, way = piece.solid, np.array(piece.way)
    corner = lattice_mm(solid.points)[solid.faces]
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    length = np.linalg.norm(across, axis=1)
    own = np.flatnonzero((solid.origin != int(Origin.OUTSIDE)) & (length > 0.0))
    lean = np.abs(np.degrees(np.arcsin(np.clip(-(across[own] @ way) / length[own], 0.0, 1.0))))
    around = np.concatenate([lattice_mm(one.points)[one.faces] for one in others])
    for steep in (lean < _STEEP_DEG, lean >= _STEEP_DEG):
        # The steepest first: where some meet another piece, the rest need not be looked at.
        meets = nearest_within(corner[own[steep]].mean(axis=1), around, MEETS_MM)[0] >= 0
        which, leans = own[steep][meets], lean[steep][meets]
        straight = np.flatnonzero(leans < shelf.value("practice", "side_draft_none_deg").value)
        tall = _heights_mm(solid, which[straight], way) > shelf.value("practice", "side_draft_low_mm").value
        keep = np.setdiff1d(np.arange(len(which)), straight[~tall])
        order = keep[np.argsort(leans[keep], kind="stable")]
        first = int(np.searchsorted(np.cumsum(length[which[order]]) / 2.0, SLIVERS_MM2, side="right"))
        if first < len(order):
            return float(leans[order[first]])
    return 90.0


def _heights_mm(solid: LatticeSolid, which: NDArray[np.int64], way: Floats) -> Floats:
    """How far along the way out each of some faces (n,) reaches, with those it hangs together with."""
    if not len(which):
        return np.zeros(0)
    part, count = bodies_of(match_sides(solid.faces[which], len(solid.points)).mate)
    height = (lattice_mm(solid.points)[solid.faces[which]] @ way).reshape(-1)
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, np.repeat(part, 3), height)
    np.maximum.at(high, np.repeat(part, 3), height)
    return np.asarray((high - low)[part])


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
