"""A plan folder put to the proof again, from its own files."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any, Final

import numpy as np

from claybed.actions.plan_file import read_plan
from claybed.actions.plan_solids import Opened, named_files, opened
from claybed.actions.warming import warm_up
from claybed.errors import InputError
from claybed.flow.flowing import flow_checks
from claybed.flow.gate_sparing import sparing_checks
from claybed.flow.keeping_out import regions_of
from claybed.flow.side_seams import seam_checks
from claybed.gate.bore_end import shown_taken_mm
from claybed.gate.flowing import flow_of
from claybed.geometry.slab import LatticeSolid
from claybed.proof.evidence import FILE_PREFIX
from claybed.proof.reopening import prove_again, reopened
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.brief import Brief
from claybed.records.finding import Check

Progress = Callable[[str, float], None]
# Checks that a plan does not have, and that nothing but its files can fail.
OF_FILES: Final = ("adjoins", "block_as_planned")
# Beginnings of checks that are not made of a whole folder either: it does not hold the object, and what was
# edited need not lie on the lattice.
NEVER_AGAIN: Final = ("model_true", "on_lattice")


def run(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Prove the plan folder at payload["path"] from its files alone; writes nothing.

    Returns "name" of the object, "ready" whether every check holds and the plan was ready in what its files
    cannot tell again, "edited" the letters of solids that are not what the plan wrote, "checks",
    "unrepeated" checks of the plan that failed and are not judged again, its "stops", "not_repeated" ids of
    those that held and that its files, though all are there, do not show again, and "not_made_count" of
    checks that could not be made, because a file is missing or cannot be read. Raises InputError when the
    folder holds no readable plan.
    """
    folder = Path(payload["path"])
    warm_up(progress)
    progress("reading", 0.0)
    document = read_plan(folder)
    found = opened(document, folder, lambda part: progress("reading", part))
    solids, checks = found.solids, list(found.checks)
    progress("proof", 0.0)
    whole = len(solids) == len(document["pieces"]) + 1
    if whole:
        try:
            checks += fitting(prove_again(document, solids, found.edited), document, found)
            checks += kept_out(document, solids)
            progress("proof", 0.8)
            checks += drained(document, solids)
            checks += spared(document, solids)
        except (KeyError, TypeError, ValueError, IndexError) as reason:
            raise InputError(
                f"does not describe a mold that can be proved ({type(reason).__name__}: {reason}).",
                where=str(folder / "plan.json"),
                remedy="Plan it again.",
            ) from reason
    progress("proof", 1.0)
    left = unrepeated(document, checks)
    stops = [dict(row) for row in document.get("findings", ()) if row.get("severity") == "stop"]
    return {
        "schema": "claybed-proof-1",
        "name": str(document.get("object", {}).get("name", folder.stem)),
        "ready": all(check.ok for check in checks) and not left and not stops,
        "unrepeated": left,
        "stops": stops,
        "edited": sorted(found.edited),
        "checks": [asdict(check) for check in checks],
        "not_repeated": not_repeated(document, checks) if whole else [],
        "not_made_count": 0 if whole else len(_not_made(document, checks)),
    }


def _not_made(document: Mapping[str, Any], checks: Sequence[Check]) -> list[str]:
    """Which of a plan's checks on its solids were not made; what is told of a file as well as of its solid
    counts once.
    """
    made = {check.id.removeprefix(FILE_PREFIX) for check in checks}
    planned = {str(row["id"]).removeprefix(FILE_PREFIX) for row in document.get("checks", ())}
    return sorted(name for name in planned - made if not name.startswith(NEVER_AGAIN))


def not_repeated(document: Mapping[str, Any], checks: Sequence[Check]) -> list[str]:
    """Checks that held when the plan was made and were not made again of its solids, as where an edited gate
    no longer opens the cavity.
    """
    failed = {row["id"] for row in unrepeated(document, checks)}
    return [name for name in _not_made(document, checks) if name not in failed]


def kept_out(document: Mapping[str, Any], solids: Mapping[str, LatticeSolid]) -> tuple[Check, ...]:
    """The check that the seams of a plan's files keep out of the places where the plan was asked for none;
    none without such places.

    Raises KeyError, TypeError or ValueError when the document lacks what a mold needs.
    """
    regions = regions_of(document)
    if not regions:
        return ()
    place = document["mold"]["object_to_block"]
    turn = np.array([place[f"row_{name}"] for name in "xyz"], float)
    placed = replace(reopened(document, solids), to_block=turn, shift_mm=np.array(place["shift_mm"], float))
    return seam_checks(placed, regions)


def drained(document: Mapping[str, Any], solids: Mapping[str, LatticeSolid]) -> tuple[Check, ...]:
    """The check that slip runs out of the cavity of a plan's files again; none for a mold without slip.

    Raises KeyError, TypeError or ValueError when the document lacks what a mold needs.
    """
    asked = document["made"]["brief"]
    brief = Brief(use=asked["use"], ware_wall_mm=float(asked["ware_wall_mm"]))
    assembly = _with_way_out(reopened(document, solids), document)
    return flow_checks(flow_of(assembly, brief), assembly)


def spared(document: Mapping[str, Any], solids: Mapping[str, LatticeSolid]) -> tuple[Check, ...]:
    """The check that a bore takes little of the object, from the model of a plan's files: where that shows
    nothing but the bore, inwards from where the plan has it meet the object. None for other gates.

    Raises KeyError, TypeError or ValueError when the document lacks what a mold needs.
    """
    asked, gate = document["made"]["brief"], document["mold"]["gate"]
    if gate["kind"] != "bore":
        return ()
    assembly = _with_way_out(reopened(document, solids), document)
    model, at_object = assembly.model.mesh(BLOCK_FRAME), gate.get("at_object_mm")
    at_mm, out = np.array(assembly.gate.at_mm), np.array(assembly.gate.out)
    wide_mm = float(at_object or gate["bore_mm"])
    taken_mm, cell_mm = shown_taken_mm(model, at_mm, out, wide_mm, narrows=bool(at_object))
    brief = Brief(
        gate=tuple(asked["gate"]) if isinstance(asked["gate"], list) else asked["gate"],
        gate_bore_mm=asked.get("gate_bore_mm"),
        ware_wall_mm=float(asked["ware_wall_mm"]),
    )
    told = replace(assembly.gate, at_object_mm=at_object, taken_mm=taken_mm, taken_ml=math.nan)
    extent_mm = max(float(side) for side in document["object"]["extent_mm"])
    return sparing_checks(replace(assembly, gate=told), brief, extent_mm, shown_to_mm=cell_mm)


def _with_way_out(assembly: Assembly, document: Mapping[str, Any]) -> Assembly:
    """The mold with the way out of its gate as the plan has it: solids tell it to the last step."""
    out = document["mold"]["gate"].get("out")
    if out is None:
        return assembly
    turn = np.array([document["mold"]["object_to_block"][f"row_{name}"] for name in "xyz"], float)
    x, y, z = (float(v) for v in turn @ np.array(out, float))
    return replace(assembly, gate=replace(assembly.gate, out=(x, y, z)))


def unrepeated(document: Mapping[str, Any], checks: Sequence[Check]) -> list[dict[str, Any]]:
    """The checks that failed when the plan was made and that its files alone cannot repeat."""
    again = {check.id for check in checks}
    return [dict(row) for row in document.get("checks", ()) if not row.get("ok") and row["id"] not in again]


def fitting(checks: Sequence[Check], document: Mapping[str, Any], found: Opened) -> list[Check]:
    """Checks with remedies that fit a folder whose files were changed: what held when it was planned is not
    mended on the object, but by putting the files back.
    """
    files = named_files(document, Path())
    names = found.displaced or [files[name].name for name in found.edited]
    if not names:
        return list(checks)
    held = {str(row["id"]) for row in document.get("checks", ()) if row.get("ok")}
    them = "it" if len(names) == 1 else "them"
    back = f"Put {' and '.join(names)} back as the plan wrote {them}, or plan again."
    return [
        replace(check, remedy=back)
        if not check.ok and (found.displaced or check.id in held or check.id.startswith(OF_FILES))
        else check
        for check in checks
    ]
