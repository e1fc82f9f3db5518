"""Finger slots in the back edge of a heavy piece: where they may be, and the blocks that form them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
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
_CORNER_MM = 8.0  # plaster left beside a slot before the outside turns
_PAST_MM = 1.5  # what is cut away runs on past back and outside
# Ways to hold the piece: across its depth first, since hand-holds of a case stand at the ends of its width.
_WAYS = ((0.0, 1.0), (1.0, 0.0))
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

    The deepest and then widest that leave the least plaster everywhere are taken; the piece comes back as it
    was where there is no room, or no outside on both sides that is the block's own.
    """
    under = _Under.of(poured)
    for way in _WAYS:
        for deep in _down(sizes.deep_mm, sizes.deep_least_mm):
            for wide in _down(sizes.wide_mm, sizes.wide_least_mm):
                pair = [_slot(poured, under, np.array(way) * sign, deep, wide, sizes) for sign in (1.0, -1.0)]
                found = [slot for slot in pair if slot is not None]
                if len(found) == 2:
                    return replace(poured, slots=tuple(found))
    return poured


def slot_wall_mm(poured: Poured) -> float:
    """The least plaster between a finger slot and whatever of the piece is neither back nor outside, mm.

    What lies as near the block's outside as that leans is outside.
    """
    mesh = poured.solid.mesh(CASE_FRAME)
    points = mesh.vertices_mm
    ring = shapely.Polygon(poured.top_outline_mm).exterior
    lean_mm = math.tan(math.radians(poured.draft_deg)) * (poured.top_mm - poured.low_mm) + 0.1
    outside = shapely.distance(shapely.points(points[:, :2]), ring) < lean_mm
    back = points[:, 2] > poured.top_mm - 0.01
    inner = ~back[mesh.faces].all(axis=1) & ~(outside | back)[mesh.faces].all(axis=1)
    surface = Mesh.make(points, mesh.faces[inner], frame=CASE_FRAME)
    return min(float(distances_mm(_skin(slot), surface).min()) for slot in poured.slots)


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
    """The parting side of a piece from below: `at_mm` (n, 2) of lines, `low_mm` (n,) where each meets it,
    `step_mm` between lines, and the piece's centre of mass in plan.
    """

    at_mm: Floats
    low_mm: Floats
    step_mm: float
    centre_mm: Floats

    @classmethod
    def of(cls, poured: Poured) -> _Under:
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
        within = shapely.contains_xy(rim, at[:, 0], at[:, 1])
        return cls(at[within], low[within], step_mm, centre)


def _slot(
    poured: Poured, under: _Under, out: Floats, deep_mm: float, wide_mm: float, sizes: SlotSizes
) -> FingerSlot | None:
    """A slot where a line from the centre of mass leaves the back towards `out` (2,); None without room."""
    side = np.array([-out[1], out[0]])
    reach = [
        _leaves(poured, under.centre_mm + along * side, out)
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
    offset = (under.at_mm - under.centre_mm) @ np.stack([side, out], axis=1)
    apart = np.sqrt(
        np.maximum(np.abs(offset[:, 0]) - wide_mm / 2.0, 0.0) ** 2
        + np.maximum(inner - offset[:, 1], 0.0) ** 2
        + np.maximum(floor - under.low_mm, 0.0) ** 2
    )
    # A line stands for the square around it.
    if float(apart.min()) - under.step_mm < sizes.least_mm:
        return None
    corners = []
    for height in (floor, poured.top_mm + _PAST_MM):
        more = lean * (height - poured.top_mm)
        for along in (-wide_mm / 2.0 - more, wide_mm / 2.0 + more):
            for away in (inner - more, max(far) + _PAST_MM + 5.0):
                corners.append((*(under.centre_mm + along * side + away * out), height))
    middle = under.centre_mm + far[1] * out
    return FingerSlot(
        room_mm=np.array(corners),
        at_mm=np.array([*middle, poured.top_mm]),
        out=out,
        deep_mm=far[1] - inner,
        wide_mm=wide_mm,
        tall_mm=sizes.tall_mm,
    )


def _leaves(poured: Poured, at: Floats, out: Floats) -> float | None:
    """How far from a place (2,) the back ends towards `out`; None outside, or where another piece stands
    there.
    """
    ring, low = poured.top_outline_mm, poured.low_outline_mm
    for k, (a, b) in enumerate(_edges(ring)):
        along = b - a
        normal = np.array([along[1], -along[0]]) / np.linalg.norm(along)
        if normal @ out < 1e-6:
            continue
        far = float((a - at) @ normal / (normal @ out))
        met = at + far * out
        share = float((met - a) @ along / (along @ along))
        if far > 0.0 and -1e-9 <= share <= 1.0 + 1e-9:
            # A side that a piece is drawn away from stands upright, though it is the block's own.
            own = not poured.met[k] if poured.met else float((ring[k] - low[k]) @ normal) > 1e-3
            return far if own else None
    return None


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
