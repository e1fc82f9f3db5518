"""How the object's own axis is told on the sheet."""

from __future__ import annotations

import pytest

from claybed.sheets.bench_lists import axis_words


@pytest.mark.parametrize(
    ("axis", "told"),
    [
        ((0.0101221, -7.87981e-07, 0.999949), "(0.01, 0, 1)"),
        ((0.0, -0.6, -0.8), "(0, −0.6, −0.8)"),
    ],
)
def test_next_to_nothing_has_no_sign(axis: tuple[float, float, float], told: str) -> None:
    """At most three digits and a true minus; a share that rounds to nothing is not negative."""
    assert axis_words({"survey": {"axis": axis}}).endswith(f"the first pull is {told}.")


def test_a_plan_without_an_axis_tells_up_and_down_alone() -> None:
    """Nothing is said of the object's file when the plan holds no axis."""
    assert "file" not in axis_words({})
