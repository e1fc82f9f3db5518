"""What comes loose of main pieces when a side piece is cut, and cut solids back on the lattice."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from claybed.geometry.carving import Solid, Workbench, moved
from claybed.geometry.halfedges import bodies_of, match_sides
from claybed.geometry.lattice import pull_rotation
from claybed.geometry.mesh import Origin
from claybed.geometry.nearby import Near, Shaft, StitchError, stitched
from claybed.geometry.shadows import shadow
from claybed.geometry.slab import LatticeSolid
from claybed.mold.side_faces import Interface

Vector = tuple[float, float, float]
# Faces smaller than this in plan are rounding; shadows reach a little beyond them.
FACE_MM2 = 1e-5
MOST_FACES = 4000
SHADOW_MM = 0.003
# Ceilings smaller or narrower than this in plan are rounding; shadows reach a little beyond them.
CEILING_MM2 = 1e-5
CEILING_MM = 0.006
MOST_CEILINGS = 4000
JOINT = (int(Origin.PARTING), int(Origin.KEY), int(Origin.OUTSIDE))


def settled(bench: Workbench, part: Near | None, solid: Solid) -> tuple[LatticeSolid, bool]:
    """A cut solid on the lattice, and whether it is one body that is closed and touches itself nowhere.

    Where rounding makes it touch itself, the edge is opened by a lattice step. `part` is what was cut, None
    for a solid that is new. Raises StitchError as `geometry.nearby.stitched` does.
    """
    for heal in (False, True):
        try:
            made = stitched(bench, part, solid, heal=heal) if part else bench.on_lattice(solid, heal=heal)
        except StitchError:
            if heal:
                raise
            continue
        sides = match_sides(made.faces, len(made.points))
        if not len(sides.lone) and not len(sides.twice):
            return made, bodies_of(sides.mate)[1] == 1
    return made, False


def lies_within(place: Shaft, level_mm: float, shafts: Sequence[Shaft]) -> bool:
    """Whether a place lies wholly over a level or in one of some shafts, all along one pull."""
    return place.floor_mm > level_mm or any(
        place.floor_mm > shaft.floor_mm
        and all(shaft.low_mm[k] < place.low_mm[k] and place.high_mm[k] < shaft.high_mm[k] for k in (0, 1))
        for shaft in shafts
    )


def below(bench: Workbench, crumb: Solid, pull: Vector, main: Solid | None) -> Solid:
    """What of a main piece a crumb would hold back once it belongs to the model: all that is below it along
    the pull, mostly nothing.

    Raises StitchError when there could be something and the whole `main` is not given.
    """
    rotation = pull_rotation(pull)
    points, faces, _ = bench.faces_of(moved(crumb, rotation))
    corner = points[faces]
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    under = corner[across[:, 2] < -FACE_MM2][:MOST_FACES]
    if not len(under):
        return Solid()
    if main is None:
        raise StitchError("what a cut leaves loose holds what was left out")
    low_mm = float(moved(main, rotation).bounding_box()[2])
    under = under[under[:, :, 2].max(axis=1) > low_mm]
    if not len(under):
        return Solid()
    floor_mm = min(low_mm, float(under[:, :, 2].min())) - 1.0
    return main ^ moved(bench.marked(shadow(under, floor_mm, SHADOW_MM), Origin.FILL), rotation.T)


def let_go(bench: Workbench, side: Solid, face: Interface) -> tuple[Solid, Solid]:
    """A side piece without what lies under its own ceilings, where the object would hold it, and that."""
    points, faces, origin = bench.faces_of(side)
    corner = (points @ face.rotation.T)[faces]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    longest = np.linalg.norm((corner - np.roll(corner, 1, axis=1))[:, :, :2], axis=2).max(axis=1)
    wide = normal[:, 2] > np.maximum(CEILING_MM2, CEILING_MM * longest)
    ceiling = ~np.isin(origin, JOINT) & wide
    if not ceiling.any() or int(ceiling.sum()) > MOST_CEILINGS:
        return side, Solid()
    under = shadow(corner[ceiling], float(corner[:, :, 2].min()) - 1.0, SHADOW_MM)
    held, leaves = side.split(moved(bench.marked(under, Origin.FILL), face.rotation.T))
    return leaves, held
