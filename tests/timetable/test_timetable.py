"""The timetable of one mold: steps in order, hands-on time, and when it is ready."""

from __future__ import annotations

import math

import pytest

from claybed.bench.planning import plan_bench
from claybed.pours.planning import plan_pours
from claybed.records.brief import Brief
from claybed.records.poured import Poured
from claybed.records.timetable import Timetable
from claybed.timetable.planning import plan_timetable
from tests.bench.standings import piece_pour, standing, thing

TWO = (standing(), standing(piece="B", order=2, fill_from_board_mm=170.0, bed_level_mm=85.0))


def planned(brief: Brief, standings: tuple[object, ...] = TWO, **changes: object) -> Timetable:
    """The timetable of the ball's mold."""
    pieces = [piece_pour(piece="AB"[k], order=k + 1) for k in range(len(standings))]
    poured = Poured(plan_pours(pieces, brief, 0.0), None, ())
    bench = plan_bench(standings, thing(**changes), poured, brief, plan_key="ball")  # type: ignore[arg-type]
    return plan_timetable(bench, standings)  # type: ignore[arg-type]


def test_steps_follow_one_another() -> None:
    """Each step begins when the one before has been worked on and waited for; hands-on minutes add up."""
    table = planned(Brief())
    now = 0.0
    for entry in table.entries:
        assert entry.start_min.number == pytest.approx(now)
        now += entry.hands_min.number + entry.wait_min.number
    hands = math.fsum(entry.hands_min.number for entry in table.entries)
    assert table.hands_on_h.number == pytest.approx(hands / 60.0)
    assert table.ready_d.number == pytest.approx(now / 1440.0)


def test_drying_by_hand() -> None:
    """1.12 kg of water over 0.12 m² at 0.128 kg an hour and m² is 73 h, 1.4 times that when strapped."""
    table = planned(Brief())
    dry = table.entries[-1]
    hours = (3.4 - 2.28) / (0.12 * 0.128)
    assert dry.wait_min.number / 60.0 == pytest.approx(1.4 * hours)
    before = table.ready_d.number - dry.wait_min.number / 1440.0
    assert table.ready_d.figure.low == pytest.approx(before + hours / 24.0)
    still = (3.4 - 2.28) / (0.12 * 0.055) * 1.4
    assert table.ready_d.figure.high == pytest.approx(before + still / 24.0)
    assert "3 to 4" in table.says


def test_two_pours_are_one_day_and_a_rest() -> None:
    """Two pours, each with form, release, weights, mixing and form off, and one night closed."""
    names = [entry.what for entry in planned(Brief()).entries]
    for pour in ("pour A", "pour B"):
        assert sum(name.startswith(pour) for name in names) >= 6
    assert names.count("rest closed") == 1
    assert names.index("rest closed") > max(k for k, name in enumerate(names) if name.startswith("pour B"))
    assert "pour A: carve the keys" in names and "pour B: carve the keys" not in names


def test_a_seal_dries_before_the_bed() -> None:
    """A porous object is sealed the day before, which is waiting, not hands-on time alone."""
    plain, porous = planned(Brief()), planned(Brief(porous=True))
    assert porous.entries[0].what == "seal the object"
    assert porous.entries[0].wait_min.number == 720.0
    assert porous.ready_d.number > plain.ready_d.number + 0.5


def test_one_piece_needs_no_bed() -> None:
    """One piece on the board has no bed and a shorter day."""
    one = planned(Brief(), (standing(bed_level_mm=0.0, fill_from_board_mm=85.0),), bed_ml=None)
    assert "pad, pose and bed" not in [entry.what for entry in one.entries]
    assert one.hands_on_h.number < planned(Brief()).hands_on_h.number


def test_more_clay_takes_longer() -> None:
    """The bed's time goes with its clay."""
    small, large = planned(Brief()), planned(Brief(), bed_ml=4000.0)
    assert large.entries[0].hands_min.number == pytest.approx(4000.0 * 1.9 / 2500.0 * 40.0)
    assert large.hands_on_h.number > small.hands_on_h.number
