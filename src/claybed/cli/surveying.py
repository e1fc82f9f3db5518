"""`claybed survey`: which way a model leaves, and what locks."""

from __future__ import annotations

import shlex
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from claybed import units as unit_words
from claybed.actions.asking import SYSTEMS, brief_from, choice, words_of
from claybed.cli import options as ask
from claybed.cli import output
from claybed.cli.plan_lines import is_hump, trade_lines
from claybed.cli.planning import leaving_line, object_line, plan_folder, remedied
from claybed.errors import EXIT_DONE
from claybed.trades import other_ways
from claybed.wording import in_system

TARGET = "claybed.actions.surveying:run"
_ROWS = 8
_FILL_OPTION = "--max-fill"
_INSIDE = ("hollow_ware", "pierced_ware")
# What of an outside's survey holds of its inside.
_OF_OBJECT = ("unit", "height_mm", "close_holes", "mass_g", "body", "up", "max_triangles")


def survey(
    file: ask.File,
    unit: ask.Unit = None,
    height: ask.Height = None,
    mouth: ask.Mouth = None,
    close_holes: ask.CloseHoles = None,
    mass: ask.Mass = None,
    body: ask.Body = None,
    up: ask.Up = None,
    max_triangles: ask.MaxTriangles = None,
    axis: ask.Axis = None,
    max_fill: ask.MaxFill = None,
    pose_tolerance: ask.PoseTolerance = None,
    pieces: ask.Pieces = None,
    open_mold: ask.Open = None,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Find which way a model leaves its mold, what locks, and how much oil clay closes it. Writes nothing."""
    from claybed.cli.progress import Meter
    from claybed.jobs.worker import run_job

    typed: dict[str, Any] = {
        "unit": unit,
        "height_mm": height,
        "mouth": mouth,
        "close_holes": close_holes,
        "mass_g": mass,
        "body": body,
        "up": up,
        "max_triangles": max_triangles,
        "axis": axis,
        "max_fill_ml": max_fill,
        "pose_tolerance_deg": pose_tolerance,
        "pieces": pieces,
        "open": open_mold,
    }
    brief = brief_from(typed)
    system = choice(units, SYSTEMS, where="--units")
    with Meter() as meter:
        payload = {"path": file.absolute(), "brief": brief, "units": system}
        document: Mapping[str, Any] = run_job(TARGET, payload, on_progress=meter, where=file.name)
    if as_json:
        output.print_json(document)
    else:
        show_survey(document, us=system == "us")
        if hump_opens(document):
            output.say(f"To drape clay over its inside: {shlex.join(hump_words(file, typed))}")
        if leaves_one_block(document):
            output.say(f"To press or slump it: {shlex.join(press_words(file, typed))}")
        output.say_next(*_next_words(document, file, typed))
    return EXIT_DONE


def _next_words(document: Mapping[str, Any], file: Path, typed: Mapping[str, Any]) -> list[str]:
    """Return the command to try next: the plan as asked, as far as it would not be refused.

    More fill is planned with; what changes the object or its pieces is surveyed first, and so is hollow ware
    that locks with its inside.
    """
    refused = document.get("refused")
    asked: list[str] | None = words_of(typed)
    inside = [finding for finding in document["findings"] if finding["id"] in _INSIDE]
    if inside and not document["survey"]["castable"]:
        return ["claybed", "survey", str(file), *(remedied(typed, str(inside[0]["remedy"])) or ())]
    if refused:
        remedy = str(refused["remedy"])
        asked = remedied(typed, remedy)
        if asked is None:
            return ["claybed", "survey", "--help"]
        if _FILL_OPTION not in asked:
            return ["claybed", "survey", str(file), *asked]
    return ["claybed", "plan", str(file), *(asked or ()), "--out", str(plan_folder(file))]


def leaves_one_block(document: Mapping[str, Any]) -> bool:
    """Whether a single open block is among the ways to make this mold, and a plan of it is not refused."""
    options = document["survey"].get("options") or ()
    if is_hump(document):
        return False
    return not document.get("refused") and any(option["kind"] == "one_piece" for option in options)


def press_words(file: Path, typed: Mapping[str, Any]) -> list[str]:
    """Return the command that plans one open block to press or slump into, with what was typed."""
    return ["claybed", "plan", str(file), *words_of({**typed, "pieces": "1"}), "--use", "press"]


def hump_opens(document: Mapping[str, Any]) -> bool:
    """Whether plaster would leave the inside of a vessel whose outside was surveyed."""
    mouth = document["object"].get("mouth") or {}
    return bool(mouth.get("inside_opens"))


def hump_words(file: Path, typed: Mapping[str, Any]) -> list[str]:
    """Return the command that plans a hump of a vessel's inside, with what was typed of the object."""
    of_object = {name: typed[name] for name in _OF_OBJECT if typed.get(name) is not None}
    return ["claybed", "plan", str(file), *words_of(of_object), "--open", "hump"]


def show_survey(document: Mapping[str, Any], *, us: bool) -> None:
    """Print a survey: the object, how it leaves, one table of axes, and findings."""
    output.say(object_line(document, us=us))
    output.say(leaving_line(document, us=us))
    found = document["survey"]
    options = list(found.get("options") or ())
    if options and options[0]["kind"] == "one_piece":
        output.say(in_system(str(options[0]["says"]), us=us))
    for says in dict.fromkeys(str(way["says"]) for way in other_ways(found)):
        output.say(f"Or: {in_system(says, us=us)}")
    for line in trade_lines(found, us=us):
        output.say(line)
    rows = [
        (
            output.direction_text(candidate["axis"]),
            output.words(str(candidate.get("why", ""))).lower(),
            unit_words.say_volume(candidate["fill_ml"], us=us),
            unit_words.say_length(candidate["deepest_mm"], us=us) if "deepest_mm" in candidate else "",
            "yes" if candidate["castable"] else "after filling",
        )
        for candidate in list(found["candidates"])[:_ROWS]
    ]
    output.say_table(("Axis", "Found as", "Fill", "Deepest", "Leaves"), rows, left=2)
    output.say_findings(document["findings"], us=us)
    refused = document.get("refused")
    if refused:
        output.say(
            f"A plan of it as asked would be refused: {in_system(str(refused['says']), us=us)}", "yellow"
        )
        output.say(in_system(str(refused["remedy"]), us=us))
