"""How slip runs out of a closed mold, and where it fills a bore that it does not run out of."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy import ndimage

from claybed.gate.along import practice
from claybed.geometry.directions import around
from claybed.geometry.growing_wall import liquid_in
from claybed.geometry.mesh import Floats
from claybed.geometry.pooling import (
    Cavity,
    Cells,
    Pocket,
    caught_cells,
    caught_ml,
    pockets_of,
    still_caught,
)
from claybed.records.flowed import Place, Slug

TURNS_DEG = (30.0, 60.0, 85.0, 105.0, 120.0)
WAYS_ROUND = 8
BESIDE_SHARE = 0.25
# Coarse cells that see less than this share of what finer ones do are blind to the bores it stays in.
SEEN_SHARE = 0.5
# A bore is told on cells of which so many go across it, where the cavity has no more cells than can be
# halved in a few seconds.
CELLS_ACROSS = 5.0
MOST_TO_HALVE = 300_000
# Tipped so far off the way it drains, a mold may empty a bore into the rest of its hollow.
TIPS_DEG = (30.0, 60.0, 85.0, 120.0)
# What nearly fills a bore on coarse cells is looked at again on finer ones.
NEARLY = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class Drained:
    """How a mold drains: the way `down` (3,), `slip` that stays then and `slip_ml` of it in all; the second
    way `turn` (None: none is worth it) and `turned_ml` left once turned back; `slugs` that stay after all,
    and the side `cell_mm` of the cells it was measured on.
    """

    down: Floats
    slip: list[Pocket]
    slip_ml: float
    turn: Floats | None
    turned_ml: float
    slugs: list[Slug]
    cell_mm: float


def drained(
    hollow: Cavity,
    rough: Cavity,
    find_way: Callable[[Cavity], Floats],
    finer: Callable[[], Cavity],
    wall_mm: float,
    *,
    less_than_ml: float,
) -> Drained:
    """Drain the slip of a cavity, `hollow`, held in the way `find_way` gives, and turned where that helps.

    `rough` is the same on coarser cells, on which ways are compared as long as they see what stays; `finer`
    gives the cavity on cells of half the side, on which `wall_mm` is grown again where slip stays in a bore
    narrower than `CELLS_ACROSS`. What is up to `less_than_ml` together is left out.
    """
    seen = rough if rough.opening.any() else hollow
    down = find_way(seen)
    held = caught_cells(hollow, down)
    slip_ml = _sum_ml(pockets_of(hollow, held, down, less_than_ml=less_than_ml))
    if slip_ml > 0.0 and caught_ml(seen, down) < SEEN_SHARE * slip_ml:
        seen = hollow
        down = find_way(seen)
        held = caught_cells(hollow, down)
        slip_ml = _sum_ml(pockets_of(hollow, held, down, less_than_ml=less_than_ml))
    turn = _second(seen, hollow, held, down, slip_ml) if slip_ml > 0.0 else None
    if _is_narrow(hollow, held, down, less_than_ml):
        again = liquid_in(finer(), wall_mm)
        if again.opening.any():
            hollow = again
            held = caught_cells(hollow, down)
    slip = pockets_of(hollow, held, down, less_than_ml=less_than_ml)
    slip_ml = turned_ml = _sum_ml(slip)
    left = held
    if turn is not None:
        left = still_caught(hollow, held, down, turn)
        turned_ml = float(left.sum()) * hollow.cell_ml
        if not is_worth(turned_ml, slip_ml):
            turn, turned_ml, left = None, slip_ml, held
    slugs = [
        replace(slug, tip=_tip(hollow, left, slug, down))
        for slug, full in _slugs(hollow, left, down, less_than_ml)
        if full >= 1.0
    ]
    return Drained(down, slip, slip_ml, turn, turned_ml, slugs, hollow.cell_mm)


def is_worth(turned_ml: float, slip_ml: float) -> bool:
    """Whether a second turn that leaves `turned_ml` of `slip_ml` is worth it. Source: materials/practice
    (second_turn_gain_least_fraction).
    """
    return turned_ml < (1.0 - practice("second_turn_gain_least_fraction")) * slip_ml


def _second(seen: Cavity, hollow: Cavity, held: Cells, down: Floats, slip_ml: float) -> Floats | None:
    """A second way to hold a mold that, once turned back, empties what the first leaves; None where none is
    worth it.
    """
    first = held if seen is hollow else caught_cells(seen, down)
    best: list[tuple[float, Floats]] = []
    for tilt in TURNS_DEG:
        # Coarse cells take a lean that is too small for one that will do; the next may be enough.
        ways = around(down, tilt, WAYS_ROUND)
        left = np.array([float(still_caught(seen, first, down, way).sum()) for way in ways])
        # Nobody holds a mold to a degree: a way counts for more when those beside it empty it too.
        beside = np.roll(left, 1) + np.roll(left, -1)
        way = ways[int(np.argmin(left + BESIDE_SHARE * beside))]
        best.append((float(still_caught(hollow, held, down, way).sum()) * hollow.cell_ml, way))
    turned_ml, turn = min(best, key=lambda one: one[0])
    return turn if is_worth(turned_ml, slip_ml) else None


def _is_narrow(hollow: Cavity, held: Cells, down: Floats, less_than_ml: float) -> bool:
    """Whether slip stays in a bore that its cells are too wide for, and they can be halved."""
    if int(hollow.inside.sum()) > MOST_TO_HALVE:
        return False
    return any(
        full >= NEARLY and slug.wide_mm < CELLS_ACROSS * hollow.cell_mm
        for slug, full in _slugs(hollow, held, down, less_than_ml)
    )


def _slugs(hollow: Cavity, cells: Cells, down: Floats, less_than_ml: float) -> list[tuple[Slug, float]]:
    """What stays at each place, the most first, and how far it fills its bore: by its volume over its own
    width times its free surface seen from above, which is under 1 for a puddle, and as many times 1 as a slug
    is longer than wide.
    """
    label, count = ndimage.label(cells)
    sizes = np.bincount(label.ravel(), minlength=count + 1)
    deep = ndimage.distance_transform_edt(np.pad(hollow.inside, 1, mode="edge"))[1:-1, 1:-1, 1:-1]
    d = np.abs(np.asarray(down, dtype=np.float64) / np.linalg.norm(down))
    found = []
    for k, box in enumerate(ndimage.find_objects(label), start=1):
        if float(sizes[k]) * hollow.cell_ml <= less_than_ml:
            continue
        grown = tuple(slice(max(side.start - 1, 0), side.stop + 1) for side in box)
        own, free = label[grown] == k, hollow.inside[grown] & ~cells[grown]
        faces = [
            int((np.diff(own, axis=axis) & (np.diff(own | free, axis=axis) == 0)).sum()) for axis in range(3)
        ]
        wide_mm = (2.0 * float(deep[grown][own].max()) - 1.0) * hollow.cell_mm
        area_mm2 = float(d @ np.array(faces)) * hollow.cell_mm**2
        (pocket,) = pockets_of(hollow, label == k, down)
        # The wall is known to half a cell all round.
        spread_ml = pocket.volume_ml * min(2.0 * hollow.cell_mm / wide_mm, 1.0)
        full = 1000.0 * pocket.volume_ml / max(area_mm2 * wide_mm, 1e-9)
        found.append((Slug(pocket.volume_ml, spread_ml, pocket.at_mm, wide_mm), full))
    return sorted(found, key=lambda one: -one[0].volume_ml)


def _tip(hollow: Cavity, left: Cells, slug: Slug, down: Floats) -> Place | None:
    """The way nearest to `down` (3,) that is down while a slug runs into the rest of the hollow, from where
    it drains once turned back; None when it does so in no way that is tried.
    """
    label, _ = ndimage.label(left)
    cells = np.argwhere(left)
    nearest = cells[int(np.argmin(((hollow.at_mm(cells) - np.array(slug.at_mm)) ** 2).sum(axis=1)))]
    own = label == label[tuple(nearest)]
    (box,) = ndimage.find_objects(own.astype(np.int8))
    grown = tuple(slice(max(side.start - 1, 0), side.stop + 1) for side in box)
    part = Cavity(
        hollow.inside[grown],
        hollow.inside[grown] & ~left[grown],
        hollow.low_mm + hollow.cell_mm * np.array([side.start for side in grown]),
        hollow.cell_mm,
    )
    for tilt in TIPS_DEG:
        ways = around(down, tilt, WAYS_ROUND)
        stays = [int((caught_cells(part, way) & own[grown]).sum()) for way in ways]
        if min(stays) <= practice("tip_left_most_fraction") * int(own.sum()):
            x, y, z = (float(v) for v in ways[int(np.argmin(stays))])
            return x, y, z
    return None


def _sum_ml(pockets: list[Pocket]) -> float:
    return sum(pocket.volume_ml for pocket in pockets)
