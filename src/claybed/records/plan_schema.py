"""What a plan's JSON holds, key by key, as a JSON Schema (draft 2020-12).

Keys that are not named here may be added; those that are named keep their meaning while `schema` stays the
same.
"""

from __future__ import annotations

from typing import Final

from claybed.records.bench_schema import with_bench
from claybed.records.gate_schema import gate_schema
from claybed.records.object_schema import closed_hole, closed_mouth, how_measured
from claybed.records.pose_schema import pose_schema
from claybed.records.schema_parts import (
    Schema,
    amount,
    digests,
    entry,
    flag,
    nullable,
    number,
    place,
    rows,
    text,
    triple,
    whole,
)
from claybed.records.ware_schema import ware_schema

PLAN_SCHEMA: Final = "claybed-plan-1"
SURVEY_SCHEMA: Final = "claybed-survey-1"
_DRAFT: Final = "https://json-schema.org/draft/2020-12/schema"


def plan_schema() -> Schema:
    """Return the JSON Schema of a plan. Units stand at the end of each name and in each description; raises
    nothing.
    """
    plan: Schema = {
        "$schema": _DRAFT,
        "title": "A claybed plan",
        "description": "A plaster mold planned from an object: how it leaves, the pieces, the pours "
        "and the checks. Figures are unrounded; directions are unit vectors.",
        **entry(
            {
                "schema": {"const": PLAN_SCHEMA, "description": "Name and number of this layout."},
                "ready": {
                    "type": "boolean",
                    "description": "True when every check holds and no finding says stop; otherwise the "
                    "plan must not be poured as it stands.",
                },
                "object": _measured_object(),
                "survey": _survey(),
                "mold": _mold(),
                "model": _model(),
                "pieces": rows(_piece(), "The mold pieces.", at_least=1),
                "pose": pose_schema(),
                "pours": rows(
                    _pour(), "One pour of plaster for each piece, in the order of work.", at_least=1
                ),
                "checks": rows(_check(), "What every plan is tested for.", at_least=1),
                "findings": rows(_finding(), "What a person should know before pouring."),
                "made": _made(),
                "ware": ware_schema(_finding()),
                "figures": {
                    "type": "object",
                    "description": "How each number of this document came about, by its JSON pointer, "
                    "such as /pours/0/water_g.",
                    "propertyNames": {"pattern": "^(/[^/]*)+$"},
                    "additionalProperties": _figure(),
                },
            },
            optional=("made", "ware", "pose"),
        ),
    }
    return with_bench(plan)


def _measured_object() -> Schema:
    repair = entry(
        {
            "step": text("What was mended: weld, orient, fill_hole, keep_outer, unite, remesh …"),
            "count": whole("How many places."),
            "amount": number("Size of the mend, in `unit`."),
            "unit": text("Unit of the amount: mm, mm2 or mm3."),
            "says": text("The same in one sentence."),
        },
        optional=("says",),
    )
    return entry(
        {
            "name": text("The object's name, from its file."),
            "volume_ml": amount("Volume that displaces plaster, in ml.", above_zero=True),
            "area_cm2": amount("Surface, in cm².", above_zero=True),
            "extent_mm": triple(
                "Size along x, y and z of the file, in mm.", {"type": "number", "minimum": 0}
            ),
            "repairs": rows(repair, "Every mend made to the file's surface; empty when there was none."),
            "unit": entry(
                {
                    "unit": text("The file's unit of length: mm, cm, m, in or ft."),
                    "how": text("How it was known: asked, file, inferred or scaled."),
                    "says": text("The same in one sentence."),
                    "mm_per_unit": amount("Length of one unit, in mm.", above_zero=True),
                },
                optional=("unit", "how", "mm_per_unit"),
            ),
            "mend": entry(
                {
                    "volume_change_percent": nullable(number("What all mends changed the volume by, in %.")),
                    "largest_shift_mm": amount("Largest move of the surface by a mend, in mm."),
                }
            ),
            "mouth": nullable(closed_mouth()),
            "holes": rows(closed_hole(), "Holes through the wall that were closed for the mold."),
            "measured": nullable(how_measured()),
            "mass_g": nullable(amount("Weighed mass, in g.", above_zero=True)),
            "relative_density": amount("Mass over volume against water.", above_zero=True),
            "floats_in_water": flag("Whether it floats in water."),
            "floats_in_slurry": flag("Whether it floats in this mix of plaster."),
            "lift_in_slurry_g": number(
                "Upward pull of the slurry when held under, in g; negative: it sinks."
            ),
        },
        "What is to be molded, as measured.",
        optional=(
            *("unit", "mend", "mouth", "holes", "measured", "mass_g", "relative_density"),
            *("floats_in_water", "floats_in_slurry", "lift_in_slurry_g"),
        ),
    )


def _survey() -> Schema:
    candidate = entry(
        {
            "axis": triple("Unit vector in the object's frame."),
            "castable": flag("True when nothing along this axis must be filled with oil clay."),
            "fill_ml": amount("Least volume that frees this axis, in ml."),
            "fill_g": amount("The same as oil clay, in g."),
            "undercut_area_cm2": amount("Surface that neither direction reaches, in cm²."),
        }
    )
    return entry(
        {
            "axis": triple("The chosen pull and its opposite: unit vector in the object's frame."),
            "castable": flag("True when nothing must be filled with oil clay for the object to leave."),
            "fill_ml": amount("Oil clay that closes all locked space along the axis, in ml."),
            "fill_g": amount("The same, in g."),
            "undercut_area_cm2": amount("Surface that neither direction of the axis reaches, in cm²."),
            "candidates": rows(candidate, "Axes that were judged, best first."),
            "kind": {"enum": ["one_piece", "two_piece", "several"], "description": "How the mold opens."},
            "exact_gap": flag("False when whole-number arithmetic finds no gap along the axis at all."),
            "deepest_mm": amount("Deepest lock, measured sideways, in mm."),
            "spacing_mm": amount("Spacing of the raster that was scored, in mm.", above_zero=True),
            "tilt_deg": nullable(
                amount("Tilt off the axis from which it locks, in degrees; 10 stands for 10 or more.")
            ),
            "draft": rows(
                entry(
                    {
                        "from_deg": amount("Least draft, in degrees."),
                        "to_deg": amount("Largest draft, in degrees."),
                        "area_cm2": amount("Surface with that draft, in cm²."),
                    }
                ),
                "Surface by its draft off the axis; the first band is exactly upright.",
            ),
            "options": rows(
                entry(
                    {
                        "kind": text("one_piece, two_piece or several."),
                        "pull": triple("Unit vector in the object's frame."),
                        "fill_ml": amount("Oil clay that it needs, in ml."),
                        "deepest_mm": amount("Deepest lock, measured sideways, in mm."),
                        "says": text("The same in one sentence."),
                        "plane_mm": number("Height of a plane made for the seam, along the pull, in mm."),
                        "plane_fill_ml": amount("Oil clay that brings the seam into it, in ml."),
                    },
                    optional=("plane_mm", "plane_fill_ml"),
                ),
                "Ways to make the mold, best first.",
            ),
            "fill_places": rows(
                entry(
                    {
                        "volume_ml": amount("Oil clay that closes it, in ml."),
                        "depth_mm": amount("How far it reaches sideways under the object, in mm."),
                        "lock_class": {"enum": ["scrape", "fill"], "description": "What to do with it."},
                        "at_mm": triple("Its middle in the object's frame, in mm."),
                    }
                ),
                "Patches that ask something of a person, in the order in which pictures number them.",
            ),
        },
        "Which way the object leaves, and what locks.",
        optional=(
            *("kind", "exact_gap", "deepest_mm", "spacing_mm", "tilt_deg"),
            *("draft", "options", "fill_places"),
        ),
    )


def _mold() -> Schema:
    return entry(
        {
            "shape": {"enum": ["boxed", "round"], "description": "Cottle boards or a flexible band."},
            "outer_mm": {
                "type": "array",
                "description": "Outside of the closed block, in mm: boxed x, y, z; round diameter, height.",
                "items": {"type": "number", "exclusiveMinimum": 0},
                "minItems": 2,
                "maxItems": 3,
            },
            "wall_mm": amount("Least plaster between cavity and outside, in mm.", above_zero=True),
            "seam_length_mm": amount("Length of the seam on the object, in mm; 0 for one piece."),
            "wall_reason": text("Why the wall is as thick as it is."),
            "seam_flat": nullable(
                flag("Whether a level plane fits the seam within 0.1 mm; null without a seam.")
            ),
            "off_plane_mm": amount("Largest distance of the seam from a level plane, in mm."),
            "level_mm": number("Height of the flat part of the parting surface in the block's frame, in mm."),
            "draft_deg": amount("Draft that every wall is to have, in degrees; missing where none is asked."),
            "bed_mm": nullable(number("Height of that part above the board of the first pour, in mm.")),
            "stance": text("How the closed mold stands."),
            "keys": rows(_key(), "Keys between the pieces."),
            "gate": gate_schema(),
        },
        "The block that the pieces make up.",
        optional=(
            *("wall_reason", "seam_flat", "off_plane_mm", "level_mm"),
            *("bed_mm", "stance", "keys", "gate", "draft_deg"),
        ),
    )


def _key() -> Schema:
    return entry(
        {
            "at_mm": triple("Its middle on the parting surface in the block's frame, in mm."),
            "diameter_mm": amount("Its diameter, in mm.", above_zero=True),
            "depth_mm": amount("How far it stands out, in mm.", above_zero=True),
            "bump_on": text("The letter of the piece that carries the bump."),
        }
    )


def _made() -> Schema:
    return entry(
        {
            "claybed": text("Version that made the plan."),
            "brief": {"type": "object", "description": "Every wish, as asked or as usual; null: left open."},
            "stage_keys": {"type": "object", "description": "What each stage's result was kept under."},
        },
        "What the plan was made from.",
    )


def _model() -> Schema:
    return entry(
        {
            "file": text("The object made ready to be poured against, relative to the plan's folder."),
            "volume_ml": amount("Its volume, fill and gate included, in ml.", above_zero=True),
            **digests(),
        },
        "The object as plaster is poured against it.",
        optional=("sha256", "sha256_3mf"),
    )


def _piece() -> Schema:
    return entry(
        {
            "id": text("The piece's letter, as it stands on sheets and pictures."),
            "order": whole("Place in the order of opening the mold, from 1.", least=1),
            "pull": triple("Direction in which it leaves: unit vector in the block's frame."),
            "leaves": triple("Direction in which the last piece leaves instead, where it leans."),
            "least_draft_deg": amount("Least draft of its walls, in degrees, where it leaves to a side."),
            "volume_ml": amount("Volume of plaster, in ml.", above_zero=True),
            "wet_kg": amount("What it weighs when just set, in kg.", above_zero=True),
            "dry_kg": amount("What it weighs when dry, in kg.", above_zero=True),
            "file": text("Its surface, relative to the plan's folder."),
            **digests(),
        },
        optional=("leaves", "least_draft_deg", "sha256", "sha256_3mf"),
    )


def _mix_amounts() -> Schema:
    return {
        "water_g": amount("Water to weigh, in g.", above_zero=True),
        "plaster_g": amount("Plaster to weigh, in g.", above_zero=True),
    }


def _pour() -> Schema:
    batch = entry(
        {
            "number": whole("Place in the order of mixing, from 1.", least=1),
            **_mix_amounts(),
            "slurry_ml": amount("What it makes, in ml.", above_zero=True),
        },
        "One bucketful.",
    )
    return entry(
        {
            "piece": text("The letter of the piece that this pour makes."),
            "space_ml": amount("Space to fill, in ml.", above_zero=True),
            "slurry_ml": amount("Space and allowance, in ml.", above_zero=True),
            **_mix_amounts(),
            "batches": rows(batch, "Bucketfuls that add up to the pour.", at_least=1),
            "fill_line_mm": amount("Where the pour stops, above the board, in mm.", above_zero=True),
            "fill_line": entry(
                {
                    "from_board_mm": amount("Height above the board, in mm.", above_zero=True),
                    "from_rim_mm": amount("Depth below the rim of the form, in mm."),
                },
                "Where the pour stops, as it is measured at the form.",
            ),
            "common_rule": entry(_mix_amounts(), "What the rule “as much water as space” would use."),
        }
    )


def _check() -> Schema:
    return entry(
        {
            "id": text("Stable code of the check."),
            "ok": flag("Whether it holds."),
            "measured": number("What was measured, in `unit`; the worst value."),
            "limit": number("What it was held against, in `unit`."),
            "unit": text("Unit of both; “-” for a pure number."),
            "where": text("Place of the worst value, in words."),
            "sense": {
                "enum": ["most", "least"],
                "description": "most: must not exceed the limit; least: must not fall below it.",
            },
            "how": text("How it was measured, in a few words."),
            "remedy": text("What to do when it does not hold."),
            "at_mm": place("The place in the block's frame, in mm."),
        },
        optional=("sense", "how", "remedy", "at_mm"),
    )


def _finding() -> Schema:
    amount = entry({"value": number("How much."), "unit": text("Unit of the value.")})
    return entry(
        {
            "id": text("Stable code of the finding."),
            "severity": {
                "enum": ["note", "look", "stop"],
                "description": "note: good to know; look: check by eye; stop: do not go on.",
            },
            "where": text("Place in words."),
            "amount": amount
            | {"type": ["object", "null"], "description": "How much, when it can be measured."},
            "remedy": text("What to do about it; empty when nothing need be done."),
            "says": text("The finding in one sentence."),
            "at_mm": place("The place, in mm: in the block's frame of a plan, the object's of a survey."),
        },
        optional=("says", "at_mm"),
    )


def _figure() -> Schema:
    bound = {"type": ["number", "null"]}
    return entry(
        {
            "low": bound
            | {"description": "Least value that is likely; null when the figure is taken at its word."},
            "high": bound | {"description": "Largest value that is likely; null likewise."},
            "unit": text("Unit of the figure."),
            "formula": text("How it is worked out, in words and symbols."),
            "inputs": {
                "type": "object",
                "description": "What went in, by name; names end in the unit.",
                "additionalProperties": {"type": ["number", "string"]},
            },
            "source": text("Key of docs/sources.md, or measured, asked, geometry, practice or memory."),
        }
    )
