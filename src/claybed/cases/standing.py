"""A mold piece turned the way its case pours it: back up, outside drafted, bumps smaller by the clearance."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from claybed.cases.loose_keys import filled, plugs_of, with_sockets
from claybed.errors import CannotError
from claybed.geometry.carving import snapped
from claybed.geometry.lattice import UNITS_PER_MM, Z_PER_MM, lattice_mm, pull_rotation
from claybed.geometry.mesh import Floats
from claybed.geometry.slab import LatticeSolid
from claybed.records.assembly import BlockKey
from claybed.records.cases import Plug, Poured

# A corner in a plane of the block's outside lies in it to a step of the lattice or two.
_ON_PLANE_MM = 0.004
# Faces that look up elsewhere than at the back would hold the piece in an open case.
_UP_LEAST = 1e-3
_UP_MOST_MM2 = 1.0
_SAME_EDGE = 1e-6
NO_PULLS: Mapping[str, Sequence[float]] = MappingProxyType({})


@dataclass(frozen=True, slots=True, eq=False)
class _Side:
    """An upright plane of the outside; `leans` when it is the block's, not where another piece meets it."""

    normal: Floats
    offset_mm: float
    leans: bool


def stand(
    piece: str,
    solid: LatticeSolid,
    pull: Sequence[float],
    keys: Sequence[BlockKey],
    *,
    draft_deg: float,
    clearance_mm: float,
    scale: float = 1.0,
    others: Sequence[LatticeSolid] = (),
    pulls: Mapping[str, Sequence[float]] = NO_PULLS,
) -> Poured:
    """A piece as its case pours it.

    `solid` in the block's frame, `pull` the unit vector in which it leaves, `keys` of the mold. The back is
    moved out on every side by `draft_deg` over the height from the lowest rim, so that no wall of plaster
    grows thinner; sides where one of the `others` meets it stay upright. All but the draft is `scale` times
    as large. Bumps of this piece lose `clearance_mm` square to their surface. Sockets of
    keys that come in sideways, told by the `pulls` of all pieces, are filled and given as plugs. Raises
    CannotError for a piece whose back is not flat, or which faces of its own would hold in a case that opens
    upwards.
    """
    rotation = _upright(pull)
    points = lattice_mm(solid.points) @ rotation.T * scale
    faces, origin = solid.faces, solid.origin
    plugs = plugs_of(piece, points, keys, rotation * scale, pulls)
    if plugs:
        points, faces = filled(points, faces, plugs)
        origin = np.zeros(len(faces), np.uint8)
    top = float(points[:, 2].max())
    _refuse_unless_open(piece, points, faces, top)
    whole = [points, *(lattice_mm(other.points) @ rotation.T * scale for other in others)]
    sides = _sides(points, np.concatenate(whole))
    on_side, upright = _outside(points, faces, sides)
    if not upright.any():
        raise CannotError(
            f"piece {piece} has no upright outside to lean.",
            where=f"case of piece {piece}",
            remedy="Pour this piece as the plan says.",
        )
    points, made_smaller = _smaller_bumps(piece, points, faces, keys, rotation * scale, clearance_mm)
    low = float(points[np.unique(faces[upright]), 2].min())
    ring, normals = _corners(sides)
    grown = math.tan(math.radians(draft_deg)) * (top - low)
    points = _leaning(points, faces, on_side, upright, sides, grown)
    middle = (points[:, :2].max(axis=0) + points[:, :2].min(axis=0)) / 2.0
    # A whole number of lattice steps, so that the piece goes back into the block without rounding.
    shift = -np.rint(np.array([*middle, float(points[:, 2].min())]) * UNITS_PER_MM) / UNITS_PER_MM
    placed = snapped(points + shift, faces, origin)
    # The levels as they lie on the lattice, so that a case's rim and the piece's back are one plane.
    levels = np.rint((np.array([low, top]) + shift[2]) * Z_PER_MM) / Z_PER_MM
    least_deg, share, area_mm2 = _draft(points, faces[upright], draft_deg / 2.0)
    return Poured(
        piece=piece,
        scale=scale,
        solid=placed,
        low_outline_mm=ring + shift[:2],
        top_outline_mm=ring + normals * grown + shift[:2],
        low_mm=float(levels[0]),
        top_mm=float(levels[1]),
        draft_deg=draft_deg,
        rotation=rotation,
        shift_mm=shift,
        keys=made_smaller,
        side_mm2=area_mm2,
        least_draft_deg=least_deg,
        leaning_share=share,
        plugs=tuple(Plug(plug.points_mm + shift, plug.at_mm + shift, plug.axis) for plug in plugs),
    )


def in_block(poured: Poured) -> LatticeSolid:
    """The piece as it comes out of its case, back where it stands in the block, at its own scale."""
    solid = with_sockets(poured)
    back = (lattice_mm(solid.points) - poured.shift_mm) @ poured.rotation
    return snapped(back, solid.faces, solid.origin)


def _draft(points: Floats, faces: NDArray[np.int32], least_deg: float) -> tuple[float, float, float]:
    """The least angle from upright of faces, the share of their area that leans by `least_deg`, the area."""
    corner = points[faces]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    size = np.linalg.norm(normal, axis=1)
    real = size > 1e-6
    lean = np.degrees(np.arcsin(np.clip(-normal[real, 2] / size[real], -1.0, 1.0)))
    share = float(size[real][lean >= least_deg - 1e-9].sum() / size.sum())
    return abs(max(float(lean.min(initial=90.0)), 0.0)), share, float(size.sum() / 2.0)


def _upright(pull: Sequence[float]) -> Floats:
    """The turn that brings a pull upright, without turning the plan where none is needed."""
    d = np.asarray(pull, dtype=np.float64)
    if abs(abs(d[2]) - 1.0) < 1e-12:
        return np.diag([1.0, np.sign(d[2]), np.sign(d[2])])
    return pull_rotation(d)


def _refuse_unless_open(piece: str, points: Floats, faces: NDArray[np.int32], top: float) -> None:
    corner = points[faces]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    up = normal[:, 2] > _UP_LEAST * np.maximum(np.linalg.norm(normal, axis=1), 1e-12)
    back = up & (corner[:, :, 2] > top - _ON_PLANE_MM).all(axis=1)
    held_mm2 = float(normal[up & ~back, 2].sum() / 2.0)
    if not back.any() or held_mm2 > _UP_MOST_MM2:
        much = f"{held_mm2 / 100.0:.1f} cm²" if held_mm2 >= 100.0 else f"{held_mm2:.1f} mm²"
        raise CannotError(
            f"{much} of it look up beside its back, so it would not leave an open case.",
            where=f"case of piece {piece}",
            remedy="Pour this piece against the others, as the plan says.",
        )


def _sides(points: Floats, block: Floats) -> list[_Side]:
    """The upright planes around the plan, in order round it, those in one line taken together; `block` holds
    the corners of all pieces.
    """
    found: dict[tuple[float, float, float], _Side] = {}
    equations = ConvexHull(points[:, :2]).equations
    order = np.argsort(np.arctan2(equations[:, 1], equations[:, 0]))
    for a, b, c in equations[order]:
        key = (round(float(a), 5), round(float(b), 5), round(float(-c), 2))
        outmost = float((block[:, :2] @ np.array([a, b])).max()) + c < _ON_PLANE_MM
        found.setdefault(key, _Side(np.array([a, b]), -float(c), bool(outmost)))
    sides = list(found.values())
    return [
        side
        for k, side in enumerate(sides)
        if float(side.normal @ sides[k - 1].normal) < 1.0 - _SAME_EDGE or len(sides) < 3
    ]


def _outside(
    points: Floats, faces: NDArray[np.int32], sides: list[_Side]
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which corners lie on which side, (n, sides), and which faces (m,) lie in one."""
    normal = np.array([side.normal for side in sides])
    offset = np.array([side.offset_mm for side in sides])
    on_side = np.abs(points[:, :2] @ normal.T - offset) < _ON_PLANE_MM
    flags = on_side[faces].all(axis=1).any(axis=1)
    return on_side, flags


def _corners(sides: list[_Side]) -> tuple[Floats, Floats]:
    """Corners (k, 2) of the plan, and by how much each moves for every mm that the sides move out."""
    ring, normals = [], []
    for one, two in zip(sides, [*sides[1:], sides[0]], strict=True):
        both = np.stack([one.normal, two.normal])
        ring.append(np.linalg.solve(both, [one.offset_mm, two.offset_mm]))
        normals.append(np.linalg.solve(both, [float(one.leans), float(two.leans)]))
    return np.array(ring), np.array(normals)


def _leaning(
    points: Floats,
    faces: NDArray[np.int32],
    on_side: NDArray[np.bool_],
    upright: NDArray[np.bool_],
    sides: list[_Side],
    out_mm: float,
) -> Floats:
    """The corners with the back moved out by `out_mm` on every side.

    The rim, where the outside meets the parting side, stays where it is, so that pieces still meet edge to
    edge; from there up every side leans, the more the higher the rim.
    """
    moved = points.copy()
    rim = np.zeros(len(points), bool)
    rim[np.intersect1d(faces[upright], faces[~upright])] = True
    rim[points[:, 2] > points[:, 2].max() - _ON_PLANE_MM] = False
    normal = np.array([side.normal for side in sides])
    leans = np.array([float(side.leans) for side in sides])
    top, low = float(points[:, 2].max()), float(points[np.unique(faces[upright]), 2].min())
    for at in np.flatnonzero(on_side.any(axis=1) & ~rim).tolist():
        own = normal[on_side[at]]
        share = (float(points[at, 2]) - low) / (top - low)
        moved[at, :2] += np.linalg.lstsq(own, share * out_mm * leans[on_side[at]], rcond=None)[0]
    return moved


def _smaller_bumps(
    piece: str,
    points: Floats,
    faces: NDArray[np.int32],
    keys: Sequence[BlockKey],
    placing: Floats,
    clearance_mm: float,
) -> tuple[Floats, int]:
    """The corners with this piece's bumps drawn in, and how many bumps there were; `placing` (3, 3) turns and
    scales a place in the block.
    """
    moved, count = points.copy(), 0
    scale = float(np.linalg.norm(placing[0]))
    if clearance_mm <= 0.0:
        return moved, 0
    normal = _corner_normals(points, faces)
    down = normal[:, 2] < -0.02
    for key in keys:
        if key.bump_on != piece:
            continue
        at = np.array(key.at_mm) @ placing.T
        far = np.linalg.norm(points[:, :2] - at[:2], axis=1)
        radius = key.diameter_mm / 2.0 * scale
        foot = points[(np.abs(far - radius) < 0.02) & (np.abs(points[:, 2] - at[2]) < key.depth_mm)]
        if len(foot) < 3:
            continue
        plane, *_ = np.linalg.lstsq(np.c_[foot[:, :2], np.ones(len(foot))], foot[:, 2], rcond=None)
        inside = np.flatnonzero(down & (far < radius - 0.02))
        stands = np.c_[points[inside, :2], np.ones(len(inside))] @ plane - points[inside, 2]
        bump = inside[(stands > 0.01) & (stands < 1.5 * key.depth_mm)]
        if not len(bump):
            continue
        height = np.c_[points[bump, :2], np.ones(len(bump))] @ plane - points[bump, 2]
        moved[bump, 2] += np.minimum(height, clearance_mm / np.maximum(-normal[bump, 2], 0.2))
        count += 1
    return moved, count


def _corner_normals(points: Floats, faces: NDArray[np.int32]) -> Floats:
    corner = points[faces]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    summed = np.zeros_like(points)
    for k in range(3):
        np.add.at(summed, faces[:, k], normal)
    length = np.linalg.norm(summed, axis=1, keepdims=True)
    unit: Floats = summed / np.maximum(length, 1e-12)
    return unit
