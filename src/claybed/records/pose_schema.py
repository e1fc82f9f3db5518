"""The pose in a plan's JSON: how the object is set up for the first pour."""

from __future__ import annotations

from claybed.records.schema_parts import Schema, amount, entry, flag, nullable, number, rows, text, whole


def pose_schema() -> Schema:
    """Return the JSON Schema of `pose`; heights are above the board of the first pour."""
    return entry(
        {
            "on_board": flag("Whether it lies on the board by itself, open face down."),
            "level": flag("Whether the bed is one level plane."),
            "board_mm": number("Height of the board in the block's frame, in mm."),
            "rim_mm": amount("Height of the form's rim, in mm; a straightedge lies on it.", above_zero=True),
            "pad_mm": amount("Clay under the lowest place of the object, in mm."),
            "stray_lock_mm": amount("Lock at which a stray seam counts, in mm.", above_zero=True),
            "tilt_deg": nullable(amount("How far it may lean, in degrees; null when not known.")),
            "near_mm": amount("How far off a height of the pose is near enough, in mm.", above_zero=True),
            "short_lines": whole("Seam lines too short for a station."),
            "short_mm": amount("Their length together, in mm."),
            "stations": rows(_station(), "Numbered places round the seam."),
            "steep": rows(_steep(), "Places where the seam climbs steeply."),
            "saddles": rows(_saddle(), "Two crossing cards under the object; none when it needs none."),
            "landmarks": rows(_landmark(), "Places of the object that a ruler finds again."),
            "keys": rows(_key(), "Keys pressed into the bed."),
            "fill": rows(_fill(), "Places to close with oil clay or to scrape."),
            "bed_cards": rows(_card(), "Cards of the bed's profile, where it is not level."),
        },
        "How the object is set up for the first pour.",
        optional=("steep",),
    )


def _plan(description: str) -> Schema:
    each = {"type": "number"}
    return {"type": "array", "description": description, "items": each, "minItems": 2, "maxItems": 2}


def _station() -> Schema:
    return entry(
        {
            "number": whole("Number, from 1.", least=1),
            "line": whole("Seam line it is on, the longest first, from 1.", least=1),
            "along_mm": amount("How far round its line, in mm."),
            "at_mm": _plan("Plan in the block's frame, in mm."),
            "seam_mm": number("Height of the seam, in mm."),
            "form_at_mm": _plan("Plan of the place straight out where the bed ends, in mm."),
            "at_form": flag("Whether that is the form; else it is the object or the gate."),
            "bed_mm": number("Height of the bed there, in mm."),
            "seam_down_mm": number("The seam, down from a straightedge on the rim, in mm."),
            "bed_down_mm": number("The bed, down from a straightedge on the rim, in mm."),
            "stray_up_mm": amount("How far up the seam may stray, in mm."),
            "stray_down_mm": amount("How far down, in mm."),
        }
    )


def _steep() -> Schema:
    return entry(
        {
            "first": whole("Station nearest to where it begins.", least=1),
            "last": whole("Station nearest to where it ends; the same where one stands at it.", least=1),
            "first_mm": number("Height of the seam where it begins, in mm."),
            "last_mm": number("Height of the seam where it ends, in mm."),
        }
    )


def _saddle() -> Schema:
    return entry(
        {
            "id": text("Its letters, as on the card."),
            "slot_from": {"enum": ["top", "bottom"], "description": "Where its slot is cut from."},
            "through_mm": _plan("Plan of the crossing in the block's frame, in mm."),
            "along": _plan("Plan direction of the card, unit vector."),
            "card_mm": amount("Thickness of the card, in mm.", above_zero=True),
            "slot_mm": amount("Depth of the slot, in mm.", above_zero=True),
            "least_mm": amount("Least height of the card, in mm.", above_zero=True),
            "reach_mm": _plan("From the crossing to both ends, in mm."),
        }
    )


def _landmark() -> Schema:
    return entry(
        {
            "name": text("Which place, in words."),
            "at_mm": _plan("Plan of its middle in the block's frame, in mm."),
            "height_mm": number("Height of its middle, in mm."),
            "low_mm": number("Least height of the spot that looks the same, in mm."),
            "high_mm": number("Largest height of that spot, in mm."),
            "flat": flag("Whether that spot is a flat face that stands upright."),
        }
    )


def _key() -> Schema:
    return entry(
        {
            "at_mm": _plan("Plan of its middle in the block's frame, in mm."),
            "diameter_mm": amount("Its diameter, in mm.", above_zero=True),
            "depth_mm": amount("How deep it is pressed, in mm.", above_zero=True),
            "ball_mm": amount("Diameter of the ball that presses it, in mm.", above_zero=True),
            "bed_mm": number("Height of the bed beside it, in mm."),
        }
    )


def _fill() -> Schema:
    return entry(
        {
            "lock_class": {
                "enum": ["ignore", "scrape", "fill"],
                "description": "Nothing to do; scrape or soften; close with oil clay.",
            },
            "number": whole("Number in pictures, from 1; 0: too small for one."),
            "at_mm": _plan("Plan of its middle in the block's frame, in mm."),
            "height_mm": number("Height of its middle, in mm."),
            "depth_mm": amount("How far it reaches sideways, in mm."),
            "volume_ml": amount("Its volume, in ml."),
            "clay_g": amount("Oil clay that closes it, in g."),
        }
    )


def _card() -> Schema:
    return entry(
        {
            "station": whole("Station it stands at.", least=1),
            "run_mm": amount("From the seam out, in mm.", above_zero=True),
            "highest_mm": amount("Its largest height, in mm.", above_zero=True),
        }
    )
