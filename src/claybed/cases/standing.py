"""A mold piece turned the way its case pours it: back up, outside drafted, bumps smaller by the clearance."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
import shapely
from numpy.typing import NDArray

from claybed.cases.bumps import bumps_drawn_in
from claybed.cases.leaning import ON_PLANE_MM, Side, corners_of, laid_on, moved_out, outside, sides_of
from claybed.cases.loose_cores import cores_of
from claybed.cases.loose_keys import filled, plugs_of, with_sockets
from claybed.errors import CannotError
from claybed.geometry.carving import Solid, snapped, triangles
from claybed.geometry.forming import closed, laid_closed, united
from claybed.geometry.lattice import UNITS_PER_MM, XY_PER_MM, Z_PER_MM, lattice_mm, pull_rotation
from claybed.geometry.mesh import Floats
from claybed.geometry.slab import LatticeSolid
from claybed.records.assembly import BlockKey
from claybed.records.cases import Core, Plug, Poured
from claybed.units import say_length

# Faces that cutting and rounding left this far off may lie over one another.
ROUNDED_MM = 0.01
# Below this moved corners are as good as cut wedges, and leave every other corner where the plan has it.
_HELD_LITTLE_MM2 = 0.5
_TURNED_MM2 = 0.01
_SLIVERS_MM2 = 1.0
_FINE_MM = 0.25 / XY_PER_MM
NO_OTHERS: Mapping[str, LatticeSolid] = MappingProxyType({})
NO_PULLS: Mapping[str, Sequence[float]] = MappingProxyType({})


@dataclass(frozen=True, slots=True, eq=False)
class Readied:
    """A piece turned back up, sideways sockets and the room of cores filled, before its outside leans.

    `solid` as planned, `own` (n, 3) its corners in the case's frame, `placing` (3, 3) that turns and scales a
    place in the block, `drawn` the unit pull there; `points` and `faces` of the filled piece with its
    `sides`, `wedges` what leans them where neighbours give room, `room` of plugs and cores through those, and
    `given_by` the letters of the neighbours.
    """

    piece: str
    solid: LatticeSolid
    keys: Sequence[BlockKey]
    draft_deg: float
    clearance_mm: float
    scale: float
    placing: Floats
    drawn: Floats
    own: Floats
    points: Floats
    faces: NDArray[np.int32]
    sides: Sequence[Side]
    plugs: tuple[Plug, ...]
    cores: tuple[Core, ...]
    wedges: Solid | None = None
    room: tuple[Solid, ...] = ()
    given_by: tuple[str, ...] = ()

    @property
    def top_mm(self) -> float:
        """The height of its back."""
        return float(self.own[:, 2].max())


def ready(
    piece: str,
    solid: LatticeSolid,
    pull: Sequence[float],
    keys: Sequence[BlockKey],
    *,
    draft_deg: float,
    clearance_mm: float,
    scale: float = 1.0,
    others: Mapping[str, LatticeSolid] = NO_OTHERS,
    pulls: Mapping[str, Sequence[float]] = NO_PULLS,
) -> Readied:
    """A piece turned back up and filled.

    `solid` in the block's frame, `pull` the unit vector in which it is drawn out of its case, `keys` of the
    mold. The side of the block that looks most along the pull is the back, and lies on top; a piece whose
    pull is not square to it is drawn out of its case aslant. All but the draft is `scale` times as large.
    Sockets of keys that come in sideways, told by the `pulls` of all pieces, are filled and given as plugs;
    what of the `others` lies over faces that would hold this one is filled and given as cores. Raises
    CannotError for a piece that has no outside.
    """
    rotation = back_up(pull)
    drawn = rotation @ np.asarray(pull, dtype=np.float64)
    placing = rotation * scale
    own = lattice_mm(solid.points) @ placing.T
    points, faces = own, solid.faces
    plugs = plugs_of(piece, points, keys, placing, pulls)
    if plugs:
        points, faces = filled(points, faces, plugs)
    whole = [points, *(lattice_mm(other.points) @ placing.T for other in others.values())]
    sides = sides_of(points, np.concatenate(whole), drawn.tolist(), draft_deg)
    if not outside(points, faces, sides)[1].any():
        raise CannotError(
            f"piece {piece} has no upright outside to lean.",
            where=f"case of piece {piece}",
            remedy="Pour this piece as the plan says.",
        )
    beside = [(other, pulls[name]) for name, other in others.items() if name in pulls]
    cores, points, faces = cores_of(points, faces, sides, plugs, beside, placing, drawn.tolist())
    return Readied(
        piece, solid, keys, draft_deg, clearance_mm, scale, placing, drawn, own, points, faces, sides, plugs,
        cores,
    )  # fmt: skip


def stand_up(one: Readied, taken: Sequence[Solid] = ()) -> Poured:
    """A piece as its case pours it: its outside leaning, its bumps smaller.

    The back is moved out on every side by the draft over the height from the lowest rim, so that no wall of
    plaster grows thinner, and by as much as a slanted pull moves the piece that way; sides where another
    piece meets it stay upright unless that gives room. `taken` of this piece in turn, in the case's frame,
    is what its neighbours lean into. Bumps lose the clearance square to their surface. Raises CannotError
    for a piece which faces of its own would hold in a case that opens upwards.
    """
    piece, sides, draft_deg, drawn, top = one.piece, one.sides, one.draft_deg, one.drawn, one.top_mm
    points, made_smaller = _smaller(one, one.points, one.faces)
    faces, origin = one.faces, one.solid.origin
    _, upright = outside(points, faces, sides)
    low = float(points[np.unique(faces[upright]), 2].min())
    ring, normals = corners_of(sides)
    out_mm = math.tan(math.radians(draft_deg)) * (top - low)
    laid = one.wedges is not None
    if one.wedges is not None:
        points, faces = _triples(_less(closed(points, faces) + one.wedges, taken))
    else:
        points, faces, laid = _leaned(points, faces, sides, draft_deg, drawn.tolist())
        if taken:
            points, faces = _triples(_less(closed(points, faces), taken))
    _refuse_held(piece, points, faces, drawn.tolist())
    _, upright = outside(points, faces, sides)
    upright &= (points[faces][:, :, 2] < top - ON_PLANE_MM).any(axis=1)
    middle = (points[:, :2].max(axis=0) + points[:, :2].min(axis=0)) / 2.0
    # A whole number of lattice steps, so that the piece goes back into the block without rounding.
    shift = -np.rint(np.array([*middle, float(points[:, 2].min())]) * UNITS_PER_MM) / UNITS_PER_MM
    cut = laid or bool(one.plugs or one.cores or taken)
    placed = laid_closed(points + shift, faces) if cut else snapped(points + shift, faces, origin)
    opened = None
    if one.plugs or one.cores:
        opened = laid_closed(*_opened(one, taken, shift, laid=laid))
    # The levels as they lie on the lattice, so that a case's rim and the piece's back are one plane.
    levels = np.rint((np.array([low, top]) + shift[2]) * Z_PER_MM) / Z_PER_MM
    least_deg, share, area_mm2 = _draft(points, faces[upright], draft_deg / 2.0, drawn)
    return Poured(
        piece=piece,
        scale=one.scale,
        solid=placed,
        low_outline_mm=ring + shift[:2],
        top_outline_mm=ring + normals * out_mm + shift[:2],
        low_mm=float(levels[0]),
        top_mm=float(levels[1]),
        draft_deg=draft_deg,
        rotation=one.placing / one.scale,
        shift_mm=shift,
        keys=made_smaller,
        side_mm2=area_mm2,
        least_draft_deg=least_deg,
        leaning_share=share,
        plugs=tuple(Plug(plug.points_mm + shift, plug.at_mm + shift, plug.axis) for plug in one.plugs),
        cores=tuple(
            replace(core, solid=_shifted(core.solid, shift), at_mm=core.at_mm + shift) for core in one.cores
        ),
        opened=opened,
        pull=(float(drawn[0]), float(drawn[1]), float(drawn[2])),
        cut=cut,
        met=tuple(side.met for side in (*sides[1:], sides[0])),
        given_by=one.given_by,
    )


def _opened(
    one: Readied, taken: Sequence[Solid], shift_mm: Floats, *, laid: bool
) -> tuple[Floats, NDArray[np.int32]]:
    """The same piece without what was filled: its own corners, moved in the same way."""
    own, _ = _smaller(one, one.own, one.solid.faces)
    if one.wedges is None:
        own, triples = _leaning(own, one.solid.faces, one.sides, one.draft_deg, laid=laid)
        if taken:
            own, triples = _triples(_less(closed(own, triples), taken))
    else:
        whole = closed(own, one.solid.faces) + _less(one.wedges, one.room)
        own, triples = _triples(_less(whole, taken))
    return own + shift_mm, triples


def _less(solid: Solid, taken: Sequence[Solid]) -> Solid:
    return solid - united(taken) if taken else solid


def _triples(solid: Solid) -> tuple[Floats, NDArray[np.int32]]:
    # Not tidied: that would move corners of faces along the pull, which are the plan's own here.
    points, faces = triangles(solid)
    return points, faces.astype(np.int32)


def _smaller(one: Readied, points: Floats, faces: NDArray[np.int32]) -> tuple[Floats, int]:
    return bumps_drawn_in(one.piece, points, faces, one.keys, one.placing, one.clearance_mm, one.drawn)


def in_block(poured: Poured) -> LatticeSolid:
    """The piece as it comes out of its case, back where it stands in the block, at its own scale."""
    solid = with_sockets(poured)
    back = (lattice_mm(solid.points) - poured.shift_mm) @ poured.rotation
    return snapped(back, solid.faces, solid.origin)


def held_mm2(points: Floats, faces: NDArray[np.int32], pull: Sequence[float]) -> float:
    """Area that a piece with corners (n, 3) and faces (m, 3) shows along its `pull` anywhere but at its back,
    where an open case would hold it.
    """
    return float(_held(points, faces, pull).sum())


def held_under_back_mm(points: Floats, faces: NDArray[np.int32], pull: Sequence[float]) -> float:
    """How far under its back, mm, the face lies that shows most of that area."""
    widest = points[faces[int(np.argmax(_held(points, faces, pull)))]]
    return float(points[:, 2].max() - widest[:, 2].mean())


def _held(points: Floats, faces: NDArray[np.int32], pull: Sequence[float]) -> Floats:
    """What of that area each face (m,) shows."""
    corner = points[faces]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    back = (corner[:, :, 2] > points[:, 2].max() - ON_PLANE_MM).all(axis=1)
    along = np.where(back, 0.0, normal @ np.asarray(pull, dtype=np.float64))
    held: Floats = np.maximum(along, 0.0) / 2.0
    return held


def undercut_mm(points: Floats, faces: NDArray[np.int32], pull: Sequence[float]) -> float:
    """How far at most a case reaches over a piece with corners (n, 3) and faces (m, 3), mm: the width of the
    widest place that shows along its `pull` anywhere but at its back, seen along the pull.

    Slivers beside one another count as one place. Found by shrinking the places until none is left, to half
    a step of the lattice.
    """
    corner = points[faces]
    seen = (corner @ pull_rotation(np.asarray(pull)).T)[:, :, :2]
    one, two = seen[:, 1] - seen[:, 0], seen[:, 2] - seen[:, 0]
    toward = one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0] > 0.0
    back = (corner[:, :, 2] > points[:, 2].max() - ON_PLANE_MM).all(axis=1)
    places = shapely.union_all(shapely.polygons(seen[toward & ~back]))
    narrow, wide = 0.0, math.sqrt(places.area / math.pi)
    while wide - narrow > _FINE_MM:
        half = (narrow + wide) / 2.0
        narrow, wide = (narrow, half) if places.buffer(-half).is_empty else (half, wide)
    return 2.0 * wide


def _leaned(
    points: Floats, faces: NDArray[np.int32], sides: Sequence[Side], draft_deg: float, pull: Sequence[float]
) -> tuple[Floats, NDArray[np.int32], bool]:
    """The piece with its outside leaning: corners moved out where that leaves no face that looks along the
    pull and turns none over, else wedges laid on its sides, which the last value tells.
    """
    moved, _ = _leaning(points, faces, sides, draft_deg, laid=False)
    held = held_mm2(moved, faces, pull)
    turned = _turned_over_mm2(points, moved, faces)
    if held > _HELD_LITTLE_MM2 or turned > _TURNED_MM2:
        thicker, triples = _leaning(points, faces, sides, draft_deg, laid=True)
        if turned > _TURNED_MM2 or held_mm2(thicker, triples, pull) < held:
            return thicker, triples, True
    return moved, faces, False


def _turned_over_mm2(before: Floats, after: Floats, faces: NDArray[np.int32]) -> float:
    """Area of the faces that look the other way once their corners were moved: they lie over others."""
    one, two = before[faces], after[faces]
    was = np.cross(one[:, 1] - one[:, 0], one[:, 2] - one[:, 0])
    now = np.cross(two[:, 1] - two[:, 0], two[:, 2] - two[:, 0])
    over = np.einsum("ij,ij->i", was, now) < 0.0
    return float(np.linalg.norm(now[over], axis=1).sum() / 2.0)


def _leaning(
    points: Floats, faces: NDArray[np.int32], sides: Sequence[Side], draft_deg: float, *, laid: bool
) -> tuple[Floats, NDArray[np.int32]]:
    on_side, upright = outside(points, faces, sides)
    if laid:
        return laid_on(points, faces, on_side, sides, draft_deg)
    return moved_out(points, faces, on_side, upright, sides, draft_deg), faces


def _shifted(solid: LatticeSolid, shift_mm: Floats) -> LatticeSolid:
    return replace(solid, points=solid.points + np.rint(shift_mm * UNITS_PER_MM).astype(np.int64))


def _draft(
    points: Floats, faces: NDArray[np.int32], least_deg: float, pull: Floats
) -> tuple[float, float, float]:
    """The least angle of faces against the pull, the share of area that leans by `least_deg`, the area.

    Rounding leaves slivers that lean anyhow: the least is that of all but a square millimetre.
    """
    corner = points[faces]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    size = np.linalg.norm(normal, axis=1)
    real = size > 1e-6
    lean = np.degrees(np.arcsin(np.clip(-(normal[real] @ pull) / size[real], -1.0, 1.0)))
    share = float(size[real][lean >= least_deg - 1e-9].sum() / size.sum())
    order = np.argsort(lean)
    first = int(np.searchsorted(np.cumsum(size[real][order]) / 2.0, _SLIVERS_MM2))
    least = float(lean[order][min(first, len(order) - 1)]) if len(order) else 90.0
    return abs(max(least, 0.0)), share, float(size.sum() / 2.0)


def back_up(pull: Sequence[float]) -> Floats:
    """The turn that brings up the side of the block that looks most along a pull; the plan is not turned
    where none is needed.
    """
    d = np.asarray(pull, dtype=np.float64)
    axis = int(np.argmax(np.abs(d)))
    sign = float(np.sign(d[axis]))
    if axis == 2:
        return np.diag([1.0, sign, sign])
    up = np.zeros(3)
    up[axis] = sign
    return pull_rotation(up)


def _refuse_held(piece: str, points: Floats, faces: NDArray[np.int32], pull: Sequence[float]) -> None:
    if undercut_mm(points, faces, pull) > ROUNDED_MM:
        held = held_mm2(points, faces, pull)
        much = f"{held / 100.0:.1f} cm²" if held >= 100.0 else f"{held:.1f} mm²"
        under = say_length(held_under_back_mm(points, faces, pull))
        raise CannotError(
            f"{much} of it look up beside its back, most {under} under it: it would not leave an open case.",
            where=f"case of piece {piece}",
            remedy="Pour this piece against the others, as the plan says.",
        )
