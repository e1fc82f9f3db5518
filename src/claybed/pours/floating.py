"""Does the object float: in water, and in the heavier slurry?"""

from __future__ import annotations

import math

from claybed.errors import InputError
from claybed.materials import shelf
from claybed.physics.buoyancy import STANDARD_GRAVITY, net_lift_N, relative_density_ratio
from claybed.pours.mixing import densities_kg_per_m3, slurry_g_per_ml
from claybed.records.pour import FloatReading
from claybed.units import say_mass


def judge_float(volume_ml: float, mass_g: float, consistency: float) -> FloatReading:
    """Judge an object of a volume (ml, outside, sealed) and mass (g) in water and in slurry of a consistency.

    The lift is that of the object held right under with liquid on all sides: what to hold it down against,
    even if it stands sealed in the bed, since slurry may creep under. Valid for a consistency of 20 to 200.
    Raises InputError for a volume or mass that is not positive, or a density no material has (over 25 times
    water). Source: physics.buoyancy.
    """
    for amount, name, unit in ((volume_ml, "volume", "ml"), (mass_g, "mass", "g")):
        if not (math.isfinite(amount) and amount > 0.0):
            raise InputError(
                f"the object's {name} cannot be {amount:g} {unit}.", where=name, remedy="Measure it again."
            )
    _, water_kg_per_m3 = densities_kg_per_m3()
    slurry_kg_per_m3 = 1000.0 * slurry_g_per_ml(consistency)
    body_kg, body_m3 = mass_g / 1000.0, volume_ml * 1e-6
    relative = relative_density_ratio(body_kg, body_m3, water_kg_per_m3=water_kg_per_m3)
    if relative > 25.0:
        raise InputError(
            f"{mass_g:g} g in {volume_ml:g} ml is heavier than any metal.",
            where="mass",
            remedy="Check the units of the mass and of the object.",
        )
    in_water_N = net_lift_N(body_kg, body_m3, liquid_kg_per_m3=water_kg_per_m3)
    in_slurry_N = net_lift_N(body_kg, body_m3, liquid_kg_per_m3=slurry_kg_per_m3)
    in_slurry_g = 1000.0 * in_slurry_N / STANDARD_GRAVITY
    return FloatReading(
        relative_density=relative,
        slurry_relative_density=slurry_kg_per_m3 / water_kg_per_m3,
        floats_in_water=in_water_N > 0.0,
        floats_in_slurry=in_slurry_N > 0.0,
        lift_in_water_g=1000.0 * in_water_N / STANDARD_GRAVITY,
        lift_in_water_newtons=in_water_N,
        lift_in_slurry_g=in_slurry_g,
        lift_in_slurry_newtons=in_slurry_N,
        ballast_g=max(in_slurry_g, 0.0),
        on_top_g=max(in_slurry_g * shelf.value("practice", "hold_down_margin_ratio").value, 0.0),
        says=_sentence(in_water_N > 0.0, in_slurry_g),
    )


def _sentence(floats_in_water: bool, in_slurry_g: float) -> str:
    if in_slurry_g <= 0.0:
        return "It sinks in water and in this slurry, and needs no hold-down."
    opening = (
        "It floats in water and in slurry" if floats_in_water else "It sinks in water but floats in slurry"
    )
    return f"{opening}: up to {say_mass(in_slurry_g)} of lift to hold down once slurry gets under it."
