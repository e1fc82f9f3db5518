"""Options and words that the commands of ware share."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated, Any

import typer

from claybed import units as unit_words
from claybed.actions.asking import above_nothing, with_unit
from claybed.cli import output
from claybed.errors import InputError

CLAY = "The clay"
OUTPUT = "What comes out"

PlanFolder = Annotated[
    Path | None,
    typer.Argument(
        metavar="PLAN",
        help="A folder that claybed plan wrote; plain numbers do without.",
        show_default=False,
    ),
]
Why = Annotated[
    bool,
    typer.Option("--why", help="Print formula, inputs and source of every figure.", rich_help_panel=OUTPUT),
]
Studio = Annotated[
    Path | None,
    typer.Option(
        "--studio",
        metavar="FILE",
        help="The studio's file, with your own clays and slips: tables body.NAME and slip.NAME.",
        show_default=False,
        rich_help_panel=CLAY,
    ),
]
ClayBody = Annotated[
    str | None,
    typer.Option(
        "--body",
        "--clay",
        metavar="NAME",
        help="Clay body: stoneware, porcelain_slip, or one of your own.",
        show_default=False,
        rich_help_panel=CLAY,
    ),
]


def studio_text(path: Path | None) -> str:
    """Return the text of the studio's file, as asked or the usual one, "" without. Raises InputError when it
    cannot be read.
    """
    from claybed.actions.studio_file import studio_path

    found = studio_path(path)
    if found is None:
        return ""
    try:
        return found.read_text("utf-8")
    except (OSError, UnicodeDecodeError):
        raise InputError("cannot be read.", where=f"--studio {found}", remedy="Give a TOML file.") from None


def optional(text: str | None, read: Any, *, where: str) -> float | None:
    """Read an amount above 0 with `read`, or None when nothing was typed."""
    return None if text is None else above_nothing(float(read(text, where=where)), text, where=where)


def length(text: str | None, *, where: str) -> float | None:
    """Read a length above 0 in mm, or None."""
    return optional(text, unit_words.length_mm, where=where)


def mass(text: str | None, *, where: str) -> float | None:
    """Read a mass above 0 with its unit in g, or None."""
    return None if text is None else optional(with_unit(text, "310g", where), unit_words.mass_g, where=where)


def volume(text: str | None, *, where: str) -> float | None:
    """Read a volume above 0 with its unit in ml, or None."""
    return (
        None if text is None else optional(with_unit(text, "10L", where), unit_words.volume_ml, where=where)
    )


def area(text: str | None, *, where: str) -> float | None:
    """Read an area above 0 with its unit in cm², or None."""
    return (
        None if text is None else optional(with_unit(text, "300cm2", where), unit_words.area_cm2, where=where)
    )


def share(text: str | None, *, where: str) -> float | None:
    """Read a share ("12%" or 0.12) as a fraction, or None."""
    return None if text is None else unit_words.fraction(text, where=where)


def positive(amount: float | None, *, where: str) -> float | None:
    """Pass on a plain number above 0, or None; raises InputError otherwise."""
    return None if amount is None else above_nothing(amount, f"{amount:g}", where=where)


def counted_from_one(number: int, *, where: str) -> int:
    """Pass on a whole number from 1 on; raises InputError otherwise."""
    if number < 1:
        raise InputError(f"{number} is not possible here.", where=where, remedy="Use 1 or more.")
    return number


def percent_text(document: Mapping[str, Any], pointer: str) -> str:
    """Return a percentage of a document with its bounds where it has any: "12 % (10 to 15)"."""
    return spread_text(document, pointer, lambda amount: f"{amount:.4g}", " %")


def spread_text(document: Mapping[str, Any], pointer: str, say: Any, unit: str = "") -> str:
    """Return a figure of a document in words, with its bounds where it has any."""
    value: Any = document
    for step in pointer.strip("/").split("/"):
        value = value[int(step)] if isinstance(value, list) else value[step]
    figure = document["figures"][pointer]
    low, high = figure["low"], figure["high"]
    text = f"{say(value)}{unit}"
    if low is None or high is None or say(low) == say(high):
        return text
    return f"{text} ({say(low)} to {say(high)})"


def finish(document: Mapping[str, Any], why: bool, next_words: Sequence[str]) -> None:
    """Print findings, the working when it was asked for, and the next command."""
    output.say_findings(document.get("findings") or ())
    if why:
        output.say_working(document["figures"])
    output.say_next(*next_words)
