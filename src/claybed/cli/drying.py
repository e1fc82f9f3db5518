"""`claybed dry`: when a mold is dry, by the room and by the scale."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from pathlib import Path
from typing import Annotated, Any, cast

import typer

from claybed import units as unit_words
from claybed.actions.asking import SYSTEMS, choice, sides_mm
from claybed.cli import options as ask
from claybed.cli import output
from claybed.cli import ware_options as ware
from claybed.errors import EXIT_DONE, InputError

_MOLD = "The mold"
_ROOM = "The room"
_LOG = "By the scale"
_STATE_WORDS = {
    "press_ready": "ready to press",
    "slip_ready": "ready for slip",
    "shelf_dry": "dry for the shelf",
}
_text = ask.option


def dry(
    plan: ware.PlanFolder = None,
    wet: Annotated[
        str | None, _text("--wet", "MASS", "What it weighed just set and trimmed: 2450g.", _MOLD)
    ] = None,
    size: Annotated[
        str | None, _text("--size", "L x W x H", "Outside of a block, open on all sides.", _MOLD)
    ] = None,
    cavity: Annotated[str | None, _text("--cavity", "VOLUME", "What is hollow in it.", _MOLD)] = None,
    area: Annotated[
        str | None, _text("--area", "AREA", "Plaster open to the air, if you know it.", _MOLD)
    ] = None,
    ratio: ask.Ratio = None,
    moisture: Annotated[
        str | None, _text("--moisture", "SHARE", "Water now, of dry mass: 15%. All of it otherwise.", _MOLD)
    ] = None,
    piece: Annotated[str | None, _text("--piece", "LETTER", "One piece of the plan.", _MOLD)] = None,
    opened: Annotated[
        bool,
        typer.Option(
            "--open",
            help="Pieces apart, the cavity open to the air; closed and strapped otherwise.",
            rich_help_panel=_MOLD,
        ),
    ] = False,
    room: Annotated[str | None, _text("--room", "TEMP", "Air: 22C, 72F (default 20C).", _ROOM)] = None,
    humidity: Annotated[
        str | None, _text("--humidity", "SHARE", "Relative humidity (default 50%).", _ROOM)
    ] = None,
    air: Annotated[
        str,
        typer.Option("--air", metavar="still|fan|cabinet", help="How the air moves.", rich_help_panel=_ROOM),
    ] = "still",
    speed: Annotated[
        float | None, _text("--speed", "M/S", "Speed of the air, if you measured it.", _ROOM)
    ] = None,
    log: Annotated[
        Path | None, _text("--log", "FILE", "Log of weighings; a plan has its own beside it.", _LOG)
    ] = None,
    weigh: Annotated[str | None, _text("--weigh", "MASS", "Add a weighing: 2105g.", _LOG)] = None,
    at: Annotated[
        str | None, _text("--at", "TIME", "When it was, 2026-11-25T14:30; now otherwise.", _LOG)
    ] = None,
    note: Annotated[
        str,
        typer.Option(
            "--note", metavar="TEXT", help="Why it is odd: rinsed, chip, other scale.", rich_help_panel=_LOG
        ),
    ] = "",
    take: Annotated[
        Path | None,
        _text("--take", "FILE", "Add weighings of another log, or of the app's register (CSV, ZIP).", _LOG),
    ] = None,
    mold: Annotated[
        str, typer.Option("--mold", metavar="ID", help="Which mold of the register.", rich_help_panel=_LOG)
    ] = "",
    why: ware.Why = False,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Tell when a mold is dry: its mass when dry, a forecast for the room, and what the scale says.

    A weighing is on the disk before anything else happens. An odd one is asked about, not refused.
    """
    from claybed.actions.drying import DryWish, dry_document, room_of
    from claybed.actions.weighing_log import read_time

    system = choice(units, SYSTEMS, where="--units")
    start = ware.share(moisture, where="--moisture")
    if plan is not None and size is not None:
        raise InputError("the plan knows its size.", where="--size", remedy="Leave it out, or the plan.")
    document = dry_document(
        DryWish(
            wet_g=ware.mass(wet, where="--wet"),
            size_mm=None
            if size is None
            else cast("tuple[float, float, float]", sides_mm(size, 3, where="--size")),
            area_cm2=ware.area(area, where="--area"),
            cavity_ml=ware.volume(cavity, where="--cavity") or 0.0,
            consistency=None if ratio is None else unit_words.ratio_consistency(ratio, where="--ratio"),
            room=room_of(
                choice(air, ("still", "fan", "cabinet"), where="--air"),
                None if room is None else unit_words.temperature_celsius(room, where="--room"),
                ware.share(humidity, where="--humidity"),
                ware.positive(speed, where="--speed"),
            ),
            moisture_percent=None if start is None else 100 * start,
            plan=plan,
            piece=piece,
            opened=opened,
            log=log,
            weigh_g=ware.mass(weigh, where="--weigh"),
            at_s=None if at is None else read_time(at, where="--at"),
            note=note.strip(),
            take=take,
            mold=mold.strip(),
        )
    )
    if as_json:
        output.print_json(document)
        return EXIT_DONE
    show(document, us=system == "us", air=air)
    ware.finish(document, why, _next(plan, log, document))
    return EXIT_DONE


def _next(plan: Path | None, log: Path | None, document: Mapping[str, Any]) -> list[str]:
    """What to weigh next, begun with the mass that the mold has or had last."""
    grams = round((document.get("log") or {}).get("last_g") or document.get("wet_g") or 2450)
    if plan is not None:
        return ["claybed", "dry", str(plan), "--weigh", f"{grams}g"]
    wet = () if "log" in document else ("--wet", f"{grams}g")
    return ["claybed", "dry", *wet, "--log", str(log or "mold.jsonl"), "--weigh", f"{grams}g"]


def show(document: Mapping[str, Any], *, us: bool, air: str) -> None:
    """Print target masses, the forecast, what people quote, and what the log says."""

    def mass(grams: float) -> str:
        return unit_words.say_mass(grams, us=us)

    if "dry_g" in document:
        wet = document["wet_g"]
        output.say(f"{mass(wet)} wet holds {mass(document['water_g'])} of water to lose.")
        rows = []
        for place, state in enumerate(document["states"]):
            time = ""
            if "hours" in state:
                time = ware.spread_text(
                    document, f"/states/{place}/hours", lambda hours: unit_words.say_time(60 * hours)
                )
            weighs = ware.spread_text(document, f"/states/{place}/mass_g", mass)
            rows.append(
                (output.words(_STATE_WORDS[state["id"]]), f"{state['water_percent']:.0f} %", weighs, time)
            )
        output.say_table(("State", "Water", "Weighs", "After"), rows)
    if "rate_g_per_m2_h" in document:
        _show_room(document, us=us, air=air)
    log = document.get("log")
    if log:
        _show_log(document, log, mass)


def _show_room(document: Mapping[str, Any], *, us: bool, air: str) -> None:
    room, wet_bulb = (
        unit_words.say_temperature(document[key], us=us) for key in ("air_celsius", "wet_bulb_celsius")
    )
    moving = {"still": "still air", "fan": "a fan", "cabinet": "a cabinet"}[air]
    output.say(
        f"In {moving} of {room} and {document['humidity_percent']:.0f} % its face cools towards {wet_bulb} "
        f"and loses {document['rate_g_per_m2_h']:.0f} g an hour from a square metre; an open pan would lose "
        f"{document['open_pan_g_per_m2_h']:.0f}."
    )
    output.say(
        "People quote 3 to 4 days on a shelf, 1 to 2 with fan and sun (common practice, no source). They "
        "open the mold, or the air moves more, or they cast while it is damp. Nothing here is fitted to that."
    )


def _show_log(document: Mapping[str, Any], log: Mapping[str, Any], mass: Any) -> None:
    many = round(log["weighings"])
    last = f"{output.counted(many, 'weighing').capitalize()}{', the last' if many > 1 else ''}"
    last = f"{last}: {mass(log['last_g'])}"
    target = ware.spread_text(document, "/log/dry_g", mass)
    left = f"{log['water_percent']:.1f} % of water, {mass(log['to_go_g'])} to go"
    output.say(f"{last}, {left}. Dry it weighs {target}.")
    now = datetime.now().astimezone()
    for place, state in enumerate(log["ready"]):
        words = output.words(_STATE_WORDS[state["id"]])
        if state["reached"]:
            output.say(f"{words}: yes.")
            continue
        hours = document["figures"][f"/log/ready/{place}/hours"]
        early, late = (now + timedelta(hours=hours[key]) for key in ("low", "high"))
        likely = now + timedelta(hours=state["hours"])
        output.say(f"{words}: {likely:%a %d %b}, between {early:%a %d %b} and {late:%a %d %b}.")
    if log["plateau"]:
        output.say("It has stopped losing weight: dry.")
    elif log["ready"][-1]["reached"]:
        output.say("Weigh again in a day: dry is when it loses under 0.3 %.")
