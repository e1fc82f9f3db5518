"""What to cut in leather-hard ware where holes were closed for the mold: on screen, page and paper alike."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

from claybed.units import say_opening, say_volume
from claybed.wording import in_a_row, in_system

Hole = Mapping[str, Any]


def cut_words(plan: Mapping[str, Any], *, us: bool) -> list[str]:
    """One sentence for each row of like holes of a plan's ware, in their order; none without holes."""
    holes: Sequence[Hole] = (plan.get("ware") or {}).get("holes") or ()

    def kind(hole: Hole) -> tuple[str, str, str]:
        fires = "" if hole["fired_width_mm"] is None else _wide(hole, "fired_", us)
        return str(hole["where"]), _wide(hole, "", us), fires

    return [_row(list(row), us) for _, row in groupby(holes, key=kind)]


def _row(holes: list[Hole], us: bool) -> str:
    first, each = holes[0], " each" if len(holes) > 1 else ""
    named = f"Hole {first['mark']}" if not each else f"Holes {first['mark']} to {holes[-1]['mark']}"
    clay = say_volume(sum(float(hole["clay_ml"]) for hole in holes), us=us)
    if first["fired_width_mm"] is None:
        size = (
            f"drawn {_wide(first, '', us)}{each}; cut it larger by what the clay shrinks (the plan does that "
            f"with --clay), at least {clay} of clay"
        )
    else:
        size = (
            f"cut{each} {_wide(first, '', us)}, which fires to {_wide(first, 'fired_', us)}; {clay} of clay"
        )
    return f"{named}, {in_system(_place(holes), us=us)}: {size} comes out."


def _place(holes: list[Hole]) -> str:
    """Where a row of holes at one level is."""
    where, turns = str(holes[0]["where"]), [str(hole["turned"]) for hole in holes if hole["turned"]]
    if not turns:
        return where
    _, of, reference = turns[-1].partition(" round from ")
    if len(turns) == 1 or not of:
        return f"{where}, {turns[0]}"
    rest = [turn.partition(" ")[0] for turn in turns if of in turn]
    begins = [] if of in turns[0] else [f"{holes[0]['mark']} {turns[0]}"]
    return f"{where}, {'; the others '.join([*begins, in_a_row(rest)])} round from {reference}"


def _wide(hole: Hole, when: str, us: bool) -> str:
    return say_opening(float(hole[f"{when}width_mm"]), float(hole[f"{when}length_mm"]), us=us)
