"""What comes loose of main pieces when a side piece is cut, and cut solids back on the lattice."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.carving import Solid, Workbench, moved
from claybed.geometry.closest import nearest_within
from claybed.geometry.halfedges import bodies_of, in_use, match_sides
from claybed.geometry.lattice import UNITS_PER_MM, LatticeMesh, lattice_mm, pull_rotation
from claybed.geometry.mesh import Floats, Origin
from claybed.geometry.nearby import STUB, Near, Shaft, StitchError, stitched
from claybed.geometry.shadows import shadow
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.slanting import faces_under
from claybed.mold.side_faces import Interface

Vector = tuple[float, float, float]
# What reaches less than this under a crumb is rounding: half of what releases against cut faces are held to.
# Shadows reach a little beyond their faces.
HELD_MM = 0.005
SHADOW_MM = 0.003
# What comes loose in a cut and is less than this share of its solid is rounding. All volumes of a mold are
# held to a millionth of the block.
SPECK_SHARE = 1e-6
# Ceilings smaller or narrower than this in plan, two steps of the lattice, are rounding: of a wall that leans
# over, each face may be much narrower than all of it. Shadows reach a little beyond them.
CEILING_MM2 = 1e-5
NARROW_MM = 0.002
CEILING_MM = 0.006
# With more of them nothing is let go of: whether the object holds the piece, its release then tells.
MOST_CEILINGS = 4000
# A side piece with more loose parts than this, of a cubic millimetre or more, has been cut to crumbs.
MOST_LOOSE = 4
LOOSE_MM3 = 1.0
# Of what came loose this is a flake, twice its volume over its surface: too thin to be grown by a hair. One
# that is nowhere longer than a speck is let go. Corners and faces this near to a solid's surface lie on it.
FLAKE_MM = 0.005
SPECK_MM = 0.02
TOUCH_MM = 0.001
JOINT = (int(Origin.PARTING), int(Origin.KEY), int(Origin.OUTSIDE))


class CrumbledError(ArithmeticError):
    """Side pieces cut one another to crumbs, which a move by a hair does not mend."""


def whole_of(bench: Workbench, solid: Solid, name: str) -> tuple[Solid, list[Solid]]:
    """The largest part of a side piece, and the others. Raises ArithmeticError when there is none, and
    CrumbledError when there are too many: cuts of what touches itself in so many places come to no end.
    """
    parts = bench.parts(solid)
    if not parts:
        raise ArithmeticError(f"side pieces leave nothing of {name}")
    if sum(part.volume_mm3 > LOOSE_MM3 for part in parts[1:]) > MOST_LOOSE:
        raise CrumbledError("the side pieces cut one another to crumbs")
    return parts[0].solid, [part.solid for part in parts[1:]]


def settled(bench: Workbench, part: Near | None, solid: Solid) -> tuple[LatticeSolid, bool]:
    """A cut solid on the lattice, and whether it is one body that is closed and touches itself nowhere.

    Where rounding makes it touch itself, the edge is opened by a lattice step. `part` is what was cut, None
    for a solid that is new. Raises ArithmeticError where rounding leaves nothing of it, and StitchError as
    `geometry.nearby.stitched` does.
    """
    for heal in (False, True):
        try:
            made = stitched(bench, part, solid, heal=heal) if part else bench.on_lattice(solid, heal=heal)
        except StitchError:
            if heal:
                raise
            continue
        if not len(made.faces):
            raise ArithmeticError("a cut solid is thinner than the lattice can hold")
        sides = match_sides(made.faces, len(made.points))
        if not len(sides.lone) and not len(sides.twice):
            return _without_specks(made, sides.mate)
    return made, False


def _without_specks(solid: LatticeSolid, mate: NDArray[np.int32]) -> tuple[LatticeSolid, bool]:
    """A closed solid without bodies and hollows that are a speck beside it, and whether it is one body then;
    `mate` as `match_sides` gives it.
    """
    label, count = bodies_of(mate)
    if count == 1:
        return solid, True
    corner = lattice_mm(solid.points)[solid.faces]
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    volume = np.abs(np.bincount(label, np.einsum("ij,ij->i", corner[:, 0], across) / 6.0, count))
    kept = volume > SPECK_SHARE * volume.max()
    keep = kept[label]
    live, faces = in_use(solid.faces[keep], len(solid.points))
    return LatticeSolid(solid.points[live], faces, solid.origin[keep]), int(kept.sum()) == 1


def on_model(bench: Workbench, crumb: Solid) -> bool:
    """Whether a crumb lies against the object or its gate, not between pieces alone."""
    return not np.isin(bench.faces_of(crumb)[2], (*JOINT, int(Origin.FILL))).all()


def is_flake(crumb: Solid) -> bool:
    """Whether what came loose is a film or a blade."""
    return bool(2.0 * crumb.volume() <= FLAKE_MM * crumb.surface_area())


def handed_out(
    bench: Workbench, flakes: Sequence[Solid], solids: Mapping[str, Solid]
) -> dict[str, list[Solid]]:
    """To which of some solids each of the flakes that came loose of them goes: what it lies against most.

    Let go, a blade would leave open the groove it stood in.
    """
    given: dict[str, list[Solid]] = {name: [] for name in solids}
    blades = [f for f in flakes if np.ptp(np.reshape(f.bounding_box(), (2, 3)), axis=0).max() > SPECK_MM]
    laid = {}
    for name in solids if blades else ():
        points, faces, _ = bench.faces_of(solids[name])
        laid[name] = points[faces]
    for blade in blades:
        points, faces, _ = bench.faces_of(blade)
        corner = points[faces]
        area = np.linalg.norm(np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]), axis=1)
        low, high = points.min(axis=0) - TOUCH_MM, points.max(axis=0) + TOUCH_MM
        beside: dict[str, float] = {}
        for name, others in laid.items():
            near = others[((others.min(axis=1) <= high) & (others.max(axis=1) >= low)).all(axis=1)]
            beside[name] = 0.0
            if len(near):
                touches = nearest_within(corner.mean(axis=1), near, TOUCH_MM)[0] >= 0
                beside[name] = float(area[touches].sum())
        given[max(beside, key=lambda name: beside[name])].append(blade)
    return given


def lies_within(place: Shaft, level_mm: float, shafts: Sequence[Shaft]) -> bool:
    """Whether a place lies wholly over a level or in one of some shafts, all along one pull."""
    return place.floor_mm > level_mm or any(
        place.floor_mm > shaft.floor_mm
        and all(shaft.low_mm[k] < place.low_mm[k] and place.high_mm[k] < shaft.high_mm[k] for k in (0, 1))
        for shaft in shafts
    )


def all_faces(bench: Workbench, part: Near | None, own: Solid) -> LatticeSolid:
    """All faces of what a cut left of a solid: `own`, with what was left out of `part` and without its stub.

    Corners are rounded to the lattice, and may coincide.
    """
    points, faces, origin = bench.faces_of(own)
    placed = np.rint(points * UNITS_PER_MM).astype(np.int64)
    if part is None:
        return LatticeSolid(placed, faces.astype(np.int32), origin)
    kept = origin != STUB
    source, far = part.source, ~part.inside
    return LatticeSolid(
        np.concatenate([placed, source.points]),
        np.concatenate([faces[kept], source.faces[far].astype(np.int64) + len(points)]).astype(np.int32),
        np.concatenate([origin[kept], source.origin[far]]),
    )


def held_up(bench: Workbench, crumb: Solid, main: LatticeSolid, pull: Vector) -> Floats:
    """The faces (k, 3, 3) mm of a crumb under which, along the pull, there is something of a main piece that
    it would hold back; `main` as `all_faces` gives it, `pull` along z.
    """
    points, faces, _ = bench.faces_of(crumb)
    over = faces_under(all_faces(bench, None, crumb), main, pull, slack_mm=HELD_MM)
    held: Floats = points[faces[over]]
    return held


def reached(
    crumb: Solid, over_mm: Floats, pull: Vector, main: LatticeMesh | LatticeSolid, rotation: Floats
) -> list[Shaft]:
    """The places that a crumb stands in and that lie between its faces `over_mm` (k, 3, 3) and the end of the
    main piece they are over, in the frame that `rotation` turns to.

    `pull` of the main piece, along z of the frame turned from.
    """
    places = [Shaft.around(moved(crumb, rotation))]
    if len(over_mm):
        top = over_mm.reshape(-1, 3)
        foot = top.copy()
        foot[:, 2] = pull[2] * float((lattice_mm(main.points)[:, 2] * pull[2]).min())
        places.append(Shaft.over(np.concatenate([top, foot]) @ rotation.T))
    return places


def below(bench: Workbench, over_mm: Floats, pull: Vector, main: Solid) -> Solid:
    """What of a main piece lies under faces (k, 3, 3) along the pull."""
    if not len(over_mm):
        return Solid()
    rotation = pull_rotation(pull)
    top = over_mm @ rotation.T
    low_mm = min(float(moved(main, rotation).bounding_box()[2]), float(top[:, :, 2].min()))
    under = shadow(top, low_mm - 1.0, SHADOW_MM)
    return main ^ moved(bench.marked(under, Origin.FILL), rotation.T)


def rising_faces(points: Floats, faces: NDArray[np.integer], rotation: Floats) -> Floats:
    """The faces (k, 3, 3) of a solid that look along a pull, but for what is narrow or steep by rounding, in
    the frame that `rotation` turns to and where the pull is z.
    """
    corner = (points @ rotation.T)[faces]
    rising: Floats = corner[_rises(corner)]
    return rising


def _rises(corner: Floats) -> NDArray[np.bool_]:
    """Which triangles (k, 3, 3) look up, but for what is narrow or steep by rounding."""
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    longest = np.linalg.norm((corner - np.roll(corner, 1, axis=1))[:, :, :2], axis=2).max(axis=1)
    wide: NDArray[np.bool_] = normal[:, 2] > np.maximum(CEILING_MM2, NARROW_MM * longest)
    return wide


def let_go(bench: Workbench, side: Solid, face: Interface) -> tuple[Solid, Solid, Solid]:
    """A side piece without what lies under its own ceilings, where the object would hold it, and that; last
    all there is under them.
    """
    points, faces, origin = bench.faces_of(side)
    corner = (points @ face.rotation.T)[faces]
    ceiling = ~np.isin(origin, JOINT) & _rises(corner)
    if not ceiling.any() or int(ceiling.sum()) > MOST_CEILINGS:
        return side, Solid(), Solid()
    under = shadow(corner[ceiling], float(corner[:, :, 2].min()) - 1.0, CEILING_MM)
    under = moved(bench.marked(under, Origin.FILL), face.rotation.T)
    held, leaves = side.split(under)
    return leaves, held, under
