"""Directions and regions as they are typed, and directions as they are told."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from claybed.actions.asking import direction, keep_out
from claybed.cli.output import direction_text
from claybed.cli.planning import leaves_words
from claybed.errors import InputError
from claybed.records.brief import KeepOut, KeepOutSpot, Region
from claybed.sheets.check_lines import finding_line
from claybed.wording import from_board

ROOT_HALF = math.sqrt(0.5)


@pytest.mark.parametrize(
    ("text", "vector"),
    [
        ("x", (1.0, 0.0, 0.0)),
        ("+Y", (0.0, 1.0, 0.0)),
        (" -z ", (0.0, 0.0, -1.0)),
        ("0,0,5", (0.0, 0.0, 1.0)),
        ("(1, 0, -1)", (ROOT_HALF, 0.0, -ROOT_HALF)),
    ],
)
def test_directions_become_unit_vectors(text: str, vector: tuple[float, float, float]) -> None:
    """A named axis or three numbers give a vector of length 1."""
    assert direction(text, where="--axis") == pytest.approx(vector)


@pytest.mark.parametrize(
    "text", ["", "w", "--z", "xz", "1,2", "1,2,3,4", "0,0,0", "nan,0,1", "inf,0,1", "1;0;0"]
)
def test_other_directions_are_refused(text: str) -> None:
    """Anything else is an input error that names the option."""
    with pytest.raises(InputError, match="--axis"):
        direction(text, where="--axis")


@given(st.tuples(*[st.floats(-10, 10)] * 3).filter(lambda vector: math.hypot(*vector) > 0.1))
def test_a_direction_survives_being_shown_and_typed(vector: tuple[float, float, float]) -> None:
    """What is printed after --axis reads back as the same direction, but for a tenth of a mm in a metre."""
    unit = direction(",".join(map(repr, vector)), where="--axis")
    assert direction(direction_text(unit), where="--axis") == pytest.approx(unit, abs=1.1e-4)


@pytest.mark.parametrize(
    ("unit", "text"),
    [
        ((0.0101221, -7.87981e-07, 0.999949), "0.010122,0,0.99995"),
        ((3e-5, -1.0, -6e-5), "-y"),
        ((-0.57735027, 0.57735027, 0.57735027), "-0.57735,0.57735,0.57735"),
    ],
)
def test_a_direction_is_shown_without_the_dust_of_its_sums(
    unit: tuple[float, float, float], text: str
) -> None:
    """Five digits are shown, and none of a part that is next to nothing."""
    assert direction_text(unit) == text


@pytest.mark.parametrize(
    ("text", "region"),
    [
        ("z>=20mm", KeepOut((0.0, 0.0, 1.0), 20.0, math.inf)),
        ("z > 2cm", KeepOut((0.0, 0.0, 1.0), 20.0, math.inf)),
        ("-y<=5", KeepOut((0.0, -1.0, 0.0), -math.inf, 5.0)),
        ("x>=-10mm", KeepOut((1.0, 0.0, 0.0), -10.0, math.inf)),
        ("1cm<=x<=1.5 in", KeepOut((1.0, 0.0, 0.0), 10.0, 1.5 * 25.4)),
        ("(0,0,2)>=20", KeepOut((0.0, 0.0, 1.0), 20.0, math.inf)),
        ("within 8mm of (10,-5,62)", KeepOutSpot((10.0, -5.0, 62.0), 8.0)),
        ("Within 1/2 in of (1in, 0, 2 cm)", KeepOutSpot((25.4, 0.0, 20.0), 12.7)),
    ],
)
def test_regions_are_read(text: str, region: Region) -> None:
    """One or two bounds along a direction, or a spot, give a region in mm."""
    assert keep_out(text, where="--keep-out") == region


@pytest.mark.parametrize(
    "text",
    [
        "", "z", "z=20", "20mm", "30<=x<=10", "5<=x<=5", "z>=high", "q>=2", "1<=x",
        "within of (1,2,3)", "within 0 of (1,2,3)", "within 8mm of (1,2)", "within -8mm of (1,2,3)",
    ],
)  # fmt: skip
def test_other_regions_are_refused(text: str) -> None:
    """Anything else, and a region that holds nothing, is an input error."""
    with pytest.raises(InputError, match="--keep-out"):
        keep_out(text, where="--keep-out")


@pytest.mark.parametrize(
    ("pull", "words"),
    [
        ((0.0, 0.0, 1.0), "up"),
        ((0.0, 0.0, -1.0), "down"),
        ((0.0, -1.0, 0.0), "to the front"),
        ((-0.992278, 0.124035, 0.0), "173° round from the right"),
    ],
)
def test_where_a_piece_leaves_to_is_told_in_words(pull: tuple[float, float, float], words: str) -> None:
    """The table of pours names a slanted way as sheets and app do, and gives no three numbers.

    Source: geometry; atan2(0.124035, -0.992278) is 172.9 degrees.
    """
    assert leaves_words(pull) == words


def test_screen_and_sheet_tell_one_height_of_a_place() -> None:
    """104 mm in the block's frame over a board at 28 are 76, on screen as on paper; where the object lies on
    the board there is no such board, and the block's foot is named on both.
    """
    where = "piece A, left of the block, 104 mm above the foot of the closed block"
    finding = {"id": "x", "where": where, "says": "It is thin.", "remedy": f"Look at {where}."}
    raised = {"on_board": False, "board_mm": 28.0, "stations": []}
    for pose, height in ((raised, "76 mm above the board"), ({"on_board": True}, "104 mm above the foot")):
        told = from_board({"pose": pose, "checks": [{"where": where}], "findings": [finding]})
        for text in (told["checks"][0]["where"], told["findings"][0]["where"], told["findings"][0]["remedy"]):
            assert height in text
        line = finding_line({**finding, "severity": "note"}, pose, us=False)
        assert height in line["where"] and height in line["remedy"]
    assert finding["where"] == where
