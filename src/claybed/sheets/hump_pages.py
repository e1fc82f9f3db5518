"""Setting up the one pour of a hump: the vessel, the form round it, sand and clay up to its rim."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from claybed.sheets.pour_words import form_words
from claybed.sheets.steps import Step, each, step
from claybed.units import say_volume
from claybed.wording import rough_mass, ruler


def hump_of(plan: Mapping[str, Any]) -> Mapping[str, Any] | None:
    """What a plan says of its hump; None for any other mold."""
    found: Mapping[str, Any] | None = (plan.get("mold") or {}).get("hump")
    return found


def hump_setup(plan: Mapping[str, Any], hump: Mapping[str, Any], us: bool) -> list[Step]:
    """From a print to a vessel that stands in its bed, the form round both."""
    form = plan["pours"][0].get("form") or {}
    bed = plan.get("bed") or {}
    at = "/mold/hump"
    steps = [
        step(
            "Get ready",
            [
                "First do all of “Getting ready”, behind these pages. The chart lies on the base board, "
                "front towards you."
            ],
        ),
        step(
            "Stand the vessel",
            [
                "Stand the vessel on the chart, opening up, its rim above the inner outline, by a square. "
                "Lay a straightedge with a "
                "spirit level across the rim, one way and the other, and push wedges of clay under the "
                f"foot until both lie level, the rim {ruler(hump['ledge_from_board_mm'], us)} above the "
                f"board."
            ],
            figures=[[f"{at}/ledge_from_board_mm"]],
        ),
    ]
    if form:
        straps = each(form.get("straps"), "/pours/0/form/straps", "from_board_mm")
        steps.append(
            step(
                "Set up the form",
                form_words(form, us, again=False),
                figures=[["/pours/0/form/height_least_mm"], ["/pours/0/form/inside_mm"], *straps],
                care=form.get("cautions", []),
            )
        )
    steps.append(
        step(
            "Fill sand and clay round it",
            [str(text) for text in bed.get("steps") or []],
            figures=[[f"{at}/sand_ml"], [f"{at}/sand_g"], [f"{at}/sand_from_board_mm"], ["/bed/clay_g"]],
            care=[str(text) for text in bed.get("cautions") or []],
        )
    )
    return steps


def hump_facts(hump: Mapping[str, Any], us: bool) -> list[tuple[str, str, str]]:
    """What is looked up while standing at the vessel: name, figure, pointer."""
    at = "/mold/hump"
    return [
        ("Rim above the board", ruler(hump["ledge_from_board_mm"], us), f"{at}/ledge_from_board_mm"),
        ("Sand up to", ruler(hump["sand_from_board_mm"], us), f"{at}/sand_from_board_mm"),
        (
            "Dry sand",
            f"{say_volume(hump['sand_ml'], us=us)}, {rough_mass(hump['sand_g'], us=us)}",
            f"{at}/sand_g",
        ),
    ]


def hump_sizes(mold: Mapping[str, Any], us: bool) -> list[tuple[str, str]]:
    """What a hump is told by in place of wall and seam: name and figure; empty for any other mold."""
    hump = mold.get("hump")
    if not hump:
        return []
    named = {
        "Hump above its ledge": "hump_mm",
        "Ledge past the rim, at least": "ledge_mm",
        "Plinth, height": "plinth_mm",
    }
    return [(name, ruler(hump[key], us)) for name, key in named.items()]
