"""How near is near enough, how thick a film is, and where the bed climbs, in the words of the bench."""

from __future__ import annotations

from typing import Any

import pytest

from claybed.sheets.bench_words import near_words, steep_pairs
from claybed.sheets.fill_words import thin_words


@pytest.mark.parametrize(
    ("near_mm", "inches"), [(2.0, "1/16 in"), (1.0, "1/32 in"), (0.5, "1/64 in"), (0.2, "1/64 in")]
)
def test_near_enough_is_a_mark_on_the_ruler(near_mm: float, inches: str) -> None:
    """1/16 in is 1.59 mm and 1/32 in is 0.79 mm: no mark beyond what may be off, but the finest there is."""
    plan = {"pose": {"near_mm": near_mm}}
    assert near_words(plan, us=True) == inches
    assert near_words(plan, us=False) == f"{near_mm:g} mm"


def test_a_film_is_told_as_thick_as_its_deepest_spot() -> None:
    """Under 0.2 mm it is as thin as paper."""
    assert thin_words(0.1, us=False) == thin_words(0.1, us=True) == "thin as paper"
    assert thin_words(0.57, us=False).endswith("0.6 mm")
    assert thin_words(0.57, us=True).endswith("0.02 in")


@pytest.mark.parametrize(("climbs_mm", "told"), [(20.0, True), (5.0, False)])
def test_stations_between_which_the_seam_climbs_steeply_are_named(climbs_mm: float, told: bool) -> None:
    """20 mm up within 5 mm is steeper than a finger stays on; 5 mm is not."""
    stations: list[dict[str, Any]] = [
        {"number": number, "line": 1, "at_mm": at, "seam_mm": seam}
        for number, at, seam in (
            (1, (0.0, 0.0), 40.0),
            (2, (5.0, 0.0), 40.0 + climbs_mm),
            (3, (30.0, 0.0), 45.0),
        )
    ]
    assert (steep_pairs(stations) == ["1/2"]) is told
