"""`claybed studio`: what the studio owns and keeps to, typed once."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from claybed import units as unit_words
from claybed.cli import options as ask
from claybed.cli import output
from claybed.cli.commands import add, group
from claybed.errors import EXIT_DONE, InputError

if TYPE_CHECKING:
    from claybed.records.studio import Studio

_text = ask.option


def init(
    name: Annotated[str | None, _text("--name", "NAME", "What the studio is called.")] = None,
    units: Annotated[str | None, _text("--units", "metric|us", "Units on screens and paper.")] = None,
    boards: Annotated[
        list[str] | None,
        _text("--boards", "SET", "'4 600x200x18mm mdf': how many, length x height x thickness. Repeat."),
    ] = None,
    bands: Annotated[
        list[str] | None, _text("--band", "BAND", "'1500x300mm plastic': length x height. Repeat.")
    ] = None,
    buckets: Annotated[list[str] | None, _text("--bucket", "SIZE", "'2 10L': how many, to the brim.")] = None,
    drills: Annotated[int | None, _text("--drills", "N", "Drills with a paddle; 0 mixes by hand.")] = None,
    people: Annotated[
        list[str] | None, _text("--person", "NAME", "'Ros: staff' or 'Class: school'. Repeat.")
    ] = None,
    plaster: Annotated[str | None, _text("--plaster", "KIND", "Such as pottery_plaster.")] = None,
    lot: Annotated[str | None, _text("--lot", "LOT", "Number on the sack in use.")] = None,
    opened: Annotated[str | None, _text("--opened", "DAY", "When it was opened: 2026-10-02.")] = None,
    ratio: Annotated[str | None, _text("--ratio", "RATIO", "Water : plaster kept to: 1:1.3.")] = None,
    scale: Annotated[str | None, _text("--scale", "MASS", "Smallest step of the scale: 5g.")] = None,
    bench: Annotated[str | None, _text("--bench", "LENGTH", "Height of the bench: 900mm.")] = None,
    shelf: Annotated[str | None, _text("--shelf", "LENGTH", "Height of the drying shelf: 1500mm.")] = None,
    water: Annotated[str | None, _text("--water", "TEMP", "The tap's water: 18C.")] = None,
    release: Annotated[str | None, _text("--release", "soap|oil|wax", "What parts plaster.")] = None,
    lift: Annotated[str | None, _text("--lift", "MASS", "Most one piece may weigh wet: 16kg.")] = None,
    out: Annotated[Path | None, _text("--out", "FILE", "Where to write it; your own file else.")] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Write an earlier file anew.")] = False,
    ask_for_it: Annotated[
        bool | None,
        typer.Option("--ask/--no-ask", help="Ask for each entry; on a terminal that is usual."),
    ] = None,
    as_json: ask.AsJson = False,
) -> int:
    """Write the studio's file, asking for what was not given; plans take what they need from it."""
    from claybed.actions import studio_file

    given: dict[str, Any] = {
        "name": name, "units": units, "ratio": ratio, "bench": bench, "shelf": shelf, "scale_step": scale,
        "lift": lift, "water": water, "release": release, "drills": drills,
    }  # fmt: skip
    lists: dict[str, list[str]] = {
        "boards": boards or [], "bands": bands or [], "buckets": buckets or [], "people": people or [],
    }  # fmt: skip
    sack = {"kind": plaster, "lot": lot, "opened": opened}
    path = out if out is not None else studio_file.own_path()
    anything = any(value is not None for value in (*given.values(), *sack.values())) or any(lists.values())
    asking = ask_for_it if ask_for_it is not None else sys.stdin.isatty() and not anything
    if asking:
        _ask(given, lists, sack)
    elif not anything:
        raise InputError(
            "nothing was given to write.",
            where="studio init",
            remedy="Say what you own, such as --boards '4 600x200x18mm', or use --ask.",
        )
    content = {key: value for key, value in given.items() if value is not None}
    if any(sack.values()):
        content["plasters"] = [{key: value for key, value in sack.items() if value is not None}]
        if sack["kind"] is None:
            content["plasters"][0]["kind"] = "pottery_plaster"
    base = studio_file.studio_from(content, "studio init")
    studio = _with_lists(base, lists)
    studio_file.write_studio(studio, path, replace=replace)
    if as_json:
        output.print_json(asdict(studio))
        return EXIT_DONE
    _show(studio, str(path))
    output.say(f"Written to {path}.")
    words = ["claybed", "plan", "OBJECT.stl"]
    output.say_next(*words, *([] if path == studio_file.own_path() else ["--studio", str(path)]))
    return EXIT_DONE


def show(studio: ask.Studio = None, as_json: ask.AsJson = False) -> int:
    """Show what the studio's file says, and where it is."""
    from claybed.actions import studio_file

    path = studio_file.studio_path(studio)
    if path is None:
        raise InputError(
            f"there is no studio file; looked for {studio_file.own_path()}.",
            where="studio show",
            remedy="Make one with claybed studio init.",
        )
    found = studio_file.read_studio(path)
    if as_json:
        output.print_json(asdict(found))
        return EXIT_DONE
    _show(found, str(path))
    output.say_next("claybed", "studio", "init", "--help")
    return EXIT_DONE


def _with_lists(base: Studio, lists: dict[str, list[str]]) -> Studio:
    from dataclasses import replace

    from claybed.actions import studio_file as read

    return replace(
        base,
        boards=tuple(read.boards_typed(text, where="--boards") for text in lists["boards"]),
        bands=tuple(read.band_typed(text, where="--band") for text in lists["bands"]),
        buckets=tuple(read.bucket_typed(text, where="--bucket") for text in lists["buckets"]),
        people=tuple(read.person_typed(text, where="--person") for text in lists["people"]),
    )


_QUESTIONS = (
    ("name", "What is the studio called?", ""),
    ("units", "Units, metric or us?", "metric"),
    ("ratio", "Water : plaster you keep to?", "1:1.3"),
    ("scale_step", "Smallest step of your scale?", "1g"),
    ("bench", "Height of the bench?", "900mm"),
    ("shelf", "Height of the drying shelf?", "1500mm"),
    ("water", "Temperature of the tap water?", "20C"),
    ("release", "What parts plaster from plaster: soap, oil or wax?", "soap"),
    ("lift", "Most one piece may weigh wet?", "16kg"),
)
_SACK = (
    ("kind", "Kind of plaster?", "pottery_plaster"),
    ("lot", "Number on the sack in use?", ""),
    ("opened", "When was it opened (2026-10-02)?", ""),
)
_LISTS = (
    ("boards", "Boards, such as 4 600x200x18mm mdf (Enter when there are no more)"),
    ("bands", "Bands, such as 1500x300mm plastic (Enter when there are no more)"),
    ("buckets", "Buckets, such as 2 10L (Enter when there are no more)"),
    ("people", "People who lift, such as Ros: staff or Class: school (Enter when there are no more)"),
)


def _ask(given: dict[str, Any], lists: dict[str, list[str]], sack: dict[str, str | None]) -> None:
    """Ask for every entry that was not given; an answer that cannot be read is asked for again."""
    from claybed.actions import studio_file as read

    typed: dict[str, Callable[..., object]] = {
        "boards": read.boards_typed,
        "bands": read.band_typed,
        "buckets": read.bucket_typed,
        "people": read.person_typed,
    }
    for key, question, usual in _QUESTIONS:
        if given[key] is None:
            given[key] = _answer(question, usual, partial(_one_entry, key))
    if given["drills"] is None:
        given["drills"] = int(_answer("How many drills with a paddle (0: by hand)?", "1", _few))
    for key, question in _LISTS:
        reader = partial(typed[key], where=key)
        while text := _answer(question, "", partial(_unless_empty, reader)):
            lists[key].append(text)
    for key, question, usual in _SACK:
        if sack[key] is None:
            sack[key] = _answer(question, usual, partial(_sack_entry, key))


def _one_entry(key: str, text: str) -> None:
    from claybed.actions.studio_file import studio_from

    studio_from({key: text}, key)


def _sack_entry(key: str, text: str) -> None:
    from claybed.actions.studio_file import studio_from

    studio_from({"plasters": [{"kind": "pottery_plaster", key: text}]}, key)


def _unless_empty(read: Callable[[str], object], text: str) -> None:
    if text:
        read(text)


def _few(text: str) -> None:
    if not text.isdigit() or int(text) > 20:
        raise InputError(f"“{text}” is not a number of them.", where="drills", remedy="Such as 1.")


def _answer(question: str, usual: str, read: Callable[[str], object]) -> str:
    while True:
        text = str(typer.prompt(question, default=usual, show_default=bool(usual))).strip()
        try:
            read(text)
        except InputError as fault:
            output.say(str(fault))
            continue
        return text


def _show(studio: Studio, place: str) -> None:
    us = studio.units == "us"
    output.say(f"{studio.name or 'The studio'} ({place})")
    rows: list[tuple[str, str]] = []
    for board in studio.boards:
        sides = (board.length_mm, board.height_mm, board.thickness_mm)
        size = " × ".join(unit_words.say_length(side, us=us) for side in sides)
        rows.append(("Boards", f"{board.count} of {size}, {board.material}"))
    for band in studio.bands:
        size = " × ".join(unit_words.say_length(side, us=us) for side in (band.length_mm, band.height_mm))
        rows.append(("Band", f"{size}, {band.material}"))
    for bucket in studio.buckets:
        rows.append(
            ("Buckets", f"{bucket.count} of {unit_words.say_volume(bucket.volume_l * 1000.0, us=us)}")
        )
    for person in studio.people:
        rows.append(("Lifts", f"{person.name} ({person.lifts})"))
    for sack in studio.plasters:
        since = f", opened {sack.opened}" if sack.opened else ""
        rows.append(("Plaster", f"{sack.kind.replace('_', ' ')} {sack.lot}{since}".replace("  ", " ")))
    plain = (
        ("Ratio", studio.consistency, unit_words.say_ratio),
        ("Scale", studio.scale_step_g, lambda g: f"steps of {unit_words.say_mass(g, us=us)}"),
        ("Bench", studio.bench_mm, lambda mm: unit_words.say_length(mm, us=us)),
        ("Shelf", studio.shelf_mm, lambda mm: unit_words.say_length(mm, us=us)),
        ("Water", studio.water_celsius, lambda c: f"{c:.0f} °C"),
        ("Lift", studio.lift_kg, lambda kg: unit_words.say_mass(kg * 1000.0, us=us)),
    )
    rows += [(label, say(value)) for label, value, say in plain if value is not None]
    rows.append(("Release", studio.release or "not said"))
    rows.append(("Drills", str(studio.drills)))
    output.say_table(("Entry", "Kept"), rows, left=2)


app = group(
    "studio",
    "Type once what the studio owns and keeps to: boards, bands, buckets, plaster, people.",
    example="claybed studio init",
    no_args_is_help=True,
)
add(app, init, "claybed studio init --boards '4 600x250x18mm mdf' --bucket '2 10L' --ratio 1:1.3")
add(app, show, "claybed studio show")
