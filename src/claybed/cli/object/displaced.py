"""`claybed object displaced`: an object known by the water it pushes out."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from claybed import units as unit_words
from claybed.actions.asking import mass_above_nothing_g, sides_mm
from claybed.cli import options as ask
from claybed.cli.object.telling import Mass, Out, Replace, Why, grams, make
from claybed.errors import InputError

TARGET = "claybed.actions.shaping:run_displaced"


def displaced(
    water: Annotated[
        str,
        typer.Option(
            "--water",
            metavar="AMOUNT",
            help="Water it pushes out when held right under: 640g, weighed, or 640ml, measured.",
            show_default=False,
        ),
    ],
    box: Annotated[
        str | None,
        typer.Option("--box", metavar="L x W x H", help="The box it just fits into: 120x90x180mm."),
    ] = None,
    reading: Annotated[
        str | None, typer.Option("--reading", metavar="MASS", help="How far one weighing may be off: 1g.")
    ] = None,
    mass: Mass = None,
    name: Annotated[str, typer.Option("--name", metavar="NAME", help="What it is called.")] = "object",
    out: Out = None,
    replace: Replace = False,
    why: Why = False,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Note an object by displaced water and weight alone: enough to mix, build a form and hold it down."""
    water_g, water_ml = _water(water)
    payload = {
        "water_g": water_g,
        "water_ml": water_ml,
        "extent_mm": None if box is None else sides_mm(box, 3, where="--box"),
        "mass_g": grams(mass),
        "reading_g": None if reading is None else mass_above_nothing_g(reading, where="--reading"),
    }
    return make(
        TARGET,
        payload,
        Path("displaced"),
        name=name,
        out=out,
        replace=replace,
        why=why,
        as_json=as_json,
        units=units,
    )


def _water(text: str) -> tuple[float | None, float | None]:
    """Water as typed, by mass (g) or by volume (ml)."""
    try:
        return mass_above_nothing_g(text, where="--water"), None
    except InputError as no_mass:
        try:
            volume_ml = unit_words.volume_ml(text, where="--water")
        except InputError:
            raise no_mass from None
        if not volume_ml > 0.0 or text.strip().replace(".", "").isdigit():
            raise no_mass from None
        return None, volume_ml
