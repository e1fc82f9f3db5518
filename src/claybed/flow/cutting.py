"""The block round a model cut in two pieces, or in one: parting surface, keys, solids."""

from __future__ import annotations

import contextlib
from collections.abc import Callable
from dataclasses import replace

from claybed.flow.keeping_out import barred_in
from claybed.gate.joining import GatedModel
from claybed.geometry.lattice import Z_PER_MM, LatticeMesh
from claybed.geometry.mesh import Floats
from claybed.geometry.planing import IN_PLANE_MM, planed
from claybed.geometry.sheets import envelope
from claybed.geometry.uncrowding import CrowdedError, relieve, uncrowd
from claybed.materials import shelf
from claybed.mold.keys import place_keys
from claybed.mold.pieces import cut_block, poured_turned
from claybed.parting.keyed import MisfitError, press_keys
from claybed.parting.surface import part
from claybed.records.assembly import Assembly, Gate
from claybed.records.brief import Brief
from claybed.records.gated import GatePlan
from claybed.records.parted import Layout, Parting

Progress = Callable[[str, float], None]
# So often a solid that touches itself is relieved before the object is moved by a hair instead.
RELIEVED_TIMES = 5
# The parting surface is relaxed on so many cells along the block's longer side, and on none finer than this.
GRID_SHARE = 90.0
LEAST_GRID_MM = 2.0


class RoomError(Exception):
    """The keys fit nowhere, and a wider block has not been tried yet."""


def cut_in_two(
    lat: LatticeMesh,
    layout: Layout,
    keyed: Layout,
    model: GatedModel,
    gate_plan: GatePlan,
    brief: Brief,
    top_units: int | None,
    nudge: Floats,
    progress: Progress,
    keys_wanted: bool,
    *,
    seated: bool,
    based: bool,
) -> tuple[Assembly, Parting]:
    """The block round a model cut in two pieces, or one, with keys between them where they fit.

    `lat` the model on the lattice, moved by `nudge` (3,) mm; keys are placed in the plan of `keyed`;
    `top_units` as of `cut_block`. When it is `seated`, the seam is laid in the plane of the layout wherever
    it is free to; when it is `based`, the object stands on that plane, else it hangs under it. Raises
    RoomError when keys are wanted and fit nowhere, ArithmeticError when the block cannot be cut cleanly.
    """
    sheets = envelope(lat, layout.footprint)
    if layout.plane_mm is not None and (based or not seated):
        # A flat face that the seam runs round may have hollows, which stay the upper piece's.
        sheets = planed(sheets, layout.plane_mm)
    progress("mold", 0.4)
    square_mm = shelf.value("practice", "square_to_object_least_mm").value
    spacing_mm = max(LEAST_GRID_MM, max(layout.outer_plan_mm) / GRID_SHARE)
    freedom = barred_in(layout, brief.keep_out)
    one = layout.pieces == 1
    level_mm = float(sheets.top.heights.max()) / Z_PER_MM if one else None
    if seated:  # upright walls would let the seam run anywhere between their ends
        level_mm = layout.plane_mm
    grid = {"spacing_mm": spacing_mm, "square_mm": square_mm}
    parting = part(sheets, layout, freedom=freedom, level_mm=level_mm, **grid)
    progress("mold", 0.6)
    if brief.keys and not one:
        keys = place_keys(parting, keyed)
        # Keys that fit nowhere are left out: a larger block is tried for them.
        with contextlib.suppress(MisfitError):
            if keys:
                parting = press_keys(parting, keys, down=not poured_turned(parting, top_units), **grid)
    if keys_wanted and not parting.keys:
        raise RoomError
    progress("mold", 0.8)
    x, y, z = (float(v) for v in model.at_mm + nudge)
    out = tuple(float(v) for v in model.out)
    gate = Gate(
        gate_plan.kind,
        gate_plan.bore_mm if model.bore_mm is None else model.bore_mm,
        model.closes_at_wall_mm,
        model.spare_ml,
        (x, y, z),
        (out[0], out[1], out[2]),
        model.laps_mm,
        model.at_object_mm,
        model.beyond_ml,
        model.taken_mm,
        model.taken_ml,
        model.sparing_mm,
    )
    top, bottom, outside = uncrowd(parting.top, parting.bottom, parting.outside)
    for _ in range(RELIEVED_TIMES):
        parting = replace(parting, top=top, bottom=bottom, outside=outside)
        try:
            assembly = cut_block(parting, layout, gate, lat, top_units=top_units, square_mm=square_mm)
            break
        except CrowdedError as found:
            top, bottom, outside = relieve(top, bottom, outside, found.edges)
    else:
        raise ArithmeticError("edges that touch themselves could not be parted")
    return assembly, parting


def lies_at(parting: Parting, layout: Layout) -> bool:
    """Whether the level part of a seam lies in the plane that the layout asks for."""
    return layout.plane_mm is None or abs(parting.level / Z_PER_MM - layout.plane_mm) <= IN_PLANE_MM
