"""Dry by the scale: the log that loses nothing, the fit, and weighings that are asked about."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from claybed.actions.weighing_log import append_weighing, read_log
from claybed.errors import InputError
from claybed.physics.plaster import dry_from_wet_kg, free_water_of_dry_fraction
from claybed.records.weighing import Weighing
from claybed.ware.weighing import DAY_S, forecast

WET_G = 2450.0
MIX = 77.0
FREE = free_water_of_dry_fraction(MIX)
DRY_G = 1000 * dry_from_wet_kg(WET_G / 1000, MIX)


def left(day: float, pace_d: float, critical: float) -> float:
    """Share of the free water left after some days on a curve written down here once more."""
    steady = 1 - day / pace_d
    return steady if steady >= critical else critical * np.exp(-(day / pace_d - 1 + critical) / critical)


def log_of(days: list[float], pace_d: float, critical: float, *, dry_g: float = DRY_G) -> list[Weighing]:
    """Weighings on such a curve."""
    return [Weighing(day * DAY_S, dry_g * (1 + FREE * left(day, pace_d, critical))) for day in days]


def hours_to(name: str, log: list[Weighing]) -> tuple[float, float, float]:
    """Forecast of a state: middle, low, high hours."""
    ready = next(one for one in forecast(log, water_per_100=MIX, trimmed_wet_g=WET_G).ready if one.id == name)
    assert ready.hours is not None
    return ready.hours.value, ready.hours.low, ready.hours.high


def test_the_interval_holds_the_truth() -> None:
    """Over many curves with noise of a bench scale, the 90 % interval holds the true day in 9 of 10."""
    noise = np.random.default_rng(7)
    inside, count = 0, 40
    for _ in range(count):
        critical, pace_d = noise.uniform(0.05, 0.45), noise.uniform(4, 12)
        dry_g = DRY_G * noise.normal(1, 0.01)
        clean = log_of([0, 1, 2, 3], pace_d, critical, dry_g=dry_g)
        log = [Weighing(one.at_s, one.mass_g + noise.normal(0, 3)) for one in clean]
        days = np.linspace(3, 60, 20001)
        water = np.array([FREE * left(day, pace_d, critical) for day in days])
        true_h = (days[np.argmax(water < 0.05)] - 3) * 24
        _, low, high = hours_to("slip_ready", log)
        inside += low <= true_h <= high
    assert inside >= 0.9 * count


def test_more_weighings_narrow_the_forecast() -> None:
    """A week of weighings says more than two days do, and the last state takes longest."""
    early, later = log_of([0, 1], 9, 0.3), log_of([0, 1, 2, 3, 4, 5, 6, 7], 9, 0.3)
    _, low, high = hours_to("shelf_dry", early)
    _, low_later, high_later = hours_to("shelf_dry", later)
    assert high_later - low_later < high - low
    assert (
        hours_to("press_ready", early)[0] < hours_to("slip_ready", early)[0] < hours_to("shelf_dry", early)[0]
    )


def test_the_rate_may_fall_so_the_interval_leans_late() -> None:
    """The far end of the interval lies further off than the near one: drying slows, it does not speed up."""
    middle, low, high = hours_to("shelf_dry", log_of([0, 1, 2], 8, 0.3))
    assert high - middle > middle - low > 0


def test_a_rise_is_asked_about_and_begins_anew() -> None:
    """A rinsed mold weighs more: asked about once, kept, and the curve begins again from there."""
    log = log_of([0, 1, 2, 3], 8, 0.2)
    wet_again = Weighing(3.5 * DAY_S, log[-1].mass_g + 120)
    found = forecast([*log, wet_again], water_per_100=MIX, trimmed_wet_g=WET_G)
    assert [one.id for one in found.findings] == ["weighing_rose"]
    assert found.findings[0].says.endswith("?")
    noted = Weighing(wet_again.at_s, wet_again.mass_g, "rinsed")
    assert forecast([*log, noted], water_per_100=MIX, trimmed_wet_g=WET_G).findings == ()
    before = hours_to("slip_ready", log)[0]
    assert hours_to("slip_ready", [*log, wet_again])[0] > before - 12


def test_a_weighing_below_the_target_moves_the_target() -> None:
    """A chipped mold dries below its target: asked about, and the dry mass follows the scale."""
    log = log_of([0, 2, 4, 8, 12, 14, 16], 5, 0.1, dry_g=0.97 * DRY_G)
    found = forecast(log, water_per_100=MIX, trimmed_wet_g=WET_G)
    assert "weighing_below_target" in [one.id for one in found.findings]
    assert found.dry_g.value == pytest.approx(log[-1].mass_g, rel=0.01)
    assert found.dry_g.value < 0.985 * DRY_G


def test_a_plateau_is_dry() -> None:
    """Under 0.3 % in a day confirms it; a mold that still loses is not called dry."""
    flat = [*log_of([0, 2, 4], 4, 0.1), Weighing(9 * DAY_S, DRY_G * 1.001), Weighing(10 * DAY_S, DRY_G)]
    assert forecast(flat, water_per_100=MIX, trimmed_wet_g=WET_G).plateau
    assert not forecast(log_of([0, 1, 2], 9, 0.3), water_per_100=MIX, trimmed_wet_g=WET_G).plateau


@pytest.mark.parametrize("mass_g", [0.0, -5.0, 0.4 * DRY_G, 2.0 * WET_G])
def test_only_the_impossible_is_refused(mass_g: float) -> None:
    """No mass, half the mold, twice the mold: refused with what it can be. All else is taken."""
    with pytest.raises(InputError, match="cannot be this mold"):
        forecast([Weighing(0, WET_G), Weighing(DAY_S, mass_g)], water_per_100=MIX, trimmed_wet_g=WET_G)


@settings(max_examples=25)
@given(st.lists(st.floats(0.6 * DRY_G, 1.05 * WET_G), min_size=1, max_size=8))
def test_any_possible_log_gives_a_forecast(masses: list[float]) -> None:
    """Whatever people weigh, there are numbers, in order and finite."""
    log = [Weighing(place * DAY_S, mass) for place, mass in enumerate(masses)]
    found = forecast(log, water_per_100=MIX, trimmed_wet_g=WET_G)
    for one in found.ready:
        assert one.hours is None or 0 <= one.hours.low <= one.hours.value <= one.hours.high < 1e6


def test_a_log_comes_back_as_written(tmp_path: Path) -> None:
    """Masses, times and notes survive, in order."""
    path = tmp_path / "mold.jsonl"
    written = [Weighing(1000.0 * k, 2450.0 - 7.5 * k, "Übertrag" if k == 2 else "") for k in range(4)]
    for one in written:
        append_weighing(path, one)
    assert read_log(path) == written


def test_a_torn_last_line_loses_only_itself(tmp_path: Path) -> None:
    """A power cut in the middle of a line leaves the earlier weighings, and the next one is kept."""
    path = tmp_path / "mold.jsonl"
    append_weighing(path, Weighing(0, 2450.0))
    append_weighing(path, Weighing(60, 2440.0))
    path.write_bytes(path.read_bytes()[:-9])
    assert [one.mass_g for one in read_log(path)] == [2450.0]
    append_weighing(path, Weighing(120, 2430.0))
    assert [one.mass_g for one in read_log(path)] == [2450.0, 2430.0]
    path.write_text("nonsense\n" + path.read_text())
    with pytest.raises(InputError, match="line 1 is no weighing"):
        read_log(path)


def test_a_killed_program_loses_no_weighing(tmp_path: Path) -> None:
    """Every weighing that was reported as kept is there after kill -9."""
    path = tmp_path / "mold.jsonl"
    code = (
        "import sys; from pathlib import Path\n"
        "from claybed.actions.weighing_log import append_weighing\n"
        "from claybed.records.weighing import Weighing\n"
        "for k in range(100000):\n"
        "    append_weighing(Path(sys.argv[1]), Weighing(60.0 * k, 2000.0 + k))\n"
        "    print(k, flush=True)\n"
    )
    child = subprocess.Popen([sys.executable, "-c", code, str(path)], stdout=subprocess.PIPE, text=True)
    assert child.stdout is not None
    for line in child.stdout:
        if int(line) >= 20:
            break
    os.kill(child.pid, signal.SIGKILL)
    rest = child.stdout.read().splitlines()
    child.wait()
    child.stdout.close()
    kept = int(rest[-1]) if rest else 20
    assert len(read_log(path)) >= kept + 1
