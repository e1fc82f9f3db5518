"""By how much the best wrong way of closing two pieces misses."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from claybed.proof.closings import _bottleneck, keys_close_one_way, nearest_wrong_closing
from claybed.records.assembly import Assembly, BlockKey

RADIUS_MM = 5.0


def keyed(mold: Assembly, *places: tuple[float, float], bumps: str = "", shape: str = "boxed") -> Assembly:
    """The mold with other keys told; `bumps` the letter of the piece each bump is on, A when not given."""
    letters = bumps or "A" * len(places)
    keys = tuple(
        BlockKey((x, y, 40.0), 2.0 * RADIUS_MM, 4.0, on) for (x, y), on in zip(places, letters, strict=True)
    )
    return replace(mold, keys=keys, shape=shape)


def miss_mm(mold: Assembly) -> float:
    """How far the best wrong closing misses."""
    return nearest_wrong_closing(mold, RADIUS_MM)[0]


@pytest.mark.parametrize(
    "places",
    [
        ((-40.0, 0.0), (40.0, 0.0)),
        ((-40.0, -30.0), (40.0, -30.0), (40.0, 30.0), (-40.0, 30.0)),
        ((-40.0, 10.0), (35.0, 10.0)),
        ((0.0, 0.0),),
    ],
    ids=["two opposite", "rectangle", "two off the middle", "one in the middle"],
)
def test_patterns_that_fit_onto_themselves(mold: Assembly, places: tuple[tuple[float, float], ...]) -> None:
    """Keys that a turn carries onto themselves do not miss at all."""
    assert miss_mm(keyed(mold, *places)) == pytest.approx(0.0, abs=1e-9)


def test_one_key_off_the_pattern_is_what_misses(mold: Assembly) -> None:
    """With a corner of a rectangle moved by d, the turned block misses by half of d at best, at most by d."""
    places = ((-40.0, -30.0), (40.0, -30.0), (-40.0, 30.0), (40.0 - 16.0, 30.0))
    assert 8.0 - 1e-9 <= miss_mm(keyed(mold, *places)) <= 16.0 + 1e-9


def test_bumps_do_not_fit_bumps(mold: Assembly) -> None:
    """Two keys that change places fit when both bumps are on one piece, and not when each piece has one."""
    places = ((-40.0, 0.0), (40.0, 0.0))
    assert miss_mm(keyed(mold, *places, bumps="AA")) == pytest.approx(0.0, abs=1e-9)
    check = keys_close_one_way(keyed(mold, *places, bumps="AA"), keys_asked=True)
    assert check is not None
    assert not check.ok
    assert miss_mm(keyed(mold, *places, bumps="AB")) >= 40.0


def test_a_round_block_turns_to_any_angle(mold: Assembly) -> None:
    """On a round block three keys at 120 degrees close three ways, and a lone key off its middle one."""
    turn = np.radians([10.0, 130.0, 250.0])
    three = tuple(zip((45.0 * np.cos(turn)).tolist(), (45.0 * np.sin(turn)).tolist(), strict=True))
    assert miss_mm(keyed(mold, *three, shape="round")) == pytest.approx(0.0, abs=1e-9)
    lone = miss_mm(keyed(mold, (45.0, 0.0), shape="round"))
    # The first whole degree whose chord is no longer within the key's radius: 7 degrees at 45 mm.
    assert lone == pytest.approx(90.0 * np.sin(np.radians(3.5)))


def test_a_lone_key_in_a_square_block(mold: Assembly) -> None:
    """A lone key misses by its way round the middle: a quarter turn in a square, half in a rectangle."""
    square = np.array([[-50, -50], [50, -50], [50, 50], [-50, 50]]) * 1024
    oblong = np.array([[-70, -50], [70, -50], [70, 50], [-70, 50]]) * 1024
    one = keyed(mold, (30.0, 10.0))
    away = float(np.hypot(30.0, 10.0))
    assert miss_mm(replace(one, footprint=square)) == pytest.approx(away * np.sqrt(2.0))
    assert miss_mm(replace(one, footprint=oblong)) == pytest.approx(away * 2.0)


def test_keys_are_matched_one_to_one() -> None:
    """Two keys may not share one socket: the second nearest counts when the nearest is taken."""
    assert _bottleneck(np.array([[0.0, 5.0], [1.0, 9.0]])) == 5.0
    assert _bottleneck(np.array([[0.0, 5.0], [np.inf, 9.0]])) == 9.0
    assert _bottleneck(np.array([[0.0, np.inf], [1.0, np.inf]])) == np.inf


def test_single_pieces_have_no_say(mold: Assembly) -> None:
    """A mold of one piece has nothing to close."""
    assert keys_close_one_way(replace(mold, pieces=mold.pieces[:1]), keys_asked=True) is None
