"""What a cast map is worked out with: every choice made, and where each number is from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from claybed.materials import shelf
from claybed.materials.shelf import Constant
from claybed.physics.cake import water_lost_kg_per_kg, water_sent_ratio
from claybed.physics.clay import clay_density_kg_per_m3, clay_solids_volume_fraction
from claybed.physics.plaster import free_water_of_dry_fraction
from claybed.physics.porosity import porosity_fraction
from claybed.physics.slip import solids_volume_fraction
from claybed.physics.slurry import dry_density_kg_per_m3
from claybed.pours.mixing import densities_kg_per_m3
from claybed.records.figure import Figure
from claybed.records.reckoned import Reckoned
from claybed.records.soaked import MapAsk, Soil
from claybed.soaking.soil import soil_of
from claybed.ware.drying import Room, wet_face_rate

# Key of the document -> unit and words; where it is from is found out with its value.
WORDS: Final = {
    "rate_mm2_per_min": ("mm2/min", "wall² / time of a first cast in dry plaster"),
    "minutes_min": ("min", "time that slip stands in the mold"),
    "casts": ("-", "casts one after another"),
    "slip_ratio": ("-", "slip over water by density"),
    "cast_water_fraction": ("-", "water of the wet cast, drained"),
    "leather_water_fraction": ("-", "water of the wet cast, leather-hard"),
    "slowdown_fraction": ("-", "second cast over first for the same wall, less 1"),
    "sorptivity_mm_per_sqrt_min": ("mm/min^0.5", "uptake of dry plaster"),
    "suction_kpa": ("kPa", "suction of dry plaster"),
    "moisture_fraction": ("-", "water in the plaster before the first cast, of its dry mass"),
    "release_min": ("min", "from draining until the cast comes out"),
    "rest_min": ("min", "from then until the next fill"),
    "consistency_per_100": ("per 100", "water per 100 of plaster"),
    "fillable_fraction": ("-", "share of the pores that fills x porosity"),
    "wet_share": ("-", "water before x dry density / (water density x fillable share)"),
    "water_per_cake_ratio": ("-", "solids share of the cast / of the slip - 1"),
    "release_ratio": ("-", "water the cast gives up to leather-hard, ml a ml of clay"),
}


@dataclass(frozen=True, slots=True)
class Figures:
    """What a map is worked out with, every choice made; names and units as in MapAsk and Soil.

    `face_rate` is what a wet face loses in the rest, g/(m² h); `critical_share` of the fillable pores below
    which that slows; `workings` how each number under WORDS is known.
    """

    rate_mm2_per_min: float
    minutes_min: float
    casts: int
    slip_ratio: float
    cast_water_fraction: float
    leather_water_fraction: float
    slowdown_fraction: float | None
    sorptivity_mm_per_sqrt_min: float | None
    suction_kpa: float
    moisture_fraction: float
    release_min: float
    rest_min: float
    consistency_per_100: float
    fillable_fraction: float
    wet_share: float
    water_per_cake_ratio: float
    release_ratio: float
    opened: bool
    room: Room
    face_rate: Reckoned
    critical_share: float
    workings: Mapping[str, Figure]


def figures_of(
    ask: MapAsk, *, consistency_per_100: float, ware_wall_mm: float, face_mm: float = 200.0
) -> Figures:
    """Settle what was left open, from the shelf and the plan, whose block is `face_mm` long.

    Raises InputError where a formula does, or for a room that plaster must not dry in.
    """
    known = dict(ask.workings)

    def settled(key: str, file: str, name: str) -> float:
        given = getattr(ask, key)
        if given is not None:
            known.setdefault(key, _figure(key, "asked"))
            return float(given)
        constant = shelf.value(file, name)
        known[key] = known_as(key, constant)
        return constant.value

    slip_ratio = settled("slip_ratio", "slip", "slip_density_ratio")
    solids = shelf.value("slip", "slip_solids_ratio").value if ask.solids_ratio is None else ask.solids_ratio
    cast_water = settled("cast_water_fraction", "slip", "cast_water_fraction")
    leather_water = settled("leather_water_fraction", "slip", "leather_water_fraction")
    usual = shelf.value("slip", "casting_rate_mm2_per_min")
    rate = usual.value if ask.rate is None else ask.rate.value
    known["rate_mm2_per_min"] = known_as("rate_mm2_per_min", usual) if ask.rate is None else ask.rate.figure
    suction = settled("suction_kpa", "plaster", "mold_suction_kPa")
    slowdown, sorptivity = ask.slowdown_fraction, ask.sorptivity_mm_per_sqrt_min
    if slowdown is not None or sorptivity is None:
        slowdown, sorptivity = settled("slowdown_fraction", "slip", "damp_slope_ratio"), None
    minutes, release = _times(ask, rate, ware_wall_mm, known)
    plaster_kg_per_m3, water_kg_per_m3 = densities_kg_per_m3()
    dry_kg_per_m3 = dry_density_kg_per_m3(
        consistency_per_100, plaster_kg_per_m3=plaster_kg_per_m3, water_kg_per_m3=water_kg_per_m3
    )
    gypsum = 1000.0 * shelf.value("plaster", "gypsum_density_g_per_ml").value
    uptake = shelf.value("plaster", "uptake_fraction")
    fillable = uptake.value * porosity_fraction(dry_kg_per_m3, gypsum_kg_per_m3=gypsum)
    dry_clay_g_per_ml = clay_density_kg_per_m3(cast_water, solids_kg_per_m3=1000.0 * solids) / 1000.0
    dry_clay_g_per_ml *= 1.0 - cast_water
    holds_fraction = water_kg_per_m3 * fillable / dry_kg_per_m3
    room = Room(ask.air, ask.air_celsius, ask.humidity_fraction, ask.air_m_per_s)
    slows_fraction = shelf.value("drying", "critical_fraction").value * free_water_of_dry_fraction(
        consistency_per_100
    )
    for key, source in (
        ("casts", "asked"), ("moisture_fraction", "asked"), ("rest_min", "asked"), ("wet_share", "derived"),
        ("consistency_per_100", "asked"), ("fillable_fraction", uptake.source),
        ("sorptivity_mm_per_sqrt_min", "asked"), ("water_per_cake_ratio", "mass-balance"),
        ("release_ratio", "mass-balance"),
    ):  # fmt: skip
        known.setdefault(key, _figure(key, source))
    return Figures(
        rate_mm2_per_min=rate,
        minutes_min=minutes,
        casts=ask.casts,
        slip_ratio=slip_ratio,
        cast_water_fraction=cast_water,
        leather_water_fraction=leather_water,
        slowdown_fraction=slowdown,
        sorptivity_mm_per_sqrt_min=sorptivity,
        suction_kpa=suction,
        moisture_fraction=ask.moisture_fraction,
        release_min=release,
        rest_min=ask.rest_min,
        consistency_per_100=consistency_per_100,
        fillable_fraction=fillable,
        wet_share=min(ask.moisture_fraction / holds_fraction, 1.0),
        water_per_cake_ratio=water_sent_ratio(
            solids_volume_fraction(slip_ratio, solids),
            clay_solids_volume_fraction(cast_water, solids_ratio=solids),
        ),
        release_ratio=water_lost_kg_per_kg(cast_water, leather_water) * dry_clay_g_per_ml,
        opened=ask.opened,
        room=room,
        face_rate=wet_face_rate(room, face_mm),
        critical_share=min(slows_fraction / holds_fraction, 1.0),
        workings=known,
    )


def _times(ask: MapAsk, rate: float, ware_wall_mm: float, known: dict[str, Figure]) -> tuple[float, float]:
    """Minutes in the mold and until release, with how they are known."""
    wall_mm = ware_wall_mm if ask.wall_mm is None else ask.wall_mm
    minutes = wall_mm**2 / rate if ask.minutes_min is None else ask.minutes_min
    if ask.minutes_min is None:
        inputs: dict[str, float | str] = {"wall_mm": wall_mm, "rate_mm2_per_min": rate}
        known.setdefault("minutes_min", Figure("min", "wall² / rate", "casting-law", inputs))
    known.setdefault("minutes_min", _figure("minutes_min", "asked"))
    if ask.release_min is not None:
        known.setdefault("release_min", _figure("release_min", "asked"))
        return minutes, ask.release_min
    factor = shelf.value("slip", "release_factor")
    known["release_min"] = Figure(
        "min",
        "time in the mold x usual factor, from pouring out",
        factor.source,
        {"minutes_min": minutes, "release_factor": factor.value},
        factor.low * minutes,
        factor.high * minutes,
    )
    return minutes, factor.value * minutes


def _figure(key: str, source: str) -> Figure:
    unit, formula = WORDS[key]
    return Figure(unit, f"{formula}, as asked" if source == "asked" else formula, source)


def known_as(key: str, constant: Constant) -> Figure:
    """The working of a number under WORDS that stands on a shelf, in a studio's file, or was typed."""
    unit, formula = WORDS[key]
    if constant.source == "asked":
        return _figure(key, "asked")
    source = "from memory" if constant.source == "memory" else constant.source
    bounds = (constant.low, constant.high) if constant.low < constant.high else (None, None)
    return Figure(unit, formula, source, {}, *bounds)


def soil(figures: Figures) -> Soil:
    """The coefficients of the simulation."""
    return soil_of(
        rate_mm2_per_min=figures.rate_mm2_per_min,
        water_per_cake_ratio=figures.water_per_cake_ratio,
        fillable_fraction=figures.fillable_fraction,
        wet_share=figures.wet_share,
        slowdown_fraction=figures.slowdown_fraction,
        sorptivity_mm_per_sqrt_min=figures.sorptivity_mm_per_sqrt_min,
        suction_kPa=figures.suction_kpa,
        slip_g_per_ml=figures.slip_ratio,
        release_ratio=figures.release_ratio,
        spread_mm2_per_s=shelf.value("plaster", "water_spread_mm2_per_s").value,
    )
