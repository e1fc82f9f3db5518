"""What would keep a hot pour below where its plastic gives: each way out, put back, is cool enough."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from claybed.flow.case_heat import Heat, heat_of, ways_out
from claybed.flow.cases import plastic_named, plastics

CONSISTENCY = 76.9


def heat_at(water_celsius: float, thick_mm: float = 120.0) -> Heat:
    """The heat of a pour of some thickness, mixed with water of some temperature."""
    made = SimpleNamespace(poured=SimpleNamespace(top_mm=thick_mm))
    return heat_of(made, CONSISTENCY, water_celsius)  # type: ignore[arg-type]


def test_mixes_reach_the_printed_peaks() -> None:
    """In the middle of a thick block at 1 : 1.3 water of 20 °C gives about 54 °C and 38 °C about 68 °C,
    worked out beforehand from 125 kJ/kg [llnl-dat].
    """
    assert heat_at(20.0).peak_celsius == pytest.approx(54.0, abs=1.0)
    assert heat_at(38.0).peak_celsius == pytest.approx(68.0, abs=1.5)


@pytest.mark.parametrize("name", ["pla", "petg"])
@pytest.mark.parametrize("water_celsius", [20.0, 38.0])
def test_cooler_water_is_told_to_the_degree(name: str, water_celsius: float) -> None:
    """With the water that is told the middle stays below where the plastic gives, a degree more does not."""
    plastic = plastic_named(name)
    out = ways_out(heat_at(water_celsius), plastic, CONSISTENCY)
    assert out.water_celsius is not None
    assert heat_at(out.water_celsius).peak_celsius < plastic.softens_celsius.low
    assert heat_at(out.water_celsius + 1.0).peak_celsius >= plastic.softens_celsius.low - 1e-9


def test_other_plastics_begin_above_the_hottest() -> None:
    """Every one that is named bears even the upper end of the spread, the easiest to print first; hotter
    pours leave fewer.
    """
    warm, hot = (ways_out(heat_at(at), plastic_named("pla"), CONSISTENCY).plastics for at in (20.0, 45.0))
    assert warm == ("petg", "abs", "asa") and hot == ("abs", "asa")
    for name in plastics():
        bears = plastic_named(name).softens_celsius.low > heat_at(45.0).high_celsius
        assert bears == (name in hot)


def test_thin_plaster_keeps_less() -> None:
    """Plaster under 50 mm keeps four fifths of its heat, which is told where that is cool enough."""
    out = ways_out(heat_at(20.0), plastic_named("pla"), CONSISTENCY)
    assert out.thin_celsius == pytest.approx(heat_at(20.0, thick_mm=40.0).peak_celsius)
    assert ways_out(heat_at(38.0), plastic_named("pla"), CONSISTENCY).thin_celsius is None
    assert ways_out(heat_at(20.0, thick_mm=40.0), plastic_named("pla"), CONSISTENCY).thin_celsius is None


def test_no_tap_runs_as_cold() -> None:
    """Where only water near freezing would do, none is named."""
    heat = heat_at(20.0)
    hotter = replace(heat, peak_celsius=heat.peak_celsius + 30.0)
    assert ways_out(hotter, plastic_named("pla"), CONSISTENCY).water_celsius is None
