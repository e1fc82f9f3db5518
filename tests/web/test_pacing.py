"""How quickly a caller may ask, by a clock that stands still or is moved on."""

from __future__ import annotations

import pytest
from app_client import Clock

from claybed.web.pacing import Pace, Patience


def passed(pace: Pace, times: int, caller: str = "192.0.2.40") -> int:
    """How many of so many requests one after the other may pass."""
    return sum(pace.wait_s(caller) == 0 for _ in range(times))


def test_as_many_as_the_store_holds_pass_at_once() -> None:
    """While the clock stands, the store and not one more; 900 where nothing else is asked for."""
    assert passed(Pace(per_minute=40, clock=Clock()), 100) == 40
    assert passed(Pace(clock=Clock()), 1000) == 900


@pytest.mark.parametrize("start_s", [0.0, 59.0, 59.999, 60.0, 86399.5])
def test_no_moment_lets_more_through(start_s: float) -> None:
    """Around the turn of a minute no more pass than the store and what it gained meanwhile."""
    clock = Clock()
    clock.now_s = start_s
    pace = Pace(per_minute=900, clock=clock)
    before = passed(pace, 905)
    clock.now_s += 2.0
    assert (before, passed(pace, 905)) == (900, 30)


def test_a_store_fills_and_never_overflows() -> None:
    """An hour away earns one full store, not sixty."""
    clock = Clock()
    pace = Pace(per_minute=60, clock=clock)
    assert passed(pace, 60) == 60
    clock.now_s += 3600.0
    assert passed(pace, 100) == 60


def test_what_it_says_to_wait_is_enough() -> None:
    """Whoever waits as told passes."""
    clock = Clock()
    pace = Pace(per_minute=7, clock=clock)
    assert passed(pace, 7) == 7
    wait_s = pace.wait_s("192.0.2.40")
    assert wait_s == 9  # one in 60/7 = 8.57 s, rounded up
    clock.now_s += wait_s
    assert pace.wait_s("192.0.2.40") == 0


def test_being_refused_costs_nothing() -> None:
    """A caller that keeps knocking passes as soon as one that waits in silence."""
    clock = Clock()
    pace = Pace(per_minute=60, clock=clock)
    assert passed(pace, 500) == 60
    clock.now_s += 1.0
    assert passed(pace, 500) == 1


def test_callers_are_counted_apart() -> None:
    """One caller's crowd does not slow another's."""
    pace = Pace(per_minute=5, clock=Clock())
    assert passed(pace, 9, "192.0.2.40") == 5
    assert passed(pace, 9, "192.0.2.41") == 5


def test_wrong_codes_double_the_wait_up_to_five_minutes() -> None:
    """Six tries are free; each wrong one after waits twice as long as the last, 300 s at most."""
    clock = Clock()
    patience = Patience(clock=clock)
    waits = []
    for _ in range(16):
        waits.append(patience.wait_s("192.0.2.40"))
        clock.now_s += waits[-1]
        patience.note_wrong("192.0.2.40")
    assert waits == [0.0] * 6 + [2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0, 256.0, 300.0, 300.0]
    assert patience.wait_s("192.0.2.41") == 0.0


def test_a_thousand_wrong_codes_still_wait() -> None:
    """Nobody gets in by breaking the sum of the wait."""
    patience = Patience(clock=Clock())
    for _ in range(1200):
        patience.note_wrong("192.0.2.40")
    assert patience.wait_s("192.0.2.40") == 300.0
