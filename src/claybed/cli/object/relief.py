"""`claybed object relief`: a picture as heights."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from claybed import units as unit_words
from claybed.actions.asking import length_above_nothing_mm
from claybed.cli import options as ask
from claybed.cli.object.telling import Mass, Out, Replace, Why, grams, make

TARGET = "claybed.actions.shaping:run_relief"


def relief(
    picture: Annotated[
        Path, typer.Argument(help="A grey-scale picture: PNG, TIFF or JPEG.", show_default=False)
    ],
    width: Annotated[
        str, typer.Option("--width", metavar="LENGTH", help="Width of the picture.", show_default=False)
    ],
    raised: Annotated[
        str, typer.Option("--raised", metavar="LENGTH", help="How far white stands above black.")
    ] = "5mm",
    base: Annotated[
        str, typer.Option("--base", metavar="LENGTH", help="How thick the plate is under black.")
    ] = "8mm",
    smooth: Annotated[
        str,
        typer.Option("--smooth", metavar="LENGTH", help="Smooth the picture over this; 0 for not at all."),
    ] = "0.5mm",
    draft: Annotated[
        float, typer.Option("--draft", metavar="DEG", help="How far the plate's sides lean.")
    ] = 5.0,
    dark_high: Annotated[
        bool, typer.Option("--dark-high", metavar="", help="Let dark stand high, as on a photo of a print.")
    ] = False,
    mass: Mass = None,
    out: Out = None,
    replace: Replace = False,
    why: Why = False,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Make a relief plate whose height follows the brightness of a picture."""
    payload = {
        "path": picture.absolute(),
        "width_mm": length_above_nothing_mm(width, where="--width"),
        "raised_mm": length_above_nothing_mm(raised, where="--raised"),
        "base_mm": length_above_nothing_mm(base, where="--base"),
        "smooth_mm": unit_words.length_mm(smooth, where="--smooth"),
        "draft_deg": draft,
        "dark_high": dark_high,
        "mass_g": grams(mass),
    }
    return make(TARGET, payload, picture, out=out, replace=replace, why=why, as_json=as_json, units=units)
