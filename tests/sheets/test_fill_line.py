"""What a little more or less of a fill line takes, in the words of sheet, page and screen."""

import pytest

from claybed.fill_line import per_mm_words, short_words
from claybed.units import G_PER_OZ, MM_PER_IN, mass_g


def _pour(piece: str, water: float, plaster: float) -> dict[str, object]:
    return {"piece": piece, "grams_per_mm": {"water": water, "plaster": plaster}}


def test_pieces_that_take_unlike_amounts_are_each_told() -> None:
    """One sentence for all was true of the first piece alone."""
    pours = [_pour("A", 6.0, 7.9), _pour("B", 6.0, 7.9), _pour("C", 11.4, 14.8), {"piece": "D"}]
    assert per_mm_words(pours, us=False) == (
        "Each mm of fill line more or less is 6.0 g of water and 7.9 g of plaster for A and B, 11.4 g of "
        "water and 14.8 g of plaster for C."
    )
    assert per_mm_words(pours[:2], us=False).endswith("is 6.0 g of water and 7.9 g of plaster.")
    assert per_mm_words(pours[3:], us=False) == ""


def test_one_pour_needs_no_letter() -> None:
    """A form that was measured has one pour, and its document no piece; an inch is 25.4 mm by definition."""
    told = per_mm_words([{"grams_per_mm": {"water": 16 * G_PER_OZ / MM_PER_IN, "plaster": 0.0}}], us=True)
    assert told.startswith("Each 1/16 in of fill line more or less is 1.00 oz of water")


@pytest.mark.parametrize(("us", "name", "short_mm"), [(False, "10 mm", 10.0), (True, "1/2 in", 12.7)])
def test_a_short_pour_is_told_by_a_mark_of_its_own_rule(us: bool, name: str, short_mm: float) -> None:
    """The weights are those of the length that is named."""
    told = short_words({"water": 19.5, "plaster": 25.3}, us=us)
    assert told.startswith(f"short by {name}? Mix ")
    water = told.partition("Mix ")[2].partition(" of water")[0]
    assert mass_g(water) == pytest.approx(19.5 * short_mm, abs=1.5)
