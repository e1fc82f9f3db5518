"""How long a mold dries: from its water, its open faces and the room, with a band that is honest."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from claybed.errors import InputError
from claybed.materials import shelf
from claybed.materials.shelf import Constant
from claybed.physics import air, drying, heat, plaster
from claybed.records.finding import Finding
from claybed.records.reckoned import Reckoned
from claybed.records.ware import Drying, DryState
from claybed.ware.reckoning import Input, asked, middle, reckon, taken

Moving = Literal["still", "fan", "cabinet"]
STATES: Final = ("press_ready", "slip_ready", "shelf_dry")


@dataclass(frozen=True, slots=True)
class Room:
    """Where a mold dries; None takes what is usual for the air. °C, fraction, m/s."""

    moving: Moving = "still"
    celsius: float | None = None
    humidity_fraction: float | None = None
    speed_m_per_s: float | None = None


def plan_drying(
    *,
    water_per_100: float,
    area_cm2: Input,
    room: Room,
    wet_g: Input | None = None,
    plaster_ml: Input | None = None,
    face_mm: float | None = None,
    start_percent: float | None = None,
    piece: str = "",
) -> Drying:
    """Drying of a mold that weighs `wet_g` just set and trimmed, or fills `plaster_ml`, with `area_cm2` open.

    `water_per_100` of the plaster's mix; `face_mm` length of its faces along the air; `start_percent` water
    to begin with against dry mass, all of its free water when None. Raises InputError for a room that plaster
    must not dry in, or amounts out of range.
    """
    celsius, humidity, speed = _conditions(room)
    side = shelf.value("drying", "face_length_mm").value if face_mm is None else face_mm
    dry, wet = _masses(water_per_100, wet_g, plaster_ml)
    free = plaster.free_water_of_dry_fraction(water_per_100)
    start = free if start_percent is None else start_percent / 100
    if not 0 < start <= 1.05 * free:
        raise InputError(
            f"plaster of this mix cannot hold {100 * start:.0f} % of water.",
            where="--moisture",
            remedy=f"It holds {100 * free:.0f} % of its dry mass when just set.",
        )
    water = reckon(
        lambda dry_g, start_fraction: dry_g * start_fraction,
        "g",
        "dry mass x water against dry mass",
        "iupac-2021",
        dry_g=dry,
        start_fraction=start,
    )
    given = {"air_celsius": celsius, "humidity_fraction": humidity, "speed_m_per_s": speed}
    rate = wet_face_rate(room, side)
    return Drying(
        piece=piece,
        wet_g=wet,
        dry_g=dry,
        water_g=water,
        area_cm2=taken(area_cm2, "cm2", "faces open to the air"),
        air_celsius=taken(celsius, "°C", "air of the room"),
        humidity_percent=taken(humidity, "percent", "relative humidity", 100.0),
        wet_bulb_celsius=reckon(
            lambda air_celsius, humidity_fraction: air.wet_bulb_C(air_celsius, humidity_fraction),
            "°C",
            "wet bulb of the room: where the mold's face would settle without radiation",
            "psychrolib",
            air_celsius=celsius,
            humidity_fraction=humidity,
        ),
        speed_m_per_s=taken(speed, "m/s", "air along the mold"),
        rate_g_per_m2_h=rate,
        open_pan_g_per_m2_h=reckon(
            lambda air_celsius, humidity_fraction, speed_m_per_s: (
                3.6e6
                * drying.pool_kg_per_m2_s(
                    air_celsius,
                    humidity_fraction * air.saturation_pressure_Pa(air_celsius),
                    speed_m_per_s,
                )
            ),
            "g/(m2 h)",
            "what an open pan of water at the room's temperature would lose; too fast for a mold",
            "ashrae-104",
            **{name: middle(value) for name, value in given.items()},
        ),
        states=tuple(_state(name, dry, start, area_cm2, rate) for name in STATES),
    )


def wet_face_rate(room: Room, face_mm: float) -> Reckoned:
    """Water that a wet face `face_mm` long loses in a room, g/(m² h).

    Raises InputError for a room that plaster must not dry in. Source: physics.drying (plate-flow).
    """
    celsius, humidity, speed = _conditions(room)
    return reckon(
        lambda air_celsius, humidity_fraction, speed_m_per_s: (
            3.6e6
            * drying.wet_face_kg_per_m2_s(
                air_celsius, humidity_fraction, speed_m_per_s=speed_m_per_s, length_m=face_mm / 1000
            )
        ),
        "g/(m2 h)",
        "evaporation of a wet face that cools itself, slow air along it",
        "plate-flow",
        air_celsius=celsius,
        humidity_fraction=humidity,
        speed_m_per_s=speed,
    )


def drying_findings(drying: Drying, room: Room) -> tuple[Finding, ...]:
    """What to know about a room: too warm and dry, or close to the limit."""
    warm = shelf.value("drying", "warm_dry_C").value
    least = shelf.value("drying", "warm_dry_humidity_fraction").value
    found = []
    if drying.air_celsius.value >= warm and drying.humidity_percent.value < 100 * least:
        found.append(
            Finding(
                id="air_too_dry",
                severity="look",
                where="drying",
                says=f"Above {warm:.0f} °C, air this dry takes the water that plaster is bound with.",
                remedy=f"Keep it above {100 * least:.0f} % of humidity, or cooler.",
            )
        )
    return tuple(found)


def days_between(drying: Drying, water_per_100: float, from_percent: float) -> Reckoned | None:
    """Days from `from_percent` water (against dry mass) to slip-ready under the same conditions."""
    state = next(state for state in drying.states if state.id == "slip_ready")
    if drying.dry_g is None or from_percent <= state.water_percent.value:
        return None
    free = 100 * plaster.free_water_of_dry_fraction(water_per_100)
    return reckon(
        _days,
        "d",
        "free-surface time x slowing, from soaked to slip-ready",
        "drying-curve",
        dry_g=drying.dry_g.value,
        full_fraction=free / 100,
        start_fraction=min(from_percent, free) / 100,
        left_fraction=state.water_percent.value / 100,
        area_cm2=drying.area_cm2.value,
        rate_g_per_m2_h=drying.rate_g_per_m2_h,
        critical_fraction=shelf.value("drying", "critical_fraction"),
    )


def _days(
    dry_g: float,
    full_fraction: float,
    start_fraction: float,
    left_fraction: float,
    area_cm2: float,
    rate_g_per_m2_h: float,
    critical_fraction: float,
) -> float:
    """Days between two contents of water on one curve that begins at full."""

    def since_full(fraction: float) -> float:
        return drying.drying_time_s(
            dry_g * full_fraction / 1000,
            area_cm2 / 1e4,
            rate_g_per_m2_h / 3.6e6,
            left_fraction=min(fraction / full_fraction, 1.0),
            critical_fraction=critical_fraction,
        )

    return (since_full(left_fraction) - since_full(start_fraction)) / 86400


def _conditions(room: Room) -> tuple[Constant, Constant, Constant]:
    cabinet = room.moving == "cabinet"
    celsius = shelf.value("drying", "cabinet_C" if cabinet else "room_C")
    humidity = shelf.value("drying", f"{'cabinet' if cabinet else 'room'}_humidity_fraction")
    speed = shelf.value("drying", f"{room.moving}_m_per_s")
    if room.celsius is not None:
        limit = shelf.value("plaster", "drying_limit_C").value
        if heat.drying_margin_K(room.celsius, limit_C=limit) < 0:
            raise InputError(
                f"{room.celsius:g} °C harms plaster, which loses its bound water above {limit:g} °C.",
                where="--room",
                remedy="Dry at 45 °C or below.",
            )
        if room.celsius < 1:
            raise InputError(
                f"nothing dries at {room.celsius:g} °C.", where="--room", remedy="Frost breaks wet plaster."
            )
        celsius = asked(room.celsius, "C")
    if room.humidity_fraction is not None:
        if not 0 <= room.humidity_fraction < 0.98:
            raise InputError(
                f"nothing dries at {100 * room.humidity_fraction:g} % of humidity.",
                where="--humidity",
                remedy="Read the meter again, or move the mold.",
            )
        humidity = asked(room.humidity_fraction, "-")
    if room.speed_m_per_s is not None:
        if not 0.02 <= room.speed_m_per_s <= 10:
            raise InputError(
                "air of that speed is out of range.", where="--air", remedy="Use 0.02 to 10 m/s."
            )
        speed = asked(room.speed_m_per_s, "m/s")
    return celsius, humidity, speed


def _masses(water_per_100: float, wet_g: Input | None, plaster_ml: Input | None) -> tuple[Reckoned, Reckoned]:
    if wet_g is None and plaster_ml is None:
        raise InputError(
            "nothing says how much plaster dries.", where="dry", remedy="Give --wet 2450g, a size, or a plan."
        )
    grains = shelf.value("plaster", "hemihydrate_density_g_per_ml")
    fluid = shelf.value("plaster", "water_density_g_per_ml")
    wet = (
        taken(wet_g, "g", "weighed, trimmed and just set")
        if wet_g is not None
        else reckon(
            lambda plaster_ml, hemihydrate_density_g_per_ml, water_density_g_per_ml: (
                plaster_ml
                * (100 + water_per_100)
                / (water_per_100 / water_density_g_per_ml + 100 / hemihydrate_density_g_per_ml)
            ),
            "g",
            "volume x density of the slurry",
            grains.source,
            plaster_ml=plaster_ml if plaster_ml is not None else 0.0,
            hemihydrate_density_g_per_ml=grains,
            water_density_g_per_ml=fluid.value,
        )
    )
    error = shelf.value("drying", "target_error_fraction").value
    off = Constant(1.0, "-", 1.0 - error, 1.0 + error, "derived", "derived", "")
    dry = reckon(
        lambda wet_g, consistency_per_100, error_factor: (
            1000 * plaster.dry_from_wet_kg(wet_g / 1000, consistency_per_100) * error_factor
        ),
        "g",
        "wet x 118.618 / (100 + consistency), give or take the mix and its purity",
        "iupac-2021",
        wet_g=wet.value,
        consistency_per_100=water_per_100,
        error_factor=off,
    )
    return dry, wet


def mass_at(name: str, dry: Reckoned) -> Reckoned:
    """What a piece of a dry mass (g) weighs when it reaches one of STATES, g. Source: materials/bench."""
    left = shelf.value("bench", f"{name}_fraction")
    return reckon(
        lambda dry_g, left_fraction: dry_g * (1 + left_fraction),
        "g",
        "dry mass x (1 + water that may stay)",
        left.source,
        dry_g=dry,
        left_fraction=left.value,
    )


def _state(name: str, dry: Reckoned, start: float, area_cm2: Input, rate: Reckoned) -> DryState:
    left = shelf.value("bench", f"{name}_fraction")
    mass = mass_at(name, dry)
    hours = None
    if left.value < start:
        hours = reckon(
            lambda dry_g, start_fraction, left_fraction, area_cm2, rate_g_per_m2_h, critical_fraction: (
                24
                * _days(
                    dry_g,
                    start_fraction,
                    start_fraction,
                    left_fraction,
                    area_cm2,
                    rate_g_per_m2_h,
                    critical_fraction,
                )
            ),
            "h",
            "water / (area x rate) x slowing: steady to the critical share, then as what is left",
            "drying-curve",
            dry_g=dry.value,
            start_fraction=start,
            left_fraction=left.value,
            area_cm2=area_cm2,
            rate_g_per_m2_h=rate,
            critical_fraction=shelf.value("drying", "critical_fraction"),
        )
    return DryState(
        id=name,
        water_percent=taken(left, "percent", "water against dry mass that may stay", 100.0),
        mass_g=mass,
        hours=hours,
    )
