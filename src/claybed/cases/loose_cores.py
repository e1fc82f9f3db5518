"""What of a neighbour reaches sideways into a piece: printed apart, and screwed to the case's wall.

A side piece leaves before the main ones, so that these may lie under its plug. Poured alone, they would lock
on a case that has the plug in one with its wall.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from claybed.cases.leaning import ON_PLANE_MM, Side, outside
from claybed.cases.loose_keys import PILOT_MM, print_plugs
from claybed.cases.sizes import falling_mm, size_mm
from claybed.geometry.carving import TIDY_MM, Solid, triangles
from claybed.geometry.forming import (
    bodies,
    bounds_mm,
    closed,
    halved,
    hull,
    on_lattice,
    rod,
    section,
    united,
    volume_mm3,
)
from claybed.geometry.lattice import lattice_mm, pull_rotation
from claybed.geometry.mesh import Floats
from claybed.geometry.slab import LatticeSolid
from claybed.records.cases import CasePart, Core, Plug, Poured

# A neighbour that comes in steeper than this is no matter of the wall.
_STEEP = 0.5
_ALONG = 0.9
_NEAR_MM = 0.1
_HAIR_MM = 0.008
# Cores are larger all round by this where they fill the piece, so that no film of plastic stands between
# faces that rounding parted.
_INTO_MM = 0.006
_LEAST_HELD_MM2 = 0.5
_SAME_MM = 2.0  # a body whose middle lies this near to a plug's is the bump that the plug stands for
_FLUSH_MM = 0.005
_SCREW_DEEP_MM = falling_mm("screw_deep", 3)
_SKIN_MM = size_mm("peg_skin")
_SLANT = 0.002  # what looks up less is a wall
_CLEAR_MM = 0.3  # of the wall's plane, which rounding leaves uneven
_BESIDE_MM = 0.01 * np.array([[1.0, 0.0, 0.5], [-1.0, 0.0, 0.5], [0.0, 1.0, 0.5], [0.0, -1.0, 0.5]])
_DOWN_MM = np.array([0.0, 0.0, 2000.0])
_LEAST_MM3 = 20.0
_LEAST_UP_MM2 = 1e-4
_PASSES = 2


class _Held(NamedTuple):
    """Faces that would hold a piece: their corners (n, 3, 3), and areas along the pull (n,)."""

    corner_mm: Floats
    area_mm2: Floats


def cores_of(
    points: Floats,
    faces: NDArray[np.int32],
    sides: Sequence[Side],
    plugs: Sequence[Plug],
    neighbours: Sequence[tuple[LatticeSolid, Sequence[float]]],
    placing: Floats,
    pull: Sequence[float],
) -> tuple[tuple[Core, ...], Floats, NDArray[np.int32]]:
    """The cores that a piece needs in its case, and the piece filled with them.

    `points` (n, 3) and `faces` (m, 3) of the piece, its `sides`; `neighbours` the other pieces, each with its
    pull in the block, which `placing` (3, 3) turns and scales; `pull` the piece's own, in the case.
    """
    held = _held(points, faces, sides, pull)
    if float(held.area_mm2.sum()) < _LEAST_HELD_MM2:
        return (), points, faces
    scale, top = float(np.linalg.norm(placing[0])), float(points[:, 2].max())
    piece = closed(points, faces)
    found: list[tuple[Core, Solid]] = []
    for solid, its_pull in neighbours:
        way = placing @ np.asarray(its_pull, dtype=np.float64) / scale
        for side in sides:
            if not side.met or abs(way[2]) > _STEEP or float(way[:2] @ side.normal) < _ALONG:
                continue
            normal = np.array([*side.normal, 0.0])
            whole = closed(lattice_mm(solid.points) @ placing.T, solid.faces)
            # A hair within, so that nothing hangs together by what rounding left on the plane.
            inner, _ = halved(whole, normal.tolist(), side.offset_mm - _HAIR_MM)
            for body in bodies(inner):
                if _is_bump(body, plugs):
                    continue
                for core, swollen in _needed(piece, body, normal, side.offset_mm, held, top):
                    one = _core(core, normal, side.offset_mm, way)
                    if one is not None:
                        found.append((one, swollen))
    if not found:
        return (), points, faces
    full = united([piece, *(swollen for _, swollen in found)]).simplify(TIDY_MM)
    corners, triples = triangles(full)
    return tuple(core for core, _ in found), corners, triples.astype(np.int32)


def print_cores(poured: Poured) -> tuple[CasePart, ...]:
    """The cores to print, each on the face that lies at the wall, with a hole that a screw bites in."""
    parts = []
    for k, core in enumerate(poured.cores, start=1):
        points = (lattice_mm(core.solid.points) - core.at_mm) @ pull_rotation(core.axis).T
        points[points[:, 2] < _FLUSH_MM, 2] = 0.0
        solid = closed(points, core.solid.faces)
        if core.screw_deep_mm:
            solid -= rod((0.0, 0.0, -1.0), (0.0, 0.0, core.screw_deep_mm), PILOT_MM / 2.0)
        laid = on_lattice(solid)
        size = np.ptp(lattice_mm(laid.points), axis=0)
        name = f"{poured.piece}-core{k}"
        parts.append(CasePart(name, laid, (float(size[0]), float(size[1]), float(size[2]))))
    return tuple(parts)


def loose_parts(poured: Poured) -> tuple[CasePart, ...]:
    """Loose keys, then cores, to print."""
    return (*print_plugs(poured), *print_cores(poured))


def _held(points: Floats, faces: NDArray[np.int32], sides: Sequence[Side], pull: Sequence[float]) -> _Held:
    corner = points[faces]
    along = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]) @ np.asarray(pull)
    back = (corner[:, :, 2] > points[:, 2].max() - ON_PLANE_MM).all(axis=1)
    own = (along > 0.0) & ~back & ~outside(points, faces, sides)[1]
    return _Held(corner[own], along[own] / 2.0)


def _is_bump(body: Solid, plugs: Sequence[Plug]) -> bool:
    low, high = bounds_mm(body)
    away = (np.abs((low + high) / 2.0 - plug.points_mm.mean(axis=0)) for plug in plugs)
    return any(bool((off < _SAME_MM).all()) for off in away)


def _needed(
    piece: Solid, body: Solid, normal: Floats, offset_mm: float, held: _Held, top: float
) -> list[tuple[Solid, Solid]]:
    """What of a neighbour's body beyond a wall lies over faces that would hold the piece, flush with the
    wall; each core beside what fills its room in the piece.
    """
    low, high = bounds_mm(body)
    middle = held.corner_mm.mean(axis=1)
    over = ((middle > low - _NEAR_MM) & (middle < high + _NEAR_MM)).all(axis=1)
    if float(held.area_mm2[over].sum()) < _LEAST_HELD_MM2:
        return []
    level = _end(held.corner_mm[over][:, :, 2].min(axis=1), held.area_mm2[over])
    _, core = halved(body, (0.0, 0.0, 1.0), level)
    core += core.translate(tuple(2.0 * _HAIR_MM * normal))
    core, _ = halved(core, normal.tolist(), offset_mm)
    core, _ = halved(core, (0.0, 0.0, 1.0), top)
    # What lies under the object stays with the case: it would lock there as the piece would.
    swollen = None
    for _ in range(_PASSES):
        swollen = _swollen(core, normal, offset_mm, top)
        under = _under(piece + swollen, normal, offset_mm, top)
        if not under:
            break
        core -= united(under)
        swollen = None
    parts = bodies(core)
    if swollen is None or len(parts) != 1:
        return [(one, _swollen(one, normal, offset_mm, top)) for one in parts if volume_mm3(one) > _LEAST_MM3]
    return [(core, swollen)] if volume_mm3(core) > _LEAST_MM3 else []


def _under(solid: Solid, normal: Floats, offset_mm: float, top: float) -> list[Solid]:
    """All that lies under faces of a solid that look up, but at its back and along the wall."""
    points, faces = triangles(solid)
    corner = points[faces]
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    up = across[:, 2] > np.maximum(_SLANT * np.linalg.norm(across, axis=1), _LEAST_UP_MM2)
    inner = (corner @ normal < offset_mm - _CLEAR_MM).all(axis=1)
    own = up & inner & (corner[:, :, 2] < top - ON_PLANE_MM).any(axis=1)
    # A hair wider, so that no sliver is left beside.
    around = [*_BESIDE_MM, *(_BESIDE_MM - _DOWN_MM)]
    return [hull(np.concatenate([three + step for step in around])) for three in corner[own]]


def _end(place_mm: Floats, area_mm2: Floats) -> float:
    """The least place at which something holds that is worth it; rounding leaves crumbs further on."""
    order = np.argsort(place_mm)
    return float(place_mm[order][np.searchsorted(np.cumsum(area_mm2[order]), _LEAST_HELD_MM2)])


def _core(core: Solid, normal: Floats, offset_mm: float, way: Floats) -> Core | None:
    at = _seat(core, normal, offset_mm)
    if at is None:
        return None
    x, y, z = (way / float(np.linalg.norm(way))).tolist()
    deep_mm = _screw_deep_mm(core, at, -normal)
    return Core(on_lattice(core.simplify(TIDY_MM)), at, -normal, (x, y, z), deep_mm)


def reseated(core: Core, solid: Solid, at_mm: Floats, axis: Floats) -> Core:
    """A core grown to `solid`, on a wall at `at_mm` (3,) that it leaves along the unit `axis` inwards."""
    deep_mm = _screw_deep_mm(solid, at_mm, axis)
    return replace(
        core, solid=on_lattice(solid.simplify(TIDY_MM)), at_mm=at_mm, axis=axis, screw_deep_mm=deep_mm
    )


def _swollen(core: Solid, normal: Floats, offset_mm: float, top: float) -> Solid:
    steps = _INTO_MM * np.concatenate([np.eye(3), -np.eye(3)])
    more = united([core, *(core.translate(tuple(step)) for step in steps.tolist())])
    flush, _ = halved(more, normal.tolist(), offset_mm)
    return halved(flush, (0.0, 0.0, 1.0), top)[0]


def _seat(core: Solid, normal: Floats, offset_mm: float) -> Floats | None:
    """The place on the wall with most of a core around it; None when it does not reach the wall."""
    turn = pull_rotation(-normal)
    met = section(core.transform(np.column_stack([turn, np.zeros(3)])), -offset_mm + 2.0 * _NEAR_MM)
    if met.is_empty or met.area < 1.0:
        return None
    middle = shapely.get_coordinates(shapely.maximum_inscribed_circle(met, tolerance=0.1))[0]
    at: Floats = np.array([*middle, -offset_mm]) @ turn
    return at


def _screw_deep_mm(core: Solid, at: Floats, axis: Floats) -> float:
    """How deep a screw may go into a core; 0 where it is too slight for one."""
    for deep in _SCREW_DEEP_MM:
        ends = at + np.outer([_NEAR_MM, deep + _SKIN_MM], axis)
        around = rod(ends[0].tolist(), ends[1].tolist(), PILOT_MM / 2.0 + _SKIN_MM)
        if volume_mm3(around - core) < 1e-3 * volume_mm3(around):
            return deep
    return 0.0
