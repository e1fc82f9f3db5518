"""What the drawings of the forms show: one plan and one view from the front for each pour, in mm."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from claybed.fill_line import down_words
from claybed.sheets.pour_words import across, from_the_rim, held_words, per_mark
from claybed.wording import ruler

# A board is drawn no further past its corner than this share of the form's longer side, and broken there.
PAST_SHARE = 0.3


def form_drawings(plan: Mapping[str, Any], us: bool) -> list[dict[str, Any]]:
    """Sizes in mm and their labels, for each pour whose form is known; heights stand above the base board."""
    forms = [pour.get("form") or {} for pour in plan["pours"]]
    return [_drawing(plan, k, form, us) for k, form in enumerate(forms) if form.get("inside_mm")]


def _drawing(plan: Mapping[str, Any], place: int, form: Mapping[str, Any], us: bool) -> dict[str, Any]:
    inside = [float(side) for side in form["inside_mm"]]
    wide, deep = inside[0], inside[-1]
    line_mm, rim_mm = form["fill_from_board_mm"], form["fill_from_board_mm"] + form["fill_from_rim_mm"]
    level_mm = form["bed_level_mm"]
    thing = _object(plan, place, form)
    return {
        "piece": str(plan["pours"][place]["piece"]),
        "number": str(place + 1),
        "round": len(inside) == 1,
        "inside": [wide, deep],
        "sides": _sides(form, max(wide, deep), us),
        "thick": max([board["thickness_mm"] for board in form.get("boards") or []], default=3.0),
        "rim": rim_mm,
        "level": level_mm,
        "line": line_mm,
        "straps": [strap["from_board_mm"] for strap in form.get("straps") or []],
        "object": thing,
        "hollow": _hollow(plan, form),
        "below": _below(plan, place, form),
        "turns": _turns(form),
        "over": place > 0 and form["object_mm"][0] > 0.0,
        "from_rim": from_the_rim(form),
        "held": held_words(form, us) if place == 0 else [],
        "per_mark": per_mark(plan["pours"][place], us),
        "mark": "1/16 in" if us else "mm",
        "says": {
            "inside": f"Ø {ruler(wide, us)}" if len(inside) == 1 else across(inside, us),
            "rim": ruler(rim_mm, us),
            "down": down_words({"from_board_mm": line_mm, "from_rim_mm": rim_mm - line_mm}, us),
            "line": ruler(line_mm, us),
            "level": ruler(level_mm, us) if level_mm > 0.0 else "",
            "straps": [ruler(strap["from_board_mm"], us) for strap in form.get("straps") or []],
        },
    }


def _sides(form: Mapping[str, Any], longest_mm: float, us: bool) -> list[dict[str, Any]]:
    """The boards along the front and along the left side, with how far they are drawn past their corner."""
    found = []
    for board in (form.get("boards") or [])[:2]:
        past_mm = min(board["past_corner_mm"] + board["thickness_mm"], PAST_SHARE * longest_mm)
        found.append(
            {
                "past": past_mm,
                "broken": past_mm < board["past_corner_mm"],
                "says": f"{ruler(board['length_mm'], us)} long",
            }
        )
    return found if len(found) != 1 else found * 2


def _turns(form: Mapping[str, Any]) -> str:
    band = form.get("band")
    return f"the band goes round {band['turns_count']:.1f} times, its free end outside" if band else ""


def _object(plan: Mapping[str, Any], place: int, form: Mapping[str, Any]) -> list[float] | None:
    """Width, lowest and highest height of the object in a form; None where little of it shows."""
    pose, line_mm = plan.get("pose") or {}, form["fill_from_board_mm"]
    if plan["mold"].get("hump") or place > 1 or form["object_mm"][0] <= 0.0:
        return None
    if pose.get("on_board"):
        return [form["object_mm"][0], 0.0, line_mm - plan["mold"]["wall_mm"]]
    highest = max((mark["high_mm"] for mark in pose.get("landmarks") or []), default=None)
    if highest is None:
        return None
    if place == 0:
        return [form["object_mm"][0], pose["pad_mm"], highest]
    # Turned over: what was the top of the first pour stands on the board now.
    top_mm = plan["pours"][0]["form"]["fill_from_board_mm"]
    return [form["object_mm"][0], top_mm - highest, top_mm - pose["pad_mm"]]


def _hollow(plan: Mapping[str, Any], form: Mapping[str, Any]) -> list[list[float]]:
    """The inside of a vessel that plaster fills, hinted at, as points of a view from the front; else none."""
    hump = plan["mold"].get("hump")
    if not hump:
        return []
    middle, half = form["inside_mm"][0] / 2.0, form["object_mm"][0] / 2.0
    turns = [math.pi * k / 24.0 for k in range(25)]
    deep = hump["hump_mm"]
    return [[middle - half * math.cos(t), form["bed_level_mm"] - deep * math.sin(t) ** 0.7] for t in turns]


def _below(plan: Mapping[str, Any], place: int, form: Mapping[str, Any]) -> str:
    """What the plaster of a pour stands on; nothing where it runs down to the board."""
    before = [str(pour["piece"]) for pour in plan["pours"][:place]]
    if plan["mold"].get("hump") or form["bed_level_mm"] <= 0.0:
        return ""
    if not before:
        return "clay bed"
    return f"piece {before[0]}" if len(before) == 1 else f"{' and '.join(before)}, closed"
