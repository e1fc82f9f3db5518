"""A slip cast: how long, how thick, how much slip, and how often before the mold must dry."""

from __future__ import annotations

import math
from dataclasses import dataclass

from claybed.errors import InputError
from claybed.materials import shelf
from claybed.materials.bodies import Slip
from claybed.physics import cake, casting
from claybed.records.reckoned import Reckoned
from claybed.records.ware import Cast, CastRow, PerCast, TopUp
from claybed.ware.narrows import narrows_of
from claybed.ware.reckoning import Input, asked, middle, reckon, taken
from claybed.ware.water import clay_kg_per_m3, sent_into_mold, water_of_cast

_ROWS_MOST = 12
_TOP_UPS_MOST = 6
_PLAIN_RATES = (0.05, 50.0)


@dataclass(frozen=True, slots=True)
class CastAsk:
    """What is known of a cast. Exactly one of `wall_mm` and `minutes`; the rest may be left open.

    `k` mm²/min, else the slip's; `celsius` of slip and mold; `cast_number` in a row since the mold was dry;
    `area_cm2` of cavity; `plaster_kg_per_m2` dry plaster behind it; `start_percent` water in it against dry
    mass; `cavity_ml` for fill and drain; `spare_ml` above the rim; `bores_mm`, `slots_mm` that may close;
    `drying_days` from soaked to slip-ready; `good_casts` wanted.
    """

    slip: Slip
    wall_mm: float | None = None
    minutes: float | None = None
    k: Input | None = None
    celsius: float | None = None
    cast_number: int = 1
    area_cm2: Input | None = None
    plaster_kg_per_m2: Input | None = None
    start_percent: Input = 0.0
    cavity_ml: Input | None = None
    spare_ml: float | None = None
    bores_mm: tuple[float, ...] = ()
    slots_mm: tuple[float, ...] = ()
    drying_days: Input | None = None
    good_casts: int | None = None
    new_mold: bool = True


def plan_cast(ask: CastAsk) -> Cast:
    """Work out a cast. Raises InputError when wall and time are both or neither told, or out of range."""
    if (ask.wall_mm is None) == (ask.minutes is None):
        raise InputError(
            "a cast needs its wall or its time, and not both.",
            where="cast",
            remedy="Give --wall 4mm or --minutes 15.",
        )
    k = casting_rate(ask)
    damp = ask.slip.damp_slope if ask.cast_number > 1 else asked(0.0)
    lag = asked(float(ask.cast_number - 1))
    if ask.wall_mm is not None:
        wall = taken(ask.wall_mm, "mm", "as asked")
        minutes = reckon(
            lambda wall_mm, k_mm2_per_min, damp_slope, earlier_casts: (
                # The law holds in any units that belong together: mm and mm²/min give minutes.
                casting.casting_time_s(wall_mm, k_mm2_per_min) * (1 + damp_slope * earlier_casts)
            ),
            "min",
            "wall^2 / k" + (" x (1 + damp slope x earlier casts)" if ask.cast_number > 1 else ""),
            "casting-law",
            wall_mm=ask.wall_mm,
            k_mm2_per_min=k,
            damp_slope=damp,
            earlier_casts=lag,
        )
    else:
        minutes = taken(float(ask.minutes or 0), "min", "as asked")
        wall = reckon(
            lambda minutes, k_mm2_per_min, damp_slope, earlier_casts: casting.cast_wall_m(
                minutes / (1 + damp_slope * earlier_casts), k_mm2_per_min
            ),
            "mm",
            "sqrt(k t)",
            "casting-law",
            minutes=float(ask.minutes or 0),
            k_mm2_per_min=k,
            damp_slope=damp,
            earlier_casts=lag,
        )
    release = shelf.value("slip", "release_factor")
    sent = sent_into_mold(ask.slip)
    to_mold = water_of_cast(ask.slip, wall)
    casts = _casts(ask, to_mold)
    cycle_min = minutes.value * (1 + release.value) + shelf.value("slip", "cast_turn_round_min").value
    per_day, per_week = _often(casts, cycle_min, ask.drying_days)
    return Cast(
        start_percent=taken(ask.start_percent, "percent", "water in the plaster, of its dry mass"),
        k_mm2_per_min=k,
        wall_mm=wall,
        minutes=minutes,
        release_minutes=reckon(
            lambda minutes, release_factor: minutes * release_factor,
            "min",
            "time to cast x usual factor, from pouring out",
            "hot-clay",
            minutes=minutes,
            release_factor=release,
        ),
        wet_depth_mm=reckon(
            lambda sent_ratio, wall_mm, fillable_fraction: (
                1000 * cake.wet_depth_m(sent_ratio, wall_mm / 1000, fillable_fraction=fillable_fraction)
            ),
            "mm",
            "water sent x wall / pores that fill",
            "mass-balance",
            sent_ratio=sent,
            wall_mm=wall,
            fillable_fraction=shelf.value("plaster", "uptake_volume_fraction"),
        ),
        casts_before_drying=casts,
        casts_per_day=per_day,
        casts_per_week=per_week,
        discarded_casts=taken(
            shelf.value("slip", "discarded_casts_count") if ask.new_mold else 0.0,
            "-",
            "thrown away, new mold",
        ),
        rows=_rows(ask, minutes, to_mold, casts),
        per_cast=_per_cast(ask, wall, sent),
        narrows=narrows_of(ask.bores_mm, ask.slots_mm, wall, k),
        top_ups=_top_ups(ask, wall, minutes, sent),
    )


def casting_rate(ask: CastAsk) -> Reckoned:
    """k in mm²/min at the temperature of slip and mold. Raises InputError for a rate that no slip has."""
    given = ask.slip.rate if ask.k is None else ask.k
    if not _PLAIN_RATES[0] <= middle(given) <= _PLAIN_RATES[1]:
        raise InputError(
            f"a casting rate of {middle(given):g} mm² a minute is out of range.",
            where="--k",
            remedy="Slips are 0.5 to 5; make a test pour.",
        )
    if ask.celsius is None:
        return taken(given, "mm2/min", "wall^2 / time of a test pour")
    usual = shelf.value("slip", "test_temperature_C")
    return reckon(
        lambda k_mm2_per_min, water_celsius: (
            k_mm2_per_min
            * casting.water_viscosity_Pa_s(usual.value)
            / casting.water_viscosity_Pa_s(water_celsius)
        ),
        "mm2/min",
        f"k x viscosity of water at {usual.value:g} °C / at the temperature",
        "crc-handbook",
        k_mm2_per_min=given,
        water_celsius=ask.celsius,
    )


def _casts(ask: CastAsk, to_mold: Reckoned) -> Reckoned | None:
    if ask.plaster_kg_per_m2 is None:
        return None
    limit = shelf.value("slip", "mold_limit_fraction")
    if middle(ask.start_percent) / 100 >= limit.value:
        return taken(0.0, "-", "the mold holds too much water to cast")
    return reckon(
        lambda plaster_kg_per_m2, start_percent, limit_fraction, water_kg_per_m2: cake.casts_to_limit_ratio(
            plaster_kg_per_m2, start_percent / 100, limit_fraction, water_kg_per_m2
        ),
        "-",
        "plaster near the cavity x (limit - start) / water of a cast",
        "usg-ig526",
        plaster_kg_per_m2=ask.plaster_kg_per_m2,
        start_percent=ask.start_percent,
        limit_fraction=limit,
        water_kg_per_m2=to_mold,
    )


def _often(
    casts: Reckoned | None, cycle_min: float, days: Input | None
) -> tuple[Reckoned | None, Reckoned | None]:
    if casts is None:
        return None, None
    between_min = shelf.value("slip", "cast_turn_round_min").value
    day_min = shelf.value("slip", "work_day_min").value
    by_time = max(math.floor(day_min / cycle_min), 1)
    whole = max(math.floor(casts.value), 0)
    per_day = reckon(
        lambda casts_before_drying, cycle_min: float(
            min(max(math.floor(casts_before_drying), 0), max(math.floor(day_min / cycle_min), 1))
        ),
        "-",
        f"as many as the mold takes and as fit into {day_min / 60.0:g} hours, {between_min:g} min between",
        "derived",
        casts_before_drying=casts,
        cycle_min=cycle_min,
    )
    if days is None or whole == 0:
        return per_day, None
    week = reckon(
        lambda casts_before_drying, casts_per_day, drying_days: (
            7
            * math.floor(casts_before_drying)
            / (math.ceil(math.floor(casts_before_drying) / casts_per_day) + drying_days)
            if casts_before_drying >= 1
            else 0.0
        ),
        "-",
        "casts before drying x 7 / (days of casting + days of drying)",
        "derived",
        casts_before_drying=casts,
        casts_per_day=float(min(by_time, whole)),
        drying_days=days,
    )
    return per_day, week


def _rows(ask: CastAsk, minutes: Reckoned, to_mold: Reckoned, casts: Reckoned | None) -> tuple[CastRow, ...]:
    if ask.plaster_kg_per_m2 is None or casts is None:
        return ()
    rows = []
    before = 1 + middle(ask.slip.damp_slope) * (ask.cast_number - 1)
    count = min(max(math.floor(casts.value), 1), _ROWS_MOST)
    for place in range(count):
        number = ask.cast_number + place
        rows.append(
            CastRow(
                number=taken(float(number), "-", "in a row since the mold was dry"),
                minutes=reckon(
                    lambda first_min, damp_slope, earlier_casts: first_min * (1 + damp_slope * earlier_casts),
                    "min",
                    "first cast x (1 + damp slope x earlier casts)",
                    "hot-clay",
                    first_min=minutes.value / before,
                    damp_slope=ask.slip.damp_slope,
                    earlier_casts=float(number - 1),
                ),
                water_percent=reckon(
                    lambda start_percent, casts, water_kg_per_m2, plaster_kg_per_m2: (
                        start_percent + 100 * casts * water_kg_per_m2 / plaster_kg_per_m2
                    ),
                    "percent",
                    "start + casts x water of a cast / plaster near the cavity",
                    "mass-balance",
                    start_percent=ask.start_percent,
                    casts=float(place + 1),
                    water_kg_per_m2=to_mold,
                    plaster_kg_per_m2=ask.plaster_kg_per_m2,
                ),
            )
        )
    return tuple(rows)


def _per_cast(ask: CastAsk, wall: Reckoned, sent: Reckoned) -> PerCast | None:
    if ask.area_cm2 is None:
        return None
    area = ask.area_cm2
    slip = ask.slip
    clay_ml = reckon(
        lambda area_cm2, wall_mm: area_cm2 * wall_mm / 10,
        "ml",
        "area x wall",
        "geometry",
        area_cm2=area,
        wall_mm=wall,
    )
    top_up = reckon(
        lambda clay_ml, sent_ratio: clay_ml * sent_ratio,
        "ml",
        "clay x water sent",
        "mass-balance",
        clay_ml=clay_ml.value,
        sent_ratio=sent,
    )
    fill = drain = prepare = None
    if ask.cavity_ml is not None:
        fill = taken(ask.cavity_ml, "ml", "cavity and gate")
        drain = reckon(
            lambda cavity_ml, clay_ml: max(cavity_ml - clay_ml, 0.0),
            "ml",
            "cavity - clay",
            "geometry",
            cavity_ml=ask.cavity_ml,
            clay_ml=clay_ml.value,
        )
        wanted = float(ask.good_casts or 1)
        prepare = reckon(
            lambda cavity_ml, slip_ml, good_casts, discarded_casts, spare_fraction: (
                (cavity_ml + slip_ml * (good_casts + discarded_casts - 1)) * (1 + spare_fraction)
            ),
            "ml",
            "(cavity + slip used x (good and discarded casts - 1)) x (1 + spare)",
            "practice",
            cavity_ml=ask.cavity_ml,
            slip_ml=clay_ml.value * (1 + sent.value),
            good_casts=wanted,
            discarded_casts=shelf.value("slip", "discarded_casts_count").value if ask.new_mold else 0.0,
            spare_fraction=shelf.value("slip", "slip_spare_fraction").value,
        )
    return PerCast(
        clay_ml=clay_ml,
        top_up_ml=top_up,
        slip_ml=reckon(
            lambda clay_ml, sent_ratio: clay_ml * (1 + sent_ratio),
            "ml",
            "clay x (1 + water sent)",
            "mass-balance",
            clay_ml=clay_ml.value,
            sent_ratio=sent,
        ),
        dry_g=reckon(
            lambda clay_ml, clay_water_fraction: (
                clay_ml
                * clay_kg_per_m3(clay_water_fraction, slip.solids.value)
                / 1000
                * (1 - clay_water_fraction)
            ),
            "g",
            "clay x its density x (1 - its water)",
            "mass-balance",
            clay_ml=clay_ml.value,
            clay_water_fraction=slip.cast_water,
        ),
        water_to_mold_g=reckon(
            lambda area_cm2, water_kg_per_m2: area_cm2 * water_kg_per_m2 / 10,
            "g",
            "area x water of a cast until leather-hard",
            "mass-balance",
            area_cm2=area,
            water_kg_per_m2=water_of_cast(slip, wall),
        ),
        fill_ml=fill,
        drain_ml=drain,
        prepare_ml=prepare,
    )


def _top_ups(ask: CastAsk, wall: Reckoned, minutes: Reckoned, sent: Reckoned) -> tuple[TopUp, ...]:
    """Minutes at which the slip has sunk by one spare, two spares ... before it is poured out."""
    if ask.area_cm2 is None or ask.spare_ml is None or ask.spare_ml <= 0:
        return ()
    whole_ml = middle(ask.area_cm2) * wall.value / 10 * sent.value
    count = min(math.ceil(whole_ml / ask.spare_ml) - 1, _TOP_UPS_MOST)
    return tuple(
        TopUp(
            reckon(
                lambda spare_ml, nth, top_up_ml, minutes: minutes * (nth * spare_ml / top_up_ml) ** 2,
                "min",
                "time x (what has sunk / what sinks in all)^2",
                "casting-law",
                spare_ml=ask.spare_ml,
                nth=float(place),
                top_up_ml=whole_ml,
                minutes=minutes.value,
            )
        )
        for place in range(1, count + 1)
    )
