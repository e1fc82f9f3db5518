"""`claybed object revolve`: a drawn profile turned about its axis."""

from __future__ import annotations

from typing import Annotated

import typer

from claybed.actions.asking import choice
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


def revolve(
    outline: DrawingFile,
    axis: Annotated[
        str,
        typer.Option(
            "--axis", metavar="left|right|middle", help="The axis: an edge of the drawing, or its middle."
        ),
    ] = "left",
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
    """Revolve half a profile, drawn as one line or a closed outline, about an upright axis."""
    payload = {
        "how": "revolve",
        "axis": choice(axis, ("left", "right", "middle"), where="--axis"),
        "mass_g": grams(mass),
        **drawn(outline, unit, size, line),
    }
    return make(TARGET, payload, outline, out=out, replace=replace, why=why, as_json=as_json, units=units)
