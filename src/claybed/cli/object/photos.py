"""`claybed object photos`: the hull of a ring of photos."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import Annotated, Final

import typer

from claybed.actions.asking import mass_above_nothing_g
from claybed.cli import options as ask
from claybed.cli.object.photo import JPEG, Bar, Marker, lengths
from claybed.cli.object.telling import Mass, Out, Replace, Why, make

TARGET: Final = "claybed.actions.photographing:run_photos"


def photos(
    files: Annotated[
        list[Path],
        typer.Argument(help="8 to 36 photos from all round the object on the mat.", show_default=False),
    ],
    bar: Bar = None,
    marker: Marker = None,
    height: Annotated[
        str | None,
        typer.Option(
            "--height", metavar="LENGTH", help="The object's height by ruler; the hull is cut there."
        ),
    ] = None,
    check: Annotated[
        Path | None,
        typer.Option(
            "--check", metavar="FILE.jpg", help="Write all photos used with their outlines drawn in."
        ),
    ] = None,
    mass: Mass = None,
    out: Out = None,
    replace: Replace = False,
    why: Why = False,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Make an object from a ring of photos: the hull of its outlines, which the object lies inside.

    Pictures that are blurred, lack the mat or contradict the others are left out, and named.
    """
    from claybed.jobs.single_file import new_file

    payload = {
        "paths": [file.absolute() for file in files],
        "mass_g": None if mass is None else mass_above_nothing_g(mass, where="--mass"),
        **lengths(bar=bar, marker=marker, height=height),
    }
    with contextlib.ExitStack() as stack:
        sheet = None if check is None else stack.enter_context(new_file(check, replace=replace, mark=JPEG))
        return make(
            TARGET,
            {**payload, "check": sheet},
            Path("photos"),
            name=files[0].absolute().parent.name,
            out=out,
            replace=replace,
            why=why,
            as_json=as_json,
            units=units,
        )
