"""Boards and bands at hand go round a block, or it is said that none does."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from claybed.geometry.enclosing import band_around, boards_around, longest_inside_mm
from claybed.records.studio import Band, BoardSet

LONG = BoardSet("long", 600.0, 200.0, 18.0, 4)
SHORT = BoardSet("short", 300.0, 160.0, 18.0, 4)
REACH = 30.0
sizes = st.floats(50.0, 700.0)


def test_the_longest_inside_is_by_hand() -> None:
    """600 mm of board, an 18 mm neighbour and 30 mm for the clamp close 552 mm (common practice)."""
    assert longest_inside_mm(600.0, 18.0, REACH) == 552.0
    assert boards_around((552.0, 552.0), 200.0, [LONG], reach_mm=REACH) == (LONG, LONG)
    assert boards_around((552.5, 100.0), 200.0, [LONG], reach_mm=REACH) is None
    assert boards_around((100.0, 100.0), 200.5, [LONG], reach_mm=REACH) is None


def test_the_lowest_then_shortest_are_taken() -> None:
    """Of two sets that both close it, the lower one stands there; two sets close a long block together."""
    assert boards_around((200.0, 150.0), 150.0, [LONG, SHORT], reach_mm=REACH) == (SHORT, SHORT)
    assert boards_around((400.0, 150.0), 150.0, [LONG, SHORT], reach_mm=REACH) == (LONG, SHORT)
    assert boards_around((150.0, 400.0), 150.0, [LONG, SHORT], reach_mm=REACH) == (SHORT, LONG)


def test_two_boards_of_a_size_close_one_pair_of_sides() -> None:
    """Four of a size go all round; two need two of another; three are two."""
    pair, other = BoardSet("pair", 500.0, 200.0, 18.0, 2), BoardSet("other", 500.0, 250.0, 18.0, 3)
    assert boards_around((200.0, 200.0), 150.0, [pair], reach_mm=REACH) is None
    assert boards_around((200.0, 200.0), 150.0, [pair, other], reach_mm=REACH) in [
        (pair, other),
        (other, pair),
    ]


def test_a_thick_neighbour_takes_length() -> None:
    """The board runs past its neighbour, so that the neighbour's thickness counts, not its own."""
    thin, thick = BoardSet("thin", 300.0, 200.0, 10.0, 2), BoardSet("thick", 300.0, 200.0, 40.0, 2)
    found = boards_around((230.0, 255.0), 150.0, [thin, thick], reach_mm=REACH)
    assert found == (
        thin,
        thick,
    )  # 300 - 40 - 30 = 230 beside the thick ones, 300 - 10 - 30 = 260 beside the thin
    assert boards_around((231.0, 261.0), 150.0, [thin, thick], reach_mm=REACH) is None


@given(sizes, sizes, st.floats(20.0, 250.0))
def test_what_is_chosen_encloses(x_mm: float, y_mm: float, height_mm: float) -> None:
    """Whatever is chosen is long and high enough, and a block that fits turned fits as it stands."""
    found = boards_around((x_mm, y_mm), height_mm, [LONG, SHORT], reach_mm=REACH)
    if found is not None:
        for board, other, side in ((found[0], found[1], x_mm), (found[1], found[0], y_mm)):
            assert board.length_mm >= side + other.thickness_mm + REACH - 1e-5
            assert board.height_mm >= height_mm - 1e-5
    turned = boards_around((y_mm, x_mm), height_mm, [LONG, SHORT], reach_mm=REACH)
    assert (found is None) == (turned is None)


@pytest.mark.parametrize(("diameter_mm", "fits"), [(238.0, True), (239.0, False)])
def test_a_band_goes_round_twice(diameter_mm: float, fits: bool) -> None:
    """1500 mm of band go twice round 238 mm (1495 mm) and not round 239 mm (1502 mm)."""
    band = Band("tall", 1500.0, 300.0)
    assert (2.0 * math.pi * diameter_mm <= 1500.0) == fits
    found = band_around(diameter_mm, 300.0, [band], turns_least_count=2.0)
    assert found == (band if fits else None)
    assert band_around(100.0, 301.0, [band], turns_least_count=2.0) is None


def test_the_lowest_band_is_taken() -> None:
    """Of bands that are long enough, the lowest that is high enough goes round."""
    low, high = Band("low", 2000.0, 200.0), Band("high", 1600.0, 300.0)
    assert band_around(200.0, 150.0, [high, low], turns_least_count=2.0) == low
    assert band_around(200.0, 250.0, [high, low], turns_least_count=2.0) == high
