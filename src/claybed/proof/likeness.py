"""Whether the model still is the object: its corners against the object's own surface."""

from __future__ import annotations

import numpy as np

from claybed.geometry.folds import FOLDED_SHARE, folded
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.mesh import Mesh, Origin
from claybed.geometry.nearness import largest_distance_mm
from claybed.proof.faces import named, touched
from claybed.proof.places import in_words, place_of
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.finding import Check

# Half a lattice step, the spread allowed to an upright wall, and the settling of heights.
LIMIT_MM = 0.006
MOST_CORNERS = 60_000
OWN = (Origin.OBJECT, Origin.MOUTH, Origin.MEND)


def model_true(assembly: Assembly, obj_mesh: Mesh) -> Check:
    """The check that the model's own corners (fill and gate left out) lie on the object.

    `obj_mesh` in the frame "object"; at most 60 000 corners are looked at, evenly spread. Raises ValueError
    for a mesh of another frame.
    """
    if obj_mesh.frame != "object":
        raise ValueError(f'the object must be in the frame "object", got "{obj_mesh.frame}"')
    model = assembly.model
    corners = np.flatnonzero(touched(model, named(model.origin, OWN)))
    step = -(-len(corners) // MOST_CORNERS) if len(corners) else 1
    looked = lattice_mm(model.points[corners[::step]])
    placed = obj_mesh.moved(assembly.to_block, assembly.shift_mm, frame=BLOCK_FRAME)
    off_mm, worst = largest_distance_mm(looked, placed)
    at = None if worst < 0 else place_of(looked[worst])
    ok = off_mm <= LIMIT_MM and worst >= 0
    return Check(
        id="model_true",
        ok=ok,
        measured=off_mm,
        limit=LIMIT_MM,
        unit="mm",
        sense="most",
        where="the model has no face of the object" if at is None else in_words(at, assembly),
        how=f"distance of {len(looked)} corners of the model from the object's surface",
        remedy="" if ok else _remedy(obj_mesh),
        at_mm=at,
    )


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
