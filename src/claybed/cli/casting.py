"""`claybed cast`: how long for a wall, how much slip, and how many casts before the mold must dry."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from claybed import units as unit_words
from claybed.actions.asking import SYSTEMS, choice
from claybed.cli import folder_work, output
from claybed.cli import options as ask
from claybed.cli import ware_options as ware
from claybed.errors import EXIT_DONE, InputError
from claybed.wording import count_word

_CAST = "The cast"
_TEST = "A test pour"
_MOLD = "The mold"
_MAP = "A map of the wall, on a plan"
_OWN_MOLD = "the map takes the mold as the plan holds it, from its first cast on"
_text = ask.option


def cast(
    plan: ware.PlanFolder = None,
    wall: Annotated[str | None, _text("--wall", "LENGTH", "Wall wanted, wet: 4mm.", _CAST)] = None,
    minutes: Annotated[
        float | None, _text("--minutes", "MIN", "Or the time, to learn the wall.", _CAST)
    ] = None,
    k: Annotated[
        float | None, _text("--k", "MM2/MIN", "Casting rate, wall² / time, from a test pour.", _CAST)
    ] = None,
    temperature: Annotated[
        str | None, _text("--temperature", "TEMP", "Of slip and mold: 15C, 60F.", _CAST)
    ] = None,
    number: Annotated[
        int,
        typer.Option(
            "--number", metavar="N", help="Which cast since the mold was dry.", rich_help_panel=_CAST
        ),
    ] = 1,
    casts: Annotated[
        int | None, _text("--casts", "N", "Good casts wanted, for the slip to prepare.", _CAST)
    ] = None,
    sg: Annotated[float | None, _text("--sg", "NUMBER", "Specific gravity of the slip.", _CAST)] = None,
    clay_water: Annotated[
        str | None, _text("--clay-water", "SHARE", "Water of the wall just drained, of wet mass: 22%.", _CAST)
    ] = None,
    test_wall: Annotated[str | None, _text("--test-wall", "LENGTH", "Wall of a test pour.", _TEST)] = None,
    test_minutes: Annotated[float | None, _text("--test-minutes", "MIN", "Its time.", _TEST)] = None,
    test: Annotated[
        list[str] | None, _text("--test", "WALL@MIN", "Several test pours: 3mm@3, repeated.", _TEST)
    ] = None,
    area: Annotated[str | None, _text("--area", "AREA", "Cavity wall that is cast: 300cm2.", _MOLD)] = None,
    cavity: Annotated[str | None, _text("--cavity", "VOLUME", "What the cavity holds: 450ml.", _MOLD)] = None,
    plaster: Annotated[
        str | None,
        _text("--plaster", "LENGTH", "Plaster behind a flat wall: 35mm. With it, casts are counted.", _MOLD),
    ] = None,
    ratio: ask.Ratio = None,
    moisture: Annotated[
        str | None,
        _text(
            "--moisture",
            "SHARE",
            "Water in the plaster to begin with, of dry mass: 5%; by a plan's weighings otherwise.",
            _MOLD,
        ),
    ] = None,
    drying_days: Annotated[
        float | None, _text("--drying-days", "DAYS", "Days that the mold dries between casting days.", _MOLD)
    ] = None,
    bore: Annotated[
        list[str] | None, _text("--bore", "LENGTH", "A round gate or neck; repeat.", _MOLD)
    ] = None,
    slot: Annotated[
        list[str] | None, _text("--slot", "LENGTH", "A flat slot, such as a foot rim; repeat.", _MOLD)
    ] = None,
    spare: Annotated[str | None, _text("--spare", "VOLUME", "What stands above the rim.", _MOLD)] = None,
    used: Annotated[
        bool,
        typer.Option("--used", help="The mold has cast before: none thrown away.", rich_help_panel=_MOLD),
    ] = False,
    map_to: Annotated[
        Path | None,
        _text("--map", "FOLDER", "Simulate --casts on the plan's plaster; write pictures here.", _MAP),
    ] = None,
    release: Annotated[
        float | None, _text("--release", "MIN", "From draining until the cast comes out.", _MAP)
    ] = None,
    rest: Annotated[
        float | None, _text("--rest", "MIN", "From then until the next fill; the mold dries meanwhile.", _MAP)
    ] = None,
    opened: Annotated[
        bool,
        typer.Option(
            "--open",
            help="In the rest the pieces lie apart; closed and strapped on slats otherwise.",
            rich_help_panel=_MAP,
        ),
    ] = False,
    room: Annotated[str | None, _text("--room", "TEMP", "Air of the rest: 22C (default 20C).", _MAP)] = None,
    humidity: Annotated[
        str | None, _text("--humidity", "SHARE", "Its relative humidity (default 50%).", _MAP)
    ] = None,
    air: Annotated[
        str | None, _text("--air", "still|fan|cabinet", "How it moves (default still).", _MAP)
    ] = None,
    cell: Annotated[
        str | None, _text("--cell", "LENGTH", "Side of a cell of plaster (default 1.5mm).", _MAP)
    ] = None,
    thicker: Annotated[
        str | None,
        _text("--thicker", "LENGTH", "Plaster outside to compare with (default 10mm; 0 for none).", _MAP),
    ] = None,
    keep: Annotated[
        bool,
        typer.Option(
            "--keep",
            help="Keep figures and last picture with the plan, on its sheet too.",
            rich_help_panel=_MAP,
        ),
    ] = False,
    named: Annotated[str | None, _text("--slip", "NAME", "A slip of your studio file.", ware.CLAY)] = None,
    studio: ware.Studio = None,
    why: ware.Why = False,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Work out a slip cast: time for a wall, slip, and casts before the mold must dry.

    The wall grows with the square root of time. k differs tenfold from slip to slip: make a test pour.
    """
    from claybed.actions.casting import CastWish, cast_document, map_ask
    from claybed.actions.drying import room_of
    from claybed.actions.kept_map import keep_map, kept_map

    system = choice(units, SYSTEMS, where="--units")
    start = ware.share(moisture, where="--moisture")
    wish = CastWish(
        wall_mm=ware.length(wall, where="--wall"),
        minutes=ware.positive(minutes, where="--minutes"),
        k_mm2_per_min=ware.positive(k, where="--k"),
        tests=_tests(test_wall, test_minutes, test or []),
        celsius=None
        if temperature is None
        else unit_words.temperature_celsius(temperature, where="--temperature"),
        cast_number=ware.counted_from_one(number, where="--number"),
        area_cm2=ware.area(area, where="--area"),
        plaster_mm=ware.length(plaster, where="--plaster"),
        start_percent=None if start is None else 100 * start,
        cavity_ml=ware.volume(cavity, where="--cavity"),
        spare_ml=ware.volume(spare, where="--spare"),
        bores_mm=tuple(ware.length(one, where="--bore") or 0.0 for one in bore or []),
        slots_mm=tuple(ware.length(one, where="--slot") or 0.0 for one in slot or []),
        drying_days=ware.positive(drying_days, where="--drying-days"),
        good_casts=None if casts is None else ware.counted_from_one(casts, where="--casts"),
        new_mold=not used,
        consistency=100 / 1.3 if ratio is None else unit_words.ratio_consistency(ratio, where="--ratio"),
        density_ratio=ware.positive(sg, where="--sg"),
        clay_water_fraction=ware.share(clay_water, where="--clay-water"),
        slip=named,
        studio=ware.studio_text(studio),
        plan=plan,
    )
    airs = {"--open": opened or None, "--room": room, "--humidity": humidity, "--air": air}
    if not rest:
        folder_work.only_with("--rest", airs, "--rest MINUTES")
    if map_to is not None:
        folder_work.only_without("--map", _OWN_MOLD, {
            "--area": area, "--cavity": cavity, "--plaster": plaster, "--ratio": ratio, "--bore": bore,
            "--slot": slot, "--spare": spare, "--drying-days": drying_days, "--used": used or None,
            "--number": None if number == 1 else number,
        })  # fmt: skip
        asked = map_ask(
            wish,
            release_min=_from_nothing(release, "--release"),
            rest_min=_from_nothing(rest, "--rest") or 0.0,
            room=room_of(
                choice(air or "still", ("still", "fan", "cabinet"), where="--air"),
                None if room is None else unit_words.temperature_celsius(room, where="--room"),
                ware.share(humidity, where="--humidity"),
                None,
            ),
            opened=opened,
            cell_mm=ware.length(cell, where="--cell"),
            thicker_mm=10.0 if thicker is None else unit_words.length_mm(thicker, where="--thicker"),
        )
        mapped = folder_work.into_folder(
            folder_work.CAST_MAP, plan, map_to, asked, option="--map", units=system
        )
        if keep and plan is not None:
            keep_map(plan, map_to, mapped)
        if as_json:
            output.print_json(mapped)
        else:
            folder_work.show_map(mapped, map_to, us=system == "us")
            if why:
                output.say_working(mapped["figures"])
            folder_work.say_next_of_map(mapped, plan, map_to)
        return EXIT_DONE
    folder_work.only_with("--map", {
        "--release": release, "--rest": rest, "--cell": cell, "--thicker": thicker, "--keep": keep or None,
    })  # fmt: skip
    document = cast_document(wish)
    if as_json:
        output.print_json(document)
        return EXIT_DONE
    show(document, us=system == "us")
    kept = None if plan is None else kept_map(plan)
    if kept is not None:
        folder_work.show_kept(kept, us=system == "us")
    rate = document["k_mm2_per_min"]
    after = ["claybed", "cast", "--k", f"{rate:.3g}", "--wall", "4mm"]
    if "minutes" in document:
        after = ["claybed", "dry", *([str(plan)] if plan is not None else ["--help"])]
    ware.finish(document, why, after)
    return EXIT_DONE


def _from_nothing(minutes: float | None, where: str) -> float | None:
    """Pass on minutes of 0 or more, or None; raises InputError otherwise."""
    return minutes if minutes == 0.0 else ware.positive(minutes, where=where)


def _tests(wall: str | None, minutes: float | None, rows: list[str]) -> list[tuple[float, float]]:
    found = []
    if (wall is None) != (minutes is None):
        raise InputError(
            "a test pour has a wall and a time.", where="--test-wall", remedy="Give --test-minutes too."
        )
    if wall is not None and minutes is not None:
        found.append(
            (
                ware.length(wall, where="--test-wall") or 0.0,
                ware.positive(minutes, where="--test-minutes") or 0.0,
            )
        )
    for row in rows:
        parts = row.split("@")
        number = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*(?:min)?\s*", parts[1]) if len(parts) == 2 else None
        if number is None:
            raise InputError(f"“{row}” is no test pour.", where="--test", remedy="Write 4mm@5.")
        time = ware.positive(float(number[1].replace(",", ".")), where="--test") or 0.0
        found.append((ware.length(parts[0], where="--test") or 0.0, time))
    return found


def show(document: Mapping[str, Any], *, us: bool) -> None:
    """Print a cast: time and wall, release, rhythm, slip, necks; or k alone."""
    tried = document.get("test", document)
    if "pours" in tried:
        at = "/test" if "test" in document else ""
        rate = ware.spread_text(document, f"{at}/k_mm2_per_min", lambda k: f"{k:.2f}")
        output.say(f"The test says {rate} mm² a minute.")
        if "exponent_ratio" in tried:
            power = f"{tried['exponent_ratio']:.2f}"
            output.say(f"The wall grew as time to the power of {power}; 0.5 is the square root.")
    if "minutes" not in document:
        return
    wall = ware.spread_text(document, "/wall_mm", lambda mm: unit_words.say_gauged(mm, us=us))
    output.say(f"A wall of {wall} takes {ware.spread_text(document, '/minutes', unit_words.say_time)}.")
    release = ware.spread_text(document, "/release_minutes", unit_words.say_time)
    depth = unit_words.say_length(document["wet_depth_mm"], us=us)
    grip = document.get("grip") or {}
    if grip.get("within_minutes") is None:
        output.say(f"Release after about {release} more. One cast wets {depth} of plaster.")
    else:  # what lets go late is not waited for where the clay grips
        output.say(f"Clay that nothing holds lets go after about {release} more; this mold opens sooner.")
    if grip:
        output.say(grip_line(document, us=us))
    if grip.get("within_minutes") is not None:
        output.say(f"One cast wets {depth} of plaster.")
    if "casts_before_drying" in document:
        casts = ware.spread_text(document, "/casts_before_drying", lambda count: f"{count:.1f}")
        text = f"The mold takes {casts} casts before it must dry, {document['casts_per_day']:.0f} a day"
        if "casts_per_week" in document:
            week = ware.spread_text(document, "/casts_per_week", lambda count: f"{count:.1f}")
            text += f", {week} a week with drying between"
        output.say(f"{text}.")
    if document["discarded_casts"] > 0:
        output.say(f"Throw the first {count_word(round(document['discarded_casts']))} of a new mold away.")
    if document["rows"]:
        output.say_table(
            ("Cast", "Time", "Water in the plaster after it"),
            [
                (f"{row['number']:.0f}", unit_words.say_time(row["minutes"]), f"{row['water_percent']:.1f} %")
                for row in document["rows"]
            ],
        )
    slip = document.get("per_cast")
    if slip:
        say = {key: unit_words.say_volume(value, us=us) for key, value in slip.items() if key.endswith("_ml")}
        text = f"Each cast uses {say['slip_ml']} of slip; {say['top_up_ml']} of it to top up."
        if "fill_ml" in slip:
            text += (
                f" Fill {say['fill_ml']}, {say['drain_ml']} come back; prepare {say['prepare_ml']} in all."
            )
        output.say(text)
    if document["top_ups"]:
        times = ", ".join(unit_words.say_time(row["minutes"]) for row in document["top_ups"])
        output.say(f"The spare is empty after {times}: top up then.")
    for narrow in document["narrows"]:
        output.say(
            f"The {narrow['kind']} of {unit_words.say_length(narrow['width_mm'], us=us)} grows shut after "
            f"{unit_words.say_time(narrow['closes_minutes'])}."
        )


def grip_line(document: Mapping[str, Any], *, us: bool) -> str:
    """Return one sentence on where the cast of a plan grips its plaster, and by when it is out of there."""
    grip = document["grip"]
    if grip["within_minutes"] is None:
        return "By the plan, the clay grips the plaster nowhere as it shrinks."
    tight = unit_words.say_length(grip["grip_mm"], us=us)
    within = ware.spread_text(document, "/grip/within_minutes", unit_words.say_time)
    return (
        f"By the plan, the clay shrinks onto {document['onto']} by {tight} until it is leather-hard: "
        f"{document['opens']} within about {within} of pouring out."
    )
