"""The bench and the timetable as documents: records written key by key, each number with its working."""

from __future__ import annotations

from functools import partial

from claybed.flow import record_writing
from claybed.flow.ledger import Part
from claybed.records.bench import Bench, PourBench
from claybed.records.timetable import Timetable

# Findings stand with the others at the top of a document.
_write_record = partial(record_writing.write_record, with_findings=False)


def write_bench(document: Part, bench: Bench) -> None:
    """Write what is not of one pour: bed, release, dry targets, lifts and the code to scratch in."""
    document.say(code=bench.code)
    if bench.bed is None:
        document.say(bed=None)
    else:
        _write_record(document.part("bed"), bench.bed)
    _write_record(document.part("release"), bench.release)
    document.say(dry_targets=[], lifts=[])
    for target in bench.dry_targets:
        _write_record(document.row("dry_targets"), target)
    for lift in bench.lifts:
        _write_record(document.row("lifts"), lift)


def write_pour_bench(row: Part, pour: PourBench) -> None:
    """Write form, hold, mixing and what comes after beside the weights of one pour."""
    for name in ("form", "hold", "mixing", "after"):
        _write_record(row.part(name), getattr(pour, name))


def write_timetable(document: Part, timetable: Timetable) -> None:
    """Write the timetable."""
    _write_record(document.part("timetable"), timetable)
