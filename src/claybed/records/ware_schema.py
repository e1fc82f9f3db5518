"""What a plan's ware holds, as a JSON Schema."""

from __future__ import annotations

from claybed.records.schema_parts import Schema, amount, entry, flag, nullable, rows, text


def ware_schema(finding: Schema) -> Schema:
    """Return the JSON Schema of a plan's ware; `finding` is that of a finding."""
    sizes = entry(
        {
            "height_mm": amount("Fired height along the way that is up, in mm.", above_zero=True),
            "wall_mm": amount("Fired wall, in mm.", above_zero=True),
            "capacity_ml": nullable(amount("What the fired piece holds, in ml.")),
            "scaled": flag("Whether the model was scaled to the fired size that was asked."),
            "says": text("The same in one sentence."),
        },
        "What the object becomes when fired.",
    )
    faces = entry(
        {
            "id": text("Letter of the piece."),
            "outside_cm2": amount("Its faces on the outside of the closed mold, in cm²."),
            "open_cm2": amount("All its faces, in cm².", above_zero=True),
            "plaster_ml": amount("Its volume, in ml.", above_zero=True),
        },
        "What of one piece can dry.",
    )
    measures = entry(
        {
            "cavity_cm2": amount("Plaster that the ware lies against, in cm².", above_zero=True),
            "cavity_ml": amount("Cavity with its gate, in ml.", above_zero=True),
            "near_plaster_ml": amount("Plaster within one wall of the cavity, in ml.", above_zero=True),
            "seam_mm": amount("Seam on the ware, in mm."),
            "capacity_ml": nullable(amount("Room inside the wet wall, in ml.")),
            "outside_cm2": amount("Outside of the closed mold, in cm².", above_zero=True),
            "open_cm2": amount("All faces with the pieces apart, in cm².", above_zero=True),
            "pieces": rows(faces, "The same for each piece of the mold."),
        },
        "What the finished solids say about ware.",
    )
    grip = entry(
        {
            "shrinkage_percent": amount("Length lost until leather-hard, in per cent."),
            "held_mm": amount("Length that plaster keeps from drawing away, in mm; 0 when all draws away."),
            "grip_mm": amount("By how much the clay is then too tight, in mm."),
            "within_minutes": nullable(
                amount("Time by which to open, in minutes; null where nothing grips.")
            ),
            "piece": nullable(text("Letter of the piece that is gripped.")),
            "at_mm": nullable({"type": "array", "description": "Where it grips most, block frame, in mm."}),
            "gripped": rows(text("A piece's letter."), "All the pieces that are gripped as it matters."),
        },
        "How the ware grips its mold as it shrinks.",
        optional=("gripped",),
    )
    hole = entry(
        {
            "mark": text("Its letter, as in object.holes."),
            "where": text("Its place on the ware, in words."),
            "turned": text("How far round the ware it is; empty in the middle."),
            "width_mm": amount(
                "Least width to cut in the clay as it leaves the mold, in mm.", above_zero=True
            ),
            "length_mm": amount("Largest width to cut there, in mm.", above_zero=True),
            "fired_width_mm": nullable(amount("What the width fires to, in mm; null: no clay named.")),
            "fired_length_mm": nullable(amount("What the length fires to, in mm; null: no clay named.")),
            "clay_ml": amount("Clay cut out of the wall, in ml."),
        },
        "A hole to cut in the leather-hard ware.",
    )
    return entry(
        {
            "measures": measures,
            "shrinkage": nullable(
                {"type": "object", "description": "How the clay shrinks; null: none named."}
            ),
            "fired": nullable(sizes),
            "slip": nullable({"type": "object", "description": "The slip; null for pressing."}),
            "cast": nullable({"type": "object", "description": "A slip cast; null for pressing."}),
            "press": nullable({"type": "object", "description": "A pressing; null for casting."}),
            "drying": {"type": "object", "description": "Drying of the closed mold in a still room."},
            "drying_open": {"type": "object", "description": "The same with the pieces apart."},
            "drying_days": nullable(amount("Days from soaked to ready for slip.")),
            "grip": nullable(grip),
            "holes": rows(hole, "Holes that were closed for the mold, to be cut in the ware."),
            "findings": rows(finding, "What to know when casting, pressing and drying."),
        },
        "What happens after the mold opens.",
        optional=("grip", "holes"),
    )
