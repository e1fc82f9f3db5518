"""`claybed chart`: a wall chart of water and plaster at the studio's ratio."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from claybed import units as unit_words
from claybed.actions.asking import SYSTEMS, brief_from, choice
from claybed.cli import options as ask
from claybed.cli import output
from claybed.errors import EXIT_DONE
from claybed.units import say_share


def chart(
    ratio: ask.Ratio = None,
    waste: ask.Waste = None,
    form: ask.Form = None,
    studio: ask.Studio = None,
    out: Annotated[
        Path, typer.Option("--out", metavar="FILE", help="PDF to write.", show_default=True)
    ] = Path("wall-chart.pdf"),
    replace: Annotated[bool, typer.Option("--replace", help="Write an earlier file anew.")] = False,
    why: Annotated[
        bool, typer.Option("--why", help="Print formula, inputs and source of the figures shown.")
    ] = False,
    units: Annotated[
        str | None,
        typer.Option("--units", metavar="metric|us", help="Units of the chart (default: the studio's)."),
    ] = None,
    as_json: ask.AsJson = False,
) -> int:
    """Write a wall chart: litres, boxes and rounds to grams of water and plaster, at the ratio you keep."""
    from claybed.actions.charting import chart_document, write_chart
    from claybed.actions.studio_file import kept_fields, read_studio, studio_path

    path = studio_path(studio)
    found = None if path is None else read_studio(path)
    kept = {} if found is None else kept_fields(found)
    typed = brief_from({"consistency": ratio, "waste": waste, "form": form})
    consistency = typed.consistency if ratio is not None else kept.get("consistency", typed.consistency)
    built = typed.form if form is not None else kept.get("form", typed.form)
    us = choice(units or (found.units if found else "metric"), SYSTEMS, where="--units") == "us"
    document = chart_document(
        consistency=consistency, waste=typed.waste, form=built, studio=found.name if found else "", us=us
    )
    written = write_chart(document, out, us=us, replace=replace)
    if as_json:
        output.print_json(document)
        return EXIT_DONE
    said = unit_words.say_ratio(consistency)
    usual = f"1:{100.0 / consistency:.4g}"
    output.say(f"Water and plaster at {said}, with {say_share(document['waste'])} over.")
    rows = [row for k, row in enumerate(document["spaces"]) if k % 2]
    output.say_table(
        ("To fill", "Water", "Plaster"),
        [
            (
                unit_words.say_volume(row["space_ml"], us=us),
                *(unit_words.say_mass(row[key], us=us) for key in ("water_g", "plaster_g")),
            )
            for row in rows
        ],
    )
    if why:
        shown = {f"/spaces/{k}/" for k, row in enumerate(document["spaces"]) if row in rows}
        output.say_working(
            {at: figure for at, figure in document["figures"].items() if at.startswith(tuple(shown))}
        )
    output.say(f"Written to {written}: litres, boxes, rounds, and what an object takes off.")
    output.say_next("claybed", "mix", "--space", "2L", "--ratio", ratio or usual)
    return EXIT_DONE
