"""`claybed object photo`: a turned object from one photo, or a blend of front and side."""

from __future__ import annotations

import contextlib
from pathlib import Path
from typing import Annotated, Final

import typer

from claybed.actions.asking import choice, length_above_nothing_mm, mass_above_nothing_g
from claybed.cli import options as ask
from claybed.cli.object.telling import Mass, Out, Replace, Why, make
from claybed.errors import InputError

TARGET: Final = "claybed.actions.photographing:run_photo"
JPEG: Final = b"\xff\xd8"
_POINTS: Final = b"x_px,y_px"
MATS: Final = ("under", "behind")

Bar = Annotated[
    str | None, typer.Option("--bar", metavar="LENGTH", help="What the mat's check bar measures on paper.")
]
Marker = Annotated[
    str | None, typer.Option("--marker", metavar="LENGTH", help="What one marker's side measures on paper.")
]


def lengths(**typed: str | None) -> dict[str, float | None]:
    """Read lengths typed after options of those names, in mm, under NAME_mm."""
    return {
        f"{name}_mm": None if text is None else length_above_nothing_mm(text, where=f"--{name}")
        for name, text in typed.items()
    }


def photo(
    file: Annotated[
        Path, typer.Argument(help="The photo: JPEG, PNG, TIFF, WebP or HEIC.", show_default=False)
    ],
    side: Annotated[
        Path | None,
        typer.Option("--side", metavar="FILE", help="A second photo, a quarter turn on: blend the two."),
    ] = None,
    mat: Annotated[
        str,
        typer.Option("--mat", metavar="|".join(MATS), help="Where the mat is: under the object, or upright."),
    ] = "under",
    gap: Annotated[
        str | None,
        typer.Option(
            "--gap", metavar="LENGTH", help="From an upright mat to the object's nearest point (0 mm)."
        ),
    ] = None,
    bar: Bar = None,
    marker: Marker = None,
    height: Annotated[
        str | None,
        typer.Option("--height", metavar="LENGTH", help="The object's height by ruler; corrects the scale."),
    ] = None,
    exponent: Annotated[
        float,
        typer.Option(
            "--exponent", metavar="N", help="Of a blend's levels: 2 is an ellipse, larger is squarer."
        ),
    ] = 2.0,
    outline: Annotated[
        Path | None,
        typer.Option(
            "--outline", metavar="FILE", help="A corrected outline: x,y in pixels, one point a line."
        ),
    ] = None,
    side_outline: Annotated[
        Path | None, typer.Option("--side-outline", metavar="FILE", help="The same for the photo of --side.")
    ] = None,
    save_outline: Annotated[
        Path | None, typer.Option("--save-outline", metavar="FILE", help="Write the outline, to correct it.")
    ] = None,
    save_side_outline: Annotated[
        Path | None, typer.Option("--save-side-outline", metavar="FILE", help="The same for --side.")
    ] = None,
    check: Annotated[
        Path | None,
        typer.Option("--check", metavar="FILE.jpg", help="Write the photo with its outline drawn in."),
    ] = None,
    mass: Mass = None,
    out: Out = None,
    replace: Replace = False,
    why: Why = False,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Make an object from one photo on the mat, taken as turned; or from front and side, blended."""
    from claybed.jobs.single_file import new_file

    if not 1.0 <= exponent <= 20.0:
        raise InputError(
            f"{exponent:g} is no exponent for a section.", where="--exponent", remedy="Use 1 to 20."
        )
    if side is None and (side_outline is not None or save_side_outline is not None):
        raise InputError(
            "belong to a second photo.", where="--side-outline and --save-side-outline", remedy="Add --side."
        )
    behind = choice(mat, MATS, where="--mat") == "behind"
    if gap is not None and not behind:
        raise InputError("is for a mat behind the object.", where="--gap", remedy="Add --mat behind.")
    if side is not None and behind:
        raise InputError(
            "blends two photos on a lying mat.",
            where="--side",
            remedy="Lay the mat on the table, or leave out --side or --mat behind.",
        )
    gap_mm = length_above_nothing_mm(gap, where="--gap") if gap is not None else 0.0
    with contextlib.ExitStack() as stack:
        extra = {
            name: None if final is None else stack.enter_context(new_file(final, replace=replace, mark=mark))
            for name, final, mark in (
                ("check", check, JPEG),
                ("save_outline", save_outline, _POINTS),
                ("save_side_outline", save_side_outline, _POINTS),
            )
        }
        payload = {
            "path": file.absolute(),
            "side": None if side is None else side.absolute(),
            "exponent": exponent,
            "gap_mm": gap_mm if behind else None,
            "outline": None if outline is None else outline.absolute(),
            "side_outline": None if side_outline is None else side_outline.absolute(),
            "mass_g": None if mass is None else mass_above_nothing_g(mass, where="--mass"),
            **lengths(bar=bar, marker=marker, height=height),
            **extra,
        }
        return make(TARGET, payload, file, out=out, replace=replace, why=why, as_json=as_json, units=units)
