"""One evaluator per quantity of the check values: inputs as printed in, a figure in the row's unit out."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

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
from claybed.pours.mixing import mix_for_space
from claybed.units import (
    ML_PER_IN3,
    ML_PER_US_GAL,
    mass_g,
    ratio_consistency,
    volume_ml,
)

GRAINS = 1000 * shelf.value("plaster", "hemihydrate_density_g_per_ml").value
WATER = 1000 * shelf.value("plaster", "water_density_g_per_ml").value
GYPSUM = 1000 * shelf.value("plaster", "gypsum_density_g_per_ml").value
PER_SQRT_MIN = 1000 * 60**0.5  # m/s^0.5 to mm/min^0.5
KG_PER_LB = mass_g("1 lb") / 1000
KG_PER_M3_PER_LB_PER_FT3 = KG_PER_LB / 0.3048**3


def slurry_density(w: float) -> float:
    """Slurry in kg/m³."""
    return slurry.slurry_density_kg_per_m3(w, plaster_kg_per_m3=GRAINS, water_kg_per_m3=WATER)


def dry_density(w: float) -> float:
    """Dried piece in kg/m³."""
    return slurry.dry_density_kg_per_m3(w, plaster_kg_per_m3=GRAINS, water_kg_per_m3=WATER)


def volume_per_kg(w: float) -> float:
    """Slurry per kilogram of plaster in m³."""
    return slurry.slurry_volume_m3_per_kg(w, plaster_kg_per_m3=GRAINS, water_kg_per_m3=WATER)


def poured(space_ml: float, ratio: str) -> tuple[float, float, float]:
    """Water g, plaster g and consistency for a space with no allowance."""
    consistency = ratio_consistency(ratio)
    mix = mix_for_space(space_ml, consistency=consistency, waste=0.0, bucket_l=8.0)
    return mix.water_g, mix.plaster_g, consistency


def dry_mass(space_ml: float, ratio: str) -> float:
    """Dry casting of a space in g."""
    water_g, plaster_g, consistency = poured(space_ml, ratio)
    return 1000 * plaster.dry_from_wet_kg((water_g + plaster_g) / 1000, consistency)


def uptake(w: float) -> float:
    """Practical uptake in per cent of dry mass."""
    full = porosity.pore_full_water_fraction(dry_density(w), gypsum_kg_per_m3=GYPSUM, water_kg_per_m3=WATER)
    filled = shelf.value("plaster", "uptake_fraction").value
    return 100 * porosity.practical_uptake_fraction(full, filled)


def rise(w: float) -> float:
    """Adiabatic rise in K with the shelf's heat and heat capacities."""
    return heat.adiabatic_rise_K(
        w,
        heat_J_per_kg=1000 * shelf.value("plaster", "hydration_heat_kJ_per_kg").value,
        gypsum_J_per_kg_K=1000 * shelf.value("plaster", "gypsum_heat_capacity_kJ_per_kg_K").value,
        water_J_per_kg_K=1000 * shelf.value("plaster", "water_heat_capacity_kJ_per_kg_K").value,
    )


def vessel_peak(w: float, start_C: float) -> float:
    """Peak in °C of a five litre vessel."""
    kept = shelf.value("plaster", "kept_heat_fraction").value
    return heat.peak_temperature_C(start_C, rise(w), kept_fraction=kept)


def wet_strength_share() -> float:
    """Strength share of a soaking wet piece, by the model and the shelf's wet share."""
    wet = shelf.value("plaster", "wet_strength_fraction").value
    moisture = plaster.free_water_of_dry_fraction(70.0)
    return strength.strength_share_fraction(moisture, wet_fraction=wet, rise_fraction=0.03)


def sorptivity(uptake_g_per_cm2: float, minutes: float) -> float:
    """Sorptivity in m/s^0.5 from an uptake."""
    return absorption.sorptivity_m_per_sqrt_s(10 * uptake_g_per_cm2, 60 * minutes, water_kg_per_m3=WATER)


def sorptivity_of_coefficient(coefficient: float) -> float:
    """Sorptivity in mm/min^0.5 from a coefficient in kg/(m² s^0.5), checked by turning it back."""
    per_unit = absorption.absorption_coefficient_kg_per_m2_sqrt_s(1.0, water_kg_per_m3=WATER)
    return coefficient / per_unit * PER_SQRT_MIN


def trend(of: str, low: float, high: float) -> float:
    """1 when a quantity rises with the water at every step, -1 when it falls, 0 when it does neither."""
    values = [EVALUATORS[of](w=low + (high - low) * step / 40) for step in range(41)]
    signs = {(b > a) - (b < a) for a, b in pairwise(values)}
    return float(signs.pop()) if len(signs) == 1 else 0.0


def lift_at_1585(kg: float, litres: float) -> float:
    """Lift in N in slurry of 1585 kg/m³."""
    return buoyancy.net_lift_N(kg, litres / 1000, liquid_kg_per_m3=1585.0)


EVALUATORS: dict[str, Callable[..., float]] = {
    "hydration_water": plaster.hydration_water_per_100,
    "combined_water": lambda: 100 * plaster.gypsum_combined_water_fraction(),
    "set_and_free_mass": lambda w: plaster.set_mass_per_100() + plaster.free_water_per_100(w),
    "ratio_consistency": lambda ratio: ratio_consistency(ratio),
    "slurry_density": slurry_density,
    "slurry_density_us": lambda w: slurry_density(w) / KG_PER_M3_PER_LB_PER_FT3,
    "dry_density": dry_density,
    "dry_density_us": lambda w: dry_density(w) / KG_PER_M3_PER_LB_PER_FT3,
    "wet_over_dry_density": lambda w: slurry_density(w) / dry_density(w),
    "plaster_for_space": lambda space_ml, ratio: poured(space_ml, ratio)[1],
    "water_for_space": lambda space_ml, ratio: poured(space_ml, ratio)[0],
    "dry_mass_of_space": dry_mass,
    "free_water_of_space": lambda space_ml, ratio: (
        sum(poured(space_ml, ratio)[:2]) - dry_mass(space_ml, ratio)
    ),
    "litres_per_bag": lambda bag_lb, w: 1000 * bag_lb * KG_PER_LB * volume_per_kg(w),
    "water_per_bag_kg": lambda bag_lb, w: bag_lb * KG_PER_LB * w / 100,
    "water_per_bag_gal": lambda bag_lb, w: bag_lb * KG_PER_LB * w / 100 / (WATER * ML_PER_US_GAL * 1e-6),
    "batch_in3": lambda water, plaster: (volume_ml(water) + mass_g(plaster) / (GRAINS / 1000)) / ML_PER_IN3,
    "free_water_of_wet": lambda w: 100 * plaster.free_water_of_wet_fraction(w),
    "free_water_of_dry": lambda w: 100 * plaster.free_water_of_dry_fraction(w),
    "porosity_at_density": lambda dry_kg_per_m3: (
        100 * porosity.porosity_fraction(dry_kg_per_m3, gypsum_kg_per_m3=GYPSUM)
    ),
    "porosity": lambda w: porosity.porosity_fraction(dry_density(w), gypsum_kg_per_m3=GYPSUM),
    "practical_uptake": uptake,
    "gypsum_crystal_density": lambda molar_cm3: (
        porosity.crystal_density_kg_per_m3(plaster.GYPSUM_KG_PER_MOL, molar_cm3 * 1e-6) / 1000
    ),
    "hydration_heat": lambda hemihydrate_kJ_per_mol: (
        heat.hydration_heat_J_per_kg(
            hemihydrate_J_per_mol=1000 * hemihydrate_kJ_per_mol,
            gypsum_J_per_mol=-2022.69e3,
            water_J_per_mol=-285.83e3,
        )
        / 1000
    ),
    "adiabatic_rise": rise,
    "adiabatic_peak": lambda w, start_C: heat.peak_temperature_C(start_C, rise(w)),
    "vessel_peak": vessel_peak,
    "expansion_of_castings": lambda linear_percent, castings: (
        100 * expansion.compounded_expansion_fraction(linear_percent / 100, castings=castings)
    ),
    "wet_strength_share": wet_strength_share,
    "water_at_strength_rise": lambda w: (
        100
        * strength.water_at_rise_fraction(
            w, left_fraction=shelf.value("plaster", "strength_rise_free_water_fraction").value
        )
    ),
    "sorptivity_of_uptake": lambda uptake_g_per_cm2, minutes: (
        PER_SQRT_MIN * sorptivity(uptake_g_per_cm2, minutes)
    ),
    "absorption_coefficient_of_uptake": lambda uptake_g_per_cm2, minutes: (
        absorption.absorption_coefficient_kg_per_m2_sqrt_s(
            sorptivity(uptake_g_per_cm2, minutes), water_kg_per_m3=WATER
        )
    ),
    "sorptivity_of_coefficient": sorptivity_of_coefficient,
    "front_time": lambda sorptivity, uptake_fraction, depth_mm: (
        absorption.front_time_s(
            depth_mm / 1000,
            sorptivity_m_per_sqrt_s=sorptivity / PER_SQRT_MIN,
            uptake_fraction=uptake_fraction,
        )
        / 60
    ),
    "capillary_suction": lambda radius_um: (
        absorption.capillary_pressure_Pa(
            radius_um * 1e-6, tension_N_per_m=shelf.value("plaster", "water_surface_tension_N_per_m").value
        )
        / 1000
    ),
    "drying_accepted": lambda air_C: float(
        heat.drying_margin_K(air_C, limit_C=shelf.value("plaster", "drying_limit_C").value) >= 0
    ),
    "dry_strength": lambda w: strength.dry_strength_Pa(w) / 1e6,
    "trend_with_water": trend,
    "lift_at_1585": lift_at_1585,
    "share_under_at_1585": lambda kg, litres: buoyancy.submerged_fraction(
        kg, litres / 1000, liquid_kg_per_m3=1585.0
    ),
    "base_pressure_at_1600": lambda head_mm: (
        pressure.head_pressure_Pa(head_mm / 1000, liquid_kg_per_m3=1600.0) / 1000
    ),
    "board_force_at_1600": lambda head_mm, width_mm: pressure.board_force_N(
        width_mm / 1000, head_mm / 1000, liquid_kg_per_m3=1600.0
    ),
    "band_force_at_1600": lambda head_mm, radius_mm: pressure.band_force_N(
        radius_mm / 1000, head_mm / 1000, liquid_kg_per_m3=1600.0
    ),
}
