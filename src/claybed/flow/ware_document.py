"""Records of ware as parts of a document: every number beside its working."""

from __future__ import annotations

from dataclasses import fields, is_dataclass
from typing import Any

from claybed.flow.describing import write_findings
from claybed.flow.ledger import Part, finished, new_document
from claybed.records.finding import Finding
from claybed.records.reckoned import Reckoned


def write_record(part: Part, record: object, *, keep_none: bool = True) -> None:
    """Write every field of a record: numbers with their working, lists and records inside it likewise.

    `keep_none` writes null for what was not asked; without it such keys are left out. Raises ValueError for a
    field that holds a bare number.
    """
    if not is_dataclass(record):
        raise TypeError(f"{type(record).__name__} is no record")
    for field in fields(record):
        value = getattr(record, field.name)
        if value is None:
            if keep_none:
                part.say(**{field.name: None})
        elif isinstance(value, Reckoned):
            write_reckoned(part, field.name, value)
        elif is_findings(value) and field.name == "findings":
            write_findings(part, value)
        elif isinstance(value, tuple):
            part.say(**{field.name: []})
            for row in value:
                write_record(part.row(field.name), row, keep_none=keep_none)
        elif is_dataclass(value):
            write_record(part.part(field.name), value, keep_none=keep_none)
        else:
            part.say(**{field.name: value})


def write_reckoned(part: Part, key: str, one: Reckoned) -> None:
    """Write one number with its working."""
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


def document_of(*records: object, findings: tuple[Finding, ...] = (), **inside: object) -> dict[str, Any]:
    """One plain document: the fields of `records` at its top, those of `inside` under their names, findings.

    What was not asked is left out.
    """
    document = new_document()
    for record in records:
        if record is not None:
            write_record(document, record, keep_none=False)
    for name, record in inside.items():
        if record is not None:
            write_record(document.part(name), record, keep_none=False)
    write_findings(document, findings)
    return finished(document)


def is_findings(value: object) -> bool:
    """Whether a value is a tuple of findings, or an empty tuple."""
    return isinstance(value, tuple) and all(isinstance(one, Finding) for one in value)
