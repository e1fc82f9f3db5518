"""An object file's description as a plain document: every number beside its working."""

from __future__ import annotations

from typing import Any

from claybed import __version__
from claybed.flow.describing import bounds_ml, write_band, write_findings
from claybed.flow.ledger import finished, new_document
from claybed.records.measuring import KINDS
from claybed.records.object_file import MESH, OBJECT_SCHEMA, ObjectFile


def object_document(obj: ObjectFile) -> dict[str, Any]:
    """What object.json holds: name, volume (ml), size (mm), mass (g), how it was measured, steps, findings.

    The figures an object brings in `working` replace the usual ones. Raises ValueError for a kind that is not
    known or a band that is none.
    """
    how = obj.measuring
    if how.kind not in KINDS:
        raise ValueError(f"{how.kind} is no way of measuring an object")
    document = new_document()
    document.say(schema=OBJECT_SCHEMA, name=obj.name, mesh=None if obj.mesh is None else MESH)
    band = how.band
    low, high = (None, None) if band.exact else bounds_ml(obj.volume_ml, band)
    document.number(
        "volume_ml",
        obj.volume_ml,
        "ml",
        "signed tetrahedra over all faces / 1000",
        "geometry",
        low=low,
        high=high,
    )
    document.number("extent_mm", obj.extent_mm, "mm", "largest less least x, y and z", "geometry")
    document.number("mass_g", obj.mass_g, "g", "weighed", "asked")
    measured = document.part("measured")
    measured.say(kind=how.kind, says=how.says, cannot_tell=list(how.cannot_tell))
    write_band(measured.part("band"), band)
    if how.closed_band is None:
        measured.say(closed_band=None)
    else:
        write_band(measured.part("closed_band"), how.closed_band)
    document.say(steps=[])
    for step in obj.steps:
        row = document.row("steps")
        row.say(step=step.step, unit=step.unit, says=step.says)
        row.number("count", step.count, "-", "places changed", "measured")
        row.number("amount", step.amount, step.unit, "size of the change", "measured")
    write_findings(document, obj.findings)
    document.part("made").say(claybed=__version__)
    document.figures.update(
        {pointer: figure for pointer, figure in obj.working.items() if pointer in document.figures}
    )
    return finished(document)
