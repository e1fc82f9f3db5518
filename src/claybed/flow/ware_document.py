"""Records of ware as documents of their own."""

from __future__ import annotations

from typing import Any

from claybed.flow.describing import write_findings
from claybed.flow.ledger import finished, new_document
from claybed.flow.record_writing import write_record
from claybed.records.finding import Finding


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
