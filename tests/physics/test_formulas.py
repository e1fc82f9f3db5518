"""Formulas against print and against one another, and their refusal to answer out of range."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from claybed.errors import InputError
from claybed.materials import shelf
from claybed.physics import (
    absorption,
    buoyancy,
    expansion,
    heat,
    plaster,
    porosity,
    pressure,
    slurry,
    strength,
)

KINDS = {"plaster_kg_per_m3": 2700.0, "water_kg_per_m3": 998.0}
LB_PER_FT3 = 16.018463

# consistency, wet and dry density as printed, lb/ft3 [usg-table, usg-pottery, usg-ig1365, statuary-sheet]
PRINTED = [
    (65, 100.0, 72.5),
    (70, 99.0, 69.0),  # two plasters print this row
    (70, 99.0, 69.0),
    (74, 97.6, 66.0),
    (45, 110.6, 90.0),
    (40, 113.0, 96.0),
    (38, 115.0, 99.0),
]


def residuals(grains_kg_per_m3: float) -> list[float]:
    """Relative differences of wet and dry densities from print."""
    kinds = {"plaster_kg_per_m3": grains_kg_per_m3, "water_kg_per_m3": 998.0}
    return [
        computed / LB_PER_FT3 / printed - 1
        for w, wet, dry in PRINTED
        for computed, printed in (
            (slurry.slurry_density_kg_per_m3(float(w), **kinds), wet),
            (slurry.dry_density_kg_per_m3(float(w), **kinds), dry),
        )
    ]


def test_density_of_grains_is_the_best_single_one() -> None:
    """The density on the shelf must fit print as its note says, and better than its neighbours."""

    def rms(grains: float) -> float:
        return math.sqrt(sum(r * r for r in residuals(grains)) / (2 * len(PRINTED)))

    grains = 1000 * shelf.value("plaster", "hemihydrate_density_g_per_ml").value
    assert rms(grains) < 0.004
    assert max(map(abs, residuals(grains))) < 0.0095
    assert rms(grains) < min(rms(grains - 50), rms(grains + 50))


def test_the_spread_of_grain_density_covers_print() -> None:
    """Each printed density must lie between what the ends of the spread give."""
    grains = shelf.value("plaster", "hemihydrate_density_g_per_ml")
    low, high = residuals(1000 * grains.low), residuals(1000 * grains.high)
    assert all(least <= 0 <= most for least, most in zip(low, high, strict=True))


def test_crystal_density_with_air_meets_the_effective_one() -> None:
    """The crystal density with about one per cent of air must give what the effective density gives."""
    for w in (38.0, 70.0, 76.923):
        crystal = slurry.slurry_density_kg_per_m3(
            w, plaster_kg_per_m3=2757.0, water_kg_per_m3=998.0, air_fraction=0.0095
        )
        assert crystal == pytest.approx(slurry.slurry_density_kg_per_m3(w, **KINDS), rel=0.004)


@pytest.mark.parametrize(("purity", "dry"), [(1.0, 1038.8), (0.95, 1030.6), (0.90, 1022.5)])
def test_impure_plaster_dries_lighter(purity: float, dry: float) -> None:
    """What does not react binds no water: worked values at 77 per 100."""
    assert slurry.dry_density_kg_per_m3(77.0, purity_fraction=purity, **KINDS) == pytest.approx(dry, abs=0.06)


@pytest.mark.parametrize(("grains", "percent"), [(2757.0, 6.9), (2700.0, 8.2), (2630.0, 9.8)])
def test_setting_contracts_inside(grains: float, percent: float) -> None:
    """Plaster and its water must lose the worked share of their volume."""
    lost = porosity.setting_contraction_fraction(
        plaster_kg_per_m3=grains, water_kg_per_m3=998.0, gypsum_kg_per_m3=2320.0
    )
    assert 100 * lost == pytest.approx(percent, abs=0.06)


def test_set_piece_is_not_full_of_water() -> None:
    """Contraction must leave air: 4.3 % of a piece at 70 per 100, just after set."""
    dry = slurry.dry_density_kg_per_m3(70.0, **KINDS)
    pores = porosity.porosity_fraction(dry, gypsum_kg_per_m3=2320.0)
    water = plaster.free_water_of_dry_fraction(70.0) * dry / 998.0
    assert 100 * (pores - water) == pytest.approx(4.3, abs=0.1)


def test_impure_plaster_warms_less() -> None:
    """Half the hemihydrate must give half the heat, and leave more free water to warm: worked, 16.80 K."""
    kinds = {"heat_J_per_kg": 125e3, "gypsum_J_per_kg_K": 1080.0, "water_J_per_kg_K": 4186.0}
    assert heat.adiabatic_rise_K(70.0, purity_fraction=0.5, **kinds) == pytest.approx(
        100 * 0.5 * 125.0 / (109.309 * 1.08 + 60.691 * 4.186), rel=1e-5
    )


def test_front_time_undoes_front_depth() -> None:
    """The time to a depth must be the time at which the front is there."""
    depth = absorption.front_depth_m(4.9e-4, 900.0, uptake_fraction=0.4)
    assert absorption.front_time_s(
        depth, sorptivity_m_per_sqrt_s=4.9e-4, uptake_fraction=0.4
    ) == pytest.approx(900.0)


def test_front_holds_the_water_taken_up() -> None:
    """Depth times uptake must be the water that entered the face."""
    sorptivity = absorption.sorptivity_m_per_sqrt_s(3.8, 60.0, water_kg_per_m3=998.0)
    depth = absorption.front_depth_m(sorptivity, 60.0, uptake_fraction=0.4)
    assert depth * 0.4 * 998.0 == pytest.approx(3.8)


def test_strength_share_is_a_broken_line() -> None:
    """Wet strength must hold until little water is left, then rise straight to dry."""
    share = [
        strength.strength_share_fraction(m, wet_fraction=0.45, rise_fraction=0.03)
        for m in (0.5, 0.03, 0.015, 0.0)
    ]
    assert share == pytest.approx([0.45, 0.45, 0.725, 1.0])


def test_expansion_of_volume_is_three_lengths() -> None:
    """Growth of volume must be the cube of the growth of length: 0.631 % for 0.21 %."""
    assert expansion.volume_expansion_fraction(0.0021) == pytest.approx((1.0021) ** 3 - 1)
    assert expansion.compounded_expansion_fraction(0.002, castings=3) == pytest.approx(0.00601, abs=1e-5)
    assert expansion.compounded_expansion_fraction(0.002, castings=0) == 0.0


def test_ballast_and_weight_balance_the_lift() -> None:
    """Lift must vanish with the ballast inside, and equal the weight put on top."""
    body = {"body_kg": 0.30, "body_m3": 0.90e-3}
    inside_kg = buoyancy.ballast_inside_kg(**body, liquid_kg_per_m3=1585.0)
    assert buoyancy.net_lift_N(0.30 + inside_kg, 0.90e-3, liquid_kg_per_m3=1585.0) == pytest.approx(
        0.0, abs=1e-9
    )
    on_top_kg = buoyancy.weight_on_top_kg(**body, liquid_kg_per_m3=1585.0)
    lift_N = buoyancy.net_lift_N(**body, liquid_kg_per_m3=1585.0)
    assert on_top_kg * buoyancy.STANDARD_GRAVITY == pytest.approx(lift_N)
    assert buoyancy.weight_on_top_kg(2.0, 0.9e-3, liquid_kg_per_m3=1585.0) == 0.0
    assert buoyancy.submerged_fraction(2.0, 0.9e-3, liquid_kg_per_m3=1585.0) == 1.0
    assert buoyancy.relative_density_ratio(0.998, 1e-3, water_kg_per_m3=998.0) == pytest.approx(1.0)


def test_board_force_is_the_sum_of_its_strips() -> None:
    """The force on a board must be the pressure summed over its height, and a band's likewise."""
    steps, head, width = 2000, 0.25, 0.3
    strips = sum(
        pressure.head_pressure_Pa(head * (i + 0.5) / steps, liquid_kg_per_m3=1600.0) * width * head / steps
        for i in range(steps)
    )
    assert pressure.board_force_N(width, head, liquid_kg_per_m3=1600.0) == pytest.approx(strips)
    # a round band carries half of what a board of its diameter would
    assert 2 * pressure.band_force_N(width / 2, head, liquid_kg_per_m3=1600.0) == pytest.approx(strips)


OUT_OF_RANGE: list[Callable[[], float]] = [
    lambda: plaster.hydration_water_per_100(purity_fraction=1.1),
    lambda: plaster.consistency_per_100(1.0, 0.0),
    lambda: plaster.consistency_per_100(0.0, 1.0),
    lambda: plaster.free_water_per_100(18.0),
    lambda: plaster.free_water_per_100(math.nan),
    lambda: plaster.dry_from_wet_kg(0.0, 70.0),
    lambda: slurry.slurry_volume_m3_per_kg(70.0, plaster_kg_per_m3=0.0, water_kg_per_m3=998.0),
    lambda: slurry.slurry_volume_m3_per_kg(70.0, plaster_kg_per_m3=2700.0, water_kg_per_m3=-1.0),
    lambda: slurry.slurry_density_kg_per_m3(0.0, **KINDS),
    lambda: slurry.slurry_density_kg_per_m3(70.0, **KINDS, air_fraction=0.6),
    lambda: slurry.dry_density_kg_per_m3(10.0, **KINDS),
    lambda: slurry.plaster_for_volume_kg(-1.0, 70.0, **KINDS),
    lambda: porosity.crystal_density_kg_per_m3(0.17, 0.0),
    lambda: porosity.porosity_fraction(2400.0, gypsum_kg_per_m3=2320.0),
    lambda: porosity.pore_full_water_fraction(1000.0, gypsum_kg_per_m3=2320.0, water_kg_per_m3=0.0),
    lambda: porosity.practical_uptake_fraction(0.47, 1.2),
    lambda: porosity.setting_contraction_fraction(
        plaster_kg_per_m3=2700.0, water_kg_per_m3=998.0, gypsum_kg_per_m3=0.0
    ),
    lambda: heat.hydration_heat_J_per_kg(
        hemihydrate_J_per_mol=-2.0e6, gypsum_J_per_mol=-2.0e6, water_J_per_mol=-0.28e6
    ),
    lambda: heat.adiabatic_rise_K(70.0, heat_J_per_kg=0.0, gypsum_J_per_kg_K=1080.0, water_J_per_kg_K=4186.0),
    lambda: heat.peak_temperature_C(-5.0, 30.0),
    lambda: heat.peak_temperature_C(20.0, 30.0, kept_fraction=1.2),
    lambda: heat.drying_margin_K(500.0, limit_C=49.0),
    lambda: absorption.sorptivity_m_per_sqrt_s(3.8, 0.0, water_kg_per_m3=998.0),
    lambda: absorption.absorption_coefficient_kg_per_m2_sqrt_s(0.0, water_kg_per_m3=998.0),
    lambda: absorption.front_depth_m(4e-4, 60.0, uptake_fraction=1.4),
    lambda: absorption.front_time_s(0.02, sorptivity_m_per_sqrt_s=4e-4, uptake_fraction=0.0),
    lambda: absorption.capillary_pressure_Pa(0.0, tension_N_per_m=0.0728),
    lambda: strength.dry_strength_Pa(45.0),
    lambda: strength.water_at_rise_fraction(70.0, left_fraction=2.0),
    lambda: strength.strength_share_fraction(-0.1, wet_fraction=0.45, rise_fraction=0.03),
    lambda: expansion.compounded_expansion_fraction(0.2, castings=1),
    lambda: expansion.compounded_expansion_fraction(0.002, castings=-1),
    lambda: expansion.volume_expansion_fraction(0.2),
    lambda: buoyancy.relative_density_ratio(1.0, 0.0, water_kg_per_m3=998.0),
    lambda: buoyancy.net_lift_N(0.0, 1e-3, liquid_kg_per_m3=998.0),
    lambda: buoyancy.submerged_fraction(1.0, 1e-3, liquid_kg_per_m3=0.0),
    lambda: buoyancy.weight_on_top_kg(1.0, 1e-3, liquid_kg_per_m3=998.0, margin_ratio=0.5),
    lambda: pressure.head_pressure_Pa(0.0, liquid_kg_per_m3=1600.0),
    lambda: pressure.board_force_N(0.0, 0.2, liquid_kg_per_m3=1600.0),
    lambda: pressure.band_force_N(0.1, math.inf, liquid_kg_per_m3=1600.0),
]


@pytest.mark.parametrize("ask", OUT_OF_RANGE)
def test_out_of_range_is_refused(ask: Callable[[], float]) -> None:
    """A formula asked beyond where it holds must say so, with what to use."""
    with pytest.raises(InputError) as caught:
        ask()
    assert caught.value.where and caught.value.remedy
