"""Wrong closings of hand-made key patterns."""

from __future__ import annotations

import math

import numpy as np
import pytest

from claybed.geometry.registration import closing_miss_mm, pattern_miss_mm

SQUARE = 60.0 * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
OBLONG = SQUARE * np.array([1.0, 0.6])
ROUND = 60.0 * np.stack([np.cos(np.linspace(0, 6.2, 60)), np.sin(np.linspace(0, 6.2, 60))], axis=1)
CORNERS = 40.0 * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
RADIUS = 6.0


def test_a_square_pattern_closes_wrongly() -> None:
    """Four keys in a square on a square block fit after a quarter turn: nothing stops them."""
    assert closing_miss_mm(CORNERS, SQUARE, RADIUS) == pytest.approx(0.0, abs=1e-9)


def test_an_oblong_pattern_closes_after_half_a_turn() -> None:
    """Keys in a rectangle fit the other way round."""
    keys = CORNERS * np.array([1.0, 0.5])
    assert closing_miss_mm(keys, OBLONG, RADIUS) == pytest.approx(0.0, abs=1e-9)


def test_one_moved_key_stops_every_wrong_closing() -> None:
    """With one of four keys moved by 15 mm no closing comes nearer than a key's radius; by 1 mm one does."""
    moved = CORNERS.copy()
    moved[2] -= [15.0, 0.0]
    assert closing_miss_mm(moved, SQUARE, RADIUS) >= RADIUS
    moved[2] = CORNERS[2] - [1.0, 0.0]
    assert closing_miss_mm(moved, SQUARE, RADIUS) < 1.5


def test_two_keys_across_the_middle_turn_by_half() -> None:
    """Two keys the same way off the middle fit after half a turn; off the middle by 20 mm they do not."""
    pair = np.array([[-30.0, 0.0], [30.0, 0.0]])
    assert closing_miss_mm(pair, OBLONG, RADIUS) == pytest.approx(0.0, abs=1e-9)


def test_an_even_triangle_on_a_round_block_turns() -> None:
    """Three keys 120 degrees apart fit after a third of a turn; an uneven triangle does not."""
    turn = np.radians([0.0, 120.0, 240.0])
    even = 40.0 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    assert closing_miss_mm(even, ROUND, RADIUS) == pytest.approx(0.0, abs=0.8)
    turn = np.radians([0.0, 100.0, 215.0])
    uneven = np.array([[40.0], [40.0], [15.0]]) * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    assert closing_miss_mm(uneven, ROUND, RADIUS) > RADIUS


@pytest.mark.parametrize("count", [0, 1])
def test_fewer_than_two_keys_register_nothing(count: int) -> None:
    """There is no wrong closing to speak of."""
    assert closing_miss_mm(CORNERS[:count], SQUARE, RADIUS) == math.inf


def test_the_miss_does_not_depend_on_the_order_of_the_keys() -> None:
    """Naming the keys otherwise changes nothing."""
    keys = np.array([[-40.0, -30.0], [35.0, -42.0], [44.0, 31.0], [-12.0, 39.0]])
    want = closing_miss_mm(keys, SQUARE, RADIUS)
    assert want > 0.0
    assert closing_miss_mm(keys[[2, 0, 3, 1]], SQUARE, RADIUS) == pytest.approx(want)


def test_patterns_of_two_pieces() -> None:
    """A pattern turned and shifted fits the other; one key moved by d misses by d / 2 to d; a mirror image of
    unlike distances misses, and so does one with a key more.
    """
    one = np.array([[-20.0, -12.0], [18.0, -10.0], [4.0, 14.0]])
    c, s = np.cos(0.7), np.sin(0.7)
    turned = one @ np.array([[c, s], [-s, c]]) + np.array([5.0, -3.0])
    assert pattern_miss_mm(one, turned) == pytest.approx(0.0, abs=1e-9)
    assert pattern_miss_mm(one, turned[[2, 0, 1]]) == pytest.approx(0.0, abs=1e-9)
    moved = turned.copy()
    moved[2] += np.array([6.0, 0.0])
    assert 2.0 <= pattern_miss_mm(one, moved) <= 6.0
    assert pattern_miss_mm(one, turned * np.array([-1.0, 1.0])) > 1.5
    assert pattern_miss_mm(one, np.vstack([turned, [0.0, 0.0]])) == math.inf
