"""What a plan's JSON says of the bench, as JSON Schema: a property for each field of the bench's records."""

from __future__ import annotations

import types
from dataclasses import fields
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from claybed.records import bench, timetable
from claybed.records.figure import Worked
from claybed.records.hump import Hump
from claybed.records.schema_parts import Schema, entry, nullable, rows

_IN = {
    "mm": "in mm", "mm2": "in mm²", "ml": "in ml", "g": "in g", "kg": "in kg", "l": "in l", "min": "in "
        "minutes",
    "h": "in hours", "d": "in days", "kpa": "in kPa", "newtons": "in N", "celsius": "in °C", "count": "as "
        "a count",
}  # fmt: skip
_LISTS = {
    "inside_mm": (1, 2),
    "per_mm_wider_ml": (1, 2),
    "object_mm": (2, 2),
    "at_mm": (3, 3),
    "pry_mm": (3, 3),
}
_ELSEWHERE = {"findings"}
# What each field holds, by its record; the unit is added from its name.
_SAYS: dict[str, dict[str, str]] = {
    "BoardUse": {
        "set": "The studio's name for these boards; empty when none is owned",
        "count": "How many, one on each side",
        "length_mm": "Length of the board",
        "height_mm": "Height of the board",
        "thickness_mm": "Its thickness",
        "inside_mm": "Inside length that it closes",
        "past_corner_mm": "What sticks out past the next board, for the clamp",
        "force_newtons": "Force of the slurry on one board",
        "bow_mm": "How far it bends near its base, held at its ends only",
        "bulge_ml": "Plaster that the bow takes; null outside the table's proportions",
    },
    "BandUse": {
        "set": "The studio's name for this band; empty when none is owned",
        "length_mm": "Length of the band",
        "height_mm": "Height of the band",
        "turns_count": "How often it goes round",
        "overlap_mm": "How far it lies over itself",
        "pull_newtons": "Pull in the band over its height",
        "oval_fraction": "What it gains when the slurry pushes an oval of 1.1 : 1 round",
    },
    "Strap": {
        "from_board_mm": "Height of the strap above the board",
        "pull_newtons": "What it carries; negative: it is slack",
    },
    "Form": {
        "kind": "What holds the pour",
        "how": "How it is set up",
        "inside_mm": "Inside: boxed x, y; round the diameter",
        "object_mm": "Width of the object along x and y",
        "footprint_mm2": "Inside plan",
        "bed_level_mm": "What the slurry stands on at the sides, above the board",
        "depth_mm": "Height of the slurry there",
        "per_mm_wider_ml": "More space for each millimetre that an inside measure is larger",
        "height_least_mm": "Least height of boards or band",
        "freeboard_mm": "Board above the fill line",
        "fill_from_board_mm": "Fill line above the board",
        "fill_from_rim_mm": "Fill line below the rim",
        "boards": "Boards, two sides each",
        "band": "The band of a round form; null for boards",
        "straps": "Straps or clamps, lowest first",
        "coil_mm": "Length of clay coil that seals the joints",
        "base_kpa": "Pressure at the foot of the slurry",
        "bow_most_mm": "Bow that is let pass",
        "stiffen": "What stiffens a board that bends too far; empty when none does",
        "leaks": "Where it leaks, and what to do there",
        "cautions": "What to mind",
    },
    "KeyUse": {
        "when": "Pressed into the bed (a bump on the first piece) or carved into that piece",
        "at_mm": "Its middle on the parting surface in the block's frame",
        "diameter_mm": "Its diameter",
        "depth_mm": "Its depth",
        "tool_mm": "Diameter of the ball that makes it",
    },
    "Bed": {
        "pad_mm": "Clay under the object's deepest point",
        "height_mm": "Height of the flat part above the board",
        "clay_ml": "Clay in the whole bed",
        "clay_g": "The same by weight",
        "keys": "Keys that are pressed into it",
        "steps": "What to do, in order",
        "cautions": "What to mind",
    },
    "Hump": {
        "ledge_from_board_mm": "The rim, and the ledge level with it, above the board",
        "sand_from_board_mm": "How high the sand round the vessel reaches above the board",
        "vessel_mm": "Height of the vessel",
        "hump_mm": "Height of the hump above its ledge",
        "ledge_mm": "How far the ledge reaches past the rim at least",
        "plinth_mm": "Height of the plinth",
        "rise_mm": "How far the rim is out of level",
        "hollow_ml": "Plaster in the vessel",
        "plinth_ml": "Plaster in the plinth",
        "sand_ml": "Sand round the vessel",
        "sand_g": "The same by weight",
        "clay_ml": "Clay on the sand, up to the rim",
        "head_kpa": "Pressure of the slurry on the deepest place of the inside",
        "steep_cm2": "Sides of the hump with little draft, in cm²",
    },
    "Ballast": {
        "what": "What it is",
        "needed_ml": "How much of it sinks the object in slurry",
        "most_g": "What the hollow holds of it; null when its room is not known",
        "fits": "Whether enough of it goes in; null when the room is not known",
        "says": "The same in one sentence",
    },
    "Packing": {
        "clay_g": "Water clay that fills the hollow",
        "least_g": "The least that the vessel itself must weigh so that it stays down with that clay in it",
    },
    "Hold": {
        "sealed_down_g": "How hard slurry presses the object down while it is sealed below",
        "seeping_up_g": "How hard it lifts once slurry is under it; null when the object was not weighed",
        "hold_down_g": "What to put on it; null likewise",
        "room_ml": "Room inside it; null when not known",
        "ballast": "What the hollow can be filled with",
        "cap": "How the ballast is closed in",
        "says": "The same in one or two sentences",
        "displaced_g": "Slurry that it pushes aside: lighter than that, it floats; null when none is",
        "packing": "Water clay packed into a vessel that stands open face down; null when none is",
    },
    "ReleaseStep": {
        "pour": "For which pour, from 1",
        "what": "What to put on",
        "where": "Where",
        "coats_count": "How many coats",
        "wait_min": "Wait after each coat",
        "says": "What to mind",
    },
    "Release": {
        "steps": "Coatings, in the order of work",
        "never": "What never to do",
        "cautions": "What to mind",
    },
    "BucketTimes": {
        "number": "Place in the order of mixing, from 1",
        "mixer": "Who mixes it, from 1",
        "water_g": "Water to weigh",
        "plaster_g": "Plaster to weigh",
        "sift_at_min": "Start of sifting, from the first scoop",
        "slake_at_min": "Start of slaking",
        "mix_at_min": "Start of mixing",
        "pour_at_min": "Start of pouring",
        "done_at_min": "Poured out",
    },
    "Mixing": {
        "method": "By drill or by hand",
        "mixers_count": "How many mix at once",
        "bucket_least_l": "Smallest bucket for a batch",
        "water_celsius": "Temperature of the water",
        "working_min": "How long the mixed slurry pours",
        "needed_min": "From the first mix to the last drop",
        "set_min": "When it sets",
        "buckets": "Start times of every bucket",
        "pace": "Whether the last bucket comes in time",
        "peak_celsius": "How hot the middle gets",
        "thickest_mm": "Thickest run of plaster",
        "heat": "The same in one sentence",
        "leftover_ml": "Slurry beyond the space",
        "leftover_use": "What to do with it",
        "rescue": "What to do when the pour runs short",
        "steps": "What to do, in order",
        "too_late": "Signs that the slurry must not be poured any more",
        "cautions": "What to mind",
    },
    "After": {
        "form_off_min": "When the form usually comes off, from the pour; the nail decides",
        "flip_kg": "What is turned over, object and clay of the bed with it; null when nothing is",
        "keys": "Keys to carve into the piece",
        "chamfer_mm": "Chamfer of the outside edges",
        "pry_mm": "Length, width and depth of a pry recess",
        "grooves_count": "Grooves for straps",
        "hand_holds": "Whether hand-holds are cut",
        "scratch": "What is scratched into the plaster",
        "steps": "What to do, in order",
        "cautions": "What to mind",
    },
    "DryTarget": {
        "piece": "The piece's letter",
        "wet_g": "Its weight just set",
        "dry_share": "Factor from the trimmed wet weight to the dry one",
        "dry_g": "Its dry weight",
        "press_ready_g": "From here on it can be pressed in",
        "slip_ready_g": "From here on it can be cast in",
        "shelf_dry_g": "Dry enough to store",
        "says": "What to do with the scale",
    },
    "Lift": {
        "what": "The lift",
        "load_kg": "What is lifted",
        "reach_mm": "How far out the hands are",
        "from_mm": "Height above the floor where it begins",
        "to_mm": "Height above the floor where it ends",
        "limit_kg": "Recommended by the lifting equation; null where it does not hold",
        "index": "Weight over that limit; null likewise",
        "flag": "none, look or stop, by who lifts",
        "why": "Why there is no limit; empty when there is one",
    },
    "Entry": {
        "what": "The step",
        "start_min": "Its start, from the first bed",
        "hands_min": "Hands-on time",
        "wait_min": "Waiting after it",
        "says": "What to mind",
    },
    "Timetable": {
        "entries": "Steps in order",
        "hands_on_h": "Hands-on time in all",
        "poured_d": "Until it is poured and rested",
        "ready_d": "Until it is ready to use",
        "says": "The same in one or two sentences",
    },
}


def with_bench(plan: Schema) -> Schema:
    """The schema of a plan with what it says of the bench added; none of it is required."""
    for name, kind in (
        ("form", bench.Form),
        ("hold", bench.Hold),
        ("mixing", bench.Mixing),
        ("after", bench.After),
    ):
        plan["properties"]["pours"]["items"]["properties"][name] = _object(kind)
    plan["properties"]["mold"]["properties"]["hump"] = nullable(_object(Hump))
    plan["properties"] |= {
        "bed": nullable(_object(bench.Bed)),
        "release": _object(bench.Release),
        "dry_targets": rows(
            _object(bench.DryTarget), "What each piece should weigh dry, one for each piece."
        ),
        "lifts": rows(_object(bench.Lift), "The lifts that happen."),
        "timetable": _object(timetable.Timetable),
        "code": {"type": "string", "description": "Five letters and digits to scratch into the plaster."},
    }
    return plan


def _object(kind: type) -> Schema:
    hints = get_type_hints(kind)
    says = _SAYS[kind.__name__]
    listed = [field.name for field in fields(kind) if field.name not in _ELSEWHERE]
    doc = " ".join((kind.__doc__ or "").split("\n\n")[0].split())
    return entry({name: _property(name, hints[name], says[name]) for name in listed}, doc)


def _property(name: str, hint: Any, says: str) -> Schema:
    kinds = [one for one in get_args(hint) if one is not type(None)]
    if get_origin(hint) in (Union, types.UnionType):
        return nullable(_property(name, kinds[0], says))
    if get_origin(hint) is Literal:
        return {"enum": list(get_args(hint)), "description": f"{says}."}
    if get_origin(hint) is tuple:
        items = {"type": "string"} if kinds[0] is str else _object(kinds[0])
        return rows(items, f"{says}.")
    if hint is Worked:
        return _number(name, says)
    plain = {str: "string", bool: "boolean"}
    if hint in plain:
        return {"type": plain[hint], "description": f"{says}."}
    return _object(hint)


def _number(name: str, says: str) -> Schema:
    unit = _IN.get(name.rpartition("_")[2])
    described = f"{says}, {unit}." if unit else f"{says}."
    if name in _LISTS and not (name == "inside_mm" and says.startswith("Inside length")):
        least, most = _LISTS[name]
        item = {"type": "number"}
        return {"type": "array", "description": described, "items": item, "minItems": least, "maxItems": most}
    return {"type": "number", "description": described}
