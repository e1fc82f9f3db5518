"""How the plug that keeps a gate open is made, and how one that stands upright on the object is set."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from claybed.sheets.holding_words import fitting_ballast
from claybed.sheets.plug_laps import lap_words, laps_of
from claybed.wording import ruler

# A plug is set no closer than this.
HAIR_MM = 0.5


def gate_words(plan: Mapping[str, Any], us: bool) -> list[str]:
    """How the plug that leaves the gate is made; empty where the object itself makes it."""
    if not has_plug(plan):
        return []
    if (gate := plan["mold"]["gate"])["kind"] == "mouth":
        # What holds a light vessel down fills it already, under a cap.
        inside = (
            "What keeps it down reaches to 5 mm below the brim; its cap of oil clay ends level with the brim "
            "and does not give under a thumb. "
            if fitting_ballast(plan)
            else "Stuff the object with newspaper until a disc of card, as wide as the mouth inside, lies "
            "firm 5 mm below the brim and does not give under a thumb. Spread oil clay on it, level with the "
            "brim. "
        )
        return [
            f"{inside}Roll the gate plug of oil clay, as long and as wide at both ends as its template "
            "tells, press it onto the middle of the mouth and smear the joint; the rim outside it stays "
            "bare, as on the chart. Whenever the object lies down, prop the plug with a lump of clay, and "
            "press it straight again if it sags. It keeps the way open for slip."
        ]
    if is_upright(plan):
        return [upright_gate_words(plan, us)]
    bore, laps = ruler(gate["bore_mm"], us), lap_words(laps_of(gate), us)
    if laps:
        return [
            f"Make the gate plug on its template, round, {bore} across at its narrow end; the template tells "
            f"its length and its wide end. {laps} It keeps a way open for slip, and gets release when the "
            "object does. What it covers of the object is clay on the ware: cut it off with the gate."
        ]
    return [
        f"Make the gate plug on its template from oil clay or wood, round, {bore} across where it meets the "
        "object; the template tells its length and its wide end. It keeps a way open for slip. Wood is "
        "sealed; either gets release when the object does."
    ]


def has_plug(plan: Mapping[str, Any]) -> bool:
    """Whether something must keep the gate open while plaster is poured round it, in a bed."""
    gate = plan["mold"].get("gate") or {}
    if not gate.get("at_mm"):
        return False
    return gate.get("kind") == "bore" or (gate.get("kind") == "mouth" and bool(plan.get("bed")))


def is_upright(plan: Mapping[str, Any]) -> bool:
    """Whether the gate of a plan is a bore along the pull."""
    return bool((plan["mold"].get("gate") or {}).get("at_object_mm"))


def on_top(place: str) -> str:
    """Where on top of the block such a gate stands; `place` is its place in plan, in words."""
    return "in the middle" if place == "middle" else f"towards the {place}"


def upright_gate_words(plan: Mapping[str, Any], us: bool) -> str:
    """How the plug of such a gate is made."""
    gate = plan["mold"]["gate"]
    long_mm = float(plan["mold"]["outer_mm"][-1] - gate["at_mm"][2])
    return (
        f"Make the gate plug on its template from oil clay or wood, round, "
        f"{ruler(gate['at_object_mm'], us)} across at the "
        f"foot that stands on the object, {ruler(gate['bore_mm'], us)} at its other end and "
        f"{ruler(long_mm, us)} long: it narrows upwards, so that the first piece lifts off it. It keeps a "
        "way open for slip. Wood is sealed; either gets release when the object does."
    )


def upright_plug_words(plan: Mapping[str, Any], us: bool, place: str) -> str:
    """Where that plug is set; `place` is its place in plan, in words."""
    x, y = plan["mold"]["gate"]["at_mm"][:2]
    across = f"{ruler(abs(x), us)} to the {'right' if x > 0.0 else 'left'} of the block's middle"
    along = f"{ruler(abs(y), us)} to the {'back' if y > 0.0 else 'front'} of it"
    middle = "in the middle of the block" if max(abs(x), abs(y)) < HAIR_MM else f"{across} and {along}"
    return (
        f"It stands upright on the object, {on_top(place)}, its wide end down: its middle {middle}. Press a "
        "thin ring of oil clay round its foot, and smooth it. Its narrow end is level with the top of this "
        "pour: do not pour over it. It stays in for every pour."
    )
