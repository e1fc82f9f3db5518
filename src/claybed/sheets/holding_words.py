"""Sentences of the bench pages about an object that floats in slurry, or may: what keeps it down."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from claybed.units import say_volume
from claybed.wording import rough_mass, ruler


def hold_words(plan: Mapping[str, Any], us: bool) -> list[str]:
    """How a light object is kept down, done before it is bedded; empty where it stays by its own weight.

    Its top ends under plaster, so nothing can rest on it. Where it was not weighed, from which weight on it
    stays.
    """
    hold = plan["pours"][0].get("hold")
    if hold and hold.get("packing"):
        return _packed(plan, us)
    if hold and hold.get("displaced_g") and plan["object"].get("mass_g") is None:
        return _not_weighed(hold, us)
    if not hold or not _pulls_up(plan):
        return []
    fitting = fitting_ballast(plan)
    says = [
        "It floats in slurry: where some creeps under, it pulls upwards with "
        f"{rough_mass(hold['seeping_up_g'], us=us)}. "
        "Nothing can rest on top, plaster will cover it. Do this before it is sealed and released."
    ]
    clear = ", clear of the saddles" if (plan.get("pose") or {}).get("saddles") else ""
    screwed = (
        f"drive a screw up through the base board and the chart into its underside{clear}, "
        f"when it lies in its pose, to try it: it must stand a pull of {_mass_up(hold, us)} and not draw the "
        "object down. Back it out; it goes in again before the bed is built"
    )
    if fitting:
        sand = fitting[0]
        hole = _hole(plan, us)
        filled = (
            f"{hole}fill it quite full with {sand['what']}, tapped down: it must take "
            f"{say_volume(sand['needed_ml'], us=us)} or more. Cap it flush with oil clay over film, not "
            "varnished. Where less goes in, see “Pours, bucket by bucket”"
        )
        if hold.get("room_ml"):
            says.append(f"{filled[0].upper()}{filled[1:]}.")
        else:
            says.append(f"If it is hollow, {filled}. If it is solid, {screwed}.")
    else:
        says.append(screwed[0].upper() + screwed[1:] + ".")
    return says


def fitting_ballast(plan: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """What may fill an object that floats, so that it stays down; empty where nothing need or would."""
    hold = plan["pours"][0].get("hold") or {}
    if hold.get("packing") or not _pulls_up(plan):
        return []
    return [b for b in hold.get("ballast") or [] if b.get("fits") is not False and b.get("needed_ml")]


def _pulls_up(plan: Mapping[str, Any]) -> bool:
    up = (plan["pours"][0].get("hold") or {}).get("seeping_up_g")
    return bool(plan["object"].get("floats_in_slurry")) and up is not None and up > 0.0


def risen_words(plan: Mapping[str, Any]) -> list[str]:
    """What is done when an object that floats comes up under a later pour; empty for one that does not."""
    if not plan["object"].get("floats_in_slurry"):
        return []
    return [
        "If the object rises, press it down with a stick while another pours on; when the slurry begins to "
        "drag on it, draw it out and tap until its hole closes."
    ]


def _hole(plan: Mapping[str, Any], us: bool) -> str:
    """Where a closed object is opened to be filled: where the gate plug will cover it."""
    gate = plan["mold"].get("gate") or {}
    if gate.get("kind") != "bore" or not gate.get("bore_mm"):
        return ""
    wide = ruler(gate["bore_mm"], us)
    return (
        f"cut a hole where the gate plug will sit (try pose and plug first), no wider than {wide}, with a "
        "drill or a knife, pull out seeds and pith with a bent wire, "
    )


def _mass_up(hold: Mapping[str, Any], us: bool) -> str:
    return rough_mass(hold.get("hold_down_g") or hold["seeping_up_g"], us=us)


def _packed(plan: Mapping[str, Any], us: bool) -> list[str]:
    """Why a vessel that stands open face down is packed with clay, and from which weight on that will do."""
    hold = plan["pours"][0]["hold"]
    packing = hold["packing"]
    least_g, clay = packing["least_g"], rough_mass(packing["clay_g"], us=us)
    up = hold.get("seeping_up_g")
    lifts = (
        f"it pulls upwards with {rough_mass(up, us=us)}"
        if up
        else f"it floats if it weighs less than the {rough_mass(hold['displaced_g'], us=us)} of slurry that "
        "it pushes aside, as a hollow vessel does"
    )
    says = [
        f"Where slurry creeps under its rim, {lifts}. Nothing can rest on top, plaster will cover it; and "
        f"what is only laid into it lies on the board. So its hollow is packed with {clay} of soft water "
        "clay, which clings to it, when it is set in its pose: leave the inside without varnish and release."
    ]
    if not up:
        if least_g > 0.0:
            says.append(
                f"Weigh the vessel: with that clay in it, it stays down if it weighs "
                f"{rough_mass(least_g, us=us)} or more without. If it is lighter, plan again with --mass."
            )
        return says
    for one in hold.get("ballast") or []:
        if one.get("fits"):
            says.append(
                f"Clay alone is too light here: press {say_volume(one['needed_ml'], us=us)} of {one['what']} "
                "into it, all round."
            )
        else:
            says.append(
                "Even so it is too light: glue a block of wood into the hollow before it is packed, and "
                f"drive a screw up through the base board into it; that has to hold {_mass_up(hold, us)}."
            )
    return says


def pack_words(plan: Mapping[str, Any], us: bool) -> str:
    """How the clay goes into a vessel that stands open face down; empty where none does."""
    packing = (plan["pours"][0].get("hold") or {}).get("packing")
    if not packing:
        return ""
    clay = rough_mass(packing["clay_g"], us=us)
    return (
        f"First pack its hollow quite full of soft water clay, {clay}: damp the inside, press the clay "
        "against it a handful at a time so that it clings and no air stays behind, and strike it off level "
        "with the rim."
    )


def _not_weighed(hold: Mapping[str, Any], us: bool) -> list[str]:
    """From which weight on an object that was not weighed stays down."""
    return [
        f"Weigh the object. If it is lighter than {rough_mass(hold['displaced_g'], us=us)}, as much as the "
        "slurry that it pushes aside, it floats where some creeps under, and has to be held down from inside "
        "or from the board, before it is sealed and released: plan again with --mass, and this page tells "
        "how."
    ]
