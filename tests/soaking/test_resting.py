"""Plaster at rest between casts: water evens out and dries as closed forms and another solver say."""

from __future__ import annotations

import math
from dataclasses import replace

import manifold3d
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from claybed.geometry.mesh import Floats
from claybed.physics.drying import drying_time_s
from claybed.records.soaked import Airing, CastOrder
from claybed.soaking.airing import open_faces_mm2, rest
from claybed.soaking.grid import build_grid
from claybed.soaking.simulate import Soaking, run_casts
from tests.pieces import solids
from tests.soaking import columns

SPREAD_MM2_PER_S = 5.2e-3


def bar_water(share: Floats, cell_mm: float) -> tuple[Floats, Floats]:
    """Water and room (cells,) mm³ of a bar of plaster of which two fifths can fill, a share of it full."""
    whole = np.full(len(share), 0.4 * cell_mm**3)
    return share * whole, whole


def test_a_step_of_water_evens_out_as_the_series_says() -> None:
    """Half a closed bar full, half empty: Fourier's series for diffusion between closed ends."""
    cells, cell_mm, seconds = 80, 0.5, 6.0 * 3600.0
    length = cells * cell_mm
    middle = (np.arange(cells) + 0.5) * cell_mm
    grid = columns.bar(cells, cell_mm)
    water, whole = bar_water((middle < length / 2.0).astype(np.float64), cell_mm)
    gone = rest(grid, water, whole, seconds, spread_mm2_per_s=SPREAD_MM2_PER_S)
    wanted = np.full(cells, 0.5)
    for k in range(1, 200):
        part = math.sin(k * math.pi / 2.0) * 2.0 / (k * math.pi)
        fall = math.exp(-SPREAD_MM2_PER_S * seconds * (k * math.pi / length) ** 2)
        wanted += part * np.cos(k * math.pi * middle / length) * fall
    assert np.abs(water / whole - wanted).max() < 5e-3
    assert gone == pytest.approx(0.0, abs=1e-9)


def test_a_thin_plate_dries_as_a_whole_mold_does() -> None:
    """Where water evens out at once, the time to a rest is that of the drying curve (drying-curve)."""
    cells, cell_mm, rate, critical = 3, 1.0, 2e-5, 0.3
    grid = columns.bar(cells, cell_mm)
    water, whole = bar_water(np.ones(cells), cell_mm)
    area = np.zeros(cells)
    area[0] = cell_mm**2
    for left in (0.5, 0.1):
        seconds = drying_time_s(
            float(whole.sum()), float(area.sum()), rate, left_fraction=left, critical_fraction=critical
        )
        still = water.copy()
        gone = rest(grid, still, whole, seconds, spread_mm2_per_s=0.5, airing=Airing(area, rate, critical))
        assert still.sum() / whole.sum() == pytest.approx(left, rel=0.01)
        assert gone == pytest.approx((1.0 - still.sum() / whole.sum()) * whole.sum(), rel=1e-9)


def test_a_thick_wall_dries_as_another_solver_says() -> None:
    """A bar open at one end, its skin ahead of its inside: scipy's own solver of the same equations."""
    cells, cell_mm, rate, critical, days = 12, 2.0, 8e-5, 0.4, 3.0
    grid = columns.bar(cells, cell_mm)
    water, whole = bar_water(np.full(cells, 0.9), cell_mm)
    area = np.zeros(cells)
    area[0] = cell_mm**2

    def moves(_: float, share: Floats) -> Floats:
        flux = SPREAD_MM2_PER_S / cell_mm**2 * np.diff(share)
        change = np.zeros(cells)
        change[:-1] += flux
        change[1:] -= flux
        change[0] -= area[0] * rate / whole[0] * min(share[0] / critical, 1.0)
        return change

    start = water / whole
    wanted = solve_ivp(moves, (0.0, 86400.0 * days), start, rtol=1e-9, atol=1e-12, method="LSODA").y[:, -1]
    rest(
        grid, water, whole, 86400.0 * days, spread_mm2_per_s=SPREAD_MM2_PER_S,
        airing=Airing(area, rate, critical),
    )  # fmt: skip
    assert np.abs(water / whole - wanted).max() < 5e-3
    assert wanted[0] < 0.6 * wanted[-1]


@settings(max_examples=25)
@given(
    share=st.floats(0.0, 1.0),
    minutes_min=st.floats(0.1, 20_000.0),
    rate=st.floats(0.0, 1e-3),
    spread=st.floats(0.0, 0.05),
    critical=st.floats(0.01, 1.0),
)
def test_what_leaves_is_what_is_missing(
    share: float, minutes_min: float, rate: float, spread: float, critical: float
) -> None:
    """Casting and resting in any air: water found + taken up - dried is what is there, to 1e-9 of it."""
    soil = replace(columns.plain_soil(wet_share=0.9 * share), release_ratio=0.09, spread_mm2_per_s=spread)
    state = Soaking(columns.bar(10, 1.5), soil)
    begun_ml = state.total_mm3 / 1000.0
    area = np.zeros(10)
    area[[0, 9]] = 2.25
    order = CastOrder(3, 20.0, 40.0, minutes_min, Airing(area, rate, critical))
    casts = run_casts(state, order)
    taken_ml = sum(cast.taken_ml - cast.dried_ml for cast in casts)
    assert casts[0].dried_ml == 0.0 and all(cast.dried_ml >= -1e-12 for cast in casts)
    assert state.total_mm3 / 1000.0 == pytest.approx(begun_ml + taken_ml, rel=1e-9, abs=1e-12)


def test_a_mold_that_dried_overnight_casts_as_a_drier_one() -> None:
    """A night in moving air brings the second cast closer to the first than a night shut in does."""
    grid, soil = columns.post(6.0, 1.0), replace(columns.plain_soil(), release_ratio=0.09)
    soil = replace(soil, spread_mm2_per_s=SPREAD_MM2_PER_S)
    airing = Airing(open_faces_mm2(grid, apart=True), 0.1 / 3600.0, 0.3)

    def mean_mm(airing: Airing | None) -> list[float]:
        casts = run_casts(Soaking(grid, soil), CastOrder(2, 20.0, 30.0, 16.0 * 60.0, airing))
        return [float(np.average(cast.wall_mm, weights=grid.area_mm2)) for cast in casts]

    shut, aired = mean_mm(None), mean_mm(airing)
    assert shut[0] == aired[0] > aired[1] > 1.05 * shut[1]


def test_open_faces_are_those_of_the_solids() -> None:
    """Round and square blocks, closed and apart: open faces as the solids have them, to 2 %."""
    bore = manifold3d.Manifold.cylinder(30.0, 12.0, 12.0, 128).translate([0.0, 0.0, -30.0])
    square = manifold3d.Manifold.cube([48.0, 48.0, 42.0]).translate([-24.0, -24.0, -42.0])
    drum = manifold3d.Manifold.cylinder(42.0, 24.0, 24.0, 256).translate([0.0, 0.0, -42.0])
    model = solids.from_manifold(bore)
    opens = (np.abs(model.corners_mm[:, :, 2]) < 1e-6).all(axis=1).astype(np.uint8)
    top_mm2 = math.pi * 12.0**2
    for block in (square, drum):
        halves = [solids.from_manifold(part) for part in (block - bore).split_by_plane([1.0, 0.0, 0.0], 0.0)]
        grid = build_grid(halves, model, opens, 1.0, bend_reach_mm=6.0)
        outside_mm2 = block.surface_area() - top_mm2
        cavity_mm2 = bore.surface_area() - top_mm2
        both_mm2 = sum(half.area_mm2 for half in halves)
        closed = open_faces_mm2(grid, apart=False)
        assert closed.sum() == pytest.approx(outside_mm2, rel=0.02)
        parting_mm2 = both_mm2 - outside_mm2 - cavity_mm2
        apart = open_faces_mm2(grid, apart=True, parting_mm2=parting_mm2)
        assert apart.sum() == pytest.approx(both_mm2, rel=0.02)
        meets = grid.cells[apart - closed > 1e-9]
        assert np.abs(grid.low_mm[0] + meets[:, 0] + 0.5).min() < 1.0
