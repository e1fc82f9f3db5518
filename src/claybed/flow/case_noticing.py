"""What a person should know about a plan's cases before they print or pour."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from claybed.flow.case_loads import CaseLoad
from claybed.flow.cases import MadeCase, MadeCases, slots_from_kg
from claybed.materials import shelf
from claybed.records.finding import Finding, Severity
from claybed.units import say_length, say_mass, say_temperature
from claybed.wording import check_words

_FIRST: tuple[Severity, ...] = ("stop", "look", "note")


def findings_of(
    cases: MadeCases, loads: Sequence[CaseLoad], plan: Mapping[str, Any], needed_mm: float
) -> list[Finding]:
    """Findings of all cases, refused ones first."""
    found = [*cases.findings, *of_plan(plan)]
    lift_kg = float(plan["made"]["brief"]["lift_kg"])
    for made, load in zip(cases.made, loads, strict=True):
        found += _heat(made, load, cases)
        found += _weight(made, load, lift_kg)
        found += _slots(made, load, cases, lift_kg)
        found += _keys(made, plan)
        found += _walls(made, cases)
    found += _floating(cases, loads)
    found += _clearance(cases, needed_mm)
    if cases.ask.generations > 1:
        found.append(
            Finding(
                "cement_grows",
                "look",
                "the case of cement",
                "A cement made for block and case grows about 0.05 % in setting; a plain hard cement grows "
                "as much as plaster, and the molds come out larger by the difference.",
                "Take the expansion from the maker's sheet and scale the print by it.",
            )
        )
    return _joined(found)


def _joined(found: Sequence[Finding]) -> list[Finding]:
    """Findings that say the same of several cases as one, with all the places; what stops comes first."""
    first: dict[tuple[str, str, str], Finding] = {}
    places: dict[tuple[str, str, str], list[str]] = {}
    for one in found:
        key = one.id, one.says, one.remedy
        first.setdefault(key, one)
        places.setdefault(key, []).append(one.where)
    joined = [replace(one, where=", ".join(places[key])) for key, one in first.items()]
    return sorted(joined, key=lambda one: _FIRST.index(one.severity))


def of_plan(plan: Mapping[str, Any]) -> list[Finding]:
    """A stop for cases of a plan that must not be poured itself, with what keeps it from being."""
    if plan.get("ready", True):
        return []
    failed = [str(check["id"]) for check in plan["checks"] if not check["ok"]]
    why = [f"“{check_words(name, failed)}” does not hold" for name in failed]
    why += [str(one["says"]).rstrip(".") for one in plan["findings"] if one["severity"] == "stop"]
    return [
        Finding(
            "plan_not_ready",
            "stop",
            "the plan",
            f"The mold itself is not ready to pour: {'; '.join(why)}.",
            "Mend that and plan again before anything is printed.",
        )
    ]


def _heat(made: MadeCase, load: CaseLoad, cases: MadeCases) -> list[Finding]:
    softens, peak = cases.plastic.softens_celsius, load.heat.peak_celsius
    if peak < softens.low:
        return []
    # The middle is hotter than the plaster at the plastic, so that only well above the range it is certain.
    severity: Severity = "stop" if load.heat.low_celsius > softens.high else "look"
    return [
        Finding(
            "case_softens",
            severity,
            f"case of piece {made.poured.piece}",
            f"The middle of this pour reaches about {say_temperature(peak)}, and "
            f"{cases.plastic.name.upper()} gives under load from {say_temperature(softens.low)} to "
            f"{say_temperature(softens.high)}.",
            f"{_cooler(load)} Leave the case to cool before you move it.",
        )
    ]


def _cooler(load: CaseLoad) -> str:
    """What would pass, as one sentence of choices."""
    ways = []
    out = load.ways_out
    if out.plastics:
        *most, last = (name.upper() for name in out.plastics)
        ways.append(f"print it in {', '.join(most)} or {last}" if most else f"print it in {last}")
    if out.water_celsius is not None:
        ways.append(f"mix with water of {say_temperature(out.water_celsius)} or cooler")
    if out.thin_celsius is not None:
        ways.append(
            f"plan for plaster under {say_length(out.thin_mm)} thick, which reaches "
            f"{say_temperature(out.thin_celsius)}"
        )
    if not ways:
        return "No plastic of the shelf bears this: pour the piece as the plan says."
    joined = "; ".join(ways[:-1]) + ("; or " if len(ways) > 1 else "") + ways[-1]
    return f"{joined[0].upper()}{joined[1:]}."


def _weight(made: MadeCase, load: CaseLoad, lift_kg: float) -> list[Finding]:
    found = []
    where = f"case of piece {made.poured.piece}"
    if made.case is not None and load.full_kg > lift_kg:
        found.append(
            Finding(
                "full_case_heavy",
                "look",
                where,
                f"The full case weighs {say_mass(1000.0 * load.full_kg)}, and you lift "
                f"{say_mass(1000.0 * lift_kg)}.",
                "Fill it where it will set, unbolt it there, and lift the piece with two people.",
            )
        )
    if made.cement_case is not None and made.cement is not None:
        cement_g = (made.cement.water_g + made.cement.plaster_g) / (1.0 + made.cement.waste)
        if cement_g > 1000.0 * lift_kg:
            found.append(
                Finding(
                    "cement_case_heavy",
                    "look",
                    where,
                    f"The case of cement weighs {say_mass(cement_g)}, and you lift "
                    f"{say_mass(1000.0 * lift_kg)}.",
                    "Pour it where it can be tipped over an edge of the bench, and turn it with two people.",
                )
            )
    return found


def _floating(cases: MadeCases, loads: Sequence[CaseLoad]) -> list[Finding]:
    """What lifts if slurry or cement creeps under it, all of a kind told at once."""
    found = []
    for printed in (True, False):
        lifts = [
            f"{made.poured.piece} with {say_mass(load.hold_down_g)}"
            for made, load in zip(cases.made, loads, strict=True)
            if (made.case is not None) == printed and load.hold_down_g > 0.0
        ]
        if not lifts:
            continue
        what, liquid = ("case", "slurry") if printed else ("printed piece", "cement")
        found.append(
            Finding(
                "case_floats",
                "note" if printed else "look",
                f"under each {what}",
                f"If {liquid} creeps under a {what}, it lifts: {', '.join(lifts)}.",
                "Stand it on a flat board, seal its foot all round with clay, and clamp or screw it there."
                if printed
                else "Screw or glue it to the board from below, and seal its edge with clay.",
            )
        )
    return found


def _slots(made: MadeCase, load: CaseLoad, cases: MadeCases, lift_kg: float) -> list[Finding]:
    heavy = load.wet_g / 1e3 >= slots_from_kg(lift_kg) and cases.ask.slots == "auto"
    if made.poured.slots or not (heavy or cases.ask.slots == "all"):
        return []
    deep, least = (
        shelf.value("printing", "slot_deep_mm").low,
        shelf.value("practice", "wall_least_mm").value,
    )
    return [
        Finding(
            "no_room_for_slots",
            "look" if heavy else "note",
            f"piece {made.poured.piece}",
            f"Piece {made.poured.piece} weighs {say_mass(load.wet_g)} wet and has no room for two finger "
            f"slots of {say_length(deep)} opposite one another, with {say_length(least)} of plaster beside.",
            "Lift it with two people or in a strap, or plan with a larger --wall."
            if heavy
            else "Plan with a larger --wall.",
        )
    ]


def _keys(made: MadeCase, plan: Mapping[str, Any]) -> list[Finding]:
    own = [key for key in plan["mold"]["keys"] if key["bump_on"] == made.poured.piece]
    if len(own) <= made.poured.keys:
        return []
    return [
        Finding(
            "key_not_smaller",
            "look",
            f"piece {made.poured.piece}",
            f"{len(own) - made.poured.keys} of the bumps of piece {made.poured.piece} keep their full size.",
            "Scrape them with a loop tool until the pieces close.",
        )
    ]


def _walls(made: MadeCase, cases: MadeCases) -> list[Finding]:
    poured = made.poured
    where = f"case of piece {poured.piece}"
    found = []
    if poured.given_by:
        others = " and ".join(f"piece {name}" for name in poured.given_by)
        found.append(
            Finding(
                "wall_leans_over",
                "note",
                where,
                f"So that piece {poured.piece} leaves its case, its wall leans by {cases.draft_deg:g}° into "
                f"{others}, whose case is fuller there.",
                "Pour these pieces all from cases; one that was poured on the model as the plan has it does "
                "not fit beside them.",
            )
        )
    aslant_deg = math.degrees(math.acos(min(poured.pull[2], 1.0)))
    if aslant_deg > shelf.value("cases", "aslant_much_deg").value:
        out_mm = math.tan(math.radians(aslant_deg)) * (poured.top_mm - poured.low_mm)
        found.append(
            Finding(
                "drawn_far_aslant",
                "look",
                where,
                f"Piece {poured.piece} leaves {aslant_deg:.0f}° off every side of the block, so that its "
                f"outside leans out by {say_length(out_mm)} in its case: it takes more plaster than planned, "
                "and a strap slides off it.",
                "Hold the closed mold with wedges or between boards; or pour this piece against the others, "
                "as the plan says.",
            )
        )
    if any(poured.met) and not poured.given_by and poured.least_draft_deg < 0.1:
        found.append(
            Finding(
                "wall_upright",
                "look",
                where,
                f"The wall of piece {poured.piece} where another piece meets it stands upright: leaning, it "
                "would reach into the cavity or scrape on that piece.",
                "Wax that wall well, and draw the piece without turning it.",
            )
        )
    return found


def _clearance(cases: MadeCases, needed_mm: float) -> list[Finding]:
    if not any(made.poured.keys for made in cases.made) or cases.clearance_mm >= needed_mm:
        return []
    return [
        Finding(
            "clearance_small",
            "look",
            "the keys",
            f"Pieces poured apart may grow unlike: keys need {say_length(needed_mm)} of clearance on each "
            f"side, and have {say_length(cases.clearance_mm)}.",
            f"Ask for --clearance {needed_mm + 0.005:.2f}mm, or scrape the bumps until the pieces close.",
        )
    ]
