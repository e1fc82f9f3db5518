"""The mat on paper: a PDF at true scale, to be printed once and laid under an object or hung behind it."""

from __future__ import annotations

from datetime import date
from typing import Any, Final

from claybed.records.mat import Mat
from claybed.sheets.typesetting import compiled, unscaled

_DAY: Final = date(2000, 1, 1)  # the same mat gives the same bytes
_NAMES: Final = {"a4": "A4", "letter": "Letter", "a3": "A3"}
_STEP_MM: Final = 20.0  # from one circle round the middle to the next


def mat_values(mat: Mat) -> dict[str, Any]:
    """What the sheet shows, lengths in mm from the sheet's upper left corner, y downwards."""
    top_mm = mat.height_mm - mat.bottom_mm
    half_mm = mat.marker_mm / 2.0
    cell_mm = mat.marker_mm / len(mat.markers[0].dark)
    cells = [
        [
            mat.left_mm + m.x_mm - half_mm + column * cell_mm,
            top_mm - m.y_mm - half_mm + row * cell_mm,
            length * cell_mm,
            cell_mm,
        ]
        for m in mat.markers
        for row, line in enumerate(m.dark)
        for column, length in _runs(line)
    ]
    return {
        "name": _NAMES[mat.paper],
        "width": mat.width_mm,
        "height": mat.height_mm,
        "middle": [mat.left_mm, top_mm],
        "cells": cells,
        "circles": [k * _STEP_MM for k in range(1, int(min(mat.clear_x_mm, mat.clear_y_mm) / _STEP_MM) + 1)],
        "frame_bottom": top_mm - min(m.y_mm for m in mat.markers) + half_mm,
        "bar": mat.bar_mm,
        "marker": mat.marker_mm,
        "clear": [2.0 * mat.clear_x_mm, 2.0 * mat.clear_y_mm],
    }


def render_mat(mat: Mat) -> bytes:
    """The mat as PDF bytes, one page of the sheet's own size that asks viewers not to scale it."""
    return unscaled(compiled("mat.typ", mat_values(mat), {}, mat.paper, _DAY))


def _runs(line: tuple[bool, ...]) -> list[tuple[int, int]]:
    """Start and length of each run of dark cells, so that no hairline shows between neighbours."""
    runs: list[tuple[int, int]] = []
    for column, dark in enumerate(line):
        if dark and runs and sum(runs[-1]) == column:
            runs[-1] = (runs[-1][0], runs[-1][1] + 1)
        elif dark:
            runs.append((column, 1))
    return runs
