"""What a case bears, takes and grows: against beam theory solved anew, closed forms, printed expansions."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import cumulative_trapezoid

from claybed.cases.bearing import (
    joint_of_cut,
    joint_of_level,
    plastic_taken,
    time_class,
    wall_under_liquid,
    washer_bears_newtons,
)
from claybed.cases.generations import chain, molds_a_day, print_scale
from claybed.errors import InputError
from claybed.flow.cases import needed_clearance_mm, plastic_named
from claybed.geometry.slab import LatticeSolid
from claybed.materials import shelf
from claybed.physics.forms import plate_deflection_m
from claybed.physics.vessels import foot_moment_N, joint_gap_m, ring_growth_m, upright_deflection_m
from claybed.records.cases import CasePart

WALL = {"modulus_pa": 2.6e9, "slurry_kg_per_m3": 1550.0}


@pytest.mark.parametrize(("head_m", "thick_m", "modulus_Pa"), [(0.25, 0.018, 3e9), (0.1, 0.004, 1.7e9)])
def test_an_upright_wall_leans_as_a_beam_does(head_m: float, thick_m: float, modulus_Pa: float) -> None:
    """Load, shear, moment, slope and bow summed up step by step give p h⁴ / (30 E I) [beam-theory]."""
    z = np.linspace(0.0, head_m, 20_001)
    load = 1600.0 * 9.80665 * (head_m - z)
    stiffness = modulus_Pa * thick_m**3 / 12.0
    shear = cumulative_trapezoid(load, z, initial=0.0)
    shear = shear[-1] - shear
    moment = cumulative_trapezoid(shear, z, initial=0.0)
    moment = moment[-1] - moment
    slope = cumulative_trapezoid(moment / stiffness, z, initial=0.0)
    bow_m = cumulative_trapezoid(slope, z, initial=0.0)[-1]
    found = upright_deflection_m(head_m, thickness_m=thick_m, modulus_Pa=modulus_Pa, liquid_kg_per_m3=1600.0)
    assert found == pytest.approx(bow_m, rel=1e-4)


def test_a_flange_bows_as_a_beam_does() -> None:
    """Moment q x (L - x) / 2 summed twice along the flange between two bolts, both flanges [beam-theory]."""
    load_N_per_m, span_m, inertia_m4 = 220.0, 0.045, 0.014 * 0.005**3 / 12.0
    x = np.linspace(0.0, span_m / 2.0, 20_001)
    curve = load_N_per_m * x * (span_m - x) / 2.0 / (2.6e9 * inertia_m4)
    # Level in the middle, so that the slope at a place is what is still to be bent.
    slope = cumulative_trapezoid(curve, x, initial=0.0)
    bow_m = cumulative_trapezoid(slope[-1] - slope, x, initial=0.0)[-1]
    gap_m = joint_gap_m(load_N_per_m, span_m, width_m=0.014, thickness_m=0.005, modulus_Pa=2.6e9)
    assert gap_m == pytest.approx(2.0 * bow_m, rel=1e-4)


def test_a_wall_leans_on_its_foot() -> None:
    """Pressure times its height over the foot, summed up the wall, is rho g h³ / 6 [hydrostatics]."""
    z = np.linspace(0.0, 0.08, 10_001)
    moment = cumulative_trapezoid(1550.0 * 9.80665 * (0.08 - z) * z, z, initial=0.0)[-1]
    assert foot_moment_N(0.08, liquid_kg_per_m3=1550.0) == pytest.approx(moment, rel=1e-6)


def test_joints_bear_what_stands_over_them() -> None:
    """A level joint 900 mm round with 15 bolts under 50 mm of slurry: pressure in the joint, lean of the wall
    about the flange's rim and the weight hung on it, by hand; an upright one bears half the wall.
    """
    pressure_Pa = 1550.0 * 9.80665 * 0.05
    by_hand = pressure_Pa * (0.0032 + 0.014) + (pressure_Pa * 0.05**2 / 6.0) / 0.006 + 8.0 * 9.80665 / 0.9
    joint = joint_of_level(
        90.0, 50.0, 900.0, 15, 60.0, 1550.0, 2.6e9, wall_mm=3.2, hung_kg=8.0
    )  # fmt: skip
    assert joint.load_n_per_m == pytest.approx(by_hand)
    assert joint.newtons == pytest.approx(by_hand * 0.06)
    upright = joint_of_cut(200.0, 100.0, 4, 30.0, 1550.0, 2.6e9)
    assert upright.newtons == pytest.approx(1550.0 * 9.80665 * 0.1**2 / 2.0 * 0.2 / 2.0 / 4.0)
    assert joint.gap_mm > upright.gap_mm > 0.0
    # A washer of 9 mm over a hole of 4.5 mm, at 10 N/mm².
    assert washer_bears_newtons(10_000.0) == pytest.approx(10.0 * math.pi * (4.5**2 - 2.25**2))


def test_a_ring_grows_by_its_strain() -> None:
    """The pull p r over thickness and modulus is the strain; the radius grows by as much (closed form)."""
    strain = 1500.0 * 0.1 / (0.003 * 3e9)
    assert ring_growth_m(1500.0, 0.1, thickness_m=0.003, modulus_Pa=3e9) == pytest.approx(0.1 * strain)


@pytest.mark.parametrize("name", ["head_m", "thickness_m", "modulus_Pa", "liquid_kg_per_m3"])
def test_walls_refuse_nothing(name: str) -> None:
    """An amount of nothing is refused, and named."""
    good = {"head_m": 0.1, "thickness_m": 0.004, "modulus_Pa": 3e9, "liquid_kg_per_m3": 1550.0}
    with pytest.raises(InputError, match=name):
        upright_deflection_m(**(good | {name: 0.0}))


def test_the_wall_takes_the_least_of_three_bounds() -> None:
    """A long wall leans as an upright strip, a square one bows as a plate, a narrow one as a level strip."""
    head_mm = 100.0
    long = wall_under_liquid(4.0, 600.0, head_mm, radius_mm=300.0, corners=4, **WALL)
    upright = upright_deflection_m(0.1, thickness_m=0.004, modulus_Pa=2.6e9, liquid_kg_per_m3=1550.0)
    assert long.bow_mm == pytest.approx(1e3 * upright) and "upright" in long.formula
    square = wall_under_liquid(4.0, 100.0, head_mm, radius_mm=50.0, corners=4, **WALL)
    plate = plate_deflection_m(0.1, 0.1, thickness_m=0.004, modulus_Pa=2.6e9, liquid_kg_per_m3=1550.0)
    assert square.bow_mm == pytest.approx(1e3 * plate) and "plate" in square.formula
    narrow = wall_under_liquid(4.0, 40.0, head_mm, radius_mm=20.0, corners=4, **WALL)
    assert "level" in narrow.formula and narrow.bow_mm < square.bow_mm < long.bow_mm
    assert long.base_kpa == pytest.approx(1550.0 * 9.80665 * 0.1 / 1e3)


def test_a_round_wall_grows_as_well() -> None:
    """Sides of a round are short, but the ring as a whole grows, and both count."""
    flat = wall_under_liquid(4.0, 20.0, 100.0, radius_mm=100.0, corners=8, **WALL)
    round_ = wall_under_liquid(4.0, 20.0, 100.0, radius_mm=100.0, corners=96, **WALL)
    ring_mm = 1e3 * ring_growth_m(1e3 * flat.base_kpa, 0.1, thickness_m=0.004, modulus_Pa=2.6e9)
    assert round_.bow_mm - flat.bow_mm == pytest.approx(ring_mm)


def cube(side: int) -> CasePart:
    """A solid cube of some mm."""
    x, y, z = side * 1024, side * 1024, side * 4096
    corners = np.array([[a, b, c] for a in (0, x) for b in (0, y) for c in (0, z)], np.int64)
    faces = np.array(
        [[0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
         [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3]], np.int32,
    )  # fmt: skip
    return CasePart("A", LatticeSolid(corners, faces, np.zeros(12, np.uint8)), (side, side, side))


def test_plastic_is_skin_and_infill() -> None:
    """A cube of 100 mm: 600 cm² of 1.2 mm skin and a share of the rest; a thin one is solid skin."""
    taken = plastic_taken(cube(100), 1.2, 0.15)
    assert taken.solid_ml == pytest.approx(1000.0)
    assert taken.skin_ml == pytest.approx(72.0)
    assert taken.volume_ml == pytest.approx(72.0 + 0.15 * 928.0)
    thin = plastic_taken(cube(2), 1.2, 0.15)
    assert thin.volume_ml == thin.solid_ml == pytest.approx(0.008)


def test_time_is_a_class() -> None:
    """Hours become the words a person plans by, longer ones never a shorter class."""
    assert [time_class(hours) for hours in (0.1, 2.0, 9.0, 20.0, 25.0, 49.0)] == [
        "under an hour", "an afternoon", "a night", "a day", "2 days", "3 days",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("castings", "percent"),
    # Expansion taken once, twice, three times at 0.20 %: (1 + e)^n - 1 [usg-ig526, p. 6 for twice]
    [(1, 0.200), (2, 0.400), (3, 0.601)],
)
def test_expansion_compounds_from_print_to_mold(castings: int, percent: float) -> None:
    """When case and mold grow alike, the mold is larger than the print by the printed percentages."""
    steps = chain(castings, plaster_fraction=0.002, cement_fraction=0.002)
    grown = steps[-1].size_ratio / steps[0].size_ratio - 1.0
    assert 100.0 * grown == pytest.approx(percent, abs=0.0005)
    assert len(steps) == castings + 1


@pytest.mark.parametrize("generations", [1, 2, 3])
def test_the_working_mold_has_the_size_of_the_plan(generations: int) -> None:
    """However long the way, the last casting measures what a piece poured on the model does."""
    grows = {"plaster_fraction": 0.0021, "cement_fraction": 0.0004}
    steps = chain(generations, **grows)
    assert steps[-1].size_ratio == pytest.approx(1.0, rel=1e-12)
    # The print is in the plan's own millimetres, of which a set piece has 0.21 % more.
    assert steps[0].size_ratio * 1.0021 == pytest.approx(print_scale(generations, **grows), rel=1e-12)


def test_whole_turns_fill_a_day() -> None:
    """Seven hours hold five turns of 75 minutes; a turn longer than the day gives none."""
    assert molds_a_day(75.0, 7.0) == 5
    assert molds_a_day(60.0, 7.0) == 7
    assert molds_a_day(500.0, 7.0) == 0


def test_clearance_grows_with_the_distance_of_keys() -> None:
    """Keys 200 mm apart on pieces that grow by 0.15 and 0.26 % miss by half of 0.22 mm on each side."""
    grows = shelf.value("plaster", "setting_expansion_fraction")
    plan = {"mold": {"keys": [{"at_mm": [0.0, 0.0, 0.0]}, {"at_mm": [120.0, 160.0, 0.0]}]}}
    least = shelf.value("printing", "case_clearance_mm").low
    assert needed_clearance_mm(plan) == pytest.approx(least + 100.0 * (grows.high - grows.low))
    assert needed_clearance_mm({"mold": {"keys": []}}) == least


def test_every_plastic_is_whole() -> None:
    """Each plastic softens above a room and floats or sinks as plastics do; an unknown one lists them."""
    for name in ("pla", "petg", "asa", "abs"):
        plastic = plastic_named(name.upper())
        assert plastic.softens_celsius.low > 45.0 and 0.9 < plastic.density_g_per_ml.value < 1.4
        assert 1.0 < plastic.modulus_gpa.value < 4.0
    with pytest.raises(InputError, match="abs, asa, petg, pla"):
        plastic_named("nylon")
    assert math.isclose(
        plastic_named("pla").softens_celsius.value, shelf.value("bench", "pla_softens_C").value
    )
