"""What other counts of pieces leave to fill, and numbers that are none, in words."""

from __future__ import annotations

import pytest

from claybed.cli.app import main
from claybed.cli.plan_lines import trade_lines


def test_other_counts_are_told_with_what_they_leave() -> None:
    """One line for all counts; none where there is one count only."""
    front = [{"pieces": 2, "fill_ml": 9.6}, {"pieces": 3, "fill_ml": 0.0}]
    says = "Pieces against fill: 2 pieces leave 9.6 ml, 3 pieces leave nothing."
    says += " Choose with --pieces or --max-fill."
    assert trade_lines({"front": front}, us=False) == [says]
    more = [*front, {"pieces": 4, "fill_ml": 0.0}]
    # A count that leaves no less than fewer pieces do is told only where it is the way that was asked for.
    assert trade_lines({"front": more}, us=False) == [says]
    four = {"kind": "several", "sides": [{}, {}]}
    assert "4 pieces leave nothing" in trade_lines({"front": more, "options": [four]}, us=False)[0]
    standing = {"kind": "several", "sides": [{}, {}], "base_mm": 0.0}
    assert trade_lines({"front": more, "options": [standing]}, us=False) == [says]
    # What was cut is told beside what was only reckoned, also where it leaves no less.
    cut = [
        {"pieces": 2, "fill_ml": 6.4, "told": "measured"},
        {"pieces": 3, "fill_ml": 6.8, "told": "cut"},
        {"pieces": 4, "fill_ml": 0.0, "told": "unmade"},
        {"pieces": 5, "fill_ml": 0.0, "told": "reckoned"},
    ]
    (said,) = trade_lines({"front": cut}, us=False)
    assert "2 pieces leave 6.4 ml, 3 pieces leave 6.8 ml, " in said
    assert "4 pieces leave nothing (reckoned, and could not be made)" in said
    assert "5 pieces leave nothing (reckoned, not cut)" in said
    assert trade_lines({"front": front[:1]}, us=False) == trade_lines({}, us=False) == []


@pytest.mark.parametrize(
    ("option", "typed", "takes"), [("pieces", "two", "2"), ("pose-tolerance", "much", "2.5")]
)
def test_a_word_for_a_number_is_answered_in_plain_words(
    option: str, typed: str, takes: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The option is named with an example of what it takes."""
    assert main(["plan", "cup.stl", f"--{option}", typed]) == 2
    said = capsys.readouterr().err
    assert f"--{option}" in said and f"number, such as {takes}." in said
    assert "parse" not in said and "Input" not in said
