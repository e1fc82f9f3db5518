"""How far the drawn line may stray, in the words of the bench."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from claybed.sheets.bench_words import straying


def _stations(ways_mm: Sequence[tuple[float, float]]) -> list[dict[str, float]]:
    return [
        {"number": k, "stray_up_mm": up, "stray_down_mm": down} for k, (up, down) in enumerate(ways_mm, 1)
    ]


@pytest.mark.parametrize(("level", "kept"), [(True, "that height"), (False, "the strip")])
def test_a_level_seam_is_kept_at_its_height_since_it_has_no_strip(level: bool, kept: str) -> None:
    """Two stations that allow less than the others are named, with what the line is kept to there."""
    says = straying(_stations([(0.8, 0.8), (2.1, 2.2), (2.4, 2.4), (0.8, 0.8)]), us=False, level=level)
    assert says == (
        "The line may stray 2.1 mm up or down, but only 0.8 mm up or down at stations 1 and 4: "
        f"keep to {kept} there, and rub out what is off."
    )


def test_a_seam_along_an_edge_is_kept_to_that_edge() -> None:
    """Nothing down, as far as one likes up, at every station."""
    says = straying(_stations([(50.0, 0.0)] * 4), us=False, level=True)
    assert says.startswith("The line may not stray down: keep to the edge")


@pytest.mark.parametrize("tight", [4, 9])
def test_no_stray_of_nothing_is_granted(tight: int) -> None:
    """More stations that allow nothing than are named: the table tells, and no sentence says 0.0 mm."""
    says = straying(_stations([(50.0, 0.0)] * tight + [(3.0, 3.0)] * 2), us=False, level=True)
    assert "0.0 mm" not in says and "strip" not in says
    assert says.startswith("At several stations the line may not stray") and "table" in says
