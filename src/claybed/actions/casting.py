"""A slip cast from plain numbers or from a plan folder, with the working of every figure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from claybed.actions.mold_water import as_fraction, weighed_water
from claybed.actions.plan_folders import figure_of, read_ware_plan, refuse_hump
from claybed.errors import InputError
from claybed.flow.cast_figures import known_as
from claybed.flow.ware_document import document_of
from claybed.materials import shelf
from claybed.materials.bodies import slip as slip_named
from claybed.physics import plaster, slurry
from claybed.pours.mixing import densities_kg_per_m3
from claybed.records.finding import Finding
from claybed.records.reckoned import Reckoned
from claybed.records.soaked import MapAsk
from claybed.records.ware import TestPour
from claybed.ware.advice import cast_findings, water_finding
from claybed.ware.casting import CastAsk, casting_rate, plan_cast
from claybed.ware.drying import Room
from claybed.ware.letting_go import in_time, onto, opening_letters
from claybed.ware.reckoning import Input, asked, middle
from claybed.ware.trying import fit_pours


@dataclass(frozen=True, slots=True)
class CastWish:
    """What was told of a cast and what is wanted; see ware.casting.CastAsk.

    `tests` are test pours (wall mm, minutes); `plaster_mm` thickness of plaster behind a flat wall;
    `consistency` of its mix; `density_ratio` of the slip against water, `clay_water_fraction` of the wall
    just drained; `start_percent` water in the plaster against its dry mass, None for what the weighings
    beside the plan say, else none; `drying_days` asked; `plan` a folder.
    """

    wall_mm: float | None = None
    minutes: float | None = None
    k_mm2_per_min: float | None = None
    tests: Sequence[tuple[float, float]] = ()
    celsius: float | None = None
    cast_number: int = 1
    area_cm2: float | None = None
    plaster_mm: float | None = None
    start_percent: Input | None = None
    cavity_ml: float | None = None
    spare_ml: float | None = None
    bores_mm: tuple[float, ...] = ()
    slots_mm: tuple[float, ...] = ()
    drying_days: float | None = None
    good_casts: int | None = None
    new_mold: bool = True
    consistency: float = 100.0 / 1.3
    density_ratio: float | None = None
    clay_water_fraction: float | None = None
    slip: str | None = None
    studio: str = ""
    plan: Path | None = None


def cast_document(wish: CastWish) -> dict[str, Any]:
    """Return a cast, or k from test pours alone, as one plain document, unrounded.

    With test pours and no wall or time the document holds k only. Raises InputError for entries that
    contradict each other or are out of range, CannotError for a hump.
    """
    if wish.k_mm2_per_min is not None and wish.tests:
        raise InputError("k is told and tested.", where="--k", remedy="Give --k or test pours, not both.")
    tried = fit_pours(wish.tests) if wish.tests else None
    if wish.wall_mm is None and wish.minutes is None and wish.plan is None:
        if tried is None:
            raise InputError(
                "a cast needs its wall or its time.", where="cast", remedy="Give --wall 4mm or --minutes 15."
            )
        return document_of(tried, findings=_test_findings(tried))
    ask = _ask(wish, None if tried is None else tried)
    if wish.plan is not None:
        ask = _with_plan(ask, wish, wish.plan)
    cast = plan_cast(ask)
    known = wish.k_mm2_per_min is not None or tried is not None or ask.slip.rate.source == "studio"
    water = water_finding(cast.start_percent.value, cast.start_percent.figure)
    findings = (*water, *cast_findings(cast, k_known=known))
    document = document_of(cast, findings=findings)
    if tried is not None:
        test = document_of(test=tried, findings=_test_findings(tried))
        document["figures"] |= test.pop("figures")
        document["findings"] += test.pop("findings")
        document |= test
    if wish.plan is not None:
        _add_grip(document, read_ware_plan(wish.plan))
    return document


def _add_grip(document: dict[str, Any], plan: Mapping[str, Any]) -> None:
    """Add how a cast grips its plaster, with its working, as the plan holds it; nothing for a mold that is
    pressed or was planned before plans held it.
    """
    grip = plan["ware"].get("grip")
    if not isinstance(grip, dict) or not isinstance(plan["ware"].get("cast"), dict):
        return
    document["grip"] = grip
    if grip["within_minutes"] is not None:
        opening = opening_letters(plan)
        document["onto"] = onto(grip, opening)
        document["opens"] = in_time(grip, opening)
    document["figures"] |= {
        at.removeprefix("/ware"): figure
        for at, figure in plan["figures"].items()
        if at.startswith("/ware/grip/")
    }


def _ask(wish: CastWish, tried: TestPour | None) -> CastAsk:
    slip = slip_named(wish.slip, wish.studio)
    if wish.density_ratio is not None:
        slip = replace(slip, density=asked(wish.density_ratio, "-"))
    if wish.clay_water_fraction is not None:
        slip = replace(slip, cast_water=asked(wish.clay_water_fraction, "-"))
    k: Input | None = wish.k_mm2_per_min if tried is None else tried.k_mm2_per_min
    behind: Input | None = None
    if wish.plaster_mm is not None:
        behind = wish.plaster_mm / 1000 * _dry_kg_per_m3(wish.consistency)
    return CastAsk(
        slip=slip,
        wall_mm=wish.wall_mm,
        minutes=wish.minutes,
        k=k,
        celsius=wish.celsius,
        cast_number=wish.cast_number,
        area_cm2=wish.area_cm2,
        plaster_kg_per_m2=behind,
        start_percent=_water(wish),
        cavity_ml=wish.cavity_ml,
        spare_ml=wish.spare_ml,
        bores_mm=wish.bores_mm,
        slots_mm=wish.slots_mm,
        drying_days=wish.drying_days,
        good_casts=wish.good_casts,
        new_mold=wish.new_mold,
    )


def map_ask(
    wish: CastWish,
    *,
    release_min: float | None = None,
    rest_min: float = 0.0,
    room: Room = Room(),  # noqa: B008 a frozen record
    opened: bool = False,
    cell_mm: float | None = None,
    thicker_mm: float = 10.0,
) -> MapAsk:
    """Return what a cast map is asked, with the rate, slip and water that the same wish gives without a map.

    Between casts the mold rests in `room`, closed and strapped or `opened`. Times in minutes, lengths in mm,
    as in MapAsk. Raises InputError as `cast_document` does.
    """
    if wish.k_mm2_per_min is not None and wish.tests:
        raise InputError("k is told and tested.", where="--k", remedy="Give --k or test pours, not both.")
    if wish.wall_mm is not None and wish.minutes is not None:
        raise InputError(
            "a cast needs its wall or its time, and not both.", where="cast", remedy="Leave one."
        )
    ask = _ask(wish, fit_pours(wish.tests) if wish.tests else None)
    slip, water = ask.slip, _water(wish)
    workings = {
        "slip_ratio": known_as("slip_ratio", slip.density),
        "cast_water_fraction": known_as("cast_water_fraction", slip.cast_water),
        "leather_water_fraction": known_as("leather_water_fraction", slip.leather_water),
        "slowdown_fraction": known_as("slowdown_fraction", slip.damp_slope),
    }
    if isinstance(water, Reckoned):
        workings["moisture_fraction"] = as_fraction(water)
    return MapAsk(
        rate=casting_rate(ask),
        minutes_min=wish.minutes,
        wall_mm=wish.wall_mm,
        casts=1 if wish.good_casts is None else wish.good_casts,
        slip_ratio=middle(slip.density),
        solids_ratio=middle(slip.solids),
        cast_water_fraction=middle(slip.cast_water),
        leather_water_fraction=middle(slip.leather_water),
        # Both ends would be plaster, or a cake, that resists nothing.
        slowdown_fraction=min(max(middle(slip.damp_slope), 0.001), 0.99),
        moisture_fraction=middle(water) / 100.0,
        release_min=release_min,
        rest_min=rest_min,
        air=room.moving,
        air_celsius=room.celsius,
        humidity_fraction=room.humidity_fraction,
        air_m_per_s=room.speed_m_per_s,
        opened=opened,
        cell_mm=cell_mm,
        thicker_mm=thicker_mm,
        workings=workings,
    )


def _water(wish: CastWish) -> Input:
    """Water in the plaster, per cent of its dry mass: as told, by the plan's weighings, or none."""
    if wish.start_percent is not None:
        return wish.start_percent
    weighed = None if wish.plan is None else weighed_water(wish.plan)
    return 0.0 if weighed is None else weighed


def _with_plan(ask: CastAsk, wish: CastWish, folder: Path) -> CastAsk:
    """What the plan knows, where nothing was typed."""
    plan = read_ware_plan(folder)
    refuse_hump(plan, folder)
    wall_mm = ask.wall_mm
    if wall_mm is None and ask.minutes is None:
        wall_mm = float(plan["made"]["brief"]["ware_wall_mm"])
    consistency = float(plan["made"]["brief"]["consistency"])
    cavity = figure_of(plan, "/ware/measures/cavity_cm2")
    near = figure_of(plan, "/ware/measures/near_plaster_ml")
    gate = plan["mold"].get("gate") or {}
    spare = gate.get("spare_ml")
    days = ask.drying_days
    if (
        days is None
        and isinstance(plan["ware"]["cast"], dict)
        and plan["ware"].get("drying_days") is not None
    ):
        days = figure_of(plan, "/ware/drying_days")
    return replace(
        ask,
        wall_mm=wall_mm,
        area_cm2=cavity if ask.area_cm2 is None else ask.area_cm2,
        plaster_kg_per_m2=near.value / cavity.value / 100 * _dry_kg_per_m3(consistency)
        if ask.plaster_kg_per_m2 is None
        else ask.plaster_kg_per_m2,
        cavity_ml=figure_of(plan, "/ware/measures/cavity_ml") if ask.cavity_ml is None else ask.cavity_ml,
        spare_ml=float(spare) if ask.spare_ml is None and spare else ask.spare_ml,
        bores_mm=ask.bores_mm or ((float(gate["bore_mm"]),) if gate.get("bore_mm") else ()),
        drying_days=days,
    )


def _dry_kg_per_m3(consistency: float) -> float:
    grains, water = densities_kg_per_m3()
    plaster.free_water_per_100(consistency)  # refuses a mix that would not set
    return slurry.dry_density_kg_per_m3(consistency, plaster_kg_per_m3=grains, water_kg_per_m3=water)


def _test_findings(tried: TestPour) -> tuple[Finding, ...]:
    low, high = (shelf.value("slip", f"exponent_{end}_ratio").value for end in ("low", "high"))
    if tried.exponent_ratio is None or low <= tried.exponent_ratio.value <= high:
        return ()
    return (
        Finding(
            id="not_a_square_root",
            severity="look",
            where="test pours",
            says=f"The wall grows as time to the power of {tried.exponent_ratio.value:.2f}, not as its root.",
            remedy="Look for slip that gels, soap left on the plaster, or a mold that soaked in between.",
        ),
    )
