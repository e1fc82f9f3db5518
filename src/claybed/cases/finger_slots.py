"""Finger slots in the back edge of a heavy piece: where they may be, and the blocks that form them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice, pairwise
from typing import TypeAlias

import numpy as np
import shapely

from claybed.cases.sizes import size_mm
from claybed.geometry.carving import Solid
from claybed.geometry.depth import DepthRaster
from claybed.geometry.forming import closed, grown, hull, on_lattice, rod, united
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.nearness import distances_mm
from claybed.records.cases import CASE_FRAME, CasePart, FingerSlot, Poured

SCREW_MM = size_mm("screw_bore")  # a screw of 4 mm bites in a hole of this
_SCREW_DEEP_MM = size_mm("slot_screw_deep")
_SCREW_IN_MM = (12.0, 18.0, 24.0)  # from the end of the block, the first that keeps clear of flanges
_CLEAR_OF_CUT_MM = 12.0
_INTO_MM = 3.0  # screw holes of the wall begin in the block's place, also where the outside is dented
_LINES = 320
_STEP_MM = 5.0
_ASIDE_STEP_MM = 7.5
_ASIDE_SHARE = 0.25  # of its width that a slot may stand beside the line through the centre of mass
_CORNER_MM = 8.0  # plaster left beside a slot before the outside turns
_PAST_MM = 1.5  # what is cut away runs on past back and outside
# Ways to hold the piece: across its depth first, since hand-holds of a case stand at the ends of its width.
_WAYS = ((0.0, 1.0), (1.0, 0.0))
_SAME_WAY = 0.999
_ON_SIDE_MM = 0.1  # rounding leaves the outside uneven
Cuts: TypeAlias = tuple[Sequence[float], Sequence[float]]
NO_CUTS: Cuts = ((), ())


@dataclass(frozen=True, slots=True)
class SlotSizes:
    """What a slot is made to: at most `deep_mm` in from the edge and `wide_mm` along it, down to the least of
    each; `tall_mm` from the back, `draft_deg` of its sides, `least_mm` of plaster to cavity and parting side.
    """

    deep_mm: float
    deep_least_mm: float
    wide_mm: float
    wide_least_mm: float
    tall_mm: float
    draft_deg: float
    least_mm: float


def with_slots(poured: Poured, sizes: SlotSizes) -> Poured:
    """A piece with two finger slots in its back edge, opposite one another beside its centre of mass.

    Sides that are the block's own come first: there the closed mold can be held by the slots as well. A side
    where another piece stands serves when the piece lies on its back alone. The deepest and then widest that
    leave the least plaster everywhere are taken; the piece comes back as it was where there is no room.
    """
    under, inner = _Under.of(poured, sizes), _inner_surface(poured)
    for own_only in (True, False) if any(poured.met) else (True,):
        for way in _ways(poured):
            for deep in _down(sizes.deep_mm, sizes.deep_least_mm):
                for wide in _down(sizes.wide_mm, sizes.wide_least_mm):
                    found = []
                    for out in (way, -way):
                        tried = (
                            _slot(poured, under, out, deep, wide, aside, sizes, own_only)
                            for aside in _aside_mm(wide)
                        )
                        free = (one for one in tried if one and _wall_mm([one], inner) >= sizes.least_mm)
                        found += [*islice(free, 1)]
                        if not found:
                            break
                    if len(found) == 2:
                        return replace(poured, slots=tuple(found))
    return poured


def slot_wall_mm(poured: Poured) -> float:
    """The least plaster between a finger slot and whatever of the piece is neither back nor outside, mm:
    cavity, parting side, sockets and the room of cores.
    """
    return _wall_mm(poured.slots, _inner_surface(poured))


def _wall_mm(slots: Sequence[FingerSlot], inner: Mesh) -> float:
    return min(float(distances_mm(_skin(slot), inner).min()) for slot in slots)


def _inner_surface(poured: Poured) -> Mesh:
    """The faces of a piece, loose keys and cores out, that lie neither in its back nor beyond one upright
    side of its outside.
    """
    mesh = (poured.solid if poured.opened is None else poured.opened).mesh(CASE_FRAME)
    points = mesh.vertices_mm
    ring = poured.low_outline_mm
    along = np.roll(ring, -1, axis=0) - ring
    normal = np.stack([along[:, 1], -along[:, 0]], axis=1) / np.linalg.norm(along, axis=1, keepdims=True)
    on_side = points[:, :2] @ normal.T - (ring * normal).sum(axis=1) > -_ON_SIDE_MM
    back = points[:, 2] > poured.top_mm - 0.01
    outer = on_side[mesh.faces].all(axis=1).any(axis=1) | back[mesh.faces].all(axis=1)
    return Mesh.make(points, mesh.faces[~outer], frame=CASE_FRAME)


def _ways(poured: Poured) -> list[Floats]:
    """Unit vectors (2,) in plan along which slots may look: across the piece, along it, square to a side."""
    found = [np.array(way) for way in _WAYS]
    for a, b in _edges(poured.top_outline_mm):
        normal = np.array([b[1] - a[1], a[0] - b[0]]) / np.linalg.norm(b - a)
        if all(abs(float(normal @ way)) < _SAME_WAY for way in found):
            found.append(normal)
    return found


def formers(poured: Poured, cuts_mm: Cuts = NO_CUTS) -> tuple[CasePart, ...]:
    """The blocks to print that form the slots, upside down, with holes for the screws through the wall.

    `cuts_mm` as for `slot_screws`.
    """
    parts = []
    for k, slot in enumerate(poured.slots, start=1):
        solid = former(poured, slot)
        bores = [
            rod(
                (*(place - slot.out * _SCREW_DEEP_MM), height),
                (*(place + slot.out * _PAST_MM), height),
                SCREW_MM / 2.0,
            )
            for place, height in _screws(slot, cuts_mm)
        ]
        lattice = on_lattice(solid - united(bores))
        turn = lattice.points * np.array([1, -1, -1])
        turn[:, 2] -= turn[:, 2].min()
        laid = replace(lattice, points=turn)
        size = np.ptp(lattice_mm(laid.points), axis=0)
        parts.append(
            CasePart(f"{poured.piece}-slot{k}", laid, (float(size[0]), float(size[1]), float(size[2])))
        )
    return tuple(parts)


def former(poured: Poured, slot: FingerSlot) -> Solid:
    """The block that forms a slot, where it stands in the case: against the wall, level with the rim."""
    return hull(slot.room_mm) ^ closed(lattice_mm(poured.solid.points), poured.solid.faces)


def slot_screws(
    poured: Poured, cuts_mm: Cuts, wall_mm: float, floor_mm: float, radius_mm: float
) -> list[Solid]:
    """Holes through the wall of a case, two behind each block, clear of the flanges of its `cuts_mm` along x
    and along y.
    """
    lift = np.array([0.0, 0.0, floor_mm])
    return [
        rod(
            np.array([*(place - slot.out * _INTO_MM), height]) + lift,
            np.array([*(place + slot.out * (wall_mm + 8.0)), height]) + lift,
            radius_mm,
        )
        for slot in poured.slots
        for place, height in _screws(slot, cuts_mm)
    ]


@dataclass(frozen=True, slots=True, eq=False)
class _Under:
    """The parting side of a piece from below, where it rises near to slots: `at_mm` (n, 2) of lines, `low_mm`
    (n,) where each meets it, `step_mm` between lines, and the piece's centre of mass in plan.
    """

    at_mm: Floats
    low_mm: Floats
    step_mm: float
    centre_mm: Floats

    @classmethod
    def of(cls, poured: Poured, sizes: SlotSizes) -> _Under:
        mesh = poured.solid.mesh(CASE_FRAME)
        columns = DepthRaster(mesh, resolution=_LINES).columns(np.array([0.0, 0.0, 1.0]))
        low = columns.bottom_mm.ravel()
        pixel = np.flatnonzero(np.isfinite(low))
        low = low[pixel]
        at = columns.grid.object_mm(pixel, np.zeros(len(pixel)))[:, :2]
        tall = poured.top_mm - low
        centre: Floats = (at * tall[:, None]).sum(axis=0) / tall.sum()
        # Outside the lowest rim a line meets the leaning outside from below, which a slot may open.
        step_mm = float(columns.grid.spacing_mm)
        rim = shapely.Polygon(grown(poured.low_outline_mm, -step_mm))
        near = poured.top_mm - sizes.tall_mm - low < sizes.least_mm + step_mm
        within = near & shapely.contains_xy(rim, at[:, 0], at[:, 1])
        return cls(at[within], low[within], step_mm, centre)


def _aside_mm(wide_mm: float) -> list[float]:
    """How far a slot may stand beside the line through the centre of mass, the least first."""
    far = np.arange(_ASIDE_STEP_MM, _ASIDE_SHARE * wide_mm + 1e-9, _ASIDE_STEP_MM).tolist()
    return [0.0, *(sign * one for one in far for sign in (1.0, -1.0))]


def _slot(
    poured: Poured,
    under: _Under,
    out: Floats,
    deep_mm: float,
    wide_mm: float,
    aside_mm: float,
    sizes: SlotSizes,
    own_only: bool,
) -> FingerSlot | None:
    """A slot where a line `aside_mm` beside the centre of mass leaves the back towards `out` (2,); None
    without room, or where another piece stands there and `own_only` sides will do.
    """
    side = np.array([-out[1], out[0]])
    centre = under.centre_mm + aside_mm * side
    reach = [
        _leaves(poured, centre + along * side, out, own_only)
        for along in (-wide_mm / 2.0 - _CORNER_MM, 0.0, wide_mm / 2.0 + _CORNER_MM)
    ]
    if any(far is None for far in reach):
        return None
    far = [value for value in reach if value is not None]
    inner = max(far) - deep_mm
    if min(far) - inner < sizes.deep_least_mm / 2.0:
        return None
    lean = math.tan(math.radians(sizes.draft_deg))
    floor = poured.top_mm - sizes.tall_mm
    if _leans_mm(poured, out) * sizes.tall_mm / (poured.top_mm - poured.low_mm) > 2.0 * _INTO_MM:
        # Under a side that leans out so far fingers slip off.
        return None
    offset = (under.at_mm - centre) @ np.stack([side, out], axis=1)
    apart = np.sqrt(
        np.maximum(np.abs(offset[:, 0]) - wide_mm / 2.0, 0.0) ** 2
        + np.maximum(inner - offset[:, 1], 0.0) ** 2
        + np.maximum(floor - under.low_mm, 0.0) ** 2
    )
    # A line stands for the square around it.
    if float(apart.min(initial=math.inf)) - under.step_mm < sizes.least_mm:
        return None
    corners = []
    for height in (floor, poured.top_mm + _PAST_MM):
        more = lean * (height - poured.top_mm)
        for along in (-wide_mm / 2.0 - more, wide_mm / 2.0 + more):
            for away in (inner - more, max(far) + _PAST_MM + 5.0):
                corners.append((*(centre + along * side + away * out), height))
    middle = centre + far[1] * out
    return FingerSlot(
        room_mm=np.array(corners),
        at_mm=np.array([*middle, poured.top_mm]),
        out=out,
        deep_mm=far[1] - inner,
        wide_mm=wide_mm,
        tall_mm=sizes.tall_mm,
    )


def _leaves(poured: Poured, at: Floats, out: Floats, own_only: bool) -> float | None:
    """How far from a place (2,) the back ends towards `out`; None outside, or where another piece stands
    there and `own_only` sides will do.
    """
    for k, (a, b) in enumerate(_edges(poured.top_outline_mm)):
        along = b - a
        normal = np.array([along[1], -along[0]]) / np.linalg.norm(along)
        if normal @ out < 1e-6:
            continue
        far = float((a - at) @ normal / (normal @ out))
        met = at + far * out
        share = float((met - a) @ along / (along @ along))
        if far > 0.0 and -1e-9 <= share <= 1.0 + 1e-9:
            return None if own_only and poured.met and poured.met[k] else far
    return None


def _leans_mm(poured: Poured, out: Floats) -> float:
    """How much further the outside reaches towards `out` (2,) at the back than at the lowest rim."""
    return float((poured.top_outline_mm @ out).max() - (poured.low_outline_mm @ out).max())


def _screws(slot: FingerSlot, cuts_mm: Cuts) -> list[tuple[Floats, float]]:
    """Where two screws reach a block from outside: places (2,) on its outer face, and their height."""
    side = np.array([-slot.out[1], slot.out[0]])
    height = float(slot.at_mm[2]) - slot.tall_mm / 2.0
    found = []
    for sign in (-1.0, 1.0):
        tried = [slot.at_mm[:2] + sign * (slot.wide_mm / 2.0 - from_end) * side for from_end in _SCREW_IN_MM]
        free = [
            place
            for place in tried
            if all(
                abs(float(place[along]) - at) > _CLEAR_OF_CUT_MM
                for along, cuts in enumerate(cuts_mm)
                for at in cuts
            )
        ]
        found.append(((free or tried)[0], height))
    return found


def _skin(slot: FingerSlot) -> Floats:
    """Points (n, 3) close together on the faces that a slot leaves in the plaster."""
    low, high = slot.room_mm[:4], slot.room_mm[4:]
    ends, away = np.meshgrid(np.linspace(0.0, 1.0, 13), np.linspace(0.0, 1.0, 13))

    def spread(a: Floats, b: Floats, c: Floats, d: Floats) -> Floats:
        u, v = ends.reshape(-1, 1), away.reshape(-1, 1)
        points: Floats = (1 - u) * (1 - v) * a + u * (1 - v) * b + (1 - u) * v * c + u * v * d
        return points

    faces = [
        spread(*low),
        spread(low[0], low[2], high[0], high[2]),
        spread(low[0], low[1], high[0], high[1]),
        spread(low[2], low[3], high[2], high[3]),
    ]
    return np.concatenate(faces)


def _edges(ring: Floats) -> Iterator[tuple[Floats, Floats]]:
    return pairwise([*ring, ring[0]])


def _down(most_mm: float, least_mm: float) -> list[float]:
    """Sizes to try, the largest first."""
    return np.arange(most_mm, least_mm - 1e-9, -_STEP_MM).tolist()
