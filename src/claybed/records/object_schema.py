"""How a document says that an object was measured, as a JSON Schema."""

from __future__ import annotations

from claybed.records.schema_parts import Schema, amount, entry, text


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
