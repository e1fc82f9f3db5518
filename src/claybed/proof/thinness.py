"""Whether side pieces leave plaster that is thin over a wide place: a plate, in them or beside them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.geometry.nearness import distances_mm
from claybed.geometry.plates import Plate, thinnest_plate
from claybed.geometry.slab import LatticeSolid
from claybed.materials.shelf import value
from claybed.proof.closings import side_pieces
from claybed.proof.faces import JOINT, MEETS_MM, Flags, named
from claybed.proof.places import in_words
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.finding import Check

OUTER = (*JOINT, Origin.OUTSIDE)


def plates(pieces: Mapping[str, LatticeSolid], assembly: Assembly) -> list[Check]:
    """The check that no plate of plaster is thinner than plaster bears, in side pieces or in main ones
    beside them; empty for a mold without side pieces.

    Of a plate of a side piece one face is joint or outside, of a main piece one face meets a side piece. What
    stands between faces of the cavity is the object's own shape, and judged as a tongue.
    Source: materials/practice (plate_least_mm, tongue_slender_ratio).
    """
    sides = side_pieces(assembly)
    if not sides:
        return []
    limit_mm = value("practice", "plate_least_mm").value
    slender = value("practice", "tongue_slender_ratio").value
    meshes = {letter: solid.mesh(BLOCK_FRAME) for letter, solid in pieces.items()}
    found: dict[str, Plate] = {}
    for piece in assembly.pieces:
        mesh = meshes[piece.id]
        if piece not in sides:
            ends = _meeting(mesh, [meshes[p.id] for p in sides])
        else:
            ends = named(mesh.origin, OUTER)
        if ends.any():
            found[piece.id] = thinnest_plate(
                mesh, ends, _axes(piece.pull), 2.0 * limit_mm, slender_ratio=slender
            )
    letter, least = min(found.items(), key=lambda item: item[1].thick_mm)
    where = f"no plate under {2.0 * limit_mm:g} mm"
    if least.at_mm is not None:
        where = f"piece {letter}, {least.wide_mm:.0f} mm across, {in_words(least.at_mm, assembly)}"
    ok = least.thick_mm >= limit_mm
    return [
        Check(
            id="plates",
            ok=ok,
            measured=least.thick_mm,
            limit=limit_mm,
            unit="mm",
            sense="least",
            where=where,
            how="lines along each pull and across it, in side pieces and in what meets them, over places "
            f"{slender:g} times as wide as thick",
            remedy="" if ok else "Ask for a larger wall, or for another number of pieces with --pieces.",
            at_mm=least.at_mm,
        )
    ]


def _axes(pull: Sequence[float]) -> list[Sequence[float]]:
    """A pull and the axes of the block that run across it."""
    across: list[Sequence[float]] = [
        row.tolist() for row in np.eye(3) if abs(float(row @ np.array(pull))) < 0.9
    ]
    return [pull, *across]


def _meeting(mesh: Mesh, sides: Sequence[Mesh]) -> Flags:
    """Which faces (m,) of a main piece meet a side piece."""
    ends = named(mesh.origin, JOINT)
    middle = mesh.corners_mm[ends].mean(axis=1)
    near = np.zeros(len(middle), bool)
    for side in sides:
        joint = Mesh.make(side.vertices_mm, side.faces[named(side.origin, JOINT)], frame=side.frame)
        if not len(joint.faces):
            continue
        corner = joint.corners_mm.reshape(-1, 3)
        low, high = corner.min(axis=0) - MEETS_MM, corner.max(axis=0) + MEETS_MM
        # Most faces of a joint are cut alike in both pieces. Of the others only what lies in the joint's own
        # box can meet it.
        near |= _alike(mesh.corners_mm[ends], joint.corners_mm)
        asked = np.flatnonzero(((middle >= low) & (middle <= high)).all(axis=1) & ~near)
        near[asked] = distances_mm(middle[asked], joint) <= MEETS_MM
    ends[ends] = near
    return ends


def _alike(faces_mm: Floats, others_mm: Floats) -> Flags:
    """Which faces (m, 3, 3) have the same three corners as one of the others (k, 3, 3), in whatever order."""
    steps = np.rint(np.concatenate([others_mm, faces_mm]).reshape(-1, 3) * (XY_PER_MM, XY_PER_MM, Z_PER_MM))
    steps -= steps.min(axis=0)
    span = steps.max(axis=0).astype(np.int64) + 1
    x, y, z = steps.astype(np.int64).T
    _, number = np.unique((x * span[1] + y) * span[2] + z, return_inverse=True)
    named = np.sort(number.reshape(-1, 3), axis=1)
    most = int(number.max()) + 1
    code = (named[:, 0] * most + named[:, 1]) * most + named[:, 2]
    same: Flags = np.isin(code[len(others_mm) :], code[: len(others_mm)])
    return same
