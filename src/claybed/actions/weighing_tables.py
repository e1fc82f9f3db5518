"""Weighings carried between a log of `claybed dry` and the app's register, each one once."""

from __future__ import annotations

import csv
import io
import json
import math
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from claybed.errors import InputError
from claybed.records.weighing import Weighing

MOST_BYTES: Final = 5_000_000
_TABLE: Final = "weighing.csv"
# The register's tables put an apostrophe before text that a spreadsheet would take for a formula.
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")
_HEAVIEST_G: Final = 500_000.0


@dataclass(frozen=True, slots=True)
class Entered:
    """A weighing with what a register knows besides: short names of mold and piece, and who entered it."""

    weighing: Weighing
    mold: str = ""
    piece: str = ""
    by: str = ""

    @property
    def key(self) -> tuple[int, int]:
        """What tells it from others of its piece: the second, and the mass to a hundredth of a gram."""
        return math.floor(self.weighing.at_s), round(100.0 * self.weighing.mass_g)


def read_file(path: Path) -> list[Entered]:
    """Weighings of a file: see `read_table`. Raises InputError for one that cannot be read."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise InputError("is too large for a log.", where=str(path), remedy="Export one mold at a time.")
        data = path.read_bytes()
    except OSError as problem:
        raise InputError(
            f"cannot be read: {problem.strerror}.", where=str(path), remedy="Name another file."
        ) from None
    return read_table(data, str(path))


def read_table(data: bytes, where: str) -> list[Entered]:
    """Weighings of a log (a line of JSON each), of the register's CSV, or of the ZIP that holds it.

    `where` names the file in messages. Raises InputError naming the line that is no weighing.
    """
    if data[:4] == b"PK\x03\x04":
        data = _unpacked(data, where)
    if len(data) > MOST_BYTES:
        raise InputError("is too large for a log.", where=where, remedy="Export one mold at a time.")
    text = data.decode("utf-8-sig", errors="replace")
    first = text.lstrip().split("\n", 1)[0]
    rows = _csv_rows(text, where) if "mass_g" in first and not first.startswith("{") else _json_rows(text)
    found = []
    for number, row in rows:
        try:
            found.append(_entered(row))
        except (ValueError, KeyError, TypeError, AttributeError, OverflowError):
            raise InputError(
                f"line {number} is no weighing.", where=where, remedy="Mend that line, or take it out."
            ) from None
    return found


def of_one_piece(entered: Sequence[Entered], *, mold: str = "", piece: str = "", where: str) -> list[Entered]:
    """Those of one mold and one piece, in time; `mold` and `piece` choose when a file holds more.

    Rows that name no mold or piece belong to any. Raises InputError, naming what there is, when more than one
    is left or none.
    """
    left = [
        one
        for one in entered
        if (not mold or one.mold.casefold() in ("", mold.casefold()))
        and (not piece or one.piece.casefold() in ("", piece.casefold()))
    ]
    there = sorted({(one.mold, one.piece) for one in left})
    if len(there) > 1:
        says = ", ".join(f"{a} {b}".strip() for a, b in there[:6])
        raise InputError(
            f"holds weighings of {len(there)} pieces: {says}.",
            where=where,
            remedy="Choose one with --mold and --piece.",
        )
    if not left:
        held = sorted({f"{one.mold} {one.piece}".strip() for one in entered})[:6]
        raise InputError(
            "holds no weighing of that piece.",
            where=where,
            remedy=f"It has {', '.join(held)}." if any(held) else "Nothing was taken.",
        )
    return sorted(left, key=lambda one: one.weighing.at_s)


def missing_from(entered: Iterable[Entered], known: Iterable[Weighing]) -> list[Entered]:
    """Those that are not among the known, each once; a weighing is known by its second and its mass."""
    there = {Entered(one).key for one in known}
    found = []
    for one in entered:
        if one.key not in there:
            there.add(one.key)
            found.append(one)
    return found


def as_log(entered: Iterable[Entered]) -> str:
    """Weighings as a log that `claybed dry --log` reads: a line of JSON each, in time."""
    lines = []
    for one in sorted(entered, key=lambda one: one.weighing.at_s):
        at = datetime.fromtimestamp(one.weighing.at_s, UTC).isoformat(timespec="seconds")
        row = {"at": at, "mass_g": one.weighing.mass_g, "note": one.weighing.note}
        also = {"mold": one.mold, "piece": one.piece, "by": one.by}
        lines.append(json.dumps(row | {k: v for k, v in also.items() if v}, ensure_ascii=False) + "\n")
    return "".join(lines)


def _unpacked(data: bytes, where: str) -> bytes:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as packed, packed.open(_TABLE) as table:
            return table.read(MOST_BYTES + 1)
    except (KeyError, zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, OSError) as problem:
        raise InputError(
            f"holds no {_TABLE} that can be read.", where=where, remedy="Export the register again."
        ) from problem


def _csv_rows(text: str, where: str) -> list[tuple[int, dict[str, Any]]]:
    table = csv.DictReader(io.StringIO(text, newline=""), strict=True)
    rows = []
    try:
        for row in table:
            if any(row.values()):
                rows.append((table.line_num, {key: _plain(value) for key, value in row.items() if key}))
    except csv.Error as problem:
        raise InputError(
            f"line {table.line_num} is no table row: {problem}.", where=where, remedy="Export it again."
        ) from None
    return rows


def _json_rows(text: str) -> list[tuple[int, Any]]:
    lines = text.split("\n")
    rows: list[tuple[int, Any]] = []
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        try:
            rows.append((number, json.loads(line)))
        except (ValueError, RecursionError):
            if number < len(lines):  # a last line without its newline was being written when power went
                rows.append((number, None))
    return rows


def _plain(value: object) -> object:
    if isinstance(value, str) and value[:1] == "'" and value[1:2] in _FORMULA:
        return value[1:]
    return value


def _entered(row: dict[str, Any]) -> Entered:
    mass = row["mass_g"]
    if isinstance(mass, bool):
        raise TypeError("no mass")
    grams = float(mass)
    if not 0.0 < grams <= _HEAVIEST_G:
        raise ValueError("no mass")
    at = datetime.fromisoformat(str(row["at"]).replace("Z", "+00:00"))
    return Entered(
        Weighing(at.timestamp(), grams, _text(row, "note")),
        mold=_text(row, "mold"),
        piece=_text(row, "letter") or _text(row, "piece"),
        by=_text(row, "by"),
    )


def _text(row: dict[str, Any], key: str) -> str:
    value = row.get(key)
    return "" if value is None else str(value).strip()
