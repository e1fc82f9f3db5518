"""Object files: a small archive of a description and a mesh, taken apart within bounds and checked word for
word."""

from __future__ import annotations

import io
import json
import math
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from claybed.errors import CannotError, InputError
from claybed.intake import ply
from claybed.intake.guard import LARGEST_BYTES, Sniffed, read_bytes, sniff
from claybed.intake.soup import Soup
from claybed.records.finding import Amount, Finding
from claybed.records.measuring import KINDS, Measuring, VolumeBand
from claybed.records.object_file import DESCRIPTION, MESH, OBJECT_SCHEMA

LARGEST_DESCRIPTION: Final = 2_000_000
LONGEST_TEXT: Final = 2_000
MOST_ENTRIES: Final = 16
LARGEST_RATIO: Final = 100
_RATIO_MATTERS_ABOVE: Final = 10_000_000
_SEVERITIES: Final = ("note", "look", "stop")
_HEAD_BYTES: Final = 65_536


@dataclass(frozen=True, slots=True)
class Described:
    """What the description of an object file says: ml, g and mm; `mesh` whether the file holds a shape;
    `document` all of it as plain values."""

    measuring: Measuring
    volume_ml: float
    mass_g: float | None
    mesh: bool
    findings: tuple[Finding, ...]
    document: Mapping[str, Any]


def read_description(path: Path) -> Described:
    """Read what the object file at `path` says of itself, without its mesh.

    Raises InputError for a file that is none, is damaged, or unpacks too large.
    """
    file = sniff(path)
    if file.kind != "claybed":
        raise InputError(
            "is not an object file.", where=file.where, remedy="Make one with claybed object, or plan it."
        )
    with _Opened(file) as archive:
        return _description(archive, file)


def read_object_file(file: Sniffed, most: int) -> Soup:
    """Read an object file: its mesh, in mm, and what it says of how it was measured.

    Raises InputError for archives that unpack too large, damaged descriptions, or more than `most` triangles,
    and CannotError for an object of which only volume and weight are known.
    """
    with _Opened(file) as archive:
        told = _description(archive, file)
        if not told.mesh:
            raise CannotError(
                f"holds no shape: it was {KINDS[told.measuring.kind]}, which gives a volume and nothing to "
                "part.",
                where=file.where,
                remedy="Work out its plaster with claybed mix --object, or measure its shape too.",
            )
        data = _entry(archive, MESH, LARGEST_BYTES, file)
    if not data.startswith((b"ply\n", b"ply\r")):
        raise _damaged(file, f"its {MESH} is no PLY file")
    inner = replace(file, kind="ply", size=len(data), head=data[:_HEAD_BYTES], inner=data)
    soup = ply.read_ply(inner, most)
    return replace(
        soup,
        format_name="object",
        unit="mm",
        findings=told.findings,
        measuring=told.measuring,
        mass_g=told.mass_g,
    )


class _Opened:
    """The archive of a file, with what can go wrong in it told in one sentence."""

    def __init__(self, file: Sniffed) -> None:
        self._file = file

    def __enter__(self) -> zipfile.ZipFile:
        try:
            archive = zipfile.ZipFile(io.BytesIO(read_bytes(self._file)))
        except (zipfile.BadZipFile, zipfile.LargeZipFile, OSError, ValueError) as why:
            raise _damaged(self._file, "its archive cannot be unpacked") from why
        if len(archive.infolist()) > MOST_ENTRIES:
            raise _damaged(self._file, "it holds more entries than an object has")
        return archive

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: object) -> None:
        known = (zipfile.BadZipFile, NotImplementedError, EOFError, RuntimeError, OSError)
        if isinstance(error, known) and not isinstance(error, RecursionError):
            raise _damaged(self._file, "its archive cannot be unpacked") from error


def _entry(archive: zipfile.ZipFile, name: str, most: int, file: Sniffed) -> bytes:
    """One entry of the archive, whatever the table says of its size."""
    try:
        info = archive.getinfo(name)
    except KeyError as why:
        raise _damaged(file, f"it holds no {name}") from why
    ratio = info.file_size / max(info.compress_size, 1)
    if info.file_size > most or (info.file_size > _RATIO_MATTERS_ABOVE and ratio > LARGEST_RATIO):
        raise _too_large(file)
    with archive.open(info) as stream:
        data = stream.read(min(info.file_size, most) + 1)
    if len(data) > min(info.file_size, most):
        raise _too_large(file)
    return data


def _description(archive: zipfile.ZipFile, file: Sniffed) -> Described:
    text = _entry(archive, DESCRIPTION, LARGEST_DESCRIPTION, file)

    def refuse(word: str) -> float:
        raise _damaged(file, f"{DESCRIPTION} holds {word}, which is no number")

    try:
        tree = json.loads(text.decode("utf-8"), parse_constant=refuse)
    except (ValueError, RecursionError) as why:
        raise _damaged(file, f"{DESCRIPTION} cannot be read") from why
    if not isinstance(tree, dict) or tree.get("schema") != OBJECT_SCHEMA:
        raise InputError(
            "is an object file of a kind not known here.",
            where=file.where,
            remedy=f"Make it anew with this version, which reads {OBJECT_SCHEMA}.",
        )
    return _Checked(file).described(tree)


class _Checked:
    """Takes plain JSON values apart and refuses whatever an object file does not hold."""

    def __init__(self, file: Sniffed) -> None:
        self._file = file

    def described(self, tree: Mapping[str, Any]) -> Described:
        how = tree.get("measured")
        if not isinstance(how, dict):
            raise self._bad("measured")
        kind = self._text(how, "kind")
        if kind not in KINDS:
            raise self._bad("measured/kind")
        closed = how.get("closed_band")
        cannot = how.get("cannot_tell", [])
        if not isinstance(cannot, list) or not all(isinstance(one, str) for one in cannot):
            raise self._bad("measured/cannot_tell")
        measuring = Measuring(
            kind,
            self._text(how, "says"),
            self._band(how.get("band")),
            None if closed is None else self._band(closed),
            tuple(_printable(one) for one in cannot),
        )
        mass_g = None if tree.get("mass_g") is None else self._number(tree, "mass_g", 0.0, 1e9)
        findings = tree.get("findings", [])
        if not isinstance(findings, list) or len(findings) > 200:
            raise self._bad("findings")
        return Described(
            measuring,
            self._number(tree, "volume_ml", 0.0, 1e9),
            mass_g,
            tree.get("mesh") is not None,
            tuple(self._finding(one) for one in findings),
            tree,
        )

    def _band(self, value: object) -> VolumeBand:
        if not isinstance(value, dict):
            raise self._bad("measured/band")
        smaller = self._number(value, "smaller_share", -1e-300, 1.0)
        return VolumeBand(smaller, self._number(value, "larger_share", -1e-300, 10.0))

    def _finding(self, value: object) -> Finding:
        if not isinstance(value, dict) or value.get("severity") not in _SEVERITIES:
            raise self._bad("findings")
        amount = value.get("amount")
        if amount is not None and not isinstance(amount, dict):
            raise self._bad("findings/amount")
        at = value.get("at_mm")
        if at is not None and not (isinstance(at, list) and len(at) == 3 and all(_finite(c) for c in at)):
            raise self._bad("findings/at_mm")
        return Finding(
            self._text(value, "id"),
            value["severity"],
            self._text(value, "where"),
            self._text(value, "says"),
            self._text(value, "remedy"),
            None
            if amount is None
            else Amount(self._number(amount, "value", -1e12, 1e12), self._text(amount, "unit")),
            None if at is None else (float(at[0]), float(at[1]), float(at[2])),
        )

    def _text(self, tree: Mapping[str, Any], key: str) -> str:
        value = tree.get(key)
        if not isinstance(value, str) or len(value) > LONGEST_TEXT:
            raise self._bad(key)
        return _printable(value)

    def _number(self, tree: Mapping[str, Any], key: str, above: float, below: float) -> float:
        value = tree.get(key)
        if not _finite(value) or not above < float(value) < below:  # type: ignore[arg-type]
            raise self._bad(key)
        return float(value)  # type: ignore[arg-type]

    def _bad(self, key: str) -> InputError:
        return _damaged(self._file, f"{DESCRIPTION} says nothing usable under {key}")


def _finite(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def _printable(text: str) -> str:
    return "".join(letter if letter.isprintable() else " " for letter in text)


def _damaged(file: Sniffed, why: str) -> InputError:
    return InputError(
        f"is a damaged object file: {why}.", where=file.where, remedy="Make it again, or copy it again."
    )


def _too_large(file: Sniffed) -> InputError:
    return InputError(
        "is an archive that unpacks far beyond the size of an object.",
        where=file.where,
        remedy="Make it again.",
    )
