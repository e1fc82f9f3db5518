"""The ware page says which piece comes off before the clay lets go by itself."""

from __future__ import annotations

from claybed.sheets.ware_page import off_first


def test_a_piece_that_the_clay_grips_comes_off_first() -> None:
    """One gripped piece is named; where the clay draws away everywhere nothing is said."""
    assert [("Piece B" in text) for text in off_first({"piece": "B", "within_minutes": 59.0})] == [True]
    assert off_first({"piece": "", "within_minutes": None}) == off_first(None) == []
