"""`claybed object extrude`: a drawn outline made thick."""

from __future__ import annotations

from typing import Annotated

import typer

from claybed.actions.asking import length_above_nothing_mm
from claybed.cli import options as ask
from claybed.cli.object.telling import (
    DrawingFile,
    DrawnSize,
    DrawnUnit,
    Mass,
    Out,
    Replace,
    Traced,
    Why,
    drawn,
    grams,
    make,
)

TARGET = "claybed.actions.shaping:run_outline"


def extrude(
    outline: DrawingFile,
    thick: Annotated[
        str, typer.Option("--thick", metavar="LENGTH", help="How thick it is: 20mm.", show_default=False)
    ],
    draft: Annotated[
        float, typer.Option("--draft", metavar="DEG", help="How far its sides lean in towards the top.")
    ] = 5.0,
    unit: DrawnUnit = None,
    size: DrawnSize = None,
    line: Traced = None,
    mass: Mass = None,
    out: Out = None,
    replace: Replace = False,
    why: Why = False,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Make a closed outline thick, its sides leaning in; outlines within it are holes."""
    payload = {
        "how": "extrude",
        "thick_mm": length_above_nothing_mm(thick, where="--thick"),
        "draft_deg": draft,
        "mass_g": grams(mass),
        **drawn(outline, unit, size, line),
    }
    return make(TARGET, payload, outline, out=out, replace=replace, why=why, as_json=as_json, units=units)
