"""From the inside of a vessel to its hump: block, seat, plaster, in this order."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from claybed.errors import CannotError
from claybed.flow.molding import NUDGES, Molded
from claybed.flow.ways import hump_refusal
from claybed.geometry.lattice import XY_PER_MM, to_lattice
from claybed.geometry.mesh import Mesh
from claybed.geometry.seating import Seated, seated
from claybed.geometry.sheets import envelope
from claybed.materials import shelf
from claybed.mold.block import lay_out
from claybed.mold.hump import cast_hump
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief
from claybed.records.gated import GatePlan
from claybed.records.measured import HollowReading, MeasuredObject
from claybed.records.parted import Layout
from claybed.records.surveyed import Survey

Progress = Callable[[str, float], None]
NO_GATE = GatePlan("none", (0.0, 0.0, 0.0), float("nan"), along_pull=False, reason="a hump takes no slip")


def make_hump(
    obj: MeasuredObject, hollow: HollowReading, survey: Survey, brief: Brief, *, progress: Progress
) -> Molded:
    """Cast the hump of a vessel's inside, with the plinth it stands on.

    Reads `max_fill_ml`, `wall_mm`, `shape`, `boards` and `bands` of the brief. Raises CannotError for an
    inside that locks more than is allowed, or that cannot be cut cleanly.
    """
    refused = hump_refusal(obj, survey, brief)
    if refused is not None:
        raise refused
    progress("mold", 0.0)
    layout = lay_out(obj.mesh, hollow.up, NO_GATE, brief, pieces=1)
    fault = ""
    for dx, dy, tilt_x, tilt_y in NUDGES:
        if tilt_x or tilt_y:
            continue
        try:
            assembly = _cast(obj.mesh, hollow, _shifted(layout, dx, dy), progress)
        except ArithmeticError as reason:
            fault = str(reason)
            continue
        progress("mold", 1.0)
        return Molded(survey.options[0], assembly, NO_GATE, 0.0, survey)
    raise CannotError(
        f"the hump could not be cut cleanly ({fault}).", where=obj.name, remedy="Simplify the file."
    )


def _shifted(layout: Layout, dx: float, dy: float) -> Layout:
    return replace(layout, shift_mm=layout.shift_mm + np.array([dx, dy, 0.0]))


def _cast(filling: Mesh, hollow: HollowReading, layout: Layout, progress: Progress) -> Assembly:
    placed = filling.moved(layout.rotation, layout.shift_mm, frame="pull")
    board_mm = hollow.foot_mm + float(layout.shift_mm[2])
    under_mm = shelf.value("practice", "hump_bed_under_mm").value
    board_mm = min(board_mm, float(placed.vertices_mm[:, 2].min()) - under_mm)
    bed: Seated = seated(
        placed,
        layout.footprint / XY_PER_MM,
        under_mm=float(placed.vertices_mm[:, 2].min()) - board_mm,
    )
    lat = to_lattice(bed.mesh, np.eye(3), np.zeros(3))
    sheets = envelope(lat, layout.footprint)
    progress("mold", 0.5)
    return cast_hump(sheets, layout, lat, board_mm=board_mm, ledge_mm=bed.ledge_mm, rim_mm=bed.rim_mm)
