"""Whether the plaster holds: wall around the cavity, slender tongues, sharp edges, weight in the hands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.flagged import corners_of, marked_corners
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, Lattice, lattice_mm, pull_rotation
from claybed.geometry.mesh import Bytes, Floats, Origin
from claybed.geometry.nearness import distances_mm
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.slanting import upright_copy
from claybed.geometry.tongues import Tongue, narrowest_tongue
from claybed.materials.shelf import entries, value
from claybed.proof.places import Place, in_words
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.finding import Check

CAVITY = (Origin.OBJECT, Origin.MOUTH, Origin.MEND, Origin.FILL, Origin.GATE)
WALLED = (Origin.OBJECT, Origin.MEND, Origin.FILL)
JOINT = (Origin.PARTING, Origin.KEY)
# The wall is asked for in whole hundredths; the lattice may take that much.
WALL_GRACE_MM = 0.01
# A solid never changes, so what was measured on it holds as long as it lives.
_MEASURED: WeakKeyDictionary[LatticeSolid, dict[Place, Tongue]] = WeakKeyDictionary()
_EDGES: WeakKeyDictionary[LatticeSolid, tuple[Floats, Floats, Floats]] = WeakKeyDictionary()
SHORT_EDGE_MM = 0.2
NARROW_FACE_MM = 0.05
# An upright interface leans by no more than the lattice rounds it; what lies nearer to it meets it.
LEAN = 0.02
MEETS_MM = 0.02


def wall(assembly: Assembly) -> Check:
    """The check that the cavity nowhere comes nearer to the outside of the block than the wall asked for.

    Mouth and gate do not count, corners of the gate included, nor the outer face in which a mold of one
    piece is open.
    """
    model = assembly.model
    outer = _outer_planes(assembly)
    walled = _named(model.origin, WALLED)
    walled_points = np.flatnonzero(_touched(model, walled))
    off = _distances(model.points[walled_points], outer)
    for row in off:
        if (row == 0.0).any():
            # A face that lies in an outer plane is the block's outside, not cavity.
            in_plane = np.zeros(len(model.points), bool)
            in_plane[walled_points[row == 0.0]] = True
            walled &= marked_corners(model.faces, in_plane) < 3
    # Walls that close the gate at the seam carry the model's origin; their corners are the gate's.
    corner = _touched(model, walled) & ~_touched(model, model.origin == Origin.GATE)
    corners = walled_points[corner[walled_points]]
    limit_mm = assembly.wall_mm - WALL_GRACE_MM
    how = "least distance from the cavity's corners to the outer planes of the block"
    if not len(corners):
        return Check("wall", False, 0.0, limit_mm, "mm", "least", "there is no cavity", how, "Plan again.")
    opens = _open_plane(assembly, outer)
    gap = off[:, corner[walled_points]] / np.array([plane[3] for plane in outer])[:, None]
    least = [(float(row.min()), int(np.argmin(row)), k) for k, row in enumerate(gap) if k != opens]
    least_mm, nearest, side = min(least)
    at = _place(lattice_mm(model.points[corners[nearest]][None])[0])
    return Check(
        id="wall",
        ok=least_mm >= limit_mm,
        measured=least_mm,
        limit=limit_mm,
        unit="mm",
        sense="least",
        where=f"towards the {outer[side][2]}, {in_words(at, assembly)}",
        how=how,
        remedy="" if least_mm >= limit_mm else "Make the block larger on this side.",
        at_mm=at,
    )


def tongue(pieces: Mapping[str, LatticeSolid], assembly: Assembly) -> Check:
    """The check that no slender tongue of plaster is thinner than plaster bears."""
    shelf = entries("practice")
    limit_mm = shelf["tongue_strength_least_mm"].value
    found = {p.id: _tongue_of(pieces[p.id], p.pull) for p in assembly.pieces}
    letter, least = min(found.items(), key=lambda item: item[1].width_mm)
    where = f"no slender tongue up to {least.sought_mm:g} mm wide"
    if least.at_mm is not None:
        where = f"piece {letter}, {least.height_mm:.0f} mm tall, {in_words(least.at_mm, assembly)}"
    ok = least.width_mm >= limit_mm
    return Check(
        id="tongue",
        ok=ok,
        measured=least.width_mm,
        limit=limit_mm,
        unit="mm",
        sense="least",
        where=where,
        how="flat disks rolled over each face on a raster; "
        f"{shelf['tongue_slender_ratio'].value:g} times as tall as wide is slender; widths from "
        f"{least.resolved_mm:.2g} mm",
        remedy="" if ok else "Fill this slot of the object with oil clay, or choose another axis.",
        at_mm=least.at_mm,
    )


def _tongue_of(solid: LatticeSolid, pull: Place) -> Tongue:
    """The narrowest tongue of a piece; measured once, though it is asked for when a mold is chosen and again
    when it is proved.
    """
    known = _MEASURED.setdefault(solid, {})
    if pull not in known:
        slender = entries("practice")["tongue_slender_ratio"].value
        if abs(pull[2]) == 1.0:
            known[pull] = narrowest_tongue(solid, pull, slender_ratio=slender)
        else:
            found = narrowest_tongue(upright_copy(solid, pull), (0.0, 0.0, 1.0), slender_ratio=slender)
            if found.at_mm is not None:
                found = replace(found, at_mm=_place(np.array(found.at_mm) @ pull_rotation(pull)))
            known[pull] = found
    return known[pull]


def seam_angle(assembly: Assembly) -> Check | None:
    """The check that plaster at the seam is not sharper than it bears; None for a mold of one piece.

    The angle inside a piece between its cavity and its parting surface. Edges up to 0.2 mm long are left
    out, and so are slivers under 0.05 mm wide (parting faces: in plan), whose slope is rounding.
    """
    if len(assembly.pieces) < 2:
        return None
    limit_deg = value("practice", "edge_angle_flag_deg").value
    least_deg, where, at = 180.0, "no seam edge is long enough to measure", None
    sharp_mm = 0.0
    for piece in assembly.pieces:
        if piece.solid not in _EDGES:
            _EDGES[piece.solid] = _seam_edges(piece.solid)
        angle_deg, middle_mm, length_mm = _EDGES[piece.solid]
        sharp_mm += float(length_mm[angle_deg < limit_deg].sum())
        if len(angle_deg) and float(angle_deg.min()) < least_deg:
            k = int(np.argmin(angle_deg))
            least_deg, at = float(angle_deg[k]), _place(middle_mm[k])
            where = f"piece {piece.id}, {in_words(at, assembly)}"
    ok = least_deg >= limit_deg
    if not ok:
        where = f"{where}; {sharp_mm:.0f} mm of the seam in all are under {limit_deg:g} degrees"
    return Check(
        id="seam_angle",
        ok=ok,
        measured=least_deg,
        limit=limit_deg,
        unit="deg",
        sense="least",
        where=where,
        how="angle inside the plaster between cavity and parting surface, at every seam edge over 0.2 mm",
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
    Measured on the edges that `seam_angle` looks at, and on upright ones, where the seam changes its height
    at one place of the plan.
    """
    if len(assembly.pieces) != 2:
        return None
    found: list[dict[tuple[int, ...], tuple[float, float, Place]]] = []
    for piece in assembly.pieces:
        angle_deg, middle_mm, length_mm = _seam_edges(piece.solid, upright=True)
        spots = np.rint(2.0 * middle_mm * np.array([XY_PER_MM, XY_PER_MM, Z_PER_MM])).astype(np.int64)
        rows = zip(spots.tolist(), angle_deg.tolist(), length_mm.tolist(), middle_mm, strict=True)
        found.append({tuple(spot): (deg, mm, _place(at)) for spot, deg, mm, at in rows})
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


@dataclass(frozen=True, slots=True)
class SharpEdge:
    """Plaster that ends sharp: `angle_deg` at the sharpest, on piece `letter`, `at_mm`; `length_mm` of all
    that is too sharp.
    """

    angle_deg: float
    length_mm: float
    letter: str
    at_mm: Place


def sharp_beside(assembly: Assembly) -> SharpEdge | None:
    """The sharpest plaster edge where the interface of a side piece meets the cavity, when it is sharper than
    plaster bears; None when none is. Source: materials/practice (edge_angle_flag_deg).
    """
    limit_deg = value("practice", "edge_angle_flag_deg").value
    aside = [p for p in assembly.pieces if abs(p.pull[2]) < 1.0]
    sharp: SharpEdge | None = None
    total_mm = 0.0
    for piece in assembly.pieces if aside else ():
        angle_deg, middle_mm, length_mm = _seam_edges(piece.solid, upright=True, lean=LEAN)
        rows = np.flatnonzero(angle_deg < limit_deg)
        others = [p.solid.mesh(BLOCK_FRAME) for p in aside if p is not piece]
        if piece not in aside and len(rows):
            near = np.min([distances_mm(middle_mm[rows], mesh) for mesh in others], axis=0)
            rows = rows[near <= MEETS_MM]
        total_mm += float(length_mm[rows].sum())
        if len(rows) and (sharp is None or float(angle_deg[rows].min()) < sharp.angle_deg):
            k = int(rows[np.argmin(angle_deg[rows])])
            sharp = SharpEdge(float(angle_deg[k]), 0.0, piece.id, _place(middle_mm[k]))
    return None if sharp is None else replace(sharp, length_mm=total_mm)


def liftable(wet_kg: Mapping[str, float], lift_kg: float) -> Check:
    """The check that no piece is heavier wet (kg, by letter) than may be lifted.

    Raises ValueError when there is no piece.
    """
    if not wet_kg:
        raise ValueError("there is no piece to weigh")
    letter, most_kg = max(wet_kg.items(), key=lambda item: item[1])
    ok = most_kg <= lift_kg
    return Check(
        id="liftable",
        ok=ok,
        measured=most_kg,
        limit=lift_kg,
        unit="kg",
        sense="most",
        where=f"piece {letter}",
        how="volume times the density of set plaster full of water",
        remedy="" if ok else "Lift it with two, make the wall thinner, or mold it in more pieces.",
    )


def _outer_planes(assembly: Assembly) -> list[tuple[NDArray[np.float64], float, str, float]]:
    """Inward normal (3,), offset, name, and lattice units per mm of every outer plane of the block."""
    planes = [
        (np.array([0.0, 0.0, 1.0]), 0.0, "board", float(Z_PER_MM)),
        (np.array([0.0, 0.0, -1.0]), -float(assembly.height), "top", float(Z_PER_MM)),
    ]
    ring = assembly.footprint.astype(np.float64)
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        along = b - a
        inward = np.array([-along[1], along[0], 0.0])
        length = float(np.hypot(*along))
        name = "side" if assembly.shape == "round" else f"{_facing(-inward)} side"
        planes.append((inward, float(inward[:2] @ a), name, length * XY_PER_MM))
    return planes


def _distances(points: Lattice, outer: Sequence[tuple[NDArray[np.float64], float, str, float]]) -> Floats:
    """How far points (n, 3) lie inwards of each of k planes, (k, n), in the planes' own units; exact."""
    x, y, z = points.T.astype(np.float64)
    off = np.empty((len(outer), len(points)))
    for row, (normal, offset, _, _) in zip(off, outer, strict=True):
        row[:] = normal[0] * x + normal[1] * y + normal[2] * z - offset
    return off


def _facing(out: NDArray[np.float64]) -> str:
    if abs(out[0]) >= abs(out[1]):
        return "right" if out[0] > 0 else "left"
    return "back" if out[1] > 0 else "front"


def _open_plane(assembly: Assembly, outer: Sequence[tuple[NDArray[np.float64], float, str, float]]) -> int:
    """Number of the outer plane in which a mold with an open face is open; -1 when there is none."""
    if assembly.gate.kind != "face":
        return -1
    out = np.array(assembly.gate.out)
    return int(np.argmax([float(-normal @ out) / float(np.linalg.norm(normal)) for normal, *_ in outer]))


def _seam_edges(
    solid: LatticeSolid, *, upright: bool = False, lean: float = 0.0
) -> tuple[Floats, Floats, Floats]:
    """Plaster angles (k,) deg, middles (k, 3) mm, lengths (k,) mm of edges where cavity meets joint; with
    `upright` those of upright steps in the joint as well, which may `lean` by a slope.
    """
    cavity, joint = (_named(solid.origin, names) for names in (CAVITY, JOINT))
    n = len(solid.points)
    # Only faces with two corners on both can have an edge in common with the other.
    both = _touched(solid, cavity) & _touched(solid, joint)
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
    wide = _width_mm(outer * np.array([1.0, 1.0, 0.0])) >= NARROW_FACE_MM
    if upright:
        normal = _normals(outer)
        plumb = np.abs(normal[:, 2]) <= lean * np.linalg.norm(normal, axis=1)
        wide |= plumb & (_width_mm(outer) >= NARROW_FACE_MM)
    wide &= _width_mm(inner) >= NARROW_FACE_MM
    use = long_enough & wide
    p, q, inner, outer = p[use], q[use], inner[use], outer[use]
    u, v = _normals(inner), _normals(outer)
    length_mm: Floats = np.linalg.norm(q - p, axis=1)
    along = (q - p) / length_mm[:, None]
    bend = np.arctan2(np.einsum("ij,ij->i", np.cross(u, v), along), np.einsum("ij,ij->i", u, v))
    return 180.0 - np.degrees(bend), (p + q) / 2.0, length_mm


def _named(origin: Bytes, names: Sequence[Origin]) -> NDArray[np.bool_]:
    """Which faces (m,) have one of some origins."""
    known = np.zeros(256, bool)
    known[[int(name) for name in names]] = True
    return known[origin]


def _touched(solid: LatticeSolid, which: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Which points (n,) are corners of some of the faces."""
    return corners_of(solid.faces, which, len(solid.points))


def _normals(corner: Floats) -> Floats:
    cross: Floats = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    return cross


def _width_mm(corner: Floats) -> Floats:
    """Least height of triangles (m, 3, 3), mm."""
    double = np.linalg.norm(_normals(corner), axis=1)
    longest = np.linalg.norm(corner - np.roll(corner, -1, axis=1), axis=2).max(axis=1)
    width: Floats = double / np.maximum(longest, 1e-9)
    return width


def _place(point_mm: Floats) -> Place:
    return float(point_mm[0]), float(point_mm[1]), float(point_mm[2])
