"""`claybed object scan`: a rough scan made a clean object."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from claybed import units as unit_words
from claybed.actions.asking import brief_from, direction, length_above_nothing_mm, whole
from claybed.cli import options as ask
from claybed.cli.object.telling import Mass, Out, Replace, Why, grams, make

TARGET = "claybed.actions.scanning:run"


def scan(
    file: Annotated[Path, typer.Argument(help="The scan: PLY, OBJ, STL, GLB or 3MF.", show_default=False)],
    unit: ask.Unit = None,
    height: Annotated[
        str | None,
        typer.Option("--height", metavar="LENGTH", help="Scale to this measured height, once it stands."),
    ] = None,
    up: Annotated[
        str | None, typer.Option("--up", metavar="AXIS", help="Which way is up in the file; found otherwise.")
    ] = None,
    keep_table: Annotated[
        bool, typer.Option("--keep-table", metavar="", help="Look for no table to cut away.")
    ] = False,
    clear: Annotated[
        str, typer.Option("--clear", metavar="LENGTH", help="Cut at least this far above the table.")
    ] = "1mm",
    keep_scraps: Annotated[
        bool, typer.Option("--keep-scraps", metavar="", help="Keep parts that float beside it.")
    ] = False,
    smooth: Annotated[
        str,
        typer.Option("--smooth", metavar="LENGTH", help="Most that noise is smoothed by; 0 for not at all."),
    ] = "0.2mm",
    triangles: Annotated[
        int, typer.Option("--triangles", metavar="N", help="Triangles to leave; 0 leaves all.")
    ] = 60_000,
    body: ask.Body = None,
    max_triangles: ask.MaxTriangles = None,
    mass: Mass = None,
    out: Out = None,
    replace: Replace = False,
    why: Why = False,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Tidy a rough scan: table and scraps cut away, holes closed, noise smoothed, stood up.

    Each step is told, with how much it changed, and can be left out.
    """
    from claybed.records.tidying import Wishes

    typed = {"unit": unit, "height_mm": height, "body": body, "max_triangles": max_triangles}
    brief = brief_from(typed)
    wishes = Wishes(
        table=not keep_table,
        clear_mm=length_above_nothing_mm(clear, where="--clear"),
        scraps=not keep_scraps,
        smooth_mm=unit_words.length_mm(smooth, where="--smooth"),
        most_faces=0 if triangles == 0 else whole(triangles, 500, where="--triangles"),
        up=None if up is None else direction(up, where="--up"),
        body=brief.body,
    )
    payload = {"path": file.absolute(), "brief": brief, "wishes": wishes, "mass_g": grams(mass)}
    return make(TARGET, payload, file, out=out, replace=replace, why=why, as_json=as_json, units=units)
