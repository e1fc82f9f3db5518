"""How much air and slip a mold would keep with a gate at some place, judged before any plaster is cut."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from claybed.gate.along import practice
from claybed.gate.draining import TURNS_DEG, WAYS_ROUND, is_worth
from claybed.gate.flowing import TILTS_DEG, best_way, ways_off
from claybed.geometry.directions import around
from claybed.geometry.growing_wall import liquid_in
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.pooling import HALF, LEAST_CELLS, Cavity, Cells, caught, caught_twice_ml
from claybed.geometry.voxels import solid_fraction

# Cells of an object when places are ranked, and when two of them are compared.
RANKING_CELLS = 4000
COMPARING_CELLS = 20000
MOST_ALONG_A_SIDE = 90
# Beside the object so much room is left for the bore, mm; round a tiny one it holds no more cells across than
# this.
ROOM_MM = 8.0
MOST_IN_ROOM = 12
# To rank places, fewer ways of holding the mold are tried.
FEW_TILTS_DEG = (35.0,)
FEW_TURNS_DEG = (60.0,)


@dataclass(frozen=True, slots=True, eq=False)
class Bore:
    """Where a bore meets the object, `at` (3,) mm, its way `out` (3,), unit, its radius, and how thick the
    object must be for slip to get past both walls there.
    """

    at: Floats
    out: Floats
    radius_mm: float
    slot_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Kept:
    """What stays, ml, and the ways `up`, `down` and `turn` (3,) in which the mold is held for it."""

    air_ml: float
    slip_ml: float
    shut_ml: float
    up: Floats
    down: Floats
    turn: Floats | None

    @property
    def left_ml(self) -> float:
        """All that neither fills nor empties, ml."""
        return self.air_ml + self.slip_ml + self.shut_ml


def cells_of(placed: Mesh, cells: int) -> Cavity:
    """An object as about so many cells, with room round it for a bore; nothing is open yet."""
    low, high = placed.bounds_mm
    span_mm = float((high - low).max())
    least_mm = max(span_mm / MOST_ALONG_A_SIDE, ROOM_MM / MOST_IN_ROOM)
    cell_mm = max((abs(placed.volume_mm3) / cells) ** (1.0 / 3.0), least_mm)
    room = np.ceil(ROOM_MM / cell_mm) + 2.0
    start: Floats = low - room * cell_mm
    x, y, z = (int(n) for n in np.ceil((high - low) / cell_mm) + 2.0 * room)
    inside: Cells = solid_fraction(placed, start, cell_mm, (x, y, z), lines=2) >= HALF
    return Cavity(inside, np.zeros_like(inside), start, cell_mm)


def with_bore(shape: Cavity, bore: Bore) -> Cavity:
    """The cavity of an object with a bore from inside it to the edge of its grid, where it is open."""
    along, round_it = _about(shape, bore)
    pipe = round_it & (along >= -_start_mm(shape, bore, along, round_it))
    rim = np.ones(shape.inside.shape, bool)
    rim[1:-1, 1:-1, 1:-1] = False
    inside = shape.inside | pipe
    return replace(shape, inside=inside, opening=inside & rim)


def buried_mm(shape: Cavity, bore: Bore) -> float:
    """How deep a bore starts inside an object, mm: where that is as wide as the bore, or thick enough. To a
    cell as in `gate.joining`.
    """
    return _start_mm(shape, bore, *_about(shape, bore))


def _about(shape: Cavity, bore: Bore) -> tuple[Floats, Cells]:
    """How far along a bore each cell lies, mm, and whether it is within the bore's radius."""
    every = np.moveaxis(np.indices(shape.inside.shape), 0, -1)
    off = shape.at_mm(every) - bore.at
    along = off @ bore.out
    across = np.sqrt(np.maximum((off**2).sum(axis=-1) - along**2, 0.0))
    return along, across <= max(bore.radius_mm, 0.8 * shape.cell_mm)


def _start_mm(shape: Cavity, bore: Bore, along: Floats, round_it: Cells) -> float:
    if abs(float(bore.out[2])) > HALF:
        return practice("gate_buried_mm")
    needed = min(1.0, bore.slot_mm / (2.0 * bore.radius_mm))
    for depth_mm in np.arange(
        shape.cell_mm, practice("gate_buried_most_ratio") * bore.radius_mm, shape.cell_mm
    ):
        slab = round_it & (np.abs(along + depth_mm) <= HALF * shape.cell_mm)
        if slab.any() and float(shape.inside[slab].mean()) >= needed:
            return float(depth_mm)
    return bore.radius_mm


def kept_by(cavity: Cavity, bore: Bore, wall_mm: float, *, few: bool) -> Kept:
    """What a cavity with a bore keeps, held in the best way there is; `few` ways are tried to rank it.

    Air: cells from which no way rises to the opening. Slip: the same of what a wall of `wall_mm` leaves,
    turned over, and turned a second time where that helps. As `gate.flowing` tells it of the mold as cut.
    """
    ways = ways_off(bore.out, FEW_TILTS_DEG if few else TILTS_DEG)
    up = best_way(cavity, ways, keeps_share=practice("tilt_air_gain_least_fraction"))
    hollow = liquid_in(cavity, wall_mm)
    down = best_way(hollow, ways) if hollow.opening.any() else bore.out
    first = _held_so(cavity, hollow, up, down, None)
    if first.slip_ml <= 0.0:
        return first
    turns = FEW_TURNS_DEG if few else TURNS_DEG
    ways = np.concatenate([around(down, tilt, WAYS_ROUND) for tilt in turns])
    left = [caught_twice_ml(hollow, down, way) for way in ways]
    turned = replace(first, slip_ml=min(left), turn=ways[int(np.argmin(left))])
    return turned if is_worth(turned.slip_ml, first.slip_ml) else first


def _held_so(cavity: Cavity, hollow: Cavity, up: Floats, down: Floats, turn: Floats | None) -> Kept:
    """What stays when a cavity is filled with `up` up, and its slip `hollow` drained with `down` down, then
    with `turn`.
    """
    least_ml = max(LEAST_CELLS, practice("bubble_fraction") * float(cavity.inside.sum())) * cavity.cell_ml
    air_ml = sum(pocket.volume_ml for pocket in caught(cavity, up, less_than_ml=least_ml))
    slip_ml, shut_ml = 0.0, _shut_ml(hollow, least_ml)
    if hollow.opening.any():
        slip_ml = sum(pocket.volume_ml for pocket in caught(hollow, down, less_than_ml=least_ml))
        if turn is not None and slip_ml > 0.0:
            slip_ml = min(slip_ml, caught_twice_ml(hollow, down, turn))
    return Kept(air_ml, slip_ml, shut_ml, up, down, turn)


def _shut_ml(hollow: Cavity, least_ml: float) -> float:
    """Slip in parts that no way leads out of, ml."""
    label, count = ndimage.label(hollow.inside)
    sizes = np.bincount(label.ravel(), minlength=count + 1) * hollow.cell_ml
    sizes[np.unique(label[hollow.opening])] = 0.0
    sizes[0] = 0.0
    return float(sizes[sizes > least_ml].sum())
