"""Sockets that look sideways: plugs for them are printed apart and screwed to the case's wall."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from claybed.cases.sizes import size_mm
from claybed.geometry.carving import TIDY_MM, Solid, triangles
from claybed.geometry.forming import closed, hull, on_lattice, rod, united
from claybed.geometry.lattice import lattice_mm, pull_rotation
from claybed.geometry.mesh import Floats
from claybed.geometry.slab import LatticeSolid
from claybed.records.assembly import BlockKey
from claybed.records.cases import CasePart, Plug, Poured

PILOT_MM = size_mm("screw_bore")  # a screw of 4 mm bites in it
# A socket whose bump comes in steeper than this leaves the case like the rest of the floor.
_STEEP = 0.5
_NEAR_MM = 0.05
_LEAST_DEEP_MM = 0.5
_INTO_MM = 0.02


def plugs_of(
    piece: str,
    points: Floats,
    keys: Sequence[BlockKey],
    placing: Floats,
    pulls: Mapping[str, Sequence[float]],
) -> tuple[Plug, ...]:
    """The sockets of a piece that look sideways in its case.

    `points` (n, 3) of the piece with its pull upright, `placing` (3, 3) turns and scales a place in the
    block, `pulls` of all pieces by letter.
    """
    scale = float(np.linalg.norm(placing[0]))
    found = []
    for key in keys:
        if key.socket_in != piece or key.bump_on not in pulls:
            continue
        axis = -(placing / scale) @ np.asarray(pulls[key.bump_on], dtype=np.float64)
        if abs(axis[2]) > _STEEP:
            continue
        at = placing @ np.array(key.at_mm)
        along = (points - at) @ axis
        beside = np.linalg.norm(points - at - np.outer(along, axis), axis=1)
        radius, deep = key.diameter_mm / 2.0 * scale, key.depth_mm * scale
        own = (along > -_NEAR_MM) & (along < deep + _NEAR_MM) & (beside < radius + _NEAR_MM)
        if own.sum() < 4 or float(along[own].max()) < _LEAST_DEEP_MM:
            continue
        found.append(Plug(points[own], at, axis))
    return tuple(found)


def filled(
    points: Floats, faces: NDArray[np.int32], plugs: Sequence[Plug]
) -> tuple[Floats, NDArray[np.int32]]:
    """The piece with its sideways sockets filled, corners (n, 3) and faces (m, 3)."""
    whole = united([closed(points, faces), *(hull(_swollen(plug)) for plug in plugs)])
    # Slivers around a mouth would fold over once their corners lie on the lattice.
    corners, triples = triangles(whole.simplify(TIDY_MM))
    return corners, triples.astype(np.int32)


def _swollen(plug: Plug) -> Floats:
    """Corners (n, 3) of a plug that reaches a hair into the plaster around it, so that no film stands between
    two faces that are the same but for the way their common edge runs; flush at the mouth.
    """
    from_mouth = plug.points_mm - plug.at_mm
    deep = from_mouth @ plug.axis
    beside = from_mouth - np.outer(deep, plug.axis)
    far = np.maximum(np.linalg.norm(beside, axis=1, keepdims=True), 1e-9)
    more: Floats = plug.points_mm + beside / far * _INTO_MM
    more[deep > _NEAR_MM] += plug.axis * _INTO_MM
    return more


def with_sockets(poured: Poured) -> LatticeSolid:
    """A piece as it is once plugs, cores and the blocks of its slots are drawn out, in the case's frame."""
    solid = poured.solid if poured.opened is None else poured.opened
    if not poured.slots:
        return solid
    away = [hull(slot.room_mm) for slot in poured.slots]
    return on_lattice(closed(lattice_mm(solid.points), solid.faces) - united(away))


def screw_holes(poured: Poured, wall_mm: float, floor_mm: float, radius_mm: float) -> list[Solid]:
    """Holes through the wall of a case, one behind each plug and each core that takes a screw."""
    lift = np.array([0.0, 0.0, floor_mm])
    seats = [(plug.at_mm, plug.axis) for plug in poured.plugs]
    seats += [(core.at_mm, core.axis) for core in poured.cores if core.screw_deep_mm]
    return [
        rod(at + lift - axis * (wall_mm + 8.0), at + lift + axis * _NEAR_MM, radius_mm) for at, axis in seats
    ]


def print_plugs(poured: Poured) -> tuple[CasePart, ...]:
    """The plugs to print, each on its base, with a hole that a screw bites in."""
    parts = []
    for k, plug in enumerate(poured.plugs):
        turned = (plug.points_mm - plug.at_mm) @ pull_rotation(plug.axis).T
        turned[:, 2] = np.maximum(turned[:, 2], 0.0)
        deep = float(turned[:, 2].max())
        turned[turned[:, 2] < _NEAR_MM, 2] = 0.0
        bore = rod((0.0, 0.0, -1.0), (0.0, 0.0, deep - 1.2), PILOT_MM / 2.0)
        solid = on_lattice(hull(turned) - bore)
        size = np.ptp(lattice_mm(solid.points), axis=0)
        name = f"{poured.piece}-key{k + 1}"
        parts.append(CasePart(name, solid, (float(size[0]), float(size[1]), float(size[2]))))
    return tuple(parts)
