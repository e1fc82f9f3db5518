"""`claybed object show`: what an object file says."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Any

import typer

from claybed.actions.asking import SYSTEMS, choice
from claybed.cli import options as ask
from claybed.cli.object.telling import Why, tell
from claybed.errors import EXIT_DONE

TARGET = "claybed.actions.showing_object:run"


def show(
    file: Annotated[Path, typer.Argument(help="The object file.", show_default=False)],
    why: Why = False,
    units: ask.Units = "metric",
    as_json: ask.AsJson = False,
) -> int:
    """Tell what an object file holds: size, volume, how it was measured and how well it is known."""
    from claybed.cli.progress import Meter
    from claybed.jobs.worker import run_job

    system = choice(units, SYSTEMS, where="--units")
    with Meter() as meter:
        payload = {"path": file.absolute()}
        document: Mapping[str, Any] = run_job(TARGET, payload, on_progress=meter, where=file.name)
    tell(document, file, why=why, as_json=as_json, us=system == "us")
    return EXIT_DONE
