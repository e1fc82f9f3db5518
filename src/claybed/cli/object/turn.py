"""`claybed object turn`: a form from readings with calipers."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from claybed import units as unit_words
from claybed.actions.asking import choice, length_above_nothing_mm
from claybed.cli import options as ask
from claybed.cli.object.telling import Mass, Out, Replace, Why, grams, make

TARGET = "claybed.actions.making:run_turn"
_SECTIONS = ("round", "oval", "superellipse", "rectangle")


def turn(
    readings: Annotated[
        Path,
        typer.Argument(
            help="CSV with height and diameter (or width and depth), inside and corner; or TOML, with foot "
            "ring, lip, handles and spouts too.",
            show_default=False,
        ),
    ],
    unit: Annotated[
        str | None, typer.Option("--unit", metavar="mm|cm|in", help="Unit of bare numbers (default mm).")
    ] = None,
    reading: Annotated[
        str | None,
        typer.Option("--reading", metavar="LENGTH", help="How far one reading may be off (default 0.5mm)."),
    ] = None,
    section: Annotated[
        str | None,
        typer.Option("--section", metavar="|".join(_SECTIONS), help="Shape of a level cut (default round)."),
    ] = None,
    exponent: Annotated[
        float | None, typer.Option("--exponent", metavar="N", help="Of a superellipse: 2 is an ellipse.")
    ] = None,
    corner: Annotated[
        str | None, typer.Option("--corner", metavar="LENGTH", help="Radius of a rectangle's corners.")
    ] = None,
    lip: Annotated[
        str | None, typer.Option("--lip", metavar="flat|round", help="How the rim of a hollow form ends.")
    ] = None,
    mass: Mass = None,
    out: Out = None,
    replace: Replace = False,
    why: Why = False,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Make an object from heights and diameters read with calipers.

    The curve through the readings is smooth and never bulges past them; mark a corner to keep an edge.
    """
    asked = {
        "unit": None if unit is None else choice(unit, ("mm", "cm", "m", "in", "ft"), where="--unit"),
        "section": None if section is None else choice(section, _SECTIONS, where="--section"),
        "exponent": exponent,
        "corner_mm": None if corner is None else length_above_nothing_mm(corner, where="--corner"),
        "lip": None if lip is None else choice(lip, ("flat", "round"), where="--lip"),
        "reading_mm": None if reading is None else unit_words.length_mm(reading, where="--reading"),
    }
    payload = {
        "path": readings.absolute(),
        "asked": asked,
        "mass_g": grams(mass),
    }
    return make(TARGET, payload, readings, out=out, replace=replace, why=why, as_json=as_json, units=units)
