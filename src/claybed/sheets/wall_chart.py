"""The wall chart on paper: litres, boxes and rounds to water and plaster, to be read from a step away."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, date, datetime
from fractions import Fraction
from typing import Any

from claybed import __version__
from claybed.sheets.cautions import CAUTIONS, DEFER
from claybed.sheets.typesetting import compiled, unscaled
from claybed.units import G_PER_OZ, ML_PER_US_FL_OZ, say_mass, say_ratio, say_volume
from claybed.wording import ruler

_ML_PER_QT = 32.0 * ML_PER_US_FL_OZ


def render(document: Mapping[str, Any], *, us: bool, made_on: date | None = None) -> bytes:
    """The chart as PDF bytes, A4 or Letter with `us`; `document` as actions.charting makes it."""
    day = made_on if made_on is not None else datetime.now(UTC).astimezone().date()
    values = chart_values(document, us=us) | {"date": day.isoformat(), "version": __version__}
    return unscaled(compiled("wall_chart.typ", values, {}, "us-letter" if us else "a4", day))


def chart_values(document: Mapping[str, Any], *, us: bool) -> dict[str, Any]:
    """Everything that stands on the chart as text."""
    height = ruler(document["height_mm"], us)
    sides = sorted({row["length_mm"] for row in document["boxes"]})
    cells = {(row["length_mm"], row["width_mm"]): _pair(row, us) for row in document["boxes"]}
    grid = [[_bare(a, us), *(cells[max(a, b), min(a, b)] for b in sides)] for a in sides]
    hundred = document["less"][0]["space_ml"]
    return {
        "studio": str(document.get("studio") or ""),
        "ratio": say_ratio(document["consistency"]),
        "over": f"{document['waste'] * 100:.0f} %",
        "height": height,
        "unit": "in" if us else "mm",
        "spaces": [[_space(row["space_ml"], us), *_weights(row, us)] for row in document["spaces"]],
        "less": [[_space(row["space_ml"], us), *_weights(row, us)] for row in document["less"]],
        "least": say_volume(hundred, us=us),
        "sides": [_bare(side, us) for side in sides],
        "boxes": grid,
        "rounds": [[f"Ø {ruler(row['diameter_mm'], us)}", *_weights(row, us)] for row in document["rounds"]],
        "cautions": [list(c) for c in CAUTIONS[:2]] + [list(CAUTIONS[-1])],
        "defer": DEFER,
    }


def _weights(row: Mapping[str, Any], us: bool) -> Sequence[str]:
    return [say_mass(row[key], us=us) for key in ("water_g", "plaster_g")]


def _pair(row: Mapping[str, Any], us: bool) -> list[str]:
    """Water and plaster of a cell, in grams, or in ounces and tenths."""
    if us:
        return [f"{row[key] / G_PER_OZ:.1f}" for key in ("water_g", "plaster_g")]
    return [f"{row[key]:.0f}" for key in ("water_g", "plaster_g")]


def _space(ml: float, us: bool) -> str:
    if us:
        whole, part = divmod(Fraction(ml / _ML_PER_QT).limit_denominator(8), 1)
        return " ".join([*([str(whole)] if whole else []), *([str(part)] if part else []), "qt"])
    return f"{ml:.0f} ml" if ml < 1000.0 else f"{ml / 1000.0:g} l"


def _bare(mm: float, us: bool) -> str:
    return ruler(mm, us).rsplit(" ", 1)[0]
