"""How an object is told on the screen, and how its file comes to be."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Final

import typer

from claybed import units as unit_words
from claybed.actions.asking import SYSTEMS, UNITS, choice, length_above_nothing_mm, mass_above_nothing_g
from claybed.cli import output
from claybed.errors import EXIT_DONE

Document = Mapping[str, Any]
# Stands in the first bytes of every object file.
MARK: Final = b"object.json"
_BOX: Final = re.compile(r"--box (\S+mm)")

Out = Annotated[
    Path | None,
    typer.Option("--out", metavar="FILE", help="The object file (default NAME.claybed in this folder)."),
]
Mass = Annotated[
    str | None,
    typer.Option("--mass", metavar="MASS", help="What the object weighs: tells whether it floats."),
]
Replace = Annotated[bool, typer.Option("--replace", metavar="", help="Make an earlier object file anew.")]
Why = Annotated[
    bool, typer.Option("--why", metavar="", help="Print formula, inputs and source of every figure.")
]

DrawingFile = Annotated[Path, typer.Argument(help="The drawing: SVG or DXF.", show_default=False)]
DrawnUnit = Annotated[
    str | None,
    typer.Option("--unit", metavar="mm|cm|in", help="Length of one unit of the drawing, if it does not say."),
]
DrawnSize = Annotated[
    str | None, typer.Option("--size", metavar="LENGTH", help="Scale its longer side to this: 120mm.")
]
Traced = Annotated[
    str | None,
    typer.Option(
        "--line", metavar="LENGTH", help="How far the object may be from a line traced around it: 0.5mm."
    ),
]


def grams(mass: str | None) -> float | None:
    """Read a mass as typed, in g; None stays None. Raises InputError for none above 0."""
    return None if mass is None else mass_above_nothing_g(mass, where="--mass")


def drawn(outline: Path, unit: str | None, size: str | None, line: str | None) -> dict[str, Any]:
    """What is asked of a drawing, as its actions take it: path, unit, size and traced line in mm.

    Raises InputError for words that are no unit or length.
    """
    return {
        "path": outline.absolute(),
        "unit": None if unit is None else choice(unit, UNITS, where="--unit"),
        "size_mm": None if size is None else length_above_nothing_mm(size, where="--size"),
        "line_mm": 0.0 if line is None else length_above_nothing_mm(line, where="--line"),
    }


def make(
    target: str,
    payload: Mapping[str, Any],
    origin: Path,
    *,
    name: str = "",
    out: Path | None,
    replace: bool,
    why: bool,
    as_json: bool,
    units: str,
) -> int:
    """Run `target` in a limited process, have it write the object file, and tell what came of it.

    The target is handed `payload` with "out", the file to write, and "name"; it returns the description. The
    file appears whole or not at all. `origin` is what errors name, and the object is named after it where no
    other `name` is given; `units` as typed. Returns the exit code; raises InputError for an unknown system of
    units.
    """
    from claybed.cli.progress import Meter
    from claybed.jobs.single_file import new_file
    from claybed.jobs.worker import run_job

    us = choice(units, SYSTEMS, where="--units") == "us"
    final = out if out is not None else Path(f"{name or origin.stem}.claybed")
    with new_file(final, replace=replace, mark=MARK) as work, Meter() as meter:
        order = {**payload, "out": work, "name": final.stem}
        document: Document = run_job(target, order, on_progress=meter, where=origin.name)
    tell(document, final, why=why, as_json=as_json, us=us, written=True)
    return EXIT_DONE


def tell(
    document: Document, file: Path, *, why: bool, as_json: bool, us: bool, written: bool = False
) -> None:
    """Print an object: what it is, how well it is known, what was done, what is left open, and what next."""
    if as_json:
        output.print_json(document)
        return
    output.say(size_line(document, us=us))
    measured = document["measured"]
    output.say(str(measured["says"]))
    for step in document["steps"]:
        output.say(str(step["says"]))
    for open_ in measured["cannot_tell"]:
        output.say(str(open_))
    output.say_findings(document["findings"])
    if why:
        output.say_working(document["figures"])
    if written:
        output.say(f"Written to {file}.")
    if document["mesh"] is None:
        told = (_BOX.search(str(finding["remedy"])) for finding in document["findings"])
        box = next((found[1] for found in told if found), "200x150x90mm")
        output.say_next("claybed", "mix", "--box", box, "--object", str(file))
    else:
        mouth = ("--mouth",) if measured["closed_band"] else ()
        output.say_next("claybed", "plan", str(file), *mouth)


def size_line(document: Document, *, us: bool) -> str:
    """Return one sentence with name, size, volume and how far that may be off, and weight."""

    def volume(ml: float) -> str:
        return unit_words.say_volume(ml, us=us)

    parts = []
    if document["extent_mm"] is not None:
        parts.append(" × ".join(unit_words.say_length(side, us=us) for side in document["extent_mm"]))
    figure = document["figures"]["/volume_ml"]
    off = unit_words.say_spread(document["volume_ml"], figure["low"], figure["high"], volume)
    parts.append(f"{volume(document['volume_ml'])} {off}".rstrip())
    if document["mass_g"] is not None:
        parts.append(unit_words.say_mass(document["mass_g"], us=us))
    return f"{document['name']}: {', '.join(parts)}."
