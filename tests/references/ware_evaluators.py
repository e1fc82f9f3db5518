"""One evaluator per quantity of the check values of ware: inputs as printed in, a figure in the row's unit
out.
"""

from __future__ import annotations

from collections.abc import Callable

from claybed.physics import (
    air,
    boiling,
    cake,
    casting,
    clay,
    closing,
    drying,
    expansion,
    filtration,
    plaster,
    pressing,
    shrinkage,
    slip,
    slurry,
)
from claybed.units import G_PER_OZ, mass_g, volume_ml

SOLIDS = 2.60
MM2_PER_MIN = 6e7  # m²/s to mm²/min
LB_PER_FT2_PER_KG_PER_M2 = 0.204816
KG_PER_LB = mass_g("1 lb") / 1000
ML_PER_IMPERIAL_PINT = 568.26125
PAN = {"air_C": 65.6, "wet_C": 28.9, "stream": 22543.0 / 3600.0, "side_m": 0.457}


def share(density: float, solids: float = SOLIDS) -> float:
    """Solids of a slip by mass."""
    return slip.solids_mass_fraction(density, solids)


def sent(density: float, clay_water: float) -> float:
    """Water sent per volume of cast clay."""
    return cake.water_sent_ratio(
        slip.solids_volume_fraction(density, SOLIDS), clay.clay_solids_volume_fraction(clay_water)
    )


def rate(mm2_per_min: float) -> float:
    """Casting rate in m²/s."""
    return mm2_per_min / MM2_PER_MIN


def darcy(plaster_m2: float) -> float:
    """Casting rate in m²/s of the worked case."""
    return cake.darcy_rate_m2_per_s(
        1e5,
        0.23077,
        viscosity_Pa_s=1.002e-3,
        clay_m2=1e-16,
        plaster_m2=plaster_m2,
        fillable_fraction=0.396,
    )


def per_m2(wall_mm: float) -> tuple[float, float, float]:
    """Dry clay, water while filling and water to leather-hard, kg/m², for slip of 1.75 and clay of 22 %."""
    wet = pressing.slab_kg_per_m2(wall_mm / 1000, clay_kg_per_m3=clay.clay_density_kg_per_m3(0.22))
    dry = wet * 0.78
    lost = cake.water_lost_kg_per_kg(1.0 - share(1.75), 0.18)
    return dry, sent(1.75, 0.22) * wall_mm, dry * lost


def casts(thick_mm: float) -> float:
    """Casts of 4 mm from dry to 15 % with plaster of 1100 kg/m³."""
    return cake.casts_to_limit_ratio(
        1100.0 * thick_mm / 1000,
        start_fraction=0.0,
        limit_fraction=0.15,
        water_kg_per_m2=per_m2(4.0)[2],
    )


def cast_ml() -> tuple[float, float]:
    """Clay and top-up, ml, of 300 cm² at 4 mm."""
    clay_ml = 300.0 * 0.4
    return clay_ml, clay_ml * sent(1.75, 0.22)


def batch_l(clay_kg: float, water_kg: float) -> float:
    """Volume of a batch in litres."""
    return 1000 * slip.batch_volume_m3(clay_kg, water_kg, SOLIDS)


def model(percent: float, growth_percent: float = 0.0, castings: int = 1) -> float:
    """Oversize with the growth of the plaster."""
    growth = expansion.compounded_expansion_fraction(growth_percent / 100, castings=castings)
    return shrinkage.oversize_ratio(percent / 100, growth_fraction=growth)


def mold_rate_gain(low: float, high: float) -> float:
    """Gain of the casting rate in per cent when the plaster has more pores, by Darcy with a minor mold."""
    rates = []
    for water in (low, high):
        dry = slurry.dry_density_kg_per_m3(water, plaster_kg_per_m3=2700.0, water_kg_per_m3=998.0)
        pores = 1.0 - dry / 2320.0
        rates.append(
            cake.darcy_rate_m2_per_s(
                1e5,
                0.23077,
                viscosity_Pa_s=1.002e-3,
                clay_m2=1.93e-17,
                plaster_m2=1e-15,
                fillable_fraction=pores,
            )
        )
    return 100 * (rates[1] / rates[0] - 1)


def pan_rate() -> float:
    """Evaporation of the worked pan, kg/(m² s)."""
    transfer = drying.parallel_transfer_W_per_m2_K(PAN["stream"])
    return drying.heat_limited_kg_per_m2_s(transfer, PAN["air_C"], PAN["wet_C"])


def pan_us_lb_per_h() -> float:
    """The same pan from the figures in feet and pounds: 20 ft/s, 0.0647 lb/ft³, 2.25 ft²."""
    stream = 20.0 * 0.0647 * KG_PER_LB / 0.3048**2
    transfer = drying.parallel_transfer_W_per_m2_K(stream)
    per_m2 = drying.heat_limited_kg_per_m2_s(transfer, (150.0 - 32) / 1.8, (84.0 - 32) / 1.8)
    return per_m2 * 3600 * 2.25 * 0.3048**2 / KG_PER_LB


def pool(speed: float) -> float:
    """Pool evaporation per kPa of difference and kJ/kg of latent heat."""
    steam = drying.latent_heat_J_per_kg(25.0) / 1000
    driven = air.saturation_pressure_Pa(25.0) / 1000
    return drying.pool_kg_per_m2_s(25.0, 0.0, speed) * steam / driven


def mold_over_pool() -> float:
    """A wet mold at 25 °C, 50 %, 1 m/s against an open pan of water at the air's temperature."""
    face = drying.wet_face_kg_per_m2_s(25.0, 0.5, speed_m_per_s=1.0, length_m=0.2)
    return face / drying.pool_kg_per_m2_s(25.0, 0.5 * air.saturation_pressure_Pa(25.0), 1.0)


def printed_pool(area_m2: float, speed: float, at_water: float, in_air: float) -> float:
    """Evaporation, kg/s, of a pool told by kg of vapour per kg of dry air at the water and in the air."""
    low_C, high_C = 0.0, 60.0
    for _ in range(60):
        water_C = (low_C + high_C) / 2.0
        low_C, high_C = (
            (water_C, high_C) if air.humidity_kg_per_kg(water_C, 1.0) < at_water else (low_C, water_C)
        )
    vapour_Pa = 101325.0 * in_air / (0.621945 + in_air)
    return area_m2 * drying.pool_kg_per_m2_s(water_C, vapour_Pa, speed)


def dry_air_kg_per_m3(air_C: float, humidity: float) -> float:
    """Dry air in a cubic metre of moist air."""
    return air.moist_air_kg_per_m3(air_C, humidity) / (1.0 + air.humidity_kg_per_kg(air_C, humidity))


def quiet_pool(water_C: float, air_C: float, humidity: float) -> float:
    """Evaporation of a quiet pool, kg/(m2 h): 35 r (dr)^(1/3) (difference of ratios)."""
    over, around = dry_air_kg_per_m3(water_C, 1.0), dry_air_kg_per_m3(air_C, humidity)
    driven = air.humidity_kg_per_kg(water_C, 1.0) - air.humidity_kg_per_kg(air_C, humidity)
    return 35.0 * over * (around - over) ** (1.0 / 3.0) * driven


def slab_water(consistency: float) -> float:
    """Free water, kg, in 25 mm of a square metre of plaster."""
    dry = slurry.dry_density_kg_per_m3(consistency, plaster_kg_per_m3=2700.0, water_kg_per_m3=998.0)
    return 0.025 * dry * plaster.free_water_of_dry_fraction(consistency)


def slab_s(rate_kg_per_m2_s: float, consistency: float, critical: float) -> float:
    """Drying time, s, of a 50 mm slab open on both faces, to 1 % of the dry mass."""
    left = 0.01 / plaster.free_water_of_dry_fraction(consistency)
    return drying.drying_time_s(
        slab_water(consistency), 1.0, rate_kg_per_m2_s, left_fraction=left, critical_fraction=critical
    )


def dryer_hours(consistency: float) -> float:
    """The slab in a dryer at 49 °C, 20 %, 4.57 m/s by the formula for strong streams, hours at bare rate."""
    stream = 4.57 * air.moist_air_kg_per_m3(49.0, 0.2)
    transfer = drying.parallel_transfer_W_per_m2_K(stream)
    fast = drying.heat_limited_kg_per_m2_s(transfer, 49.0, air.wet_bulb_C(49.0, 0.2))
    return slab_water(consistency) / fast / 3600


def dryer_heat(consistency: float) -> float:
    """Heat for each pound of water in a ton of casts: 125 000 Btu/h for 16 hours.

    The sheet's ton of casts at 70 per 100 holds 2000 x (0.70 - 0.186) lb of water per ton of plaster.
    """
    return 125000.0 * 16 / (2000.0 * plaster.free_water_per_100(consistency) / 100)


WARE_EVALUATORS: dict[str, Callable[..., float]] = {
    "slip_water": lambda density, solids: 100 * (1 - share(density, solids)),
    "slip_solids": lambda density, solids: 100 * share(density, solids),
    "dry_per_litre": lambda g_per_l, solids: slip.dry_content_kg_per_m3(g_per_l, solids),
    "water_per_litre": lambda g_per_l, solids: g_per_l - slip.dry_content_kg_per_m3(g_per_l, solids),
    "dry_per_pint": lambda oz, solids: slip.dry_content_kg_per_m3(oz, solids, water_kg_per_m3=20.0),
    "dry_of_sample": lambda slip_g, slip_ml, solids: (
        slip.dry_content_kg_per_m3(1000 * slip_g / slip_ml, solids) * slip_ml / 1000
    ),
    "slurry_general": lambda share, solids, liquid: slip.slurry_density_ratio(
        share, solids, liquid_ratio=liquid
    ),
    "batch_density": lambda clay_kg, water_kg: (clay_kg + water_kg) / batch_l(clay_kg, water_kg),
    "batch_volume": batch_l,
    "mass_over_volume": lambda slip_kg, slip_l: slip_kg / slip_l,
    "thinning_water": lambda litres, before, after: (
        1e6 * slip.thinning_water_m3(litres / 1000, before, after)
    ),
    "thickening_clay": lambda litres, before, after: slip.thickening_solids_kg(
        litres / 1000, before, after, SOLIDS
    ),
    "water_sent": sent,
    "casting_rate": lambda wall_mm, minutes: (
        MM2_PER_MIN * casting.casting_rate_m2_per_s(wall_mm / 1000, 60 * minutes)
    ),
    "wall_after": lambda minutes, rate: 1000 * casting.cast_wall_m(60 * minutes, rate / MM2_PER_MIN),
    "darcy_rate": lambda plaster_m2: MM2_PER_MIN * darcy(plaster_m2),
    "darcy_wall": lambda plaster_m2, seconds: 1000 * casting.cast_wall_m(seconds, darcy(plaster_m2)),
    "time_at_temperature": lambda celsius: (
        casting.water_viscosity_Pa_s(celsius) / casting.water_viscosity_Pa_s(20.0)
    ),
    "wall_inside": lambda radius_mm, kt_mm2: (
        1000 * closing.inside_wall_m(1.0, radius_mm / 1000, kt_mm2 * 1e-6)
    ),
    "wall_outside": lambda radius_mm, kt_mm2: (
        1000 * closing.outside_wall_m(1.0, radius_mm / 1000, kt_mm2 * 1e-6)
    ),
    "slot_closes": lambda gap_mm, rate: closing.slot_closing_time_s(gap_mm / 1000, rate / MM2_PER_MIN) / 60,
    "bore_closes": lambda bore_mm, rate: closing.bore_closing_time_s(bore_mm / 1000, rate / MM2_PER_MIN) / 60,
    "filter_slope": lambda: 1e-12 * filtration.filtration_slope_s_per_m6(300.0, 250e-6, 600.0, 400e-6),
    "filter_intercept": lambda: 1e-6 * filtration.filtration_intercept_s_per_m3(300.0, 250e-6, 2e9),
    "filter_cake": lambda: filtration.cake_resistance_per_m2(2e9, 0.05, 7e4, 1e-3),
    "filter_face": lambda: filtration.face_resistance_per_m(7e5, 0.05, 7e4, 1e-3),
    "dry_clay_per_m2": lambda wall_mm: per_m2(wall_mm)[0],
    "water_filling_per_m2": lambda wall_mm: per_m2(wall_mm)[1],
    "water_leather_per_m2": lambda wall_mm: per_m2(wall_mm)[2],
    "plaster_capacity": lambda dry, absorption: (
        cake.plaster_capacity_kg_per_m3(1000 * dry, absorption) / 1000
    ),
    "casts_to_limit": casts,
    "damp_slope": lambda first_min, third_min: (third_min / first_min - 1.0) / 2.0,
    "cast_clay": lambda: cast_ml()[0],
    "cast_top_up": lambda: cast_ml()[1],
    "cast_slip": lambda: sum(cast_ml()),
    "cast_dry": lambda: 300e-4 * 1000 * per_m2(4.0)[0],
    "stagger": lambda minutes, later_min: casting.stagger_ratio(60 * minutes, 60 * later_min),
    "shrinkage_of_two": lambda first, second: (
        100 * shrinkage.compounded_shrinkage_fraction(first / 100, second / 100)
    ),
    "shrinkage_of_bar": lambda before_mm, after_mm: (
        100 * shrinkage.linear_shrinkage_fraction(before_mm / 1000, after_mm / 1000)
    ),
    "model_for": lambda fired_mm, percent: fired_mm * model(percent),
    "growth_is_no_shrinkage": lambda before_mm, after_mm: (
        100
        * (
            (before_mm - after_mm) / after_mm
            - shrinkage.linear_shrinkage_fraction(before_mm / 1000, after_mm / 1000)
        )
    ),
    "volume_shrinkage": lambda percent: 100 * shrinkage.volume_shrinkage_fraction(percent / 100),
    "capacity_left": lambda percent: shrinkage.fired_volume_m3(1.0, percent / 100),
    "wet_capacity": lambda fired_ml, percent: 1e6 * shrinkage.wet_volume_m3(fired_ml * 1e-6, percent / 100),
    "model_with_growth": model,
    "growth_of_castings": lambda length_mm, growth_percent, castings: (
        length_mm * expansion.compounded_expansion_fraction(growth_percent / 100, castings=castings)
    ),
    "minutes_for_fired_wall": lambda fired_mm, percent: (
        casting.casting_time_s(fired_mm * model(percent) / 1000, rate(1.0)) / 60
    ),
    "boil_absorption": lambda: 100 * boiling.water_absorption_fraction(0.100, 0.104),
    "boil_porosity": lambda: 100 * boiling.apparent_porosity_fraction(0.100, 0.060, 0.104),
    "boil_density": lambda: boiling.apparent_density_ratio(0.100, 0.060),
    "boil_bulk": lambda: boiling.bulk_density_ratio(0.100, 0.060, 0.104),
    "boil_identity": lambda: (
        boiling.water_absorption_fraction(0.100, 0.104) * boiling.bulk_density_ratio(0.100, 0.060, 0.104)
    ),
    "dry_basis": lambda water: 100 * clay.dry_basis_fraction(water),
    "clay_density": lambda water: clay.clay_density_kg_per_m3(water) / 1000,
    "slab_mass": lambda slab_mm: pressing.slab_kg_per_m2(slab_mm / 1000, clay_kg_per_m3=1923.08),
    "slab_mass_us": lambda slab_mm: (
        pressing.slab_kg_per_m2(slab_mm / 1000, clay_kg_per_m3=1923.08) * LB_PER_FT2_PER_KG_PER_M2
    ),
    "dry_bulk": lambda water, percent: (
        clay.dry_bulk_density_kg_per_m3(clay.clay_density_kg_per_m3(water), water, percent / 100) / 1000
    ),
    "rate_gain_with_water": mold_rate_gain,
    "deflocculant": lambda dose_g, clay_kg: 100 * dose_g / 1000 / clay_kg,
    "pint_of_water": lambda kind: (
        (ML_PER_IMPERIAL_PINT if kind == "imperial" else volume_ml("0.5 qt")) / G_PER_OZ
    ),
    "press_wait": lambda slab_mm: pressing.press_wait_s(slab_mm / 1000, usual_s=2700.0, usual_m=0.006) / 60,
    "dryer_pan_rate": lambda: 3600 * pan_rate(),
    "dryer_pan_total": lambda: 3600 * pan_rate() * PAN["side_m"] ** 2,
    "dryer_pan_us": pan_us_lb_per_h,
    "wet_bulb_of_ratio": lambda air_C, ratio: air.wet_bulb_of_ratio_C(air_C, ratio),
    "wet_bulb": lambda air_C, humidity: air.wet_bulb_C(air_C, humidity),
    "saturation": lambda water_C: air.saturation_pressure_Pa(water_C),
    "saturated_ratio": lambda air_C: air.humidity_kg_per_kg(air_C, 1.0),
    "pool_still": lambda: pool(0.0),
    "pool_moving": lambda: pool(1.0) - pool(0.0),
    "printed_pool": printed_pool,
    "quiet_pool": quiet_pool,
    "quiet_pool_lift": lambda water_C, air_C, humidity: (
        dry_air_kg_per_m3(air_C, humidity) - dry_air_kg_per_m3(water_C, 1.0)
    ),
    "mold_over_pool": mold_over_pool,
    "wet_face": lambda air_C, humidity, speed: (
        3600 * drying.wet_face_kg_per_m2_s(air_C, humidity, speed_m_per_s=speed, length_m=0.2)
    ),
    "slab_hours": lambda rate: slab_water(77.0) / rate,
    "slab_days": lambda speed, critical: (
        slab_s(drying.wet_face_kg_per_m2_s(25.0, 0.5, speed_m_per_s=speed, length_m=0.2), 77.0, critical)
        / 86400
    ),
    "dryer_hours": dryer_hours,
    "dryer_heat": dryer_heat,
}
