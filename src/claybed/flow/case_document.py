"""Cases as a document: plain values, unrounded, with the working of every number."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from claybed.cases import bearing
from claybed.cases.bearing import time_class
from claybed.cases.crowns import PEG_MM
from claybed.cases.finger_slots import slot_wall_mm
from claybed.cases.flanges import BOLT_MM, HOLE_MM, WASHER_MM
from claybed.cases.generations import DOWEL_MM, molds_a_day
from claybed.cases.leaning import steepest_deg
from claybed.cases.loose_cores import print_cores
from claybed.flow.case_loads import CaseLoad, Print, load_of, parts_of
from claybed.flow.case_noticing import findings_of
from claybed.flow.cases import MadeCase, MadeCases, needed_clearance_mm, slots_from_kg
from claybed.flow.ledger import Part, finished, new_document
from claybed.materials import shelf
from claybed.physics.lifting import multipliers
from claybed.records.cases import CASES_SCHEMA
from claybed.records.finding import Check, Finding
from claybed.records.mix import Mix

HEAVY = "A full case is heavy: fill it where it will set, and lift it with two people or not at all."
CAUTIONS = (
    "Set plaster is hot for an hour or so: keep hands off it and out of it, and let the case cool before you "
    "open it.",
    "Wear a dust mask that fits when you weigh and sift plaster, and when you sand print or plaster; wipe up "
    "wet.",
    "Print where air is drawn off, ABS and ASA above all: hot plastic gives off fumes that irritate.",
    "Printed edges and trimmed plastic cut. Deburr rims, flanges and hand-holds, and wear gloves to pry.",
    "Soap with water releases plaster from plastic. Where a solvent or a spray is used instead, use it "
    "outdoors or under an extractor, away from flames, as its label says.",
    HEAVY,
    "What the makers of plaster and plastic print, local codes and the studio's trained staff come first.",
)
_SKIN = "area of all surfaces x skin, then infill within"


def cases_document(
    cases: MadeCases,
    plan: Mapping[str, Any],
    files: Mapping[str, Mapping[str, str]],
    checks: Sequence[Check],
    *,
    water_celsius: float,
) -> dict[str, Any]:
    """The document of cases.json.

    `plan` is plan.json of the pieces; `files` by piece letter the files of each part by its id, and of
    "cement_case"; `checks` all that were made, of the files as well.
    """
    part = new_document()
    loads = [load_of(made, cases, water_celsius) for made in cases.made]
    needed_mm = needed_clearance_mm(plan)
    findings = findings_of(cases, loads, plan, needed_mm)
    ready = all(check.ok for check in checks) and not any(one.severity == "stop" for one in findings)
    heavy_kg = slots_from_kg(float(plan["made"]["brief"]["lift_kg"]))
    part.say(
        schema=CASES_SCHEMA,
        name=str(plan["object"]["name"]),
        ready=ready,
        route={1: "printed cases", 2: "printed pieces, cases of cement"}.get(
            cases.ask.generations, "printed cases, block pieces, cases of cement"
        ),
        cautions=[one for one in CAUTIONS if one is not HEAVY or any(w.full_kg >= heavy_kg for w in loads)],
    )
    _write_settings(part, cases, needed_mm, water_celsius)
    for made, load in zip(cases.made, loads, strict=True):
        _write_case(part.row("cases"), made, load, cases, files.get(made.poured.piece, {}), heavy_kg)
    part.say(checks=[], findings=[])
    for check in checks:
        _write_check(part.row("checks"), check)
    for finding in findings:
        _write_finding(part.row("findings"), finding)
    return finished(part)


def _write_settings(part: Part, cases: MadeCases, needed_mm: float, water_celsius: float) -> None:
    ask, plastic = cases.ask, cases.plastic
    row = part.part("printing")
    row.say(plastic=plastic.name)
    row.number("printer_mm", ask.printer_mm, "mm", "room of the printer, as asked or usual", "asked")
    for key, constant, unit, formula in (
        ("density_g_per_ml", plastic.density_g_per_ml, "g/ml", "density of the plastic"),
        ("softens_celsius", plastic.softens_celsius, "°C", "where the plastic begins to give under load"),
        ("modulus_gpa", plastic.modulus_gpa, "GPa", "stiffness of a print"),
        ("skin_mm", shelf.value("printing", "print_skin_mm"), "mm", "solid lines on every surface"),
        ("infill_fraction", shelf.value("printing", "print_infill_fraction"), "-", "infill within"),
        ("rate_ml_per_h", shelf.value("printing", "print_rate_ml_per_h"), "ml/h", "plastic laid in an hour"),
    ):
        row.number(key, constant.value, unit, formula, constant.source, low=constant.low, high=constant.high)
    asked = "asked" if ask.draft_deg is not None else "practice"
    row.number("draft_deg", cases.draft_deg, "deg", "lean of the plaster's outside, wider at its back", asked)
    asked = "asked" if ask.clearance_mm is not None else "derived"
    row.number("clearance_mm", cases.clearance_mm, "mm", "by which bumps are poured smaller, and grooves "
               "printed wider, on each side", asked)  # fmt: skip
    grows = shelf.value("plaster", "setting_expansion_fraction")
    row.number(
        "clearance_needed_mm", needed_mm, "mm",
        "tolerance of the print + half the longest way between keys x (most - least expansion)", "derived",
        {"setting_expansion_low": grows.low, "setting_expansion_high": grows.high},
    )  # fmt: skip
    row.number("water_celsius", water_celsius, "°C", "mixing water, as asked or usual", "practice")
    for step in cases.steps:
        one = part.row("generations")
        one.say(what=step.what, of=step.of)
        source = "memory" if step.of == "hard cement" else "usg-table" if step.of == "plaster" else "derived"
        one.number("grows_fraction", step.grows_fraction, "-", "linear expansion in setting", source)
        one.number(
            "size_ratio", step.size_ratio, "-",
            "size against a piece of the plan once set: 1 / product of (1 + expansion) of what is still to "
            "be poured", "usg-ig526", {"grows_fraction": step.grows_fraction},
        )  # fmt: skip
    if ask.generations > 1:
        turn, day = shelf.value("printing", "case_turn_min"), shelf.value("printing", "case_day_h")
        one = part.part("working_molds")
        one.number("turn_min", turn.value, "min", "from one mixing to the next", turn.source,
                   low=turn.low, high=turn.high)  # fmt: skip
        one.number("day_h", day.value, "h", "a day of pouring", day.source, low=day.low, high=day.high)
        one.number(
            "per_day_count", molds_a_day(turn.value, day.value), "-",
            "whole turns in a day, of each case", "practice",
            {"turn_min": turn.value, "day_h": day.value},
            low=molds_a_day(turn.high, day.low), high=molds_a_day(turn.low, day.high),
        )  # fmt: skip


def _write_case(
    row: Part, made: MadeCase, load: CaseLoad, cases: MadeCases, files: Mapping[str, str], heavy_kg: float
) -> None:
    poured = made.poured
    row.say(piece=poured.piece, kind="printed case" if made.case is not None else "printed piece")
    row.number(
        "keys_count", poured.keys, "-", "bumps of this piece, each smaller by the clearance", "geometry"
    )
    row.number("loose_keys_count", len(poured.plugs), "-", "sockets that look sideways, with a plug each",
               "geometry")  # fmt: skip
    row.say(cores=[
        {"id": part.id, "screwed": core.screw_deep_mm > 0.0}
        for part, core in zip(print_cores(poured), poured.cores, strict=True)
    ])  # fmt: skip
    row.number("drawn_aslant_deg", math.degrees(math.acos(min(poured.pull[2], 1.0))), "deg",
               "how far off square to its back the piece is drawn out", "geometry")  # fmt: skip
    row.number("scale_ratio", poured.scale, "-", "size of the print against the plan", "usg-ig526")
    row.number("least_draft_deg", poured.least_draft_deg, "deg", "least lean of the outside, slivers of "
               "1 mm² left out", "geometry")  # fmt: skip
    row.say(leans_into=list(poured.given_by))
    row.number("leaning_fraction", poured.leaning_share, "-",
               "share of the outside that leans at least half as much as asked", "geometry")  # fmt: skip
    row.number("fill_line_mm", poured.top_mm + (made.case.shape.floor_mm if made.case else 0.0), "mm",
               "rim of the case over its underside; plaster is struck off level with it"
               if made.case else "height of the piece", "geometry")  # fmt: skip
    _write_slots(row, made)
    if made.case is not None:
        _write_vessel(row, made, load, cases, two_people=load.full_kg >= heavy_kg)
    else:
        assert made.master is not None
        row.number("outer_mm", made.master.outer_mm, "mm", "box of the printed piece", "geometry")
        row.number("dowels_count", made.master.dowels, "-", "pairs of holes in the cuts", "geometry")
        row.number("dowel_mm", DOWEL_MM, "mm", "pegs for the holes", "practice")
    _write_print(row, load.printed)
    row.say(takes=time_class(load.printed.hours), parts=[])
    for one, printed in zip(parts_of(made), load.parts, strict=True):
        entry = row.row("parts")
        entry.say(id=one.id, file=files[one.id], takes=time_class(printed.hours))
        entry.number("size_mm", one.size_mm, "mm", "box of the part as it is printed", "geometry")
        entry.number(
            "stands_mm", one.bed_mm, "mm", "its flat face over the underside of the case", "geometry"
        )
        _write_print(entry, printed)
    _write_heat(row, load)
    _write_mix(row.part("pour"), made.mix, load.wet_g)
    row.number(
        "hold_down_g", load.hold_down_g, "g",
        "density of the slurry x (foot x height of the fill line - plaster) - plastic, if slurry creeps under"
        if made.case is not None
        else "density of the cement x volume of the print - plastic, if cement creeps under", "archimedes",
        {"slurry_kg_per_m3": load.slurry_kg_per_m3, "taken_ml": load.taken_ml,
         "plastic_g": load.printed.plastic_g},
    )  # fmt: skip
    if made.cement_case is not None and made.cement is not None:
        _write_cement(row.part("cement_case"), made, made.cement, files)


def _write_vessel(row: Part, made: MadeCase, load: CaseLoad, cases: MadeCases, *, two_people: bool) -> None:
    case, wall = made.case, made.wall
    assert case is not None and wall is not None
    shape = case.shape
    row.number("wall_mm", shape.wall_mm, "mm",
               "as asked" if made.asked_wall else "thinnest that bows no more than is let pass",
               "asked" if made.asked_wall else "derived")  # fmt: skip
    row.number("floor_mm", shape.floor_mm, "mm", "plastic under the lowest plaster", "practice")
    row.number("outer_mm", case.outer_mm, "mm", "box of the case bolted together", "geometry")
    row.number(
        "bolts_count", case.bolts + sum(case.level_bolts), "-", "bolts through the flanges", "geometry"
    )
    row.number("bolt_mm", BOLT_MM, "mm", "bolt", "practice")
    row.number("hole_mm", HOLE_MM, "mm", "hole for it", "practice")
    row.number("grips_count", case.grips, "-", "hand-holds, where the full case is heavy", "practice")
    row.number("pockets_count", case.cells, "-",
               "pockets below, where they save more infill than they add skin", "geometry")  # fmt: skip
    row.number("head_mm", wall.head_mm, "mm", "fill line - lowest rim of the parting side", "geometry")
    row.number("stay_mm", case.stay_mm, "mm", "longest wall between corners or flanges", "geometry")
    row.number("base_kpa", wall.base_kpa, "kPa", "density of the slurry x g x height of liquid", "aci-347",
               {"slurry_kg_per_m3": load.slurry_kg_per_m3, "head_mm": wall.head_mm})  # fmt: skip
    modulus = cases.plastic.modulus_gpa
    row.number(
        "bow_mm", wall.bow_mm, "mm", wall.formula,
        "plate-table" if "plate" in wall.formula else "beam-theory",
        {"base_kpa": wall.base_kpa, "head_mm": wall.head_mm, "stay_mm": case.stay_mm,
         "wall_mm": shape.wall_mm, "modulus_gpa": modulus.value},
        low=wall.bow_mm * modulus.value / modulus.high, high=wall.bow_mm * modulus.value / modulus.low,
    )  # fmt: skip
    limit = shelf.value("boards", "bow_most_mm")
    row.number("bow_most_mm", limit.value, "mm", "bow that is let pass", limit.source)
    _write_joints(row, made, load, cases)
    row.number("full_kg", load.full_kg, "kg", "wet piece + plastic", "derived",
               {"wet_g": load.wet_g, "plastic_g": load.printed.plastic_g})  # fmt: skip
    leans_deg = steepest_deg(case.poured)
    row.number("steepest_deg", leans_deg, "deg", "most that a wall leans out", "geometry")
    row.say(support=leans_deg > shelf.value("cases", "overhang_deg").value, two_people=two_people)


def _write_slots(row: Part, made: MadeCase) -> None:
    """Finger slots of a piece, and what they gain a person who lifts it."""
    row.say(slots=[])
    for slot in made.poured.slots:
        entry = row.row("slots")
        entry.number("wide_mm", slot.wide_mm, "mm", "along the edge, as wide as there is room", "practice")
        entry.number("deep_mm", slot.deep_mm, "mm", "in from the edge, as deep as leaves the least wall",
                     "practice")  # fmt: skip
        entry.number("tall_mm", slot.tall_mm, "mm", "from the back", "practice")
        entry.number("at_mm", slot.at_mm.tolist(), "mm", "middle of the edge it opens, in the case's frame, "
                     "in line with the centre of mass", "geometry")  # fmt: skip
    if not made.poured.slots:
        return
    row.number("slot_wall_mm", slot_wall_mm(made.poured), "mm",
               "least plaster from slot to cavity, parting side and sockets", "geometry")  # fmt: skip
    fair, poor = (multipliers(0.25, 0.5, 0.0, coupling=name).coupling_share for name in ("fair", "poor"))
    row.number(
        "grip_gain_ratio", fair / poor, "-",
        "recommended weight with fingers hooked under, hands below 75 cm, against that of a plain block",
        "niosh-94-110", {"fair": fair, "poor": poor},
    )  # fmt: skip


def _write_joints(row: Part, made: MadeCase, load: CaseLoad, cases: MadeCases) -> None:
    """The cuts of a case and what holds each joint while the plaster is liquid."""
    case = made.case
    assert case is not None
    modulus = cases.plastic.modulus_gpa
    bears = shelf.value("printing", "print_bearing_kPa")
    row.number("bolt_newtons", max((joint.newtons for joint in load.joints), default=0.0), "N",
               "the most of all joints", "hydrostatics")  # fmt: skip
    row.number(
        "bolt_bears_newtons", bearing.washer_bears_newtons(bears.value), "N",
        "what a print bears x area of the washer less its hole", bears.source,
        {"bearing_kpa": bears.value, "washer_mm": WASHER_MM, "hole_mm": HOLE_MM},
        low=bearing.washer_bears_newtons(bears.low), high=bearing.washer_bears_newtons(bears.high),
    )  # fmt: skip
    row.number("levels_mm", case.levels_mm, "mm", "level cuts over the underside, each as high as the "
               "printer allows, where the model leaves no flake above it", "geometry")  # fmt: skip
    row.number("pegs_count", case.pegs, "-", "pegs under parts of the model that stand free above a level "
               "cut", "geometry")  # fmt: skip
    row.number("peg_mm", PEG_MM, "mm", "pegs for the holes", "practice")
    row.say(crowns=list(case.crowns), joints=[])
    for joint in load.joints:
        entry = row.row("joints")
        entry.say(where=joint.where, level=joint.level_mm is not None)
        if joint.level_mm is not None:
            entry.number("level_mm", joint.level_mm, "mm", "over the underside", "geometry")
        entry.number("head_mm", joint.head_mm, "mm", "fill line - lowest place of the joint", "geometry")
        entry.number("bolts_count", joint.bolts, "-", "bolts in one flange", "geometry")
        entry.number("apart_mm", joint.apart_mm, "mm", "longest way between two bolts", "geometry")
        given = {"head_mm": joint.head_mm, "slurry_kg_per_m3": load.slurry_kg_per_m3}
        level = joint.level_mm is not None
        entry.number(
            "load_n_per_m", joint.load_n_per_m, "N/m",
            "ρ g h x (wall + flange) + ρ g h³ / 6 / (flange - bolt's place) + weight carried / length around"
            if level else "ρ g h x half the longer wall, at its foot", "hydrostatics", given,
        )  # fmt: skip
        entry.number(
            "pull_newtons", joint.newtons, "N",
            "load x way to the next bolt" if level
            else "half the force on the longer wall, shared by the bolts of one flange", "hydrostatics",
            given | {"bolts_count": joint.bolts},
        )  # fmt: skip
        entry.number(
            "gap_mm", joint.gap_mm, "mm", "2 x 5 q L⁴ / (384 E I), both flanges between two bolts",
            "beam-theory",
            {"load_n_per_m": joint.load_n_per_m, "apart_mm": joint.apart_mm, "modulus_gpa": modulus.value},
            low=joint.gap_mm * modulus.value / modulus.high, high=joint.gap_mm * modulus.value / modulus.low,
        )  # fmt: skip


def _write_print(row: Part, printed: Print) -> None:
    row.number("solid_ml", printed.solid_ml, "ml", "volume of the shape", "geometry")
    row.number("plastic_ml", printed.volume_ml, "ml", _SKIN, "derived",
               {"solid_ml": printed.solid_ml, "skin_ml": printed.skin_ml})  # fmt: skip
    row.number("plastic_g", printed.plastic_g, "g", "volume printed x density of the plastic", "derived",
               {"plastic_ml": printed.volume_ml},
               low=printed.plastic_low_g, high=printed.plastic_high_g)  # fmt: skip
    row.number("hours_h", printed.hours, "h", "volume printed / plastic laid in an hour", "memory",
               {"plastic_ml": printed.volume_ml}, low=printed.low_hours, high=printed.high_hours)  # fmt: skip


def _write_heat(row: Part, load: CaseLoad) -> None:
    heat = load.heat
    row.number(
        "peak_celsius", heat.peak_celsius, "°C",
        "slurry + share of the heat kept x adiabatic rise, in the middle; at the plastic it stays below",
        shelf.value("plaster", "hydration_heat_kJ_per_kg").source,
        {"start_celsius": heat.start_celsius, "rise_kelvin": heat.rise_k,
         "kept_heat_fraction": heat.kept_fraction, "thickest_mm": heat.thickest_mm},
        low=heat.low_celsius, high=heat.high_celsius,
    )  # fmt: skip
    out = load.ways_out
    row.say(plastics_that_pass=list(out.plastics))
    row.number(
        "passing_water_celsius", out.water_celsius, "°C",
        "warmest whole degree of mixing water at which the middle stays below where the plastic gives",
        "derived", {"rise_kelvin": heat.rise_k, "kept_heat_fraction": heat.kept_fraction},
    )  # fmt: skip
    row.number(
        "passing_thin_celsius", out.thin_celsius, "°C",
        "slurry + share of the heat that thinner plaster keeps x adiabatic rise", "derived",
        {"thinner_than_mm": out.thin_mm, "start_celsius": heat.start_celsius, "rise_kelvin": heat.rise_k},
    )  # fmt: skip


def _write_mix(row: Part, mix: Mix, wet_g: float) -> None:
    row.number("space_ml", mix.space_ml, "ml", "volume of the piece, drafted, up to the rim, less what "
               "loose keys, cores and slot blocks take", "geometry")  # fmt: skip
    row.number("waste_fraction", mix.waste, "-", "allowance for a printed or plaster case", "practice")
    row.number("slurry_ml", mix.slurry_ml, "ml", "space x (1 + allowance)", "derived",
               {"space_ml": mix.space_ml, "waste_fraction": mix.waste})  # fmt: skip
    given = {"slurry_ml": mix.slurry_ml, "consistency_per_100": mix.consistency}
    row.number("water_g", mix.water_g, "g", "plaster x consistency / 100", "usg-table", given)
    row.number("plaster_g", mix.plaster_g, "g",
               "slurry / (consistency / (100 x density of water) + 1 / density of plaster)",
               "usg-table", given)  # fmt: skip
    row.number("batches_count", len(mix.batches), "-", "equal batches that the bucket holds", "derived")
    row.number("wet_g", wet_g, "g", "volume of the piece x density of the slurry", "derived",
               {"space_ml": mix.space_ml})  # fmt: skip


def _write_cement(row: Part, made: MadeCase, mix: Mix, files: Mapping[str, str]) -> None:
    case = made.cement_case
    assert case is not None
    row.say(file=files["cement_case"])
    row.number(
        "form_mm", case.form_mm, "mm", "inside of the form around the piece, and fill line", "geometry"
    )
    row.number("wall_mm", case.wall_mm, "mm", "cement beside and over the piece", "practice")
    row.number("outside_mm", np.ptp(case.poured.top_outline_mm, axis=0).tolist(), "mm",
               "piece on its back, where the form stands a wall away", "geometry")  # fmt: skip
    row.number("space_ml", mix.space_ml, "ml", "form - piece", "geometry")
    given = {"slurry_ml": mix.slurry_ml, "consistency_per_100": mix.consistency}
    row.number("slurry_ml", mix.slurry_ml, "ml", "space x (1 + allowance for boards)", "derived",
               {"space_ml": mix.space_ml, "waste_fraction": mix.waste})  # fmt: skip
    row.number(
        "consistency_per_100", mix.consistency, "per 100", "hard cement for block and case", "practice"
    )
    row.number("water_g", mix.water_g, "g", "cement x consistency / 100", "usg-table", given)
    row.number("cement_g", mix.plaster_g, "g",
               "slurry / (consistency / (100 x density of water) + 1 / density of cement)",
               "usg-table", given)  # fmt: skip
    row.number("batches_count", len(mix.batches), "-", "equal batches that the bucket holds", "derived")
    row.number("wet_kg", (mix.water_g + mix.plaster_g) / (1.0 + mix.waste) / 1e3, "kg",
               "what stays in the form", "derived", {"space_ml": mix.space_ml})  # fmt: skip


def _write_check(row: Part, check: Check) -> None:
    row.say(id=check.id, ok=check.ok, where=check.where, how=check.how, remedy=check.remedy, unit=check.unit,
            sense=check.sense)  # fmt: skip
    row.number("measured", check.measured, check.unit, check.how, "geometry")
    row.number("limit", check.limit, check.unit, "what is let pass", "geometry")


def _write_finding(row: Part, finding: Finding) -> None:
    entry = asdict(finding)
    row.say(**{key: entry[key] for key in ("id", "severity", "where", "says", "remedy")})
