"""Evaluators of forms, boards, lifting and heat: inputs as printed in, a figure in the row's unit out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from claybed.materials import shelf
from claybed.physics import buoyancy, forms, heat, lifting, plaster, slurry
from claybed.physics.pressure import head_pressure_Pa

KG_PER_LB = 0.45359237
M_PER_IN = 0.0254
# What the tables of boards are worked for: a head of 250 mm of slurry of 1600 kg/m³.
BASE_PA = head_pressure_Pa(0.250, liquid_kg_per_m3=1600.0)
# The manual prints inch constants that are not exact conversions of the metric ones.
CUSTOMARY = lifting.LiftingConstants(
    51.0 * 0.45359237, 0.254, 0.635, 0.762, 0.0075 / 0.0254, 1.778, 0.254, 1.8 * 0.0254, 1.778
)


def recommended_lb(
    reach_in: float, hands_in: float, travel_in: float, twist_deg: float, per_min: float, grip: Any
) -> float:
    """Recommended limit with the manual's inch constants, lb."""
    found = lifting.multipliers(
        reach_in * M_PER_IN,
        hands_in * M_PER_IN,
        travel_in * M_PER_IN,
        twist_deg=twist_deg,
        lifts_per_min=per_min,
        coupling=grip,
        constants=CUSTOMARY,
    )
    return lifting.recommended_weight_kg(found, constants=CUSTOMARY) / KG_PER_LB


def recommended_kg(reach_cm: float, hands_cm: float, travel_cm: float, twist_deg: float, grip: Any) -> float:
    """Recommended limit with the metric constants, kg."""
    found = lifting.multipliers(
        reach_cm / 100.0, hands_cm / 100.0, travel_cm / 100.0, twist_deg=twist_deg, coupling=grip
    )
    return lifting.recommended_weight_kg(found)


def frequency_share(per_min: float, duration: Any, high: bool) -> float:
    """The frequency multiplier alone, hands above or below 75 cm."""
    found = lifting.multipliers(
        0.25, 0.9 if high else 0.6, 0.25, lifts_per_min=per_min, duration=duration, coupling="good"
    )
    return found.frequency_share


def plate_share(width_over_head: float) -> float:
    """Largest bow of a board over p0 h^4 / D, from the bow itself."""
    head_m, thickness_m, modulus_Pa = 0.2, 0.01, 3e9
    bow_m = forms.plate_deflection_m(
        width_over_head * head_m,
        head_m,
        thickness_m=thickness_m,
        modulus_Pa=modulus_Pa,
        liquid_kg_per_m3=1600.0,
    )
    rigidity = modulus_Pa * thickness_m**3 / (12.0 * (1.0 - 0.3**2))
    return bow_m * rigidity / (1600.0 * 9.80665 * head_m**5)


def peak_from_water(w: float, water_C: float) -> float:
    """Adiabatic peak of a mix of water with plaster of 20 °C, °C."""

    def joules(name: str) -> float:
        return 1000.0 * shelf.value("plaster", name).value

    water = joules("water_heat_capacity_kJ_per_kg_K")
    start_C = heat.slurry_temperature_C(
        water_C,
        20.0,
        w,
        water_J_per_kg_K=water,
        plaster_J_per_kg_K=joules("plaster_heat_capacity_kJ_per_kg_K"),
    )
    rise_K = heat.adiabatic_rise_K(
        w,
        heat_J_per_kg=joules("hydration_heat_kJ_per_kg"),
        gypsum_J_per_kg_K=joules("gypsum_heat_capacity_kJ_per_kg_K"),
        water_J_per_kg_K=water,
    )
    return heat.peak_temperature_C(start_C, rise_K)


def dry_piece_lift(litres: float, w: float) -> float:
    """What a dry piece lifts with once slurry is under it, kg."""
    density = slurry.slurry_density_kg_per_m3(
        w,
        plaster_kg_per_m3=1000.0 * shelf.value("plaster", "hemihydrate_density_g_per_ml").value,
        water_kg_per_m3=1000.0 * shelf.value("plaster", "water_density_g_per_ml").value,
    )
    wet_kg = litres / 1000.0 * density
    dry_kg = plaster.dry_from_wet_kg(wet_kg, w)
    return buoyancy.net_lift_N(dry_kg, litres / 1000.0, liquid_kg_per_m3=density) / 9.80665


BENCH_EVALUATORS: dict[str, Callable[..., float]] = {
    "recommended_lb": recommended_lb,
    "recommended_kg": recommended_kg,
    "lifting_index": lambda load_lb, **lift: lifting.lifting_index_ratio(
        load_lb * KG_PER_LB, recommended_lb(**lift) * KG_PER_LB
    ),
    "composite_index": lambda: lifting.composite_index_ratio(
        [(1.6 * 0.94, 0.94, 0.0), (1.0, 0.88, 0.94), (0.67, 0.70, 0.88)]
    ),
    "frequency_share": frequency_share,
    "strip_bow_mm": lambda modulus_GPa, thickness_mm, span_mm: (
        1000.0
        * forms.strip_deflection_m(
            BASE_PA, span_mm / 1000.0, thickness_m=thickness_mm / 1000.0, modulus_Pa=1e9 * modulus_GPa
        )
    ),
    "thickness_for_1mm": lambda modulus_GPa, span_mm: (
        1000.0 * forms.strip_thickness_m(BASE_PA, span_mm / 1000.0, bow_m=0.001, modulus_Pa=1e9 * modulus_GPa)
    ),
    "strap_pull_newtons": lambda force_N, head_mm, low_mm, high_mm, upper: forms.strap_pull_N(
        force_N, head_mm / 1000.0, low_mm / 1000.0, high_mm / 1000.0
    )[upper],
    "oval_gain": lambda ratio: 100.0 * forms.oval_gain_fraction(ratio),
    "plate_share": plate_share,
    "peak_from_water": peak_from_water,
    "dry_piece_lift": dry_piece_lift,
}
