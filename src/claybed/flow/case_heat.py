"""How hot the pour of a case gets, and what would keep it below where the plastic gives."""

from __future__ import annotations

import math
from dataclasses import dataclass

from claybed.flow.cases import MadeCase, Plastic, plastic_named, plastics
from claybed.materials import shelf
from claybed.physics.heat import adiabatic_rise_K, peak_temperature_C, slurry_temperature_C


@dataclass(frozen=True, slots=True)
class Heat:
    """Hottest the pour gets in its middle, °C, with spread.

    `start_celsius` of the slurry, `rise_k` if no heat got away, `kept_fraction` of it kept,
    `thickest_mm` of plaster.
    """

    start_celsius: float
    rise_k: float
    kept_fraction: float
    thickest_mm: float
    peak_celsius: float
    low_celsius: float
    high_celsius: float


@dataclass(frozen=True, slots=True)
class WaysOut:
    """What each alone would keep a pour below where its plastic begins to give.

    `plastics` that begin above the hottest the pour may get, the easiest to print first; the warmest mixing
    water `water_celsius`, None when no tap runs as cold; `thin_celsius` what the middle reaches in plaster
    thinner than `thin_mm`, None when that is too hot as well or the plaster is thin already.
    """

    plastics: tuple[str, ...]
    water_celsius: float | None
    thin_mm: float
    thin_celsius: float | None


def heat_of(made: MadeCase, consistency: float, water_celsius: float) -> Heat:
    """Heat of a pour: all of it is kept in the middle of plaster as thick as practice calls thick."""
    heat = shelf.value("plaster", "hydration_heat_kJ_per_kg")
    start = _slurry_celsius(water_celsius, consistency)
    rise = adiabatic_rise_K(
        consistency,
        heat_J_per_kg=1e3 * heat.value,
        gypsum_J_per_kg_K=_joules("gypsum_heat_capacity_kJ_per_kg_K"),
        water_J_per_kg_K=_joules("water_heat_capacity_kJ_per_kg_K"),
    )
    thickest = made.poured.top_mm
    thick = thickest >= shelf.value("practice", "thick_plaster_mm").value
    kept = 1.0 if thick else shelf.value("plaster", "kept_heat_fraction").value
    return Heat(
        start_celsius=start,
        rise_k=rise,
        kept_fraction=kept,
        thickest_mm=thickest,
        peak_celsius=peak_temperature_C(start, rise, kept_fraction=kept),
        low_celsius=start + kept * rise * heat.low / heat.value,
        high_celsius=start + kept * rise * heat.high / heat.value,
    )


def ways_out(heat: Heat, plastic: Plastic, consistency: float) -> WaysOut:
    """What would keep a pour of `heat` below where `plastic` begins to give."""
    others = [plastic_named(name) for name in plastics() if name != plastic.name]
    cooler = [other for other in others if other.softens_celsius.low > heat.high_celsius]
    room = plastic.softens_celsius.low - (heat.peak_celsius - heat.start_celsius)
    # The slurry warms evenly with its water.
    cold, warm = _slurry_celsius(0.0, consistency), _slurry_celsius(1.0, consistency)
    water = math.ceil((room - cold) / (warm - cold)) - 1.0
    kept = shelf.value("plaster", "kept_heat_fraction").value
    thin = peak_temperature_C(heat.start_celsius, heat.rise_k, kept_fraction=kept)
    passes = kept < heat.kept_fraction and thin < plastic.softens_celsius.low
    return WaysOut(
        plastics=tuple(other.name for other in sorted(cooler, key=lambda one: one.softens_celsius.low)),
        # Colder water is not drawn from a tap.
        water_celsius=water if water >= shelf.value("bench", "cold_water_C").low else None,
        thin_mm=shelf.value("practice", "thick_plaster_mm").value,
        thin_celsius=thin if passes else None,
    )


def _slurry_celsius(water_celsius: float, consistency: float) -> float:
    return slurry_temperature_C(
        water_celsius,
        shelf.value("practice", "mix_water_C").value,
        consistency,
        water_J_per_kg_K=_joules("water_heat_capacity_kJ_per_kg_K"),
        plaster_J_per_kg_K=_joules("plaster_heat_capacity_kJ_per_kg_K"),
    )


def _joules(name: str) -> float:
    return 1e3 * shelf.value("plaster", name).value
