"""From a file to a folder with everything for the pour."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

from claybed.actions.exporting import write_rest, write_solids
from claybed.actions.plan_solids import sign
from claybed.actions.sizing import sized_brief
from claybed.actions.storing import DiskStore, source_of
from claybed.actions.warming import warm_up
from claybed.flow.course import Reader, run_course
from claybed.flow.document import plan_document
from claybed.flow.posing import pose_of
from claybed.flow.store import NoStore, Store
from claybed.intake.reading import read_object
from claybed.proof.evidence import prove_files
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject

Progress = Callable[[str, float], None]


def run(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Plan a mold and write it; return the plan as plain values, as plan.json holds it.

    `payload` has "path" of the file, "out" an existing empty folder to write into, "brief" and "units"
    (metric or us). A plan that is not ready is written and returned too. Raises InputError and CannotError as
    the stages do.
    """
    path, folder, brief = Path(payload["path"]), Path(payload["out"]), payload["brief"]
    warm_up(progress, more_pieces=brief.pieces is not None and brief.pieces > 2)
    progress("reading", 0.0)
    source, store = known_source(path)
    brief = sized_brief(brief, reader_of(path), source, store, progress)
    course = run_course(reader_of(path), brief, source, store, progress)
    progress("writing", 0.0)
    files = write_solids(course.molded.assembly, course.obj.name, folder)
    progress("writing", 0.3)
    written = {key: file.read_bytes() for key, file in files.items()}
    file_checks = prove_files(written, course.molded.assembly, course.checks)
    pose = pose_of(course, brief.up)
    document = plan_document(course, brief, file_checks, pose)
    sign(document, folder)
    progress("writing", 0.4)
    write_rest(course, document, pose, folder, units=str(payload.get("units", "metric")), progress=progress)
    return document


def reader_of(path: Path) -> Reader:
    """What reads the file at `path`, for the flow."""

    def read(brief: Brief, progress: Progress) -> MeasuredObject:
        return read_object(path, brief, progress=progress)

    return read


def known_source(path: Path) -> tuple[str, Store]:
    """The text that stands for a file, and the store to look in; no store when the file has no such text."""
    source = source_of(path)
    return ("", NoStore()) if source is None else (source, DiskStore())
