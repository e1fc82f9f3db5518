"""Whether the interface of a side piece dips to a seam that no level gives, and what it stays clear of."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from claybed.geometry.barred import Barred
from claybed.geometry.carving import Solid, Workbench, moved, outlines, within
from claybed.geometry.lattice import LatticeMesh, lattice_mm, pull_rotation
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.geometry.nearby import STUB, near
from claybed.geometry.plugging import slab_over
from claybed.mold.side_faces import Interface
from claybed.mold.side_level import (
    BARRED_LEAST_MM,
    SHARP_LEAST_MM,
    Level,
    crest_mm,
    find_level,
    interface_level_mm,
    practice,
)
from claybed.mold.side_seam import Dip, Flags, dipping, hollows, ridden_mm
from claybed.records.assembly import BlockKey

Vector = tuple[float, float, float]
# How far the sides of a skirt may stray, and how near to its ring a face of the surface counts as within.
SKIRT_SMOOTH_MM = 0.02
PIT_MM = 0.5
# A key this near to the level of an interface stands on it.
ON_LEVEL_MM = 0.01
NOT_OBJECT = (int(Origin.PARTING), int(Origin.KEY), int(Origin.OUTSIDE), STUB)


def find_dip(
    bench: Workbench,
    source: LatticeMesh,
    rotation: Floats,
    level: Level,
    barred: Barred,
    *,
    keys: Sequence[BlockKey] = (),
    left: Solid | None = None,
    block: Solid | None = None,
    earlier: Sequence[Interface] = (),
    whole: bool = False,
) -> Dip | None:
    """How the interface of a side piece dips from its level: where no level is good or only one that is
    clearly worse than usual, or where an edge of the object hides clearly more of the seam; None where it
    stays level.

    `source` the object in the frame that `rotation` turns from; `left` what `earlier` side pieces have left
    of block and object, None for the first one, and `block` what is left of the block, where that is known.
    It stays level where a dip would come near one of `keys`, or would leave too little or too sharp plaster
    beside the interface of an earlier piece. `whole` as in `geometry.nearby.near`.
    """
    points = lattice_mm(source.points) @ rotation.T
    end_mm, foot_mm = crest_mm(source, rotation), float(points[:, 2].min())
    deepest_mm = practice("side_level_deepest_ratio") * (end_mm - foot_mm)
    high_mm = level.highest_mm
    thing = Mesh.make(points, source.faces, frame="side")
    saves = practice("side_seam_edge_saves_ratio")
    gain_mm = practice("side_seam_gain_least_mm")
    evades = not level.good or (bool(barred) and level.cost_mm - level.usual_cost_mm >= gain_mm)
    if not evades:
        own = thing if block is None else _within(thing, rotation, block, earlier)
        hides_mm = min(ridden_mm(own, end_mm - deepest_mm, high_mm), level.length_mm) - level.hidden_mm
        if saves * hides_mm < gain_mm:
            return None
    low_mm = end_mm - (2.0 if evades else 1.0) * deepest_mm
    if left is None:
        surface, solid = thing, bench.lay(thing.vertices_mm, thing.faces, thing.origin)
    else:
        solid = moved(near(bench, source, rotation, low_mm, whole=whole).solid ^ left, rotation)
        if solid.is_empty():
            return None
        surface = _of_object(bench, solid)
    dip = dipping(
        surface,
        low_mm=low_mm,
        high_mm=high_mm,
        hollow=_hollow(surface, solid, high_mm, low_mm),
        barred=barred.placed(rotation, np.zeros(3)),
        over=thing,
    )
    if dip is None or not _pays(dip, level, high_mm):
        return None
    if any(_in_the_way(key, rotation, dip, earlier) for key in keys):
        return None
    if left is not None and not _clear_of(lay_skirt(bench, dip), dip, rotation, left, earlier):
        return None
    return dip


def lay_skirt(bench: Workbench, dip: Dip) -> Solid:
    """What a side piece takes between its level and the dip of its interface, where the pull is z."""
    laid = slab_over(dip.floor, dip.level_mm)
    if laid is None:
        raise ArithmeticError("an interface that dips does not reach below its level")
    points, faces = laid
    origin = np.full(len(faces), int(Origin.PARTING), np.uint8)
    return bench.lay(points, faces, origin).simplify(SKIRT_SMOOTH_MM)


def lowest_mm(
    bench: Workbench,
    source: LatticeMesh,
    rotation: Floats,
    barred: Barred,
    *,
    left: Solid | None = None,
    over: bool = False,
) -> float:
    """How low the seam of a side piece runs along its pull, whose interface may dip; with `over`, the level
    over the object. `left` is what earlier ones leave, None for the first. Raises ArithmeticError when no
    level crosses the object near its end.
    """
    if over or not barred:
        return interface_level_mm(bench, source, rotation, barred=barred, over=over)
    found = find_level(bench, source, rotation, barred=barred, left=left)
    dip = find_dip(bench, source, rotation, found, barred, left=left)
    return found.level_mm if dip is None else float(dip.lines_mm[:, :, 2].min())


def beyond_plane(
    bench: Workbench,
    source: LatticeMesh,
    pull: Vector,
    barred: Barred,
    *,
    left: Solid | None = None,
    over: bool,
    dips: bool,
) -> tuple[Floats, float]:
    """Pull of a side piece that is cut later, and its level, or with `dips` how low its seam may run: beyond
    that no key of an earlier one may stand. `left` is what earlier ones leave.
    """
    rotation = pull_rotation(pull)
    if dips:
        return rotation[2], lowest_mm(bench, source, rotation, barred, left=left, over=over)
    return rotation[2], interface_level_mm(bench, source, rotation, barred=barred, over=over)


def _pays(dip: Dip, level: Level, high_mm: float) -> bool:
    """Whether a dip is worth more than a level that it could take the place of."""
    if level.barred_mm > BARRED_LEAST_MM:
        return True
    if dip.sharp_mm > max(SHARP_LEAST_MM, level.sharp_mm):
        return False
    if level.sharp_mm > SHARP_LEAST_MM:
        return dip.sharp_mm <= SHARP_LEAST_MM
    # Each seam with what its depth costs; lean is as good as none on either, or the cut would not run there.
    deep = (high_mm - np.array([level.level_mm, dip.middle_mm])) / practice("side_level_depth_mm")
    length = np.array([level.length_mm, dip.length_mm])
    hidden = practice("side_seam_edge_saves_ratio") * np.array([level.hidden_mm, dip.hidden_mm])
    cost = length * (1.0 + deep) - hidden
    return bool(cost[0] - cost[1] >= practice("side_seam_gain_least_mm"))


def _of_object(bench: Workbench, solid: Solid) -> Mesh:
    """What is left of the object's surface on a solid that was cut from it."""
    points, faces, origin = bench.faces_of(solid)
    used, place = np.unique(faces[~np.isin(origin, NOT_OBJECT)], return_inverse=True)
    return Mesh.make(points[used], place.reshape(-1, 3).astype(np.int32), frame="side")


def _within(thing: Mesh, rotation: Floats, block: Solid, earlier: Sequence[Interface]) -> Mesh:
    """The object's surface without the faces that `earlier` side pieces took whole, and without those in the
    outside of what is left of the block, such as the mouth of the gate: no seam follows their edges.
    `rotation` into the frame of `thing`.
    """
    points = thing.vertices_mm @ rotation
    box = np.array(block.bounding_box()).reshape(2, 3)
    off_mm = [face.over_mm(points) for face in earlier]
    off_mm += [box[0, k] - points[:, k] for k in range(3)] + [points[:, k] - box[1, k] for k in range(3)]
    gone = np.zeros(len(thing.faces), bool)
    for off in off_mm:
        beyond = off > -ON_LEVEL_MM
        if beyond.any():
            gone |= beyond[thing.faces].all(axis=1)
    return Mesh.make(thing.vertices_mm, thing.faces[~gone], frame=thing.frame)


def _hollow(surface: Mesh, solid: Solid, high_mm: float, low_mm: float) -> Flags:
    """Faces (m,) of the object in hollows that open towards the pull; `solid` has that surface."""
    z = surface.corners_mm[:, :, 2]
    crossing = np.flatnonzero((z.min(axis=1) < high_mm) & (z.max(axis=1) >= high_mm))
    inside = np.zeros(len(surface.faces), bool)
    _, holes = outlines(solid.slice(high_mm))
    for ring in holes:
        middle = surface.corners_mm[crossing].mean(axis=1)[:, :2]
        inside[crossing[within(middle, ring, PIT_MM)]] = True
    return hollows(surface, high_mm, low_mm, inside)


def _in_the_way(key: BlockKey, rotation: Floats, dip: Dip, earlier: Sequence[Interface]) -> bool:
    """Whether an interface comes near a key that stands under its level."""
    at_mm = np.array([key.at_mm])
    stands_on = [face.pull for face in earlier if abs(float(face.over_mm(at_mm)[0])) < ON_LEVEL_MM]
    along = abs(float(rotation[2] @ stands_on[0] if stands_on else rotation[2, 2]))
    radius_mm = key.diameter_mm / 2.0
    edge_mm = practice("key_to_edge_least_mm")
    reach_mm = radius_mm + key.depth_mm + edge_mm
    # As far as the key reaches along this pull, level on an interface of another one.
    up_mm = radius_mm * np.sqrt(max(0.0, 1.0 - along**2)) + key.depth_mm * along + edge_mm
    at = rotation @ at_mm[0]
    turn = np.arange(0.0, 2.0 * np.pi, np.pi / 8.0)
    ring = at[:2] + reach_mm * np.column_stack([np.cos(turn), np.sin(turn)])
    # Only within the object does it lie lower than its seam.
    lowest = max(
        float(dip.height_mm(np.concatenate([at[None, :2], ring])).min()), float(dip.lines_mm[:, :, 2].min())
    )
    return bool(lowest - up_mm < at[2])


def _clear_of(skirt: Solid, dip: Dip, rotation: Floats, left: Solid, earlier: Sequence[Interface]) -> bool:
    """Whether a dip leaves plaster enough beside what earlier side pieces took: a plate between it and their
    plugs and dips, and where it meets an interface no sharper an edge on either side than plaster bears.
    Source: materials/practice (plate_least_mm, edge_angle_flag_deg).
    """
    plate_mm = practice("plate_least_mm")
    taken = moved(skirt, rotation.T) ^ left
    if taken.is_empty():
        return True
    for face in earlier:
        reaches = [] if face.plug is None else [face.plug]
        if face.skirt is not None:
            reaches.append(moved(face.skirt, face.rotation.T))
        if any(taken.min_gap(solid, plate_mm) < plate_mm for solid in reaches):
            return False
    grid = np.stack(np.meshgrid(dip.floor.x_mm, dip.floor.y_mm), axis=2).reshape(-1, 2)
    grid = grid[np.isfinite(dip.floor.height_mm.reshape(-1))]
    spots = np.column_stack([grid, dip.height_mm(grid)]) @ rotation
    normal = dip.normal(grid) @ rotation
    most = np.cos(np.radians(practice("edge_angle_flag_deg")))
    for face in earlier:
        meets = np.abs(face.over_mm(spots)) < plate_mm
        turn = np.einsum("ij,ij->i", normal[meets], face.normal(spots[meets]))
        if (np.abs(turn) > most).any():
            return False
    return True
