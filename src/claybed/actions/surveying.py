"""Which way the object in a file leaves its mold, and what locks."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from claybed.actions.planning import known_source, reader_of
from claybed.actions.warming import warm_up
from claybed.flow.course import run_survey
from claybed.flow.document import survey_document

Progress = Callable[[str, float], None]


def run(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Survey the object in a file; writes nothing, and returns the survey as plain values.

    `payload` has "path" of the file and "brief". Raises InputError as intake and survey do.
    """
    path = Path(payload["path"])
    warm_up(progress)
    progress("reading", 0.0)
    source, store = known_source(path)
    found = run_survey(reader_of(path), payload["brief"], source, store, progress)
    return survey_document(found, payload["brief"])
