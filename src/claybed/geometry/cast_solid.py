"""What of a cavity casts solid: where the growing wall leaves no hollow at all.

Thin rims, corners and points cast solid on any object. A neck is told from them by its shape: it reaches far
from the slip, is about as wide as it is thick, and does not run out to a point.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from claybed.geometry.growing_wall import liquid_in
from claybed.geometry.mesh import Floats
from claybed.geometry.pooling import Cavity, Cells, cut_off_cells

# Walls are compared in steps of this share of the wall asked for.
STEP_SHARE = 0.02
# Cells that turn to clay so nearly as late as the last stand on the same axis.
LATE_SHARE = 0.98


@dataclass(frozen=True, slots=True)
class NeckShape:
    """What tells a neck from a rim, a corner, a sheet and a point.

    Clay further from slip than `far_factor` walls is no wall. A neck reaches on beyond that by
    `reach_least_ratio` of its own thickness, holds up to `volume_most_ratio` times what a rod of its
    thickness and reach does, and its thickness at 7/10 of the reach is at least `taper_least_ratio` of that
    at 3/10.
    """

    far_factor: float
    reach_least_ratio: float
    volume_most_ratio: float
    taper_least_ratio: float


@dataclass(frozen=True, slots=True)
class Plug:
    """A neck that casts solid: `volume_ml`, the middle `at_mm` of its narrowest place, the width `wide_mm` of
    it to two cells, and `closes_mm`, the wall on flat plaster at which it has grown shut.
    """

    volume_ml: float
    at_mm: tuple[float, float, float]
    wide_mm: float
    closes_mm: float


@dataclass(frozen=True, slots=True)
class End:
    """A rim, point or plate that casts solid: `volume_ml` of clay further from slip than a wall is, its
    thickest place `at_mm`, and how thick it is there, to two cells.
    """

    volume_ml: float
    at_mm: tuple[float, float, float]
    thick_mm: float


@dataclass(frozen=True, slots=True)
class Starved:
    """A part that casts solid behind a way out that is clay before it: `slip_ml` of slip is in it still at
    that time, `at_mm` the place that turns to clay last, and `closes_mm` the wall on flat plaster at which
    its way out has grown shut.
    """

    slip_ml: float
    at_mm: tuple[float, float, float]
    closes_mm: float


def starved_parts(
    cavity: Cavity,
    hollow: Cavity,
    turns_mm: Floats,
    wall_mm: float,
    *,
    less_than_ml: float,
    later_ratio: float,
) -> list[Starved]:
    """Parts of a full cavity that are clay throughout at a wall of `wall_mm`, and cut off from the opening
    before that, the largest first; those of up to `less_than_ml` of slip are left out, and those that are
    clay at less than `later_ratio` times the wall at which their way out is.

    `hollow` and `turns_mm` as in `solid_parts`.
    """
    step_mm = STEP_SHARE * wall_mm
    label, _ = ndimage.label(cut_off_cells(cavity, np.floor(turns_mm / step_mm)))
    found = []
    for k, box in enumerate(ndimage.find_objects(label), start=1):
        cells = np.argwhere(label[box] == k) + [side.start for side in box]
        at = tuple(cells.T)
        closes_mm, last_mm = float(turns_mm[at].min()), float(turns_mm[at].max())
        if (
            len(cells) * cavity.cell_ml <= less_than_ml
            or last_mm < later_ratio * closes_mm
            or hollow.inside[at].any()
        ):
            continue
        # Those walls hold where it is clay last; how far its wall has come does not follow from them.
        slip_ml = float(liquid_in(cavity, closes_mm).inside[at].sum()) * cavity.cell_ml
        latest = cells[turns_mm[at] >= LATE_SHARE * last_mm]
        x, y, z = (float(v) for v in cavity.at_mm(latest).mean(axis=0))
        if slip_ml > less_than_ml:
            found.append(Starved(slip_ml, (x, y, z), closes_mm))
    return sorted(found, key=lambda one: -one.slip_ml)


def solid_parts(
    cavity: Cavity,
    hollow: Cavity,
    turns_mm: Floats,
    wall_mm: float,
    *,
    shape: NeckShape,
    less_than_ml: float,
    told_mm: Sequence[tuple[float, float, float]] = (),
) -> tuple[list[Plug], list[End]]:
    """Necks of a full cavity in which a wall of `wall_mm` leaves no slip, and other parts of it, such as rims
    and points; the largest first.

    `hollow` is the slip left and `turns_mm` the wall at which each cell turns to clay (`grown_in`). Slip of
    up to `less_than_ml` counts as clay, and parts of up to that volume are left out, as are those that hold
    one of the places `told_mm`.
    """
    slip = _large(hollow.inside, hollow.opening, less_than_ml / cavity.cell_ml)
    depth = ndimage.distance_transform_edt(np.pad(cavity.inside, 1, mode="edge"))[1:-1, 1:-1, 1:-1]
    depth_mm = (depth - 0.5) * cavity.cell_mm
    if not slip.any():
        whole = _end(cavity, np.argwhere(cavity.inside), depth_mm)
        return [], [whole] if whole.volume_ml > less_than_ml else []
    off_mm = ndimage.distance_transform_edt(~slip) * cavity.cell_mm
    far_mm = shape.far_factor * wall_mm
    label, _ = ndimage.label(cavity.inside & (off_mm > far_mm))
    found: list[Plug] = []
    ends: list[End] = []
    for k, box in enumerate(ndimage.find_objects(label), start=1):
        cells = np.argwhere(label[box] == k) + [side.start for side in box]
        volume_ml = len(cells) * cavity.cell_ml
        if volume_ml <= less_than_ml:
            continue
        at = tuple(cells.T)
        middles = cavity.at_mm(cells)
        if any(((middles - np.array(place)) ** 2).sum(axis=1).min() < far_mm**2 for place in told_mm):
            continue
        waist = _waist(off_mm[at] - far_mm, turns_mm[at], depth_mm[at], volume_ml, cavity.cell_mm, shape)
        if waist is not None:
            # An axis between cells is the middle of those beside it that turn to clay as late.
            beside = ((middles - middles[waist]) ** 2).sum(axis=1) < (2.0 * cavity.cell_mm) ** 2
            latest = beside & (turns_mm[at] >= LATE_SHARE * turns_mm[at][waist])
            x, y, z = (float(v) for v in middles[latest].mean(axis=0))
            wide_mm, closes_mm = 2.0 * float(depth_mm[at][waist]), float(turns_mm[at][waist])
            found.append(Plug(volume_ml, (x, y, z), wide_mm, closes_mm))
        else:
            ends.append(_end(cavity, cells, depth_mm))
    found.sort(key=lambda plug: -plug.volume_ml)
    ends.sort(key=lambda end: -end.volume_ml)
    return found, ends


def _end(cavity: Cavity, cells: NDArray[np.integer], depth_mm: Floats) -> End:
    """What some cells (n, 3) are that cast solid."""
    depths_mm = depth_mm[tuple(cells.T)]
    x, y, z = (float(v) for v in cavity.at_mm(cells[int(np.argmax(depths_mm))]))
    return End(len(cells) * cavity.cell_ml, (x, y, z), 2.0 * float(depths_mm.max()))


def _large(inside: Cells, opening: Cells, more_than_cells: float) -> Cells:
    """Parts that hang together with the opening, and others of more than some cells."""
    label, count = ndimage.label(inside)
    keep = np.bincount(label.ravel(), minlength=count + 1) > more_than_cells
    keep[np.unique(label[opening])] = True
    keep[0] = False
    large: Cells = keep[label]
    return large


def _waist(
    off_mm: Floats, turns_mm: Floats, depth_mm: Floats, volume_ml: float, cell_mm: float, shape: NeckShape
) -> int | None:
    """The middle of the narrowest place of solid cells, as an index; None where they are no neck.

    They are taken in layers of the same way off the slip, each with the cell that turns to clay last.
    """
    layers = np.floor(off_mm / cell_mm).astype(int)
    count = int(layers.max()) + 1
    middles = []
    for layer in range(count):
        own = np.flatnonzero(layers == layer)
        if len(own) == 0:
            return None
        middles.append(int(own[np.argmax(turns_mm[own])]))
    halfway = middles[count // 2]
    # Within its own width of the end a neck closes in from there as well.
    clear_of_end = max(count // 2, count - int(2.0 * depth_mm[halfway] / cell_mm), 1)
    waist = min(middles[:clear_of_end], key=lambda cell: float(turns_mm[cell]))
    reach_mm, wide_mm = float(off_mm.max()), 2.0 * float(depth_mm[waist])
    rod_ml = np.pi / 4.0 * wide_mm**2 * reach_mm / 1000.0
    if reach_mm < shape.reach_least_ratio * wide_mm or volume_ml > shape.volume_most_ratio * rod_ml:
        return None
    near, far = turns_mm[middles[int(0.3 * count)]], turns_mm[middles[int(0.7 * count)]]
    return waist if far >= shape.taper_least_ratio * near else None
