"""Drying of a mold: forecast from room and size, target by the scale, and the log of weighings."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from claybed.actions.plan_folders import figure_of, read_ware_plan
from claybed.actions.weighing_log import append_weighing, log_beside, read_log
from claybed.actions.weighing_tables import missing_from, of_one_piece, read_file
from claybed.errors import InputError
from claybed.flow.ware_document import document_of
from claybed.records.finding import Finding
from claybed.records.weighing import Weighing
from claybed.ware.drying import Room, drying_findings, plan_drying
from claybed.ware.reckoning import Input, middle
from claybed.ware.weighing import check_weighing, forecast


@dataclass(frozen=True, slots=True)
class DryWish:
    """What was told of a drying mold.

    `wet_g` just set and trimmed; `size_mm` of a block open on all sides, less a `cavity_ml`; or a `plan`
    folder, one `piece` of it or the whole mold, `opened` or closed and strapped. `consistency` of its mix;
    `moisture_percent` water now, against dry mass. `log` file, `weigh_g` to add to it at `at_s`, with `note`.
    """

    wet_g: float | None = None
    size_mm: tuple[float, float, float] | None = None
    area_cm2: float | None = None
    cavity_ml: float = 0.0
    consistency: float | None = None
    room: Room = field(default_factory=Room)
    moisture_percent: float | None = None
    plan: Path | None = None
    piece: str | None = None
    opened: bool = False
    log: Path | None = None
    weigh_g: float | None = None
    at_s: float | None = None
    note: str = ""
    take: Path | None = None
    mold: str = ""


def room_of(
    moving: str, celsius: float | None, humidity_fraction: float | None, speed_m_per_s: float | None
) -> Room:
    """Return a room; `moving` still, fan or cabinet, None for what is usual. Raises InputError otherwise."""
    if moving not in ("still", "fan", "cabinet"):
        raise InputError(f"“{moving}” is no air.", where="--air", remedy="Use still, fan or cabinet.")
    return Room(moving, celsius, humidity_fraction, speed_m_per_s)  # type: ignore[arg-type]


def dry_document(wish: DryWish) -> dict[str, Any]:
    """Return target, forecast and what the log says as one plain document, unrounded.

    A weighing is on the disk before anything else is worked out. Raises InputError when nothing says how much
    plaster dries, or for a weighing that cannot be.
    """
    wet, ml, area, face_mm, consistency = _mold(wish)
    findings: tuple[Finding, ...] = ()
    dried = None
    if area is not None:
        dried = plan_drying(
            water_per_100=consistency,
            area_cm2=area,
            room=wish.room,
            wet_g=wet,
            plaster_ml=ml,
            face_mm=face_mm,
            start_percent=wish.moisture_percent,
            piece=wish.piece or "",
        )
        findings = drying_findings(dried, wish.room)
    told = None
    log = wish.log or _log_of_plan(wish)
    if log is not None:
        told = _weighed(wish, log, consistency, None if wet is None else middle(wet))
    elif wish.weigh_g is not None or wish.take is not None:
        where = "--take" if wish.weigh_g is None else "--weigh"
        raise InputError("a weighing needs its log.", where=where, remedy="Give --log FILE, or a plan.")
    if dried is None and told is None:
        if wet is None:
            raise InputError(
                "nothing says how much plaster dries.",
                where="dry",
                remedy="Give --wet 2450g, --size 200x150x90mm, or a plan folder.",
            )
        target = plan_drying(water_per_100=consistency, area_cm2=1.0, room=wish.room, wet_g=wet)
        return _target_only(document_of(target))
    return document_of(dried, log=told, findings=findings + (told.findings if told is not None else ()))


def _target_only(document: dict[str, Any]) -> dict[str, Any]:
    """The masses alone, when no area was told and so no time can be."""
    keep = {"wet_g", "dry_g", "water_g", "findings"}
    kept: dict[str, Any] = {key: value for key, value in document.items() if key in keep}
    figures = {at: one for at, one in document["figures"].items() if at.split("/")[1] in keep}
    kept["states"] = [
        {key: value for key, value in state.items() if key != "hours"} for state in document["states"]
    ]
    figures |= {
        at: one
        for at, one in document["figures"].items()
        if at.startswith("/states/") and not at.endswith("/hours")
    }
    return kept | {"figures": figures}


def _mold(
    wish: DryWish,
) -> tuple[Input | None, Input | None, Input | None, float | None, float]:
    """Wet mass g, volume ml, open area cm², length of a face mm, consistency."""
    consistency = 100.0 / 1.3 if wish.consistency is None else wish.consistency
    if wish.plan is not None:
        plan = read_ware_plan(wish.plan)
        if wish.consistency is None:
            consistency = float(plan["made"]["brief"]["consistency"])
        key = "open_cm2" if wish.opened else "outside_cm2"
        places = {str(piece["id"]): place for place, piece in enumerate(plan["pieces"])}
        if wish.piece is not None and wish.piece not in places:
            raise InputError(
                f"the plan has no piece {wish.piece}.", where="--piece", remedy=f"It has {', '.join(places)}."
            )
        chosen = [wish.piece] if wish.piece is not None else list(places)
        wet = sum(figure_of(plan, f"/pieces/{places[name]}/wet_kg").value for name in chosen) * 1000
        at = "" if wish.piece is None else f"/pieces/{places[wish.piece]}"
        area = figure_of(plan, f"/ware/measures{at}/{key}").value
        face = figure_of(plan, "/ware/measures/face_mm").value
        return wish.wet_g or wet, None, wish.area_cm2 or area, face, consistency
    if wish.size_mm is None:
        return wish.wet_g, None, wish.area_cm2, None, consistency
    x, y, z = wish.size_mm
    volume_ml = x * y * z / 1000 - wish.cavity_ml
    if not volume_ml > 0:
        raise InputError("the cavity is larger than the block.", where="--cavity", remedy="Check both units.")
    area = wish.area_cm2 or 2 * (x * y + y * z + x * z) / 100
    return wish.wet_g, volume_ml if wish.wet_g is None else None, area, max(x, y, z), consistency


def _log_of_plan(wish: DryWish) -> Path | None:
    if wish.plan is None:
        return None
    beside = log_beside(wish.plan, wish.piece)
    wanted = wish.weigh_g is not None or wish.take is not None
    return beside if wanted or beside.exists() else None


def _weighed(wish: DryWish, log: Path, consistency: float, wet_g: float | None) -> Any:
    before = sorted(read_log(log), key=lambda one: one.at_s)
    fresh: list[Weighing] = []
    said: tuple[Finding, ...] = ()
    if wish.take is not None:
        fresh, said = _taken(wish, wish.take, before)
    if wish.weigh_g is not None:
        fresh.append(Weighing(time.time() if wish.at_s is None else wish.at_s, wish.weigh_g, wish.note))
    known = sorted([*before, *fresh], key=lambda one: one.at_s)
    first_g = (before or known)[0].mass_g if before or known else None
    # A piece weighed just set and trimmed tells its dry mass better than the plan's volume does.
    if wet_g is not None and (wish.wet_g is not None or first_g is None or first_g < 0.9 * wet_g):
        first_g = wet_g
    for weighing in fresh:
        check_weighing(weighing, consistency, first_g or weighing.mass_g)
    for weighing in fresh:
        append_weighing(log, weighing)
    told = forecast(known, water_per_100=consistency, trimmed_wet_g=first_g)
    return replace(told, findings=(*said, *told.findings))


def _taken(
    wish: DryWish, file: Path, before: Sequence[Weighing]
) -> tuple[list[Weighing], tuple[Finding, ...]]:
    """Weighings of a file that the log does not hold yet, and what is said of them."""
    found = of_one_piece(read_file(file), mold=wish.mold, piece=wish.piece or "", where=str(file))
    fresh = [one.weighing for one in missing_from(found, before)]
    there = len(found) - len(fresh)
    says = f"{len(fresh)} of {len(found)} weighings were taken from {file.name}"
    says += f"; {there} were there already." if there else "."
    return fresh, (Finding("weighings_taken", "note", "weighing log", says),)
