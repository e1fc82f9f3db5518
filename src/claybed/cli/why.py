"""`claybed why`: where one figure of a plan comes from."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from claybed.cli import options as ask
from claybed.cli import output
from claybed.errors import EXIT_DONE

TARGET = "claybed.actions.explaining:run"
_MOST_LISTED = 60
Folder = Annotated[Path, typer.Argument(help="A folder that claybed plan wrote.", show_default=False)]
Name = Annotated[
    str | None,
    typer.Argument(
        help="A figure, such as pours.A.plaster_g; a group, such as pours.A.form, lists what is in it.",
        show_default=False,
    ),
]


def why(folder: Folder, name: Name = None, as_json: ask.AsJson = False) -> int:
    """Say where a figure of a plan comes from: formula, inputs and their origin, source, common rule."""
    from claybed.jobs.worker import run_job

    payload = {"path": folder.absolute(), "name": name}
    document: Mapping[str, Any] = run_job(TARGET, payload, on_progress=_quiet, where=str(folder))
    if as_json:
        output.print_json(document)
    elif "names" in document:
        _list(document, folder)
    else:
        show_why(document, folder)
    return EXIT_DONE


def _quiet(step: str, fraction: float) -> None:
    """Reading a plan takes no time that would need a meter."""


def _list(document: Mapping[str, Any], folder: Path) -> None:
    names = [str(name) for name in document["names"]]
    within = f" in {document['name']}" if document["name"] else ""
    output.say(f"{output.counted(len(names), 'figure')}{within}.")
    for name in names[:_MOST_LISTED]:
        output.say(f"  {name}")
    if len(names) > _MOST_LISTED:
        output.say(f"  … and {len(names) - _MOST_LISTED} more; name a group, such as pours or mold.")
    output.say_next("claybed", "why", str(folder), names[0])


def show_why(document: Mapping[str, Any], folder: Path) -> None:
    """Print one figure: value, formula, inputs with where each comes from, source, common rule."""
    unit = str(document["unit"])
    output.say(f"{document['name']} = {_number(document['value'])}{_behind(unit)}", "bold")
    if document["low"] is not None and document["high"] is not None:
        output.say(f"Likely from {_number(document['low'])} to {_number(document['high'])}{_behind(unit)}.")
    output.say(f"Formula: {document['formula']}.")
    rows = [(str(one["name"]), _number(one["value"]), _from(one["from"])) for one in document["inputs"]]
    if rows:
        output.say_table(("Input", "Value", "Comes from"), rows, left=3)
    source = document["source"]
    known = f" ({source['seen']})" if source["seen"] and source["seen"] != source["key"] else ""
    output.say(f"Source: {source['text']}{known}")
    common = document["common_rule"]
    if common is not None:
        output.say(f"Common rule: {_number(common['value'])}{_behind(common['unit'])}, {common['says']}.")
    figures = [one["from"]["says"] for one in document["inputs"] if one["from"]["kind"] == "figure"]
    group = str(document["name"]).rpartition(".")[0]
    following = [figures[0]] if figures else [group] if group else []
    output.say_next("claybed", "why", str(folder), *following)


def _from(origin: Mapping[str, Any]) -> str:
    source = origin.get("source")
    if source is None or source["key"] in ("practice", "memory", "chosen"):
        return str(origin["says"])
    return f"{origin['says']} [{source['key']}]"


def _behind(unit: str) -> str:
    return "" if unit == "-" else f" {unit}"


def _number(value: object) -> str:
    if isinstance(value, list):
        return " × ".join(_number(item) for item in value)
    if isinstance(value, float):
        return f"{value:.6g}" if abs(value) < 1e5 else f"{value:.0f}"
    return str(value)
