"""Steps from a set pour to the next, and from the last one to a dry mold."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from claybed.fill_line import mark_mm
from claybed.sheets.bench_words import filled_to_sink, over_chart_words, side_of
from claybed.sheets.gate_plug import has_plug
from claybed.sheets.pour_words import closed_words
from claybed.sheets.side_words import straight_off
from claybed.sheets.steps import Step, each, step
from claybed.sheets.workings import Workings
from claybed.wording import rough_mass, ruler

# How the first step of the day after begins.
RESTS = "Let it rest"


def turned(plan: Mapping[str, Any], index: int, us: bool) -> list[Step]:
    """From a set first piece to one that lies face up, cleaned (`index` of the pour to come, from 0)."""
    after = plan["pours"][index - 1].get("after") or {}
    says = list(after.get("steps") or [])
    care = list(after.get("cautions") or [])
    piece = plan["pours"][index - 1]["piece"]
    if len(says) < 4:
        return [step("Turn it over", ["Take the form off, turn the piece over with the object in it."])]
    at = f"/pours/{index - 1}/after"
    lifted = str(says[3])
    if (plan.get("pose") or {}).get("saddles"):
        lifted = lifted.replace("Lift the bed off.", "Lift the bed off, saddles and all.")
    rest = []
    peel = "Peel the chart off the board." if (plan.get("pose") or {}).get("stations") else ""
    plug = "The gate plug stays in; press it back if it has moved." if has_plug(plan) else ""
    rest.append(f"{peel} {plug}".strip())
    rest.append(f"Set piece {piece} back on the base board, object up: it is the bed of this pour.")
    level_mm = (plan["pours"][index].get("form") or {}).get("bed_level_mm")
    if level_mm:
        rest.append(
            f"Where its face is flat it lies level, {_face_words(plan, us)} above the board; "
            f"{over_chart_words()} off does no harm."
        )
    floats = plan["object"].get("floats_in_slurry")
    screwed = floats and not filled_to_sink(plan)
    if floats:
        rest.append(
            "The object must sit tight, or slurry creeps under and lifts it. Where it rocks, take it out, "
            "wipe it and its seat, press it back. Close any joint with a thread of oil clay, flush with the "
            "face" + (_held_by_its_seat(plan, index, us) if screwed else ".")
        )
    held = (
        [
            "If a screw holds the object, draw it out from below, the board slid over the edge of the table; "
            "close its hole flush with oil clay once the object lies up."
        ]
        if screwed
        else []
    )
    turn, flip_kg = str(says[2]), after.get("flip_kg")
    if (plan.get("pose") or {}).get("saddles"):
        turn = turn.replace("flat on the chart,", "flat on the chart and under the saddles,")
    if flip_kg:
        # As in the list of lifts.
        turn = turn.replace(f"({flip_kg:.1f} kg with", f"({rough_mass(1000.0 * flip_kg, us=us)} with")
    carved = [text for text in says[4:] if text.startswith("Carve")] or [_keys_as_they_are(plan, index)]
    return [
        step(
            "Take the form off",
            [says[0], _at_once(says[1])],
            figures=[[f"{at}/form_off_min"]],
            care=care[:1],
        ),
        step("Turn it over", [*held, turn], figures=[[f"{at}/flip_kg"]], care=care[1:2]),
        step(
            "Clean",
            # The last but one says whether the first piece is still wet, wrapped, or soaked again.
            [lifted, *rest, *carved, *says[-2:-1]],
            figures=[
                [f"/pours/{index}/form/bed_level_mm"],
                *each(after.get("keys"), f"{at}/keys", "tool_mm", "depth_mm"),
            ],
        ),
    ]


def _held_by_its_seat(plan: Mapping[str, Any], index: int, us: bool) -> str:
    """What holds an object whose screw is out while the next piece is poured over it."""
    down_g = (plan["pours"][index].get("hold") or {}).get("sealed_down_g")
    much = f", {rough_mass(down_g, us=us)}," if down_g else ""
    return f"; where a screw held it, all round: its seat and the slurry above{much} hold it now."


def _face_words(plan: Mapping[str, Any], us: bool) -> str:
    """How high the face of the first piece stands when it is turned over, on a rule: what its pour filled, so
    told that bed, face and fill line add up as they are printed.
    """
    first, step_mm = plan["pours"][0], mark_mm(us)
    bed_mm = (first.get("form") or {}).get("bed_level_mm") or 0.0
    return ruler((round(first["fill_line_mm"] / step_mm) - round(bed_mm / step_mm)) * step_mm, us)


def _at_once(text: str) -> str:
    return f"At once, {text[0].lower()}{text[1:]}"


def _keys_as_they_are(plan: Mapping[str, Any], index: int) -> str:
    """What the keys of the first piece do in the second pour, when none is carved."""
    before, piece = (str(plan["pours"][k]["piece"]) for k in (index - 1, index))
    keys = [key for key in plan["mold"].get("keys") or [] if key.get("bump_on") == before]
    if not keys:
        return ""
    return f"Carve no keys: the {len(keys)} bumps of {before} are the keys, their hollows form in {piece}."


def closed(plan: Mapping[str, Any], index: int, us: bool) -> list[Step]:
    """From main pieces that have set to a closed mold that stands with an open place up."""
    after = plan["pours"][index - 1].get("after") or {}
    says, care = list(after.get("steps") or []), list(after.get("cautions") or [])
    at = f"/pours/{index - 1}/after"
    off = []
    if says:
        off = [step("Take the form off", says[:2], figures=[[f"{at}/form_off_min"]], care=care[:1])]
    tipped = [text for text in says if text.startswith("Strap")]
    emptied = [text for text in says if text.startswith("Take out")]
    told = closed_words(plan, index, us)
    if tipped and emptied:
        # What the plan tells of this very mold; the levels are added, and how dry it may have become.
        told = [*tipped, *emptied, *told[2:], *says[-2:-1]]
    form = f"/pours/{index}/form"
    figures = [[f"{at}/flip_kg"], [f"{form}/bed_level_mm"], [f"{form}/depth_mm"]]
    return [*off, step("Tip it on its side", told, figures=figures, care=care[1:2])]


def finishing(plan: Mapping[str, Any], index: int, workings: Workings) -> list[Step]:
    """From the last pour to a dry mold."""
    after = plan["pours"][index].get("after") or {}
    texts = list(after.get("steps") or [])
    if not texts:
        return []
    # What the page has said of heat, weight and the nail at its head is not said again.
    before = (plan["pours"][index - 1].get("after") or {}).get("cautions") or [] if index > 0 else []
    care = [text for text in after.get("cautions") or [] if text not in before]
    if index > 0:
        texts[0] = (
            "As before: wait until a nail leaves no dent and the heat falls, take the form off, and scrape "
            "the open face level."
        )
    rests = next((k for k, text in enumerate(texts) if text.startswith(RESTS)), len(texts) - 1)
    at = f"/pours/{index}/after"
    return [
        step(
            "Take the form off, mark it",
            [
                *(text.replace(" Paper tags do not last.", "") for text in texts[:rests]),
                _which_sides(plan),
            ],
            figures=[[f"{at}/form_off_min"], [f"{at}/grooves_count"], [f"{at}/pry_mm"]],
            care=care,
        ),
        step(
            "Open the mold",
            opening(texts[rests:-1], plan, index),
            figures=[[f"/timetable/entries/{k}/wait_min" for k in _resting(plan)]],
            later=True,
        ),
        _drying(plan, texts[-1], workings),
    ]


def opening(texts: Sequence[str], plan: Mapping[str, Any], index: int) -> list[str]:
    """What is done after the rest that follows the last pour, at `index`, with how side pieces and the object
    leave this very mold.
    """
    said = [text.replace("Take the object out along its pull.", _taken(plan, index)) for text in texts]
    return [*said[:1], *(straight_off(plan) if said else ()), *said[1:]]


def _taken(plan: Mapping[str, Any], index: int) -> str:
    """How the object leaves the opened mold."""
    plug = ", with its gate plug" if has_plug(plan) else ""
    leans = next((str(piece["id"]) for piece in plan["pieces"] if piece.get("leaves")), "")
    if leans:
        return f"Draw the object out of piece {leans} aslant, away from all its walls at once{plug}."
    if len(plan["pieces"]) != 2:
        return f"Take the object straight out of the piece it lies in{plug}."
    letter = plan["pours"][index]["piece"]
    return (
        f"Piece {letter} is on top: lift it straight up. Take the object by its thickest part with both "
        f"hands and lift it out of the other{plug}. Where it sticks, wet the joint, tap the plaster round "
        f"it and wait ten minutes{_lighter(plan)}; then turn the piece over, a hand's breadth above the soft "
        "mat, and tap its back. Do not pry at its edge."
    )


def _lighter(plan: Mapping[str, Any]) -> str:
    """How an object that was filled is made lighter before it is lifted out."""
    hold = plan["pours"][0].get("hold") or {}
    fits = [b for b in hold.get("ballast") or [] if b.get("fits") is not False]
    return "; pour out what it was filled with" if plan["object"].get("floats_in_slurry") and fits else ""


def _which_sides(plan: Mapping[str, Any]) -> str:
    """On which sides grooves and pry recesses lie, where the gate leaves at a side."""
    gate = plan["mold"].get("gate") or {}
    outer = plan["mold"]["outer_mm"]
    if len(plan["pieces"]) != 2 or len(outer) != 3 or gate.get("kind") not in ("bore", "mouth"):
        return ""
    if not gate.get("at_mm"):
        return ""
    sides = "left and right" if side_of(gate["at_mm"], outer) in ("front", "back") else "front and back"
    return f"Grooves and recesses go on the {sides} sides, the recesses in their middle."


def _resting(plan: Mapping[str, Any]) -> list[int]:
    """Where the timetable tells of the rest before the mold is opened."""
    entries = (plan.get("timetable") or {}).get("entries") or []
    return [k for k, entry in enumerate(entries) if entry["what"] == "rest closed"]


def _drying(plan: Mapping[str, Any], weighing: str, workings: Workings) -> Step:
    """Weighing, and how dry is known; with lines to write on."""
    targets = plan.get("dry_targets") or []
    weights = [
        [str(target["piece"]), f"{target['dry_share']:.4f}", workings.key(f"/dry_targets/{k}/dry_share")]
        for k, target in enumerate(targets)
    ]
    says = [weighing]
    if weights:
        says.append("Dry is the trimmed wet weight times the number below.")
        press = bool((plan.get("ware") or {}).get("press"))
        if _usual_shares(plan):
            says.append(
                "It may be pressed in at 1.15 times dry." if press else "It takes slip at 1.05 times dry."
            )
    says.append("It is dry when a day takes off less than 0.3 %.")
    states = ((plan.get("ware") or {}).get("drying") or {}).get("states") or []
    use = "press" if (plan.get("ware") or {}).get("press") else "slip"
    figures = []
    for k, state in enumerate(states):
        if state["id"] == f"{use}_ready" and state.get("hours"):
            ready = "pressing" if use == "press" else "slip"
            says.append(
                f"In a quiet room it is ready for {ready} after about {max(1, round(state['hours'] / 24.0))} "
                "days (see “Ware”)."
            )
            figures.append([f"/ware/drying/states/{k}/hours"])
    return step("Weigh and dry", says, figures=figures, weights=weights, later=True)


def _usual_shares(plan: Mapping[str, Any]) -> bool:
    """Whether the plan's press-ready and slip-ready weights are the shares that the sentence names."""
    return all(
        abs(t["press_ready_g"] / t["dry_g"] - 1.15) < 5e-4
        and abs(t["slip_ready_g"] / t["dry_g"] - 1.05) < 5e-4
        for t in plan.get("dry_targets") or []
    )
