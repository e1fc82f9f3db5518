"""What a plan's JSON holds, key by key, as a JSON Schema (draft 2020-12).

Keys that are not named here may be added; those that are named keep their meaning while `schema` stays the
same.
"""

from __future__ import annotations

from typing import Any, Final

PLAN_SCHEMA: Final = "claybed-plan-1"
SURVEY_SCHEMA: Final = "claybed-survey-1"
_DRAFT: Final = "https://json-schema.org/draft/2020-12/schema"
Schema = dict[str, Any]


def plan_schema() -> Schema:
    """Return the JSON Schema of a plan. Units stand at the end of each name and in each description; raises
    nothing.
    """
    return {
        "$schema": _DRAFT,
        "title": "A claybed plan",
        "description": "A plaster mold planned from an object: how it leaves, the pieces, the pours "
        "and the checks. Figures are unrounded; directions are unit vectors.",
        **_object(
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
                "pieces": _list(_piece(), "The mold pieces.", at_least=1),
                "pours": _list(
                    _pour(), "One pour of plaster for each piece, in the order of work.", at_least=1
                ),
                "checks": _list(_check(), "What every plan is tested for.", at_least=1),
                "findings": _list(_finding(), "What a person should know before pouring."),
                "figures": {
                    "type": "object",
                    "description": "How each number of this document came about, by its JSON pointer, "
                    "such as /pours/0/water_g.",
                    "propertyNames": {"pattern": "^(/[^/]*)+$"},
                    "additionalProperties": _figure(),
                },
            }
        ),
    }


def _object(properties: Schema, description: str = "", *, optional: tuple[str, ...] = ()) -> Schema:
    schema: Schema = {
        "type": "object",
        "properties": properties,
        "required": [name for name in properties if name not in optional],
        "additionalProperties": True,
    }
    return schema | {"description": description} if description else schema


def _list(items: Schema, description: str, *, at_least: int = 0) -> Schema:
    return {"type": "array", "description": description, "items": items, "minItems": at_least}


def _amount(description: str, *, above_zero: bool = False) -> Schema:
    return {"type": "number", "description": description, "exclusiveMinimum" if above_zero else "minimum": 0}


def _number(description: str) -> Schema:
    return {"type": "number", "description": description}


def _text(description: str) -> Schema:
    return {"type": "string", "description": description}


def _flag(description: str) -> Schema:
    return {"type": "boolean", "description": description}


def _whole(description: str, *, least: int = 0) -> Schema:
    return {"type": "integer", "description": description, "minimum": least}


def _triple(description: str, item: Schema | None = None) -> Schema:
    each = {"type": "number"} if item is None else item
    return {"type": "array", "description": description, "items": each, "minItems": 3, "maxItems": 3}


def _place(description: str) -> Schema:
    return _triple(description) | {"type": ["array", "null"]}


def _measured_object() -> Schema:
    repair = _object(
        {
            "step": _text("What was mended: weld, orient, fill_hole, keep_outer, unite, remesh …"),
            "count": _whole("How many places."),
            "amount": _number("Size of the mend, in `unit`."),
            "unit": _text("Unit of the amount: mm, mm2 or mm3."),
            "says": _text("The same in one sentence."),
        },
        optional=("says",),
    )
    return _object(
        {
            "name": _text("The object's name, from its file."),
            "volume_ml": _amount("Volume that displaces plaster, in ml.", above_zero=True),
            "area_cm2": _amount("Surface, in cm².", above_zero=True),
            "extent_mm": _triple(
                "Size along x, y and z of the file, in mm.", {"type": "number", "minimum": 0}
            ),
            "repairs": _list(repair, "Every mend made to the file's surface; empty when there was none."),
        },
        "What is to be molded, as measured.",
    )


def _survey() -> Schema:
    candidate = _object(
        {
            "axis": _triple("Unit vector in the object's frame."),
            "castable": _flag("True when nothing along this axis must be filled with oil clay."),
            "fill_ml": _amount("Least volume that frees this axis, in ml."),
            "fill_g": _amount("The same as oil clay, in g."),
            "undercut_area_cm2": _amount("Surface that neither direction reaches, in cm²."),
        }
    )
    return _object(
        {
            "axis": _triple("The chosen pull and its opposite: unit vector in the object's frame."),
            "castable": _flag("True when nothing must be filled with oil clay for the object to leave."),
            "fill_ml": _amount("Oil clay that closes all locked space along the axis, in ml."),
            "fill_g": _amount("The same, in g."),
            "undercut_area_cm2": _amount("Surface that neither direction of the axis reaches, in cm²."),
            "candidates": _list(candidate, "Axes that were judged, best first."),
        },
        "Which way the object leaves, and what locks.",
    )


def _mold() -> Schema:
    return _object(
        {
            "shape": {"enum": ["boxed", "round"], "description": "Cottle boards or a flexible band."},
            "outer_mm": {
                "type": "array",
                "description": "Outside of the closed block, in mm: boxed x, y, z; round diameter, height.",
                "items": {"type": "number", "exclusiveMinimum": 0},
                "minItems": 2,
                "maxItems": 3,
            },
            "wall_mm": _amount("Least plaster between cavity and outside, in mm.", above_zero=True),
            "seam_length_mm": _amount("Length of the seam on the object, in mm; 0 for one piece."),
        },
        "The block that the pieces make up.",
    )


def _model() -> Schema:
    return _object(
        {
            "file": _text("The object made ready to be poured against, relative to the plan's folder."),
            "volume_ml": _amount("Its volume, fill and gate included, in ml.", above_zero=True),
        },
        "The object as plaster is poured against it.",
    )


def _piece() -> Schema:
    return _object(
        {
            "id": _text("The piece's letter, as it stands on sheets and pictures."),
            "order": _whole("Place in the order of opening the mold, from 1.", least=1),
            "pull": _triple("Direction in which it leaves: unit vector in the block's frame."),
            "volume_ml": _amount("Volume of plaster, in ml.", above_zero=True),
            "wet_kg": _amount("What it weighs when just set, in kg.", above_zero=True),
            "dry_kg": _amount("What it weighs when dry, in kg.", above_zero=True),
            "file": _text("Its surface, relative to the plan's folder."),
        }
    )


def _mix_amounts() -> Schema:
    return {
        "water_g": _amount("Water to weigh, in g.", above_zero=True),
        "plaster_g": _amount("Plaster to weigh, in g.", above_zero=True),
    }


def _pour() -> Schema:
    batch = _object(
        {
            "number": _whole("Place in the order of mixing, from 1.", least=1),
            **_mix_amounts(),
            "slurry_ml": _amount("What it makes, in ml.", above_zero=True),
        },
        "One bucketful.",
    )
    return _object(
        {
            "piece": _text("The letter of the piece that this pour makes."),
            "space_ml": _amount("Space to fill, in ml.", above_zero=True),
            "slurry_ml": _amount("Space and allowance, in ml.", above_zero=True),
            **_mix_amounts(),
            "batches": _list(batch, "Bucketfuls that add up to the pour.", at_least=1),
            "fill_line_mm": _amount("Where the pour stops, above the board, in mm.", above_zero=True),
            "fill_line": _object(
                {
                    "from_board_mm": _amount("Height above the board, in mm.", above_zero=True),
                    "from_rim_mm": _amount("Depth below the rim of the form, in mm."),
                },
                "Where the pour stops, as it is measured at the form.",
            ),
            "common_rule": _object(_mix_amounts(), "What the rule “as much water as space” would use."),
        }
    )


def _check() -> Schema:
    return _object(
        {
            "id": _text("Stable code of the check."),
            "ok": _flag("Whether it holds."),
            "measured": _number("What was measured, in `unit`; the worst value."),
            "limit": _number("What it was held against, in `unit`."),
            "unit": _text("Unit of both; “-” for a pure number."),
            "where": _text("Place of the worst value, in words."),
            "sense": {
                "enum": ["most", "least"],
                "description": "most: must not exceed the limit; least: must not fall below it.",
            },
            "how": _text("How it was measured, in a few words."),
            "remedy": _text("What to do when it does not hold."),
            "at_mm": _place("The place in the block's frame, in mm."),
        },
        optional=("sense", "how", "remedy", "at_mm"),
    )


def _finding() -> Schema:
    amount = _object({"value": _number("How much."), "unit": _text("Unit of the value.")})
    return _object(
        {
            "id": _text("Stable code of the finding."),
            "severity": {
                "enum": ["note", "look", "stop"],
                "description": "note: good to know; look: check by eye; stop: do not go on.",
            },
            "where": _text("Place in words."),
            "amount": amount
            | {"type": ["object", "null"], "description": "How much, when it can be measured."},
            "remedy": _text("What to do about it; empty when nothing need be done."),
            "says": _text("The finding in one sentence."),
            "at_mm": _place("The place, in mm."),
        },
        optional=("says", "at_mm"),
    )


def _figure() -> Schema:
    bound = {"type": ["number", "null"]}
    return _object(
        {
            "low": bound
            | {"description": "Least value that is likely; null when the figure is taken at its word."},
            "high": bound | {"description": "Largest value that is likely; null likewise."},
            "unit": _text("Unit of the figure."),
            "formula": _text("How it is worked out, in words and symbols."),
            "inputs": {
                "type": "object",
                "description": "What went in, by name; names end in the unit.",
                "additionalProperties": {"type": ["number", "string"]},
            },
            "source": _text("Key of docs/sources.md, or measured, asked, geometry, practice or memory."),
        }
    )
