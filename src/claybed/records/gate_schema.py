"""The part of a plan's schema that tells of its gate."""

from __future__ import annotations

from claybed.records.schema_parts import Schema, amount, entry, nullable, place, rows, text


def gate_schema() -> Schema:
    """The gate of a mold."""
    return entry(
        {
            "kind": {"enum": ["bore", "mouth", "face", "none"], "description": "What slip comes in through."},
            "reason": text("Why this one."),
            "bore_mm": nullable(amount("Narrowest diameter, in mm; null when it is not round.")),
            "at_object_mm": amount("Width at the object of a bore that narrows outwards, in mm."),
            "closes_at_wall_mm": nullable(amount("Wall of the ware at which it closes, in mm.")),
            "spare_ml": amount("What it holds outside the object, in ml."),
            "at_mm": place("Where it meets the object in the block's frame, in mm."),
            "out": place("The way in which it comes out, in the object's frame."),
            "lap_above_mm": amount("How far a bore laps over the object above its middle, in mm."),
            "lap_below_mm": amount("The same below its middle, in mm."),
            "beyond_ml": amount("What of a bore stands on the far side of what it goes through, in ml."),
            "taken_mm": amount("Over how much of its length the object lies inside a bore whole, in mm."),
            "taken_ml": amount("How much of the object that is, in ml."),
            "why": nullable(text("Why a bore stands there, with figures; null: no other place compared.")),
            "another": nullable(
                text("A way in which --gate may ask for another place, as typed; null: none.")
            ),
            "places": amount("How many places were compared."),
            "compared": rows(_gate_trial(), "The place taken and the next best."),
        },
        "The way in for slip or hands.",
        optional=(
            *("reason", "at_mm", "out", "lap_above_mm", "lap_below_mm", "at_object_mm"),
            *("why", "another", "places", "compared", "beyond_ml", "taken_mm", "taken_ml"),
        ),
    )


def _gate_trial() -> Schema:
    return entry(
        {
            "words": text("Where a gate was judged; the first is the one taken."),
            "out": place("The way in which it would come out, in the object's frame."),
            "air_ml": amount("Air trapped while the mold fills, in ml."),
            "slip_ml": amount("Slip that stays after draining and turning, in ml."),
            "shut_ml": amount("Slip behind necks that grow shut, in ml."),
            "cell_mm": amount("Side of the cells it was judged on, in mm.", above_zero=True),
        },
        "A place for the gate and what the mold would keep with it there.",
    )
