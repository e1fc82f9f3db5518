"""A plan folder put to the proof again, from its own files."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import asdict, replace
from pathlib import Path, PurePosixPath
from typing import Any, Final

import numpy as np

from claybed.actions.plan_file import read_plan
from claybed.actions.warming import warm_up
from claybed.errors import InputError
from claybed.flow.side_seams import seam_checks
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.stl import read_stl, snapped_solid
from claybed.intake.reading import read_triangles
from claybed.proof.reopening import prove_again, reopened
from claybed.records.brief import KeepOut, KeepOutSpot, Region
from claybed.records.finding import Check

Progress = Callable[[str, float], None]
MOST_TRIANGLES: Final = 5_000_000
MM_PER_UNIT: Final = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}


def run(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Prove the plan folder at payload["path"] from its files alone; writes nothing.

    Returns "name" of the object, "ready" whether every check holds, "edited" the letters of files that
    another program has written, and "checks". Raises InputError when the folder holds no readable plan.
    """
    folder = Path(payload["path"])
    warm_up(progress)
    progress("reading", 0.0)
    document = read_plan(folder)
    solids: dict[str, LatticeSolid] = {}
    off_mm: dict[str, float] = {}
    checks: list[Check] = []
    named = named_files(document, folder)
    for step, (name, path) in enumerate(named.items()):
        fault = ""
        try:
            solids[name], off_mm[name] = solid_of(path)
        except (InputError, ValueError, OSError) as reason:
            fault = getattr(reason, "what", None) or str(reason)
        checks.append(_readable(name, path.name, fault))
        progress("reading", (step + 1) / len(named))
    progress("proof", 0.0)
    if len(solids) == len(named):
        try:
            checks += prove_again(document, solids, off_mm)
            checks += kept_out(document, solids)
        except (KeyError, TypeError, ValueError, IndexError) as reason:
            raise InputError(
                f"does not describe a mold that can be proved ({type(reason).__name__}: {reason}).",
                where=str(folder / "plan.json"),
                remedy="Plan it again.",
            ) from reason
    progress("proof", 1.0)
    return {
        "schema": "claybed-proof-1",
        "name": str(document.get("object", {}).get("name", folder.stem)),
        "ready": all(check.ok for check in checks),
        "edited": sorted(name for name, off in off_mm.items() if off > 0.0),
        "checks": [asdict(check) for check in checks],
    }


def kept_out(document: Mapping[str, Any], solids: Mapping[str, LatticeSolid]) -> tuple[Check, ...]:
    """The check that the seams of a plan's files keep out of the places where the plan was asked for none;
    none without such places.

    Raises KeyError, TypeError or ValueError when the document lacks what a mold needs.
    """
    regions: list[Region] = []
    for row in document["made"]["brief"].get("keep_out") or []:
        if "centre_mm" in row:
            x, y, z = (float(v) for v in row["centre_mm"])
            regions.append(KeepOutSpot((x, y, z), float(row["radius_mm"])))
        else:
            x, y, z = (float(v) for v in row["direction"])
            low, high = (
                end if row[key] is None else float(row[key])
                for key, end in (("lo_mm", -math.inf), ("hi_mm", math.inf))
            )
            regions.append(KeepOut((x, y, z), low, high))
    if not regions:
        return ()
    place = document["mold"]["object_to_block"]
    turn = np.array([place[f"row_{name}"] for name in "xyz"], float)
    placed = replace(reopened(document, solids), to_block=turn, shift_mm=np.array(place["shift_mm"], float))
    return seam_checks(placed, regions)


def named_files(document: Mapping[str, Any], folder: Path) -> dict[str, Path]:
    """The file of every piece by its letter, and the model's; none outside the folder."""
    try:
        names = {str(row["id"]): str(row["file"]) for row in document["pieces"]}
        names["model"] = str(document["model"]["file"])
    except (KeyError, TypeError) as reason:
        raise InputError(
            "names no files of pieces.", where=str(folder / "plan.json"), remedy="Plan it again."
        ) from reason
    for name in names.values():
        pure = PurePosixPath(name)
        if pure.is_absolute() or ".." in pure.parts:
            raise InputError(
                f"names a file outside its folder ({name}).",
                where=str(folder / "plan.json"),
                remedy="Plan it again.",
            )
    return {name: folder / file for name, file in names.items()}


def solid_of(path: Path) -> tuple[LatticeSolid, float]:
    """A solid from an STL file, and how far it lies off the lattice, mm; text STL counts too."""
    if not path.is_file():
        raise InputError("it is missing", where=path.name)
    try:
        return read_stl(path.read_bytes())
    except ValueError:
        soup = read_triangles(path, MOST_TRIANGLES)
        scale = MM_PER_UNIT.get(soup.unit or "mm", 1.0)
        return snapped_solid(soup.vertices[soup.faces.ravel()] * scale)


def _readable(name: str, file: str, fault: str) -> Check:
    return Check(
        id=f"file_whole_{name}",
        ok=not fault,
        measured=1.0 if fault else 0.0,
        limit=0.0,
        unit="faults",
        sense="most",
        where=f"{file}: {fault.rstrip('.')}" if fault else file,
        how="the file read to its end",
        remedy="Put the file back, or plan again." if fault else "",
    )
