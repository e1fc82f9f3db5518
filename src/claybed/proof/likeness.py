"""Whether the model still is the object: its surface against the object's own, and that against it."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.closest import lying_on, nearest_within
from claybed.geometry.folds import FOLDED_SHARE, folded
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.geometry.nearness import largest_distance_mm, surrounded
from claybed.geometry.spotting import spread_spots
from claybed.materials import shelf
from claybed.proof.faces import named, touched
from claybed.proof.places import in_words, place_of
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.finding import Check

# Half a lattice step, the spread allowed to an upright wall, and the settling of heights. Corners move by no
# more than that, so a face that keeps its corners does not either, and one that is cut gets its new corners
# on its own plane.
LIMIT_MM = 0.006
# Spots on faces lie no further apart than this, as long as there are not too many.
APART_MM = 1.0
MOST_SPOTS = 50_000
Faces = NDArray[np.int32]
Flags = NDArray[np.bool_]
OWN = (Origin.OBJECT, Origin.MOUTH, Origin.MEND)


def model_true(assembly: Assembly, obj_mesh: Mesh) -> Check:
    """The check that the model's own surface (fill and gate left out) lies on the object, and that no part of
    the object stands out of the model.

    `obj_mesh` in the frame "object". All corners of the model are asked. A face that lies on one face of the
    other surface does so all over; on every other its middle is asked, the middles of its edges, and spots a
    millimetre apart. Where two faces are cut along the other diagonal, half of how far that strays or more is
    seen. What of the object lies under fill, gate or mouth is within the model, and may. Between the corners
    of a mold with side pieces as much fill may be left as locks nothing (lock_ignore_mm). Raises ValueError
    for a mesh of another frame.
    """
    if obj_mesh.frame != "object":
        raise ValueError(f'the object must be in the frame "object", got "{obj_mesh.frame}"')
    model = assembly.model
    own = named(model.origin, OWN)
    points = lattice_mm(model.points)
    placed = obj_mesh.moved(assembly.to_block, assembly.shift_mm, frame=BLOCK_FRAME)
    corners = points[touched(model, own)]
    spots = spread_spots(points, _doubtful(points, model.faces[own], placed.corners_mm), APART_MM, MOST_SPOTS)
    strays = spots[_lost(spots, placed.corners_mm)]
    whole = model.mesh(BLOCK_FRAME)
    # A hump's object fills the vessel: its lid spans the opening, where the bed has no surface.
    skin = placed.faces[placed.origin != int(Origin.MOUTH)] if assembly.hump else placed.faces
    missed = _left_out(placed.vertices_mm, skin, whole)
    # What side pieces freed was filled before; a hair of that fill may be left, where nothing locks.
    side_mm = LIMIT_MM
    if len(assembly.pieces) > 2:
        side_mm = max(LIMIT_MM, shelf.value("practice", "lock_ignore_mm").value)
    asked: tuple[tuple[Floats, Mesh, float, str], ...] = (
        (corners, placed, LIMIT_MM, "the model strays from the object"),
        (strays, placed, side_mm, "the model strays from the object"),
        (missed, whole, LIMIT_MM, "the object stands out of the model"),
    )
    found = [(*largest_distance_mm(row[0], row[1]), row[0], *row[2:]) for row in asked]
    off_mm, worst, where, limit_mm, fault = max(found, key=lambda row: row[0] / row[3])
    at = None if worst < 0 else place_of(where[worst])
    ok = off_mm <= limit_mm and worst >= 0
    told = "the model has no face of the object" if at is None else in_words(at, assembly)
    return Check(
        id="model_true",
        ok=ok,
        measured=off_mm,
        limit=limit_mm,
        unit="mm",
        sense="most",
        where=told if ok or at is None else f"{fault}, {told}",
        how="corners of the model, and both surfaces each against the other: faces that lie on one of the "
        f"other all over, and of the rest middles, edges and spots {APART_MM:g} mm apart",
        remedy="" if ok else _remedy(obj_mesh),
        at_mm=at,
    )


def _doubtful(points_mm: Floats, faces: Faces, others: Floats) -> Faces:
    """Those faces (k, 3) of some (m, 3) that do not lie all over on one of `others` (n, 3, 3) mm."""
    return faces[~lying_on(points_mm[faces], others, LIMIT_MM)] if len(others) else faces


def _left_out(points: Floats, skin: Faces, model: Mesh) -> Floats:
    """Spots (k, 3) mm of an object, points (n, 3) mm, faces (m, 3), that lie off the model, outside it."""
    faces = _doubtful(points, skin, model.corners_mm)
    # What lies well within the model with its corners and its middle is covered; there is much of it.
    used, own = np.unique(faces, return_inverse=True)
    covered = _covered(np.concatenate([points[used], points[faces].mean(axis=1)]), model)
    bare = ~(covered[own.reshape(-1, 3)].all(axis=1) & covered[len(used) :])
    spots = spread_spots(points, faces[bare], APART_MM, MOST_SPOTS)
    off = spots[_lost(spots, model.corners_mm)]
    return off[~surrounded(off, model)]


def _covered(spots: Floats, model: Mesh) -> Flags:
    """Which spots (k, 3) mm lie within a model, off its surface."""
    covered = _lost(spots, model.corners_mm)
    covered[covered] = surrounded(spots[covered], model)
    return covered


def _lost(spots: Floats, others: Floats) -> Flags:
    """Which spots (k, 3) mm lie on none of some triangles (n, 3, 3) mm."""
    if not len(spots) or not len(others):
        return np.ones(len(spots), bool)
    return nearest_within(spots, others, LIMIT_MM)[0] < 0


def _remedy(obj_mesh: Mesh) -> str:
    """What to do about a model that is not the object (frame "object")."""
    volume_mm3, place_mm = folded(obj_mesh)
    if volume_mm3 <= FOLDED_SHARE * obj_mesh.volume_mm3:
        return "Plan again from the same file; do not pour from this plan."
    place = ", ".join(f"{v:.0f}" for v in place_mm)
    return (
        f"The surface of the file crosses itself, most near {place} mm: make one plain closed surface of it "
        "in a mesh program, and plan that."
    )
