"""Records as parts of a document: written key by key, every number beside its working."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from typing import Any

from claybed.flow.describing import write_findings
from claybed.flow.ledger import Part
from claybed.records.figure import Worked
from claybed.records.finding import Finding


def write_record(part: Part, record: object, *, keep_none: bool = True, with_findings: bool = True) -> None:
    """Write a record under its field names: numbers with their working, records as objects, tuples as lists.

    `keep_none` writes null for what was not asked; without it such keys are left out. `with_findings` writes
    the record's findings; without it they stand elsewhere in the document. Raises TypeError for what is no
    record, ValueError for a field that holds a bare number.
    """
    if not is_dataclass(record):
        raise TypeError(f"{type(record).__name__} is no record")
    for field in fields(record):
        held = getattr(record, field.name)
        if field.name == "findings" and _is_findings(held):
            if with_findings:
                write_findings(part, held)
        elif held is None:
            if keep_none:
                part.say(**{field.name: None})
        else:
            _write(part, field.name, held, keep_none, with_findings)


def _write(part: Part, key: str, held: Any, keep_none: bool, with_findings: bool) -> None:
    if isinstance(held, Worked):
        write_worked(part, key, held)
    elif is_dataclass(held):
        write_record(part.part(key), held, keep_none=keep_none, with_findings=with_findings)
    elif isinstance(held, tuple) and any(is_dataclass(item) for item in held):
        for item in held:
            write_record(part.row(key), item, keep_none=keep_none, with_findings=with_findings)
    else:
        part.say(**{key: list(held) if isinstance(held, tuple) else held})


def write_worked(part: Part, key: str, one: Worked) -> None:
    """Write one number, or a list of them, with its working."""
    figure = one.figure
    part.number(
        key,
        one.value,
        figure.unit,
        figure.formula,
        figure.source,
        dict(figure.inputs),
        low=figure.low,
        high=figure.high,
    )


def _is_findings(held: object) -> bool:
    return isinstance(held, tuple) and all(isinstance(one, Finding) for one in held)
