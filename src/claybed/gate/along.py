"""A bore along the pull: through the first piece, beside what it reaches into, where a flat place is wide
enough.

The piece leaves along the bore, which therefore narrows outwards: cut off, or lifted out of with the piece,
what stands in it stays on the cast.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy import ndimage

from claybed.errors import CannotError
from claybed.geometry.depth import DepthRaster
from claybed.geometry.mesh import Floats, Mesh
from claybed.materials import shelf

LINES = 256
# The place a bore stands on is level to within this, and its rim keeps so far off the edges of that place.
LEVEL_MM = 0.5
RIM_MM = 1.0
# Bores are told in steps of this.
STEP_MM = 0.5


def bore_place(
    placed: Mesh, sides: Sequence[Floats], *, length_mm: float, bore_mm: float, least_mm: float
) -> tuple[Floats, float]:
    """Where a bore along z meets the top of an object, (3,) mm, and how wide it is at its narrowest, mm: as
    near to `bore_mm` as fits, and no less than `least_mm`.

    `sides` are pulls (3,) of side pieces in the frame of `placed`, up to whose ends the first piece reaches;
    `length_mm` from the object to the block's top. Raises CannotError where no flat place is wide enough.
    Source: materials/practice (plate_least_mm, gate_web_room_mm, gate_bore_draft_deg).
    """
    columns = DepthRaster(placed, LINES).columns(np.array([0.0, 0.0, 1.0]))
    grid = columns.grid
    crest_mm = float(placed.vertices_mm[:, 2].max())
    level = np.nan_to_num(columns.top_mm, nan=-np.inf) >= crest_mm - LEVEL_MM
    # A line tells of half its spacing round about.
    room_mm = ndimage.distance_transform_edt(np.pad(level, 1))[1:-1, 1:-1] * grid.spacing_mm
    room_mm = room_mm - grid.spacing_mm - RIM_MM
    at = grid.object_mm(np.arange(level.size), np.full(level.size, crest_mm)).reshape(*level.shape, 3)
    web_mm = practice("plate_least_mm") + practice("gate_web_room_mm")
    for side in sides:
        end_mm = float((placed.vertices_mm @ side).max())
        flat = float(np.hypot(side[0], side[1]))
        room_mm = np.minimum(room_mm, (end_mm - at @ side) / max(flat, 1e-9) - web_mm)
    best = np.unravel_index(int(np.argmax(room_mm)), room_mm.shape)
    widest_mm = 2.0 * (float(room_mm[best]) - widening_mm(length_mm))
    widest_mm = max(0.0, STEP_MM * math.floor(widest_mm / STEP_MM))
    fits_mm = min(bore_mm, widest_mm)
    if fits_mm < least_mm:
        raise CannotError(
            f"no flat place beside the holes on top is wide enough for a gate of {least_mm:g} mm: at most "
            f"{widest_mm:g} mm would fit, and between the side pieces none comes out.",
            where="the gate",
            remedy="Plan it with --gate none, and cut a way in through the set plaster; or ask for a "
            "narrower gate, by --gate-bore or by a thinner --ware-wall.",
        )
    spot: Floats = at[best]
    return spot, fits_mm


def widening_mm(length_mm: float) -> float:
    """By how much such a bore is wider at the object than at its outer end, on each side, mm. Source:
    materials/practice.
    """
    return length_mm * math.tan(math.radians(practice("gate_bore_draft_deg")))


def practice(name: str) -> float:
    """A value of materials/practice by its name."""
    return shelf.value("practice", name).value
