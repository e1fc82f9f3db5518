"""Words on a crowded drawing: over nothing, as near as there is room, or left out."""

from __future__ import annotations

import math

import numpy as np
import pytest

from claybed.sheets.label_places import APART_MM, LETTER_WIDTH, Room, along


def test_a_free_word_stands_where_it_was_wanted() -> None:
    """On an empty drawing the first place is taken."""
    assert Room([]).put("7", 3.0, [(1.0, 2.0), (9.0, 9.0)]) == (1.0, 2.0)


def test_a_word_keeps_off_lines_and_other_words() -> None:
    """A line through the wanted place moves a word on; one that was put down moves the next; then none is
    left.
    """
    room = Room([np.array([[-5.0, 0.0], [5.0, 0.0]])])
    places = [(0.0, 0.0), (0.0, 6.0)]
    assert room.put("12", 3.0, places) == (0.0, 6.0)
    assert room.put("13", 3.0, places) is None
    assert room.put("13", 3.0, [(2.0 * LETTER_WIDTH * 3.0 + 1.0, 6.0)]) is not None


def test_a_steep_line_between_two_far_corners_is_seen() -> None:
    """Lines are looked for all along, not at their corners alone."""
    room = Room([np.array([[0.0, -100.0], [0.4, 100.0]])])
    assert APART_MM < 2.4
    assert room.put("5", 2.4, [(0.2, 33.3)]) is None


@pytest.mark.parametrize("turn_deg", [0.0, 73.0, 210.0])
def test_places_go_out_straight_first_then_aside(turn_deg: float) -> None:
    """Every place has its reach, and the first of each reach lies straight ahead."""
    turn = math.radians(turn_deg)
    out = (math.cos(turn), math.sin(turn))
    found = along((3.0, 4.0), out, (8.0, 10.0))
    assert len(found) == 6
    assert found[0] == pytest.approx((3.0 + 8.0 * out[0], 4.0 + 8.0 * out[1]))
    assert [round(math.dist(place, (3.0, 4.0)), 6) for place in found] == [8.0] * 3 + [10.0] * 3


def test_a_line_that_leads_crosses_no_word() -> None:
    """A line is taken where it is free, and from then on no word lies on it; over a word it is refused."""
    room = Room([])
    assert room.put("12", 3.0, [(20.0, 0.0)]) == (20.0, 0.0)
    assert not room.lead(np.array([[0.0, 0.0], [40.0, 0.0]]))
    assert room.lead(np.array([[0.0, 10.0], [40.0, 10.0]]))
    assert room.put("13", 3.0, [(20.0, 10.0), (20.0, 20.0)]) == (20.0, 20.0)
