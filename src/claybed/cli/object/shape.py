"""`claybed object shape`: a simple body of given sizes."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from claybed import units as unit_words
from claybed.actions.asking import choice, length_above_nothing_mm, sides_mm
from claybed.cli import options as ask
from claybed.cli.object.telling import Mass, Out, Replace, Why, grams, make

TARGET = "claybed.actions.shaping:run_shape"
# How many sizes each takes, and the draft it has unless told otherwise, in degrees.
KINDS = {
    "box": (3, 0.0),
    "cylinder": (2, 0.0),
    "cone": (2, 0.0),
    "sphere": (1, 0.0),
    "egg": (2, 0.0),
    "tile": (3, 5.0),
}


def shape(
    kind: Annotated[
        str, typer.Argument(help="box, cylinder, cone, sphere, egg or tile.", show_default=False)
    ],
    sizes: Annotated[
        str,
        typer.Argument(
            help="100x80x60mm for box and tile, 80x100mm (across, high) for cylinder and cone, 90mm for "
            "sphere, 60x44mm (long, across) for egg.",
            show_default=False,
        ),
    ],
    draft: Annotated[
        float | None,
        typer.Option("--draft", metavar="DEG", help="How far upright sides lean in (default 0; tile 5)."),
    ] = None,
    corner: Annotated[
        str | None, typer.Option("--corner", metavar="LENGTH", help="Radius of the upright corners.")
    ] = None,
    blunt: Annotated[
        float, typer.Option("--blunt", metavar="SHARE", help="Share of an egg below its widest place.")
    ] = 0.42,
    reading: Annotated[
        str | None,
        typer.Option("--reading", metavar="LENGTH", help="How far a size may be off; 0 when it is a design."),
    ] = None,
    mass: Mass = None,
    out: Out = None,
    replace: Replace = False,
    why: Why = False,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Make a box, cylinder, cone, sphere, egg or tile of given sizes, standing on its base."""
    what = choice(kind, tuple(KINDS), where="shape")
    count, usual_draft = KINDS[what]
    payload = {
        "kind": what,
        "sizes_mm": sides_mm(sizes, count, where="shape"),
        "draft_deg": usual_draft if draft is None else draft,
        "corner_mm": 0.0 if corner is None else length_above_nothing_mm(corner, where="--corner"),
        "blunt_share": blunt,
        "reading_mm": 0.0 if reading is None else unit_words.length_mm(reading, where="--reading"),
        "mass_g": grams(mass),
    }
    return make(
        TARGET,
        payload,
        Path(what),
        out=out,
        replace=replace,
        why=why,
        as_json=as_json,
        units=units,
    )
