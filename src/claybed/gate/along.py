"""A bore along the pull: through the first piece, beside what it reaches into, where a flat place is wide
enough. That is the object's end, or a place further in that nothing hides.

The piece leaves along the bore, which therefore narrows outwards: cut off, or lifted out of with the piece,
what stands in it stays on the cast.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from claybed.errors import CannotError
from claybed.geometry.depth import Columns, DepthRaster
from claybed.geometry.mesh import Floats, Mesh
from claybed.materials import shelf

LINES = 256
# The place a bore stands on is level to within this, and its rim keeps so far off the edges of that place.
LEVEL_MM = 0.5
RIM_MM = 1.0
# Bores are told in steps of this.
STEP_MM = 0.5
# So many levels below the top are looked at.
MOST_LEVELS = 3


def bore_place(
    placed: Mesh, sides: Sequence[Floats], *, length_mm: float, bore_mm: float, least_mm: float
) -> tuple[Floats, float]:
    """Where a bore along z meets an object, (3,) mm, and how wide it is at its narrowest, mm: at the object's
    top where it fits there as wide as `bore_mm`, else where most of it fits, and no less than `least_mm`.

    `sides` are pulls (3,) of side pieces in the frame of `placed`, up to whose ends the first piece reaches;
    `length_mm` from the object's top to the block's. Raises CannotError where no flat place is wide enough.
    Source: materials/practice (plate_least_mm, gate_web_room_mm, gate_bore_draft_deg).
    """
    columns = DepthRaster(placed, LINES).columns(np.array([0.0, 0.0, 1.0]))
    top_mm = np.nan_to_num(columns.top_mm, nan=-np.inf)
    crest_mm = float(placed.vertices_mm[:, 2].max())
    best = crest_mm, *_room_at(placed, columns, top_mm, crest_mm, length_mm, sides)
    for level_mm in _levels(top_mm, columns.grid.spacing_mm, least_mm, crest_mm):
        if best[2] >= bore_mm:
            break
        long_mm = length_mm + crest_mm - level_mm
        here = level_mm, *_room_at(placed, columns, top_mm, level_mm, long_mm, sides)
        best = max(best, here, key=lambda one: one[2])
    _, spot, widest_mm = best
    fits_mm = min(bore_mm, widest_mm)
    if fits_mm < least_mm:
        raise CannotError(
            f"no flat place beside the holes on top is wide enough for a gate of {least_mm:g} mm: at most "
            f"{widest_mm:g} mm would fit, and between the side pieces none comes out.",
            where="the gate",
            remedy="Plan it with --gate none, and cut a way in through the set plaster; or ask for a "
            "narrower gate, by --gate-bore or by a thinner --ware-wall.",
        )
    return spot, fits_mm


def _levels(top_mm: Floats, spacing_mm: float, least_mm: float, crest_mm: float) -> list[float]:
    """Heights below the crest at which an object seen from above is level over more than a bore's section,
    the widest first, mm.
    """
    heights_mm = top_mm[np.isfinite(top_mm) & (top_mm < crest_mm - LEVEL_MM)]
    if not len(heights_mm):
        return []
    step = np.round(heights_mm / LEVEL_MM).astype(np.int64)
    values, counts = np.unique(step, return_counts=True)
    wide = counts * spacing_mm**2 > math.pi / 4.0 * least_mm**2
    ranked = values[wide][np.argsort(-counts[wide], kind="stable")][:MOST_LEVELS]
    return [float(np.median(heights_mm[step == value])) for value in ranked]


def _room_at(
    placed: Mesh, columns: Columns, top_mm: Floats, level_mm: float, long_mm: float, sides: Sequence[Floats]
) -> tuple[Floats, float]:
    """The place (3,) of most room at a level of the object, and the widest bore of a length that fits there,
    at its narrowest, mm.
    """
    grid = columns.grid
    web_mm = practice("plate_least_mm") + practice("gate_web_room_mm")
    level = np.abs(top_mm - level_mm) <= LEVEL_MM
    # A line tells of half its spacing round about.
    room_mm = _inside_mm(level, grid.spacing_mm, beyond=False) - RIM_MM
    # What stands higher keeps a web of plaster beside the bore.
    no_higher = top_mm <= level_mm + LEVEL_MM
    room_mm = np.minimum(room_mm, _inside_mm(no_higher, grid.spacing_mm, beyond=True) - web_mm)
    at = grid.object_mm(np.arange(level.size), np.full(level.size, level_mm)).reshape(*level.shape, 3)
    for side in sides:
        end_mm = float((placed.vertices_mm @ side).max())
        flat = float(np.hypot(side[0], side[1]))
        room_mm = np.minimum(room_mm, (end_mm - at @ side) / max(flat, 1e-9) - web_mm)
    best = np.unravel_index(int(np.argmax(room_mm)), room_mm.shape)
    widest_mm = 2.0 * (float(room_mm[best]) - widening_mm(long_mm))
    spot: Floats = at[best]
    return spot, max(0.0, STEP_MM * math.floor(widest_mm / STEP_MM))


def _inside_mm(within: NDArray[np.bool_], spacing_mm: float, *, beyond: bool) -> Floats:
    """How far each line of a grid is from the nearest that is not `within`, less a line, mm; past the grid's
    edge all are as `beyond` says.
    """
    if beyond and within.all():
        return np.full(within.shape, np.inf)
    if not beyond:
        within = np.pad(within, 1)
    off_mm: Floats = ndimage.distance_transform_edt(within) * spacing_mm - spacing_mm
    return off_mm if beyond else off_mm[1:-1, 1:-1]


def widening_mm(length_mm: float) -> float:
    """By how much such a bore is wider at the object than at its outer end, on each side, mm. Source:
    materials/practice.
    """
    return length_mm * math.tan(math.radians(practice("gate_bore_draft_deg")))


def practice(name: str) -> float:
    """A value of materials/practice by its name."""
    return shelf.value("practice", name).value
