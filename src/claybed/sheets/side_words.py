"""Sentences of the bench pages on fillers, which keep the places of side pieces in the first form."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from claybed.materials import shelf

# A pull that leans more than this off the upright leaves to a side (its vertical share).
UPRIGHT = 1.0 - 1e-9


def side_letters(plan: Mapping[str, Any]) -> list[str]:
    """The letters of the pieces whose places fillers keep in the first form."""
    return sorted(str(p["id"]) for p in plan.get("pieces") or () if abs(p["pull"][2]) < UPRIGHT)


def bed_at_fillers(plan: Mapping[str, Any]) -> list[str]:
    """Where the bed ends before it comes to the form; empty without fillers."""
    letters = side_letters(plan)
    if not letters:
        return []
    one = len(letters) == 1
    return [
        f"At the filler{'' if one else 's'} of {listed(letters)} the bed ends at the chart's dashed line"
        f"{'' if one else 's'}: stand {'it' if one else 'them'} there before the clay comes up to "
        f"{'its face' if one else 'their faces'}, and press the clay against {'it' if one else 'them'}."
    ]


def seam_at_fillers(plan: Mapping[str, Any]) -> list[str]:
    """How the line is drawn in which a filler meets the object; empty without fillers."""
    letters = side_letters(plan)
    if not letters:
        return []
    named = listed([f"“Filler {letter}”" for letter in letters])
    one = len(letters) == 1
    return [
        f"Where the line ends short of the gate a filler meets the object: there it comes off the template"
        f"{'' if one else 's'} {named}, held with {'its' if one else 'their'} print to the object."
    ]


def straight_off(plan: Mapping[str, Any]) -> list[str]:
    """How side pieces without draft leave; empty where all have some, or the plan does not tell."""
    most_deg = shelf.value("practice", "side_draft_none_deg").value
    letters = [
        str(piece["id"])
        for piece in sorted(plan["pieces"], key=lambda piece: int(piece["order"]))
        if piece.get("least_draft_deg", 90.0) < most_deg
    ]
    if not letters:
        return []
    straight = (
        "along walls without draft: draw {it} straight, without tilting, until it is clear, or a corner "
    )
    straight += "wedges and breaks."
    if len(letters) == 1:
        return [f"Piece {letters[0]} slides {straight.format(it='it')}"]
    return [f"Pieces {listed(letters)} slide {straight.format(it='each')}"]


def beside_gate(stations: Sequence[Mapping[str, Any]], at_mm: Sequence[float]) -> list[Mapping[str, Any]]:
    """Of the stations at ends of seam lines the two nearest to the gate at `at_mm` in plan, by number."""
    ends: dict[int, Mapping[str, Any]] = {}
    for line in {s["line"] for s in stations}:
        own = [s for s in stations if s["line"] == line]
        ends |= {int(s["number"]): s for s in (own[0], own[-1])}
    nearest = sorted(ends.values(), key=lambda s: math.dist(s["at_mm"], at_mm[:2]))[:2]
    return sorted(nearest, key=lambda s: int(s["number"]))


def listed(letters: Sequence[str]) -> str:
    """Letters or phrases in a row: "A", "A and B", "A, B and C"."""
    return f"{', '.join(letters[:-1])} and {letters[-1]}" if letters[1:] else letters[0]
