"""The line where a pour stops, and what a little more or less takes, as paper, page and screen tell them."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any

from claybed.units import MM_PER_FT, MM_PER_IN, say_mass
from claybed.wording import in_a_row, ruler


def mark_mm(us: bool) -> float:
    """What heights are rounded to: a millimetre, or a sixteenth of an inch, mm."""
    return MM_PER_IN / 16.0 if us else 1.0


def down_words(form_line: Mapping[str, Any], us: bool) -> str:
    """The fill line below the rim, so told that it and the line above the board add up to the rim on a "
    "rule."""
    step_mm = mark_mm(us)
    up_mm, down_mm = float(form_line["from_board_mm"]), float(form_line["from_rim_mm"])
    return ruler((round((up_mm + down_mm) / step_mm) - round(up_mm / step_mm)) * step_mm, us)


def per_mm_words(pours: Sequence[Mapping[str, Any]], *, us: bool) -> str:
    """One sentence on what a millimetre (a sixteenth of an inch) of fill line takes; empty where none tells.

    `pours` each with `grams_per_mm`, and with `piece` where there are several that differ.
    """
    step_mm, name = (MM_PER_IN / 16.0, "1/16 in") if us else (1.0, "mm")
    said = partial(say_mass, us=True) if us else "{:.1f} g".format
    takes: dict[tuple[str, str], list[str]] = {}
    for pour in pours:
        if grams := pour.get("grams_per_mm"):
            weights = said(step_mm * grams["water"]), said(step_mm * grams["plaster"])
            takes.setdefault(weights, []).append(str(pour.get("piece", "")))
    told = [f"{water} of water and {plaster} of plaster" for water, plaster in takes]
    if len(told) > 1:
        told = [f"{text} for {in_a_row(pieces)}" for text, pieces in zip(told, takes.values(), strict=True)]
    return f"Each {name} of fill line more or less is {', '.join(told)}." if told else ""


def coil_words(mm: float, *, us: bool) -> str:
    """How much of a coil is made ready for a form: rounded up to tenths of a metre, or to half feet."""
    return f"{math.ceil(mm / MM_PER_FT * 2.0) / 2.0:g} ft" if us else f"{math.ceil(mm / 100.0) / 10.0:.1f} m"


def short_words(grams_per_mm: Mapping[str, float], *, us: bool) -> str:
    """What is mixed at once when a pour stops a centimetre (half an inch) short."""
    short_mm, name = (MM_PER_IN / 2.0, "1/2 in") if us else (10.0, "10 mm")
    water_g, plaster_g = (short_mm * grams_per_mm[key] for key in ("water", "plaster"))
    water, plaster, both = (say_mass(grams, us=us) for grams in (water_g, plaster_g, water_g + plaster_g))
    return f"short by {name}? Mix {water} of water and {plaster} of plaster ({both}) at once"
