"""The bench and the timetable as documents: records written key by key, each number with its working."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from typing import Any

from claybed.flow.ledger import Part
from claybed.records.bench import Bench, PourBench
from claybed.records.figure import Worked
from claybed.records.timetable import Timetable

# Findings stand with the others at the top of a document.
_ELSEWHERE = frozenset({"findings"})


def write_bench(document: Part, bench: Bench) -> None:
    """Write what is not of one pour: bed, release, dry targets, lifts and the code to scratch in."""
    document.say(code=bench.code)
    if bench.bed is None:
        document.say(bed=None)
    else:
        write_record(document.part("bed"), bench.bed)
    write_record(document.part("release"), bench.release)
    document.say(dry_targets=[], lifts=[])
    for target in bench.dry_targets:
        write_record(document.row("dry_targets"), target)
    for lift in bench.lifts:
        write_record(document.row("lifts"), lift)


def write_pour_bench(row: Part, pour: PourBench) -> None:
    """Write form, hold, mixing and what comes after beside the weights of one pour."""
    for name in ("form", "hold", "mixing", "after"):
        write_record(row.part(name), getattr(pour, name))


def write_timetable(document: Part, timetable: Timetable) -> None:
    """Write the timetable."""
    write_record(document.part("timetable"), timetable)


def write_record(part: Part, record: Any) -> None:
    """Write a record under its field names: numbers with their working, records as objects, tuples as
    lists.
    """
    for field in fields(record):
        if field.name in _ELSEWHERE:
            continue
        _write(part, field.name, getattr(record, field.name))


def _write(part: Part, key: str, held: Any) -> None:
    if isinstance(held, Worked):
        figure = held.figure
        part.number(
            key,
            held.value,
            figure.unit,
            figure.formula,
            figure.source,
            figure.inputs,
            low=figure.low,
            high=figure.high,
        )
    elif is_dataclass(held):
        write_record(part.part(key), held)
    elif isinstance(held, tuple) and any(is_dataclass(item) for item in held):
        for item in held:
            write_record(part.row(key), item)
    else:
        part.say(**{key: list(held) if isinstance(held, tuple) else held})
