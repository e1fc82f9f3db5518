"""Where the cavity meets the joint between pieces: how sharp the plaster ends there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np

from claybed.geometry.flagged import marked_corners
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, lattice_mm
from claybed.geometry.mesh import Floats
from claybed.geometry.nearness import distances_mm
from claybed.geometry.slab import LatticeSolid
from claybed.materials.shelf import value
from claybed.proof.faces import CAVITY, JOINT, MEETS_MM, Flags, named, touched
from claybed.proof.places import Place, in_words, place_of
from claybed.records.assembly import BLOCK_FRAME, Assembly, Piece
from claybed.records.finding import Check

# Of shorter edges and narrower faces the lattice does not leave the slope.
SHORT_EDGE_MM = 0.2
NARROW_FACE_MM = 0.05
# An upright interface leans by no more than the lattice rounds it.
LEAN = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class _Edges:
    """Edges where cavity meets joint: plaster angles (k,) deg, middles (k, 3) mm, lengths (k,) mm, and which
    of them lie on an upright face of the joint.
    """

    angle_deg: Floats
    middle_mm: Floats
    length_mm: Floats
    upright: Flags


# A solid never changes, so what was measured on it holds as long as it lives.
_EDGES: WeakKeyDictionary[LatticeSolid, dict[float, _Edges]] = WeakKeyDictionary()


def seam_angle(assembly: Assembly) -> Check | None:
    """The check that plaster at the seam is not sharper than it bears; None for a mold of one piece.

    The angle inside a piece between its cavity and its parting surface, upright steps of that surface
    included. Edges up to 0.2 mm long are left out, and so are slivers under 0.05 mm wide (parting faces that
    are not upright: in plan), whose slope is rounding. Where a side piece begins, see `side_seam_angle`.
    """
    if len(assembly.pieces) < 2:
        return None
    limit_deg = value("practice", "edge_angle_flag_deg").value
    least_deg, where, at = 180.0, "no seam edge is long enough to measure", None
    sharp_mm = 0.0
    aside = [p for p in assembly.pieces if abs(p.pull[2]) < 1.0]
    for piece in assembly.pieces:
        edges = _edges_of(piece.solid)
        angle_deg, middle_mm = edges.angle_deg, edges.middle_mm
        if aside:  # the upright faces of its interface are no steps
            told_deg = max(limit_deg, angle_deg[~edges.upright].min(initial=180.0))
            sharper = edges.upright & (angle_deg < told_deg)
            own = ~edges.upright
            if piece not in aside and sharper.any():
                rows = np.flatnonzero(sharper)
                own[rows] = _off(middle_mm[rows], aside) > MEETS_MM
            angle_deg = np.where(own, angle_deg, 180.0)
        sharp_mm += float(edges.length_mm[angle_deg < limit_deg].sum())
        if len(angle_deg) and float(angle_deg.min()) < least_deg:
            k = int(np.argmin(angle_deg))
            least_deg, at = float(angle_deg[k]), place_of(middle_mm[k])
            where = f"piece {piece.id}, {in_words(at, assembly)}"
    ok = least_deg >= limit_deg
    if not ok:
        where = f"{where}; {_told(sharp_mm)} of the seam in all are under {limit_deg:g} degrees"
    return Check(
        id="seam_angle",
        ok=ok,
        measured=least_deg,
        limit=limit_deg,
        unit="deg",
        sense="least",
        where=where,
        how="angle inside the plaster between cavity and parting surface, upright steps included, at every "
        "seam edge over 0.2 mm",
        remedy="" if ok else "Lead the seam elsewhere, or round this edge of the plaster with a sponge.",
        at_mm=at,
    )


@dataclass(frozen=True, slots=True)
class InnerCorner:
    """Where the seam runs along inner corners of the object: `length_mm` in all, and at the sharpest plaster
    there `plaster_deg` its angle, `object_deg` the object's own, and `at_mm` the place.
    """

    length_mm: float
    plaster_deg: float
    object_deg: float
    at_mm: Place


def seam_in_corner(assembly: Assembly) -> InnerCorner | None:
    """Where the seam of a mold of two pieces runs along inner corners of the object; None where nowhere.

    At such an edge both pieces together have less than half a turn of plaster, so one of them has less than a
    right angle. Source of what is too flat or too short to be told: materials/practice (inner_corner_told).
    Measured on the edges that `seam_angle` looks at.
    """
    if len(assembly.pieces) != 2:
        return None
    found: list[dict[tuple[int, ...], tuple[float, float, Place]]] = []
    for piece in assembly.pieces:
        edges = _edges_of(piece.solid)
        spots = np.rint(2.0 * edges.middle_mm * np.array([XY_PER_MM, XY_PER_MM, Z_PER_MM])).astype(np.int64)
        angles, lengths = edges.angle_deg.tolist(), edges.length_mm.tolist()
        rows = zip(spots.tolist(), angles, lengths, edges.middle_mm, strict=True)
        found.append({tuple(spot): (deg, mm, place_of(at)) for spot, deg, mm, at in rows})
    told_deg, told_mm = (value("practice", f"inner_corner_told_{unit}").value for unit in ("deg", "mm"))
    inner = [
        (min(deg, found[1][spot][0]), 360.0 - deg - found[1][spot][0], mm, at)
        for spot, (deg, mm, at) in found[0].items()
        if spot in found[1] and deg + found[1][spot][0] < 180.0 - told_deg
    ]
    if sum(edge[2] for edge in inner) < told_mm:
        return None
    plaster_deg, object_deg, _, at = min(inner, key=lambda edge: edge[0])
    return InnerCorner(sum(edge[2] for edge in inner), plaster_deg, object_deg, at)


def side_seam_angle(assembly: Assembly) -> Check | None:
    """The check that plaster where side pieces begin is not sharper than it bears, on them and on what they
    meet there; None for a mold without side pieces.

    Measured as in `seam_angle`, upright faces of the interfaces included. Source: materials/practice
    (edge_angle_flag_deg).
    """
    aside = [p for p in assembly.pieces if abs(p.pull[2]) < 1.0]
    if not aside:
        return None
    limit_deg = value("practice", "edge_angle_flag_deg").value
    least_deg, where, at = 180.0, "no seam edge is long enough to measure", None
    sharp_mm = 0.0
    for piece in [*aside, *(p for p in assembly.pieces if p not in aside)]:
        edges = _edges_of(piece.solid, LEAN)
        angle_deg, middle_mm = edges.angle_deg, edges.middle_mm
        rows = np.arange(len(angle_deg))
        if piece not in aside:
            # Of main pieces what lies at a side piece counts, and of that what is sharper than all before.
            rows = np.flatnonzero(angle_deg < max(limit_deg, least_deg))
            if len(rows):
                rows = rows[_off(middle_mm[rows], aside) <= MEETS_MM]
        sharp_mm += float(edges.length_mm[rows][angle_deg[rows] < limit_deg].sum())
        if len(rows) and float(angle_deg[rows].min()) < least_deg:
            k = int(rows[np.argmin(angle_deg[rows])])
            least_deg, at = float(angle_deg[k]), place_of(middle_mm[k])
            where = f"piece {piece.id}, {in_words(at, assembly)}"
    ok = least_deg >= limit_deg
    if not ok:
        where = (
            f"{where}; {_told(sharp_mm)} of the seams of side pieces in all are under {limit_deg:g} degrees"
        )
    return Check(
        id="side_seam_angle",
        ok=ok,
        measured=least_deg,
        limit=limit_deg,
        unit="deg",
        sense="least",
        where=where,
        how="angle inside the plaster between cavity and interface, at every edge over 0.2 mm where a side "
        "piece begins",
        remedy=""
        if ok
        else "Round these edges with a damp sponge before they chip (the cast shows the line), free another "
        "place for that seam, or take another main axis.",
        at_mm=at,
    )


def _told(length_mm: float) -> str:
    """A length of seam in words: what is short is not told as none."""
    return f"{length_mm:.0f} mm" if length_mm >= 1.0 else f"{length_mm:.1f} mm"


def _off(spots_mm: Floats, pieces: Sequence[Piece]) -> Floats:
    """How far spots (n, 3) mm are from the nearest of some pieces, (n,) mm."""
    off: Floats = np.min([distances_mm(spots_mm, p.solid.mesh(BLOCK_FRAME)) for p in pieces], axis=0)
    return off


def _edges_of(solid: LatticeSolid, lean: float = 0.0) -> _Edges:
    """The edges of a solid, measured once."""
    known = _EDGES.setdefault(solid, {})
    if lean not in known:
        known[lean] = _seam_edges(solid, lean)
    return known[lean]


def _seam_edges(solid: LatticeSolid, lean: float) -> _Edges:
    """The edges where cavity meets joint; upright is what leans by no more than a slope of `lean`."""
    cavity, joint = (named(solid.origin, names) for names in (CAVITY, JOINT))
    n = len(solid.points)
    # Only faces with two corners on both can have an edge in common with the other.
    both = touched(solid, cavity) & touched(solid, joint)
    near = marked_corners(solid.faces, both) >= 2
    one, two = (np.flatnonzero(flag & near) for flag in (cavity, joint))
    faces = solid.faces.astype(np.int64)
    a, b = faces[one].T.reshape(-1), np.roll(faces[one], -1, axis=1).T.reshape(-1)
    c, d = faces[two].T.reshape(-1), np.roll(faces[two], -1, axis=1).T.reshape(-1)
    key, mate = a * n + b, d * n + c
    order = np.argsort(mate)
    at = np.searchsorted(mate[order], key)
    at[at == len(mate)] = 0
    hit = np.flatnonzero(mate[order][at] == key) if len(mate) else np.zeros(0, np.int64)
    own, other = np.tile(one, 3)[hit], np.tile(two, 3)[order[at[hit]]]
    p, q = (lattice_mm(solid.points[ends[hit]]) for ends in (a, b))
    inner, outer = (lattice_mm(solid.points[faces[which]]) for which in (own, other))
    long_enough = np.linalg.norm(q - p, axis=1) > SHORT_EDGE_MM
    normal = _normals(outer)
    plumb = np.abs(normal[:, 2]) <= lean * np.linalg.norm(normal, axis=1)
    slope_known = _width_mm(outer * np.array([1.0, 1.0, 0.0])) >= NARROW_FACE_MM
    wide = slope_known | (plumb & (_width_mm(outer) >= NARROW_FACE_MM))
    wide &= _width_mm(inner) >= NARROW_FACE_MM
    use = long_enough & wide
    p, q, inner, outer = p[use], q[use], inner[use], outer[use]
    u, v = _normals(inner), _normals(outer)
    length_mm: Floats = np.linalg.norm(q - p, axis=1)
    along = (q - p) / length_mm[:, None]
    bend = np.arctan2(np.einsum("ij,ij->i", np.cross(u, v), along), np.einsum("ij,ij->i", u, v))
    return _Edges(180.0 - np.degrees(bend), (p + q) / 2.0, length_mm, ~slope_known[use])


def _normals(corner: Floats) -> Floats:
    cross: Floats = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    return cross


def _width_mm(corner: Floats) -> Floats:
    """Least height of triangles (m, 3, 3), mm."""
    double = np.linalg.norm(_normals(corner), axis=1)
    longest = np.linalg.norm(corner - np.roll(corner, -1, axis=1), axis=2).max(axis=1)
    width: Floats = double / np.maximum(longest, 1e-9)
    return width
