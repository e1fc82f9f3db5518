"""How a document says that an object was measured, as a JSON Schema."""

from __future__ import annotations

from claybed.records.schema_parts import Schema, amount, entry, flag, number, text, triple


def how_measured() -> Schema:
    """The entry of a plan or an object file on how its object was measured; raises nothing."""
    band = {
        "smaller_share": amount("Share of the volume it may be smaller by (95 %)."),
        "larger_share": amount("Share of the volume it may be larger by (95 %)."),
    }
    return entry(
        {
            "kind": text("How it was measured: calipers, shape, outline, scan, hull …"),
            "says": text("The same in one sentence."),
            "band": entry(band),
        },
        "How an object file says that it was measured; null for a mesh, which is taken at its word.",
    )


def closed_hole() -> Schema:
    """The entry of a plan on a hole through a vessel's wall that was closed; raises nothing."""
    return entry(
        {
            "mark": text("Its letter: a, b, … from the foot up."),
            "where": text("Its place in words."),
            "turned": text("How far round the vessel it is; empty in the middle."),
            "at_mm": triple("Middle of its rim outside, in the object's frame, in mm."),
            "out": triple("Unit vector out of it there, in the object's frame."),
            "width_mm": amount("Least width of its narrowest end, in mm.", above_zero=True),
            "length_mm": amount("Largest width of that end, in mm.", above_zero=True),
            "depth_mm": amount("From rim to rim, in mm; 0 where it is closed at a rim of its own."),
            "volume_ml": amount("What fills it flush with both sides of the wall, in ml."),
        }
    )


def closed_mouth() -> Schema:
    """The entry of a plan on the mouth of a vessel that was closed; raises nothing."""
    return entry(
        {
            "up": triple("Unit vector out of the mouth, in the object's frame."),
            "brim_mm": number("Height along it where the vessel overflows, in mm."),
            "overflow_ml": amount("What the vessel holds to the brim, in ml."),
            "closed_ml": amount("Inside volume that the mouth's surface closes off, in ml."),
            "inside_opens": flag("Whether a filling of plaster leaves its inside upwards, as a hump does."),
        },
        "The mouth of a vessel that was closed; null when none was.",
        optional=("inside_opens",),
    )
