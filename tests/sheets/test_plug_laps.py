"""How a gate plug that laps over a thin edge is described."""

from __future__ import annotations

from claybed.sheets.plug_laps import lap_words, laps_of


def test_what_the_plug_laps_over_is_said() -> None:
    """Alike on both sides, on one only, or nothing where the end just stands against the object."""
    assert lap_words((3.4, 2.1), us=False) == ""
    assert "10 mm over the object's edge" in lap_words((10.0, 9.4), us=False)
    assert "lower half of its narrow end goes 10 mm" in lap_words((0.0, 10.0), us=False)
    assert "the other goes 5 mm over it" in lap_words((12.0, 5.0), us=False)
    assert laps_of({"kind": "bore", "lap_above_mm": 3.0, "lap_below_mm": 4.0}) == (3.0, 4.0)
