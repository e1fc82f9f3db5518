"""The drawings of the forms: four boards that wrap round, and what stands at which height in each pour."""

from __future__ import annotations

from typing import Any

import pytest
from specimen import plan

from claybed.sheets.form_drawings import PAST_SHARE, form_drawings


def form(**changes: Any) -> dict[str, Any]:
    """A boxed form of 150 x 210 mm on a bed of 60 mm, filled to 130 mm, its boards 160 mm high."""
    board = {"count": 2, "height_mm": 160.0, "thickness_mm": 18.0}
    boards = [
        {**board, "length_mm": 198.0, "inside_mm": 150.0, "past_corner_mm": 30.0},
        {**board, "length_mm": 600.0, "inside_mm": 210.0, "past_corner_mm": 372.0},
    ]
    return {
        "inside_mm": [150.0, 210.0], "object_mm": [80.0, 140.0], "bed_level_mm": 60.0, "boards": boards,
        "fill_from_board_mm": 130.0, "fill_from_rim_mm": 30.0, "straps": [{"from_board_mm": 84.0}],
        "coil_mm": 640.0,
    } | changes  # fmt: skip


@pytest.fixture
def drawn() -> dict[str, Any]:
    """A plan of two pours with forms; its object reaches from 8 to 112 mm above the board."""
    asked = plan()
    asked["pours"][0]["form"] = form()
    asked["pours"][1]["form"] = form(bed_level_mm=70.0, fill_from_board_mm=150.0, fill_from_rim_mm=10.0)
    marks = [{"high_mm": 112.0}, {"high_mm": 70.0}]
    asked["pose"] = {"on_board": False, "pad_mm": 8.0, "landmarks": marks}
    return asked


def test_boards_run_past_their_corners_and_long_ones_are_broken(drawn: dict[str, Any]) -> None:
    """A board is drawn as far past its corner as it runs, and broken where that would fill the page."""
    front, left = form_drawings(drawn, us=False)[0]["sides"]
    assert front == {"past": 48.0, "broken": False, "says": "198 mm long"}
    assert left["past"] == pytest.approx(PAST_SHARE * 210.0) and left["broken"]


def test_every_board_is_stopped_at_both_ends(drawn: dict[str, Any]) -> None:
    """Beside the first drawing stand the clamp at one end, the brick at the other, 0.7 m of coil and what to
    do when a board shifts; the second is told as before.
    """
    first, second = form_drawings(drawn, us=False)
    says = " ".join(first["held"])
    assert "clamp" in says and "brick" in says and "0.7 m" in says and "shifts" in says
    assert second["held"] == []


def test_heights_are_those_of_the_form(drawn: dict[str, Any]) -> None:
    """Line and what stays free above it add up to the rim, in numbers and in words."""
    first, second = form_drawings(drawn, us=False)
    assert first["rim"] == 160.0 and first["line"] == 130.0 and first["level"] == 60.0
    assert (first["says"]["line"], first["says"]["down"]) == ("130 mm", "30 mm")
    assert first["says"]["straps"] == ["84 mm"] and first["straps"] == [84.0]
    assert (first["below"], second["below"]) == ("clay bed", "piece A")
    drawn["pours"][1]["form"]["bed_level_mm"] = 0.0
    assert form_drawings(drawn, us=False)[1]["below"] == ""


def test_the_object_is_turned_over_for_the_second_pour(drawn: dict[str, Any]) -> None:
    """What was the top of the first pour stands on the board, so the object hangs as far above it."""
    first, second = form_drawings(drawn, us=False)
    assert first["object"] == [80.0, 8.0, 112.0]
    assert second["object"] == [80.0, 18.0, 122.0]


def test_a_band_is_drawn_round(drawn: dict[str, Any]) -> None:
    """One inside size is a circle, and the band says how often it goes round."""
    band = {"turns_count": 2.2, "length_mm": 1200.0, "height_mm": 160.0}
    drawn["pours"][0]["form"] = form(inside_mm=[180.0], boards=[], band=band)
    first = form_drawings(drawn, us=True)[0]
    assert first["round"] and first["says"]["inside"] == "Ø 7 1/16 in"
    assert "2.2 times" in first["turns"]


def test_a_pour_without_a_known_form_is_not_drawn() -> None:
    """An older plan has no forms, and no drawing of one."""
    assert form_drawings(plan(), us=False) == []
