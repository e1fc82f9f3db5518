"""The solids of a plan folder, read from its files, and what became of each since the plan wrote it."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path, PurePosixPath
from typing import Any, Final

from claybed.errors import InputError
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.stl import read_stl, snapped_solid
from claybed.intake.reading import read_triangles
from claybed.proof.rewriting import EDITED, FITS_MM, apart_mm, change_of
from claybed.records.finding import Check

MOST_TRIANGLES: Final = 5_000_000
MM_PER_UNIT: Final = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8}
# Two solids of one volume to this share are one; plan.json holds it unrounded.
SAME_VOLUME_SHARE: Final = 1e-9
# What other programs may have written instead of a file of the plan.
EXPORTED: Final = (".ply", ".obj", ".glb", ".step", ".stp")
KINDS: Final = (("file", "sha256"), ("file_3mf", "sha256_3mf"))
PUT_BACK: Final = "Put the file back as the plan wrote it, or plan again."


@dataclass(slots=True)
class Opened:
    """The solids of a folder by piece letter and "model", as far as their files can be read.

    `edited` are those that no longer are what the plan wrote; `displaced` the file names among them whose
    solid only moved, grew, turned or belongs elsewhere; `checks` what was found of the files themselves.
    """

    solids: dict[str, LatticeSolid] = field(default_factory=dict)
    edited: list[str] = field(default_factory=list)
    displaced: list[str] = field(default_factory=list)
    checks: list[Check] = field(default_factory=list)


def sign(document: dict[str, Any], folder: Path) -> None:
    """Put the SHA-256 of every solid's files into a plan's document, beside their names."""
    for row in _rows(document).values():
        for key, digest in KINDS:
            row[digest] = hashlib.sha256((folder / row[key]).read_bytes()).hexdigest()


def opened(document: Mapping[str, Any], folder: Path, progress: Callable[[float], None]) -> Opened:
    """Read the STL files of a plan folder and lay its 3MF files against them.

    Raises InputError when the document names no files, or one outside its folder.
    """
    rows, found = _rows(document), Opened()
    names = named_files(document, folder)
    digests: dict[str, str] = {}
    off_mm: dict[str, float] = {}
    for step, (name, path) in enumerate(names.items()):
        fault = ""
        try:
            digests[name] = _digest(path)
            found.solids[name], off_mm[name] = solid_of(path)
        except (InputError, ValueError, OSError) as reason:
            fault = _fault(reason)
        found.checks.append(_readable(name, path.name, fault))
        progress(0.5 * (step + 1) / len(names))
    written = {
        was: found.solids[name]
        for name in found.solids
        if (was := _written_as(digests[name], found.solids[name], off_mm[name], rows, "sha256"))
    }
    kept = [n for n in found.solids if written.get(n) is found.solids[n]]
    twins: dict[str, LatticeSolid] = {}
    told: dict[str, Check] = {}
    for step, name in enumerate(n for n in names if "file_3mf" in rows[n]):
        path = folder / _inside(str(rows[name]["file_3mf"]), folder)
        try:
            digest = _digest(path)
            if name in kept and digest == rows[name].get("sha256_3mf"):
                told[name] = _twin(name, path.name, "", "both files as the plan wrote them, to the bit")
                continue
            twins[name], off = solid_of(path)
            if was := _written_as(digest, twins[name], off, rows, "sha256_3mf"):
                written.setdefault(was, twins[name])
        except (InputError, ValueError, OSError) as reason:
            told[name] = _twin(name, path.name, _fault(reason), "the file read to its end")
        progress(0.5 + 0.5 * (step + 1) / len(names))
    for name, twin in twins.items():
        if name in found.solids:
            told[name] = _against(name, rows[name], twin, found.solids[name], written)
    for name in found.solids:
        says = "" if name in kept else change_of(name, found.solids[name], written)
        if not says and name not in kept and name not in written:
            says = EDITED
        if says or off_mm[name] > 0.0:
            found.edited.append(name)
        if says not in ("", EDITED):
            found.displaced.append(names[name].name)
        found.checks.append(_stands(name, names[name].name, says))
    found.checks += [told[name] for name in names if name in told]
    return found


def named_files(document: Mapping[str, Any], folder: Path) -> dict[str, Path]:
    """The file of every piece by its letter, and the model's; none outside the folder."""
    return {name: folder / _inside(str(row["file"]), folder) for name, row in _rows(document).items()}


def solid_of(path: Path) -> tuple[LatticeSolid, float]:
    """A solid from an STL or 3MF file, and how far it lies off the lattice, mm; text STL counts too."""
    if not path.is_file():
        raise InputError("it is missing", where=path.name)
    try:
        found = read_stl(path.read_bytes())
    except ValueError:
        soup = read_triangles(path, MOST_TRIANGLES)
        scale = MM_PER_UNIT.get(soup.unit or "mm", 1.0)
        found = snapped_solid(soup.vertices[soup.faces.ravel()] * scale)
    if not len(found[0].faces):
        raise InputError("it holds no triangles", where=path.name)
    return found


def _rows(document: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    try:
        rows = {str(row["id"]): row for row in document["pieces"]} | {"model": document["model"]}
        if all(isinstance(row["file"], str) for row in rows.values()):
            return rows
    except (KeyError, TypeError):
        pass
    raise InputError("names no files of pieces.", where="plan.json", remedy="Plan it again.")


def _inside(name: str, folder: Path) -> str:
    pure = PurePosixPath(name)
    if pure.is_absolute() or ".." in pure.parts:
        raise InputError(
            f"names a file outside its folder ({name}).",
            where=str(folder / "plan.json"),
            remedy="Plan it again.",
        )
    return name


def _fault(reason: Exception) -> str:
    return getattr(reason, "what", None) or str(reason)


def _digest(path: Path) -> str:
    if not path.is_file():
        beside = sorted(p.name for p in path.parent.glob(f"{path.stem}.*") if p.suffix in EXPORTED)
        there = f"; {' and '.join(beside)} beside it is not read" if beside else ""
        raise InputError(f"it is missing{there}", where=path.name)
    return hashlib.sha256(path.read_bytes()).hexdigest()


def _written_as(
    digest: str, solid: LatticeSolid, off_mm: float, rows: Mapping[str, Mapping[str, Any]], key: str
) -> str:
    """Which solid a plan wrote into this file, by its digest, in plans without one by its volume; empty for a
    file that it did not write.
    """
    for name, row in rows.items():
        if key in row:
            if row[key] == digest:
                return name
        elif off_mm == 0.0:
            planned_ml = float(row["volume_ml"])
            if abs(solid.volume_mm3 / 1000.0 - planned_ml) <= SAME_VOLUME_SHARE * planned_ml:
                return name
    return ""


def _against(
    name: str,
    row: Mapping[str, Any],
    twin: LatticeSolid,
    solid: LatticeSolid,
    written: Mapping[str, LatticeSolid],
) -> Check:
    """The check that a 3MF file holds the solid of its STL file, with what became of the one that changed."""
    path, other = (PurePosixPath(str(row[key])).name for key in ("file_3mf", "file"))
    off_mm = apart_mm(twin, solid)
    fault = ""
    if off_mm > FITS_MM:
        says = change_of(name, twin, written)
        fault = says if says else f"is not the solid of {other}"
    told = _twin(name, path, fault, f"spots on its surface against that of {other}, and back", off_mm)
    if fault.endswith(other):
        return replace(
            told, remedy=f"Put {other} back; or, where its edit is meant, export {path} from it anew."
        )
    return told


def _twin(name: str, file: str, fault: str, how: str, off_mm: float | None = None) -> Check:
    unread = off_mm is None
    return Check(
        id=f"file_twin_{name}",
        ok=not fault,
        measured=(1.0 if fault else 0.0) if off_mm is None else off_mm,
        limit=0.0 if unread else FITS_MM,
        unit="faults" if unread else "mm",
        sense="most",
        where=f"{file}: {fault.rstrip('.')}" if fault else file,
        how=how,
        remedy="Put the file back as the plan wrote it, or export it anew from the STL file."
        if fault
        else "",
    )


def _stands(name: str, file: str, says: str) -> Check:
    fails = says not in ("", EDITED)
    where = f"{file}: {says}" if says else file
    how = "the file's solid against those that the plan wrote"
    return _faultless(f"file_stands_{name}", not fails, where, how, PUT_BACK)


def _readable(name: str, file: str, fault: str) -> Check:
    where = f"{file}: {fault.rstrip('.')}" if fault else file
    return _faultless(
        f"file_whole_{name}",
        not fault,
        where,
        "the file read to its end",
        "Put the file back, or plan again.",
    )


def _faultless(name: str, ok: bool, where: str, how: str, remedy: str) -> Check:
    return Check(
        id=name,
        ok=ok,
        measured=0.0 if ok else 1.0,
        limit=0.0,
        unit="faults",
        sense="most",
        where=where,
        how=how,
        remedy="" if ok else remedy,
    )
