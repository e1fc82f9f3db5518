"""`claybed mat`: the sheet that photographs are measured by."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any, Final

import typer

from claybed import units as unit_words
from claybed.actions.asking import SYSTEMS, choice
from claybed.cli import options as ask
from claybed.cli import output
from claybed.errors import EXIT_DONE

TARGET: Final = "claybed.actions.photographing:write_mat"
PAPERS: Final = ("a4", "letter", "a3")
_PDF: Final = b"%PDF"


def mat(
    paper: Annotated[
        str, typer.Option("--paper", metavar="|".join(PAPERS), help="Size of the sheet (default a4).")
    ] = "a4",
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="The PDF (default mat-PAPER.pdf here).")
    ] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Make an earlier PDF anew.")] = False,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Make the mat that an object stands on in photos: markers, and a bar to check the printer by."""
    from claybed.cli.progress import Meter
    from claybed.jobs.single_file import new_file
    from claybed.jobs.worker import run_job

    sheet = choice(paper, PAPERS, where="--paper")
    us = choice(units, SYSTEMS, where="--units") == "us"
    final = out if out is not None else Path(f"mat-{sheet}.pdf")
    with new_file(final, replace=replace, mark=_PDF) as work, Meter() as meter:
        payload = {"paper": sheet, "out": work}
        measures: Mapping[str, Any] = run_job(TARGET, payload, on_progress=meter, where=final.name)
    if as_json:
        output.print_json({**measures, "file": str(final)})
        return EXIT_DONE
    clear = " by ".join(unit_words.say_length(side, us=us) for side in measures["clear_mm"])
    bar = unit_words.say_length(measures["bar_mm"], us=us)
    output.say(f"A mat of {measures['markers']} markers round a clear space of {clear}, written to {final}.")
    output.say(f"Print it at 100 %, not fitted to the page, and measure the bar: it is meant to be {bar}.")
    output.say(
        "Stand the object on the cross before a plain background of another colour, in even light, and keep "
        "the whole mat in the picture. Or hang the mat upright behind the object, its lower edge on the "
        "table, take the photo a little from one side, and say --mat behind."
    )
    output.say_next("claybed", "object", "photo", "vase.jpg", "--bar", f"{measures['bar_mm']:.0f}mm")
    return EXIT_DONE
