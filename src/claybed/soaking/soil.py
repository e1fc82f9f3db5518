"""What the simulation takes, from what a studio knows: its casting rate, its slip, its plaster."""

from __future__ import annotations

from claybed.physics.buoyancy import STANDARD_GRAVITY
from claybed.physics.wetting import front_conductivity_m2_per_s, resistance_ratio
from claybed.records.soaked import Soil


def soil_of(
    *,
    rate_mm2_per_min: float,
    water_per_cake_ratio: float,
    fillable_fraction: float,
    wet_share: float = 0.0,
    slowdown_fraction: float | None = None,
    sorptivity_mm_per_sqrt_min: float | None = None,
    suction_kPa: float,
    slip_g_per_ml: float,
    release_ratio: float = 0.0,
    spread_mm2_per_s: float = 0.0,
) -> Soil:
    """The coefficients of a slip on a plaster; cake and plaster together give the casting rate.

    `rate_mm2_per_min` wall² / time of a first cast in a dry, thick mold; `wet_share` (0 to below 1) of the
    `fillable_fraction` already full. Give either `slowdown_fraction` (second cast over first, less 1) or
    `sorptivity_mm_per_sqrt_min` of the dry plaster. `release_ratio` and `spread_mm2_per_s` as in Soil. Raises
    InputError where a formula does, ValueError when not exactly one of the two is given.
    """
    if (slowdown_fraction is None) == (sorptivity_mm_per_sqrt_min is None):
        raise ValueError("give slowdown_fraction or sorptivity_mm_per_sqrt_min")
    # Wall² / time = 2 / (n / C_cake + n² / (f C_plaster)), C being permeability x suction / viscosity.
    whole_s_per_mm2 = 2.0 * 60.0 / (rate_mm2_per_min * water_per_cake_ratio)
    if slowdown_fraction is not None:
        ratio = resistance_ratio(slowdown_fraction)
        cake_s_per_mm2 = whole_s_per_mm2 / (1.0 + ratio)
        plaster_s_per_mm2 = (whole_s_per_mm2 - cake_s_per_mm2) * fillable_fraction / water_per_cake_ratio
    else:
        assert sorptivity_mm_per_sqrt_min is not None
        drinks_m_per_sqrt_s = sorptivity_mm_per_sqrt_min / 1000.0 / 60.0**0.5
        through = 1e6 * front_conductivity_m2_per_s(drinks_m_per_sqrt_s, fillable_fraction=fillable_fraction)
        plaster_s_per_mm2 = 1.0 / through
        share = plaster_s_per_mm2 * water_per_cake_ratio / fillable_fraction
        # A slip cannot cast faster than the plaster drinks.
        cake_s_per_mm2 = max(whole_s_per_mm2 - share, 1e-3 * whole_s_per_mm2)
    return Soil(
        cake_mm2_per_s=1.0 / cake_s_per_mm2,
        plaster_mm2_per_s=1.0 / plaster_s_per_mm2,
        water_per_cake_ratio=water_per_cake_ratio,
        fillable_fraction=fillable_fraction,
        wet_share=wet_share,
        head_per_mm=slip_g_per_ml * STANDARD_GRAVITY / (1000.0 * suction_kPa),
        release_ratio=release_ratio,
        spread_mm2_per_s=spread_mm2_per_s,
    )
