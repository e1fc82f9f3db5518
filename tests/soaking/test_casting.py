"""The simulation against closed forms, an independent solution, and its own laws."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from claybed.geometry.mesh import Floats
from claybed.records.soaked import CastOrder, PlasterGrid, Soil
from claybed.soaking import kernels
from claybed.soaking.simulate import Soaking, reached_outside, run_casts
from tests.soaking import columns


def round_wall_mm(radius_mm: float, soil: Soil, minutes_min: float, *, inside: bool) -> float:
    """Wall on round plaster by one ordinary equation: cake and wetted plaster as two resistances in a row."""
    n, f = soil.water_per_cake_ratio, soil.fillable_fraction
    side = -1.0 if inside else 1.0

    def grows(_: float, held: Floats) -> list[float]:
        cake = math.sqrt(radius_mm**2 + side * 2.0 * held[0])
        front = math.sqrt(radius_mm**2 - side * 2.0 * n * held[0] / f)
        resists = abs(math.log(cake / radius_mm)) / soil.cake_mm2_per_s
        resists += abs(math.log(front / radius_mm)) / soil.plaster_mm2_per_s
        return [1.0 / resists / n]

    held = solve_ivp(grows, (0.0, 60.0 * minutes_min), [1e-7], rtol=1e-9, atol=1e-12).y[0, -1]
    return abs(math.sqrt(radius_mm**2 + side * 2.0 * held) - radius_mm)


def worst_order(errors: list[float]) -> float:
    """How fast errors fall when cells and steps are halved: the power between the first and the last."""
    return math.log(errors[0] / errors[-1]) / math.log(2.0 ** (len(errors) - 1))


def mean_error(grid: PlasterGrid, wall_mm: Floats, wanted_mm: float, radius_mm: float) -> float:
    """Root mean square difference over the patches on a radius, by area."""
    here = np.hypot(*grid.at_mm[:, :2].T) < 1.2 * radius_mm
    return math.sqrt(np.average((wall_mm[here] - wanted_mm) ** 2, weights=grid.area_mm2[here]))


@pytest.mark.parametrize("slowdown", [0.02, 0.17, 0.6])
def test_a_flat_wall_grows_by_the_square_root_of_time(slowdown: float) -> None:
    """L² = k t, with cake and plaster as two resistances in a row (closed form, casting.law)."""
    soil = columns.plain_soil(rate_mm2_per_min=1.3, slowdown_fraction=slowdown)
    wall = Soaking(columns.bar(40, 1.0), soil).cast(20.0, 0.0).wall_mm[0]
    assert wall == pytest.approx(math.sqrt(1.3 * 20.0), rel=3e-3)


def test_permeabilities_give_the_published_rate() -> None:
    """Suction 0.1 MPa, cake 1e-16 m², plaster 1e-15 m²: 7.003 mm after 600 s (worked example, k 4.904)."""
    soil = Soil(
        cake_mm2_per_s=1e5 * 1e-16 / 1.002e-3 * 1e6,
        plaster_mm2_per_s=1e5 * 1e-15 / 1.002e-3 * 1e6,
        water_per_cake_ratio=0.23077,
        fillable_fraction=0.396,
        wet_share=0.0,
        head_per_mm=0.0,
        release_ratio=0.0,
        spread_mm2_per_s=0.0,
    )
    wall = Soaking(columns.bar(80, 0.5), soil).cast(10.0, 0.0, steps=300).wall_mm[0]
    assert wall == pytest.approx(7.003, rel=1e-3)


def test_flat_error_falls_with_cells_and_steps() -> None:
    """On plaster that resists as much as the cake the error falls by order 0.9 or more over three grids."""
    soil = columns.plain_soil(slowdown_fraction=0.9)
    errors = []
    for cells, steps in ((16, 40), (32, 80), (64, 160)):
        state = Soaking(columns.bar(cells, 48.0 / cells), soil)
        # A wet layer of a cast before makes the plaster matter from the first second on.
        state.cast(30.0, 0.0, steps=steps)
        wall = state.cast(30.0, 0.0, steps=steps).wall_mm[0]
        errors.append(abs(wall - flat_second_wall_mm(soil, 30.0)))
    assert worst_order(errors) >= 0.9


def flat_second_wall_mm(soil: Soil, minutes_min: float) -> float:
    """Wall of a second flat cast of the same time, by the closed form of two resistances."""
    n, f = soil.water_per_cake_ratio, soil.fillable_fraction
    a = n / soil.cake_mm2_per_s + n * n / (f * soil.plaster_mm2_per_s)
    first = math.sqrt(2.0 * 60.0 * minutes_min / a)
    b = n * n * first / (f * soil.plaster_mm2_per_s)
    return (-b + math.sqrt(b * b + 2.0 * a * 60.0 * minutes_min)) / a


@pytest.mark.parametrize(("inside", "expected_mm"), [(True, 4.379), (False, 3.787)])
def test_round_walls_match_the_closed_form(inside: bool, expected_mm: float) -> None:
    """R 10 mm, k t 16 mm²: 4.379 mm inside, 3.787 mm outside (closed form for cake alone)."""
    soil = columns.plain_soil(slowdown_fraction=0.002)
    assert round_wall_mm(10.0, soil, 16.0, inside=inside) == pytest.approx(expected_mm, abs=0.01)
    grid = columns.ring(10.0, 1.5) if inside else columns.post(10.0, 1.5)
    wall = Soaking(grid, soil).cast(16.0, 0.0).wall_mm
    assert mean_error(grid, wall, expected_mm, 10.0) < 0.02


@pytest.mark.parametrize("inside", [True, False])
def test_round_error_falls_with_cells_and_steps(inside: bool) -> None:
    """On round plaster that resists half as much as the cake: order 0.9 or more over three grids, against an
    independent solution with scipy."""
    soil = columns.plain_soil(slowdown_fraction=2.0 / 3.0)
    wanted = round_wall_mm(10.0, soil, 16.0, inside=inside)
    errors = []
    for cell_mm, steps in ((3.0, 60), (1.5, 120), (0.75, 240)):
        grid = columns.ring(10.0, cell_mm) if inside else columns.post(10.0, cell_mm)
        errors.append(
            mean_error(grid, Soaking(grid, soil).cast(16.0, 0.0, steps=steps).wall_mm, wanted, 10.0)
        )
    assert worst_order(errors) >= 0.9
    assert errors[-1] < 0.02 * wanted


def test_growth_ends_when_the_front_reaches_the_back() -> None:
    """A plaster wall T stops a cast at eps T / n, and has no suction left."""
    soil = columns.plain_soil()
    cast = Soaking(columns.bar(6, 1.0), soil).cast(600.0, 0.0)
    assert cast.wall_mm[0] == pytest.approx(0.4 * 6.0 / 0.23077, rel=1e-6)
    assert cast.pull_share[0] == pytest.approx(0.0, abs=1e-6)
    assert cast.soaked_cm2 > 0.0


def test_casts_slow_down_evenly() -> None:
    """Casts of one sheet took 3, 3.5 and 4 minutes for one wall: with that slowdown the simulation agrees."""
    soil = columns.plain_soil(rate_mm2_per_min=16.0 / 3.0, slowdown_fraction=1.0 / 6.0)
    state = Soaking(columns.bar(80, 0.5), soil)
    walls = [state.cast(minutes, 0.0).wall_mm[0] for minutes in (3.0, 3.5, 4.0)]
    assert walls == pytest.approx([4.0, 4.0, 4.0], rel=5e-3)


@settings(max_examples=25)
@given(
    cells=st.integers(3, 30),
    cell_mm=st.floats(0.4, 4.0),
    minutes_min=st.floats(0.5, 300.0),
    slowdown=st.floats(0.01, 0.9),
    wet_share=st.floats(0.0, 0.95),
)
def test_no_water_is_lost(
    cells: int, cell_mm: float, minutes_min: float, slowdown: float, wet_share: float
) -> None:
    """Water out of the slip is water in the plaster and n times the clay, cast after cast, to 1e-9."""
    soil = replace(
        columns.plain_soil(slowdown_fraction=slowdown, wet_share=wet_share),
        release_ratio=0.09,
        spread_mm2_per_s=5e-3,
    )
    state = Soaking(columns.bar(cells, cell_mm), soil)
    begun_ml = state.total_mm3 / 1000.0
    sent_ml = 0.0
    for _ in range(2):
        cast = state.cast(minutes_min, 60.0)
        sent_ml += cast.given_ml + cast.released_ml
        assert cast.given_ml == pytest.approx(cast.cake_ml * soil.water_per_cake_ratio, rel=1e-9)
        assert state.rest(120.0) == pytest.approx(0.0, abs=1e-9)
    assert state.total_mm3 / 1000.0 == pytest.approx(begun_ml + sent_ml, rel=1e-9)


def test_no_water_is_lost_in_three_dimensions() -> None:
    """The same on a round post that soaks through, to 1e-9."""
    soil = replace(columns.plain_soil(), release_ratio=0.09)
    grid = columns.post(4.0, 1.0)
    for cast in run_casts(Soaking(grid, soil), CastOrder(3, 40.0, 30.0, 0.0)):
        assert cast.taken_ml == pytest.approx(cast.given_ml + cast.released_ml, rel=1e-9, abs=1e-9)


def test_a_soaked_post_casts_thinner_each_time() -> None:
    """A thin post of plaster fills up: each cast on it is thinner, and its suction falls to nothing."""
    soil = replace(columns.plain_soil(), release_ratio=0.09)
    grid = columns.post(4.0, 1.0)
    casts = run_casts(Soaking(grid, soil), CastOrder(3, 30.0, 30.0, 0.0))
    means = [float(np.average(cast.wall_mm, weights=grid.area_mm2)) for cast in casts]
    assert means[0] > 1.2 * means[1] > 1.44 * means[2]
    assert casts[-1].pull_share.max() < 0.05


def test_damp_plaster_is_reached_through_sooner() -> None:
    """Plaster that is half full stops a cast at half the wall."""
    soil = columns.plain_soil(wet_share=0.5)
    cast = Soaking(columns.bar(6, 1.0), soil).cast(600.0, 0.0)
    assert cast.wall_mm[0] == pytest.approx(0.5 * 0.4 * 6.0 / 0.23077, rel=1e-6)


def test_plaster_outside_helps_only_where_water_arrives() -> None:
    """Until the front is at the outside, more plaster changes no wall; then it does, by what it can hold."""
    soil = columns.plain_soil()
    thin, thick = Soaking(columns.bar(6, 1.0), soil), Soaking(columns.bar(9, 1.0), soil)
    # The bar's sides are its outside too, so only its depth is looked at here.
    first, same = thin.cast(40.0, 0.0), thick.cast(40.0, 0.0)
    assert thin.water_mm3[-1] == 0.0
    assert first.wall_mm == pytest.approx(same.wall_mm, rel=1e-9)
    soaked, better = thin.cast(600.0, 0.0), thick.cast(600.0, 0.0)
    gain = 3.0 * soil.fillable_fraction / soil.water_per_cake_ratio
    assert better.wall_mm[0] - soaked.wall_mm[0] == pytest.approx(gain, rel=1e-6)


def test_water_at_the_outside_is_noticed() -> None:
    """A ring of plaster 20 mm thick is dry outside after a short cast and wet after a very long one."""
    state = Soaking(columns.ring(10.0, 2.0), columns.plain_soil(rate_mm2_per_min=0.5))
    inner = state.grid.cells[state.grid.cell]
    assert (inner[:, :2].min() > 3) and not (state.water_mm3 > 0.0).any()
    state.cast(5.0, 0.0)
    wet = state.grid.cells[state.water_mm3 > 0.0]
    assert wet[:, :2].min() > 0
    block = Soaking(columns.deep_block(2.0), columns.plain_soil())
    block.cast(10.0, 0.0)
    assert not reached_outside(block)
    for _ in range(4):
        block.cast(900.0, 0.0)
    assert reached_outside(block)


def test_slip_stands_heavier_at_the_foot() -> None:
    """0.3 m of slip of 1.80 adds 5.3 % to 0.1 MPa of suction, so its wall is 2.6 % thicker (hydrostatics)."""
    grid = columns.bar(60, 1.0)
    deep = replace(
        grid,
        at_mm=np.array([[0.0, 0.0, 0.0], [0.0, 0.0, 0.3]]),
        **{
            name: np.repeat(getattr(grid, name), 2, axis=0) for name in ("area_mm2", "normal", "bends_per_mm")
        },
        most_mm=np.full(2, 1e3),
        cell=np.zeros(2, np.int32),
    )
    soil = replace(columns.plain_soil(slowdown_fraction=1e-3), head_per_mm=1.8 * 9.80665e-3 / 100.0 * 1000.0)
    low, high = Soaking(deep, soil).cast(10.0, 0.0).wall_mm
    assert low / high == pytest.approx(math.sqrt(1.053), rel=2e-3)


@settings(max_examples=60)
@given(a=st.floats(-0.3, 0.3), b=st.floats(-0.3, 0.3), depth=st.floats(0.01, 12.0))
def test_shell_measures_agree_with_quadrature(a: float, b: float, depth: float) -> None:
    """Volume and path of a curved cake are the integrals of its area and of 1 / area."""
    a, b = max(a, b), min(a, b)
    narrow = kernels.narrowing_mm(a, b)
    z = np.linspace(0.0, depth, 20001)
    area = np.array([kernels.shell_area(x, a, b, narrow) for x in z])
    assert kernels.shell_volume(depth, a, b, narrow) == pytest.approx(np.trapezoid(area, z), rel=1e-5)
    assert kernels.shell_path(depth, a, b, narrow) == pytest.approx(np.trapezoid(1.0 / area, z), rel=2e-4)
    volume = kernels.shell_volume(depth, a, b, narrow)
    assert kernels.depth_of(volume, a, b, narrow, 0.0) == pytest.approx(depth, rel=1e-7)
