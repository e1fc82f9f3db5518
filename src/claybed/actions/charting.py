"""The wall chart of a studio: water and plaster for usual spaces, at the ratio that is kept."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any, Final

from claybed.errors import InputError
from claybed.pours.mixing import mix_for_space, waste_for_form
from claybed.pours.working import mix_figures
from claybed.records.figure import Figure
from claybed.records.mix import Mix
from claybed.sheets import wall_chart
from claybed.units import ML_PER_US_FL_OZ, MM_PER_IN

CHART_SCHEMA: Final = "claybed-chart-1"
_ML_PER_QT: Final = 32.0 * ML_PER_US_FL_OZ
# Of litres or of quarts.
_SPACES: Final = (
    *(0.25, 0.5, 0.75, 1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 3.5),
    *(4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0),
)
_SIDES_MM: Final = tuple(float(side) for side in range(100, 321, 20))
_SIDES_IN: Final = (4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 13.0)
_ROUNDS_MM: Final = tuple(float(side) for side in range(80, 341, 20))
_ROUNDS_IN: Final = (3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 13.0, 14.0)
_OBJECTS_ML: Final = (50.0, 100.0, 200.0, 250.0, 500.0, 750.0, 1000.0, 1500.0)
_OBJECTS_QT: Final = (0.125, 0.25, 0.5, 0.75, 1.0, 1.5, 2.0)
# One batch: a chart is about weights, buckets come later.
_ONE_BUCKET_L: Final = 1e6


def chart_document(
    *, consistency: float, waste: float | None, form: str, studio: str = "", us: bool = False
) -> dict[str, Any]:
    """Return the chart as plain values, unrounded: spaces, boxes and rounds for each step of height, and what
    an object takes off.

    `consistency` water per 100 plaster by mass, 20 to 200; `waste` fraction added (None: the usual for
    `form`). Boxes and rounds are for 10 mm of height, or an inch with `us`. "figures" holds the working of
    each row. Raises InputError for a ratio or an allowance out of range.
    """
    usual, reason = waste_for_form(form)
    share, reason = (usual, reason) if waste is None else (waste, "as asked")
    height_mm = MM_PER_IN if us else 10.0
    figures: dict[str, Figure] = {}

    def rows(name: str, spaces: list[dict[str, Any]], how: str) -> list[dict[str, Any]]:
        for k, row in enumerate(spaces):
            mix = mix_for_space(row["space_ml"], consistency=consistency, waste=share, bucket_l=_ONE_BUCKET_L)
            row |= {"water_g": mix.water_g, "plaster_g": mix.plaster_g}
            figures.update(_row_figures(f"/{name}/{k}", row, mix, how))
        return spaces

    unit_ml = _ML_PER_QT if us else 1000.0
    sides = tuple(side * MM_PER_IN for side in _SIDES_IN) if us else _SIDES_MM
    rounds = tuple(side * MM_PER_IN for side in _ROUNDS_IN) if us else _ROUNDS_MM
    objects = tuple(q * _ML_PER_QT for q in _OBJECTS_QT) if us else _OBJECTS_ML
    boxes = [
        {"length_mm": a, "width_mm": b, "height_mm": height_mm, "space_ml": a * b * height_mm / 1000.0}
        for a in sides
        for b in sides
        if b <= a
    ]
    discs = [
        {
            "diameter_mm": d,
            "height_mm": height_mm,
            "space_ml": math.pi / 4.0 * d**2 * height_mm / 1000.0,
        }
        for d in rounds
    ]
    document: dict[str, Any] = {
        "schema": CHART_SCHEMA,
        "studio": studio,
        "consistency": consistency,
        "waste": share,
        "waste_reason": reason,
        "height_mm": height_mm,
        "spaces": rows(
            "spaces",
            [{"space_ml": v * unit_ml} for v in _SPACES],
            "space as listed",
        ),
        "boxes": rows("boxes", boxes, "length x width x height / 1000"),
        "rounds": rows("rounds", discs, "pi / 4 x diameter^2 x height / 1000"),
        "less": rows("less", [{"space_ml": v} for v in objects], "volume of the object"),
    }
    figures["/consistency"] = Figure("per 100", "water per 100 of plaster by mass", "asked")
    figures["/waste"] = Figure("-", reason, "practice" if waste is None else "asked")
    figures["/height_mm"] = Figure("mm", "the step of height that boxes and rounds are told for", "asked")
    return document | {"figures": {pointer: asdict(figure) for pointer, figure in figures.items()}}


def _row_figures(at: str, row: Mapping[str, Any], mix: Mix, how: str) -> dict[str, Figure]:
    worked = mix_figures(mix, at=at)
    kept = {f"{at}/{key}": worked[f"{at}/{key}"] for key in ("water_g", "plaster_g")}
    given = {key: float(value) for key, value in row.items() if key.endswith("_mm")}
    kept[f"{at}/space_ml"] = Figure("ml", how, "geometry" if given else "asked", dict(given))
    for key in given:
        kept[f"{at}/{key}"] = Figure("mm", "as listed", "asked")
    return kept


def write_chart(document: Mapping[str, Any], path: Path, *, us: bool, replace: bool = False) -> Path:
    """Write the chart as PDF, A4 or Letter with `us`, whole or not at all; return its path.

    Raises InputError when the file is there already and `replace` is not given, or cannot be written.
    """
    if path.exists() and not replace:
        raise InputError(
            "is there already.", where=str(path), remedy="Name another with --out, or add --replace."
        )
    pdf = wall_chart.render(document, us=us)
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_bytes(pdf)
        part.replace(path)
    except OSError as reason:
        part.unlink(missing_ok=True)
        raise InputError(
            f"cannot be written: {reason.strerror or reason}.",
            where=str(path),
            remedy="Name another with --out.",
        ) from reason
    return path
