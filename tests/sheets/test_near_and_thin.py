"""How near is near enough, how thick a film is, and where the bed climbs, in the words of the bench."""

from __future__ import annotations

import pytest

from claybed.sheets.bench_words import near_words, steep_words
from claybed.sheets.fill_words import thin_words


@pytest.mark.parametrize(
    ("near_mm", "inches"),
    [(2.0, "1/16 in"), (1.0, "1/32 in"), (0.5, "1/64 in"), (0.2, "less than 1/64 in")],
)
def test_near_enough_is_a_mark_on_the_ruler(near_mm: float, inches: str) -> None:
    """1/16 in is 1.59 mm and 1/32 in is 0.79 mm: no mark beyond what may be off, or below the finest."""
    plan = {"pose": {"near_mm": near_mm}}
    assert near_words(plan, us=True) == inches
    assert near_words(plan, us=False) == f"{near_mm:g} mm"


def test_a_film_is_told_as_thick_as_its_deepest_spot() -> None:
    """Under 0.2 mm it is as thin as paper."""
    assert thin_words(0.1, us=False) == thin_words(0.1, us=True) == "thin as paper"
    assert thin_words(0.57, us=False).endswith("0.6 mm")
    assert thin_words(0.57, us=True).endswith("0.022 in")


def test_steep_places_are_named_by_station_and_heights() -> None:
    """Between two stations both are named, at one it alone; a seam that climbs nowhere says nothing."""
    steep = [
        {"first": 8, "last": 9, "first_mm": 79.0, "last_mm": 54.0},
        {"first": 26, "last": 26, "first_mm": 80.0, "last_mm": 67.0},
    ]
    assert steep_words({"steep": steep}, us=False) == "8/9 from 79 to 54 mm, 26 from 80 to 67 mm"
    assert steep_words({"steep": []}, us=False) == ""
