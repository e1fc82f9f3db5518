"""The timetable of one mold: steps in order, hands-on time, and when it is ready."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest

from claybed.bench.planning import plan_bench
from claybed.materials import shelf
from claybed.pours.planning import plan_pours
from claybed.records.brief import Brief
from claybed.records.poured import Poured
from claybed.records.timetable import Timetable
from claybed.timetable.planning import plan_timetable
from tests.bench.standings import drying, piece_pour, standing, thing

TWO = (standing(), standing(piece="B", order=2, fill_from_board_mm=170.0, bed_level_mm=85.0))


def planned(brief: Brief, standings: tuple[object, ...] = TWO, **changes: object) -> Timetable:
    """The timetable of the ball's mold."""
    pieces = [piece_pour(piece="AB"[k], order=k + 1) for k in range(len(standings))]
    poured = Poured(plan_pours(pieces, brief, 0.0), None, ())
    bench = plan_bench(standings, thing(**changes), poured, brief, plan_key="ball")  # type: ignore[arg-type]
    return plan_timetable(bench, drying(), brief.use)


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


@pytest.mark.parametrize(("use", "ready"), [("slip", "slip_ready"), ("press", "press_ready")])
def test_drying_is_told_once(use: Any, ready: str) -> None:
    """The days of drying are the ware stage's own, to the state in which the mold does its work, with their
    spread.
    """
    table = planned(Brief(use=use))
    (hours,) = (state.hours for state in drying().states if state.id == ready)
    assert hours is not None and hours.low < hours.value < hours.high
    dry = table.entries[-1]
    assert dry.what == "dry on the shelf"
    assert dry.wait_min.number == pytest.approx(60.0 * hours.value)
    before = table.ready_d.number - hours.value / 24.0
    assert before == pytest.approx(dry.start_min.number / 1440.0)
    assert table.ready_d.figure.low == pytest.approx(before + hours.low / 24.0)
    assert table.ready_d.figure.high == pytest.approx(before + hours.high / 24.0)
    told = f"after about {hours.value / 24:.0f} days ({hours.low / 24:.0f} to {hours.high / 24:.0f}, by"
    assert told in table.says
    assert "20 °C and 50 %" in table.says


def test_what_people_quote_stands_beside_and_enters_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """The days that people quote are told with the reason of the difference; other ones change no number."""
    table = planned(Brief())
    assert "3 to 4 days" in table.says and "moving air" in table.says
    usual = shelf.value

    def faster(file: str, name: str) -> shelf.Constant:
        found = usual(file, name)
        return replace(found, value=0.5, low=0.4, high=0.6) if name.startswith("quoted") else found

    monkeypatch.setattr(shelf, "value", faster)
    other = planned(Brief())
    assert "0.4 to 0.6 days" in other.says
    assert other.ready_d.number == table.ready_d.number
    assert [entry.wait_min.number for entry in other.entries] == [e.wait_min.number for e in table.entries]


def test_a_mold_that_never_held_much_is_ready_when_parted() -> None:
    """A mold with less water than press clay allows waits for nothing."""
    pieces = [piece_pour(piece="AB"[k], order=k + 1) for k in range(2)]
    poured = Poured(plan_pours(pieces, Brief(use="press"), 0.0), None, ())
    bench = plan_bench(TWO, thing(), poured, Brief(use="press"), plan_key="ball")
    table = plan_timetable(bench, drying(start_percent=12.0), "press")
    assert table.entries[-1].wait_min.number == 0.0
    assert table.ready_d.figure.high == pytest.approx(table.ready_d.number)
    assert "ready to press as soon as it is parted" in table.says


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
    assert "pose and bed" not in [entry.what for entry in one.entries]
    assert one.hands_on_h.number < planned(Brief()).hands_on_h.number


def test_more_clay_takes_longer() -> None:
    """The bed's time goes with its clay."""
    small, large = planned(Brief()), planned(Brief(), bed_ml=4000.0)
    assert large.entries[0].hands_min.number == pytest.approx(4000.0 * 1.9 / 2500.0 * 40.0)
    assert large.hands_on_h.number > small.hands_on_h.number
