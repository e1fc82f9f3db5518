"""The whole register out and in again: backup, restore, and tables for other programs."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import os
import re
import shutil
import sqlite3
import tempfile
from pathlib import Path
from typing import Any, Final

from claybed.errors import InputError
from claybed.register.migrations import EXPORTED, STEPS
from claybed.register.opening import Register, rows

# Where the register names files and folders: table, column, and how a name of that kind looks.
_NAMES: Final = (
    ("object", "id", r"[\w-]{1,60}"),
    ("object", "file", r"[^/\\\x00-\x1f]{1,120}"),
    ("object", "picture", r"[^/\\\x00-\x1f]{1,120}"),
    ("plan", "id", r"[\w-]{1,60}"),
    ("plan", "folder", r"plans/[\w-]{1,100}"),
    ("mold", "id", r"[\w-]{1,60}"),
    ("remark", "photo", r"[^/\\\x00-\x1f]{1,120}"),
)


def back_up(register: Register, copy: Path) -> None:
    """Write a whole and consistent copy while others go on working; an existing file is replaced at once."""
    handle, name = tempfile.mkstemp(dir=copy.parent, prefix=f".{copy.name}.")
    os.close(handle)
    part = Path(name)
    try:
        with contextlib.closing(sqlite3.connect(part)) as other, register.reading() as db:
            db.backup(other)
            other.execute("PRAGMA journal_mode = DELETE")
            # Access tokens of this machine are of no use elsewhere, and none of a backup's business.
            with other:
                other.execute("DELETE FROM device")
        part.replace(copy)
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def restore(register: Register, copy: Path) -> None:
    """Take the content of a backup in place of what is there; the devices let in here stay let in.

    Raises InputError, and changes nothing, when the copy is damaged, no register, or of a later version. What
    was there is first kept beside the register as `*.before-restore`.
    """
    with tempfile.TemporaryDirectory(prefix="claybed-") as scratch:
        staged = Path(scratch) / "register.sqlite"
        try:
            shutil.copyfile(copy, staged)
        except OSError as error:
            raise InputError(f"cannot be read ({error.strerror or error}).", where=str(copy)) from error
        if not _whole(Register(staged)):
            raise InputError(
                "is damaged.", where=str(copy), remedy="Nothing was changed; try an earlier backup."
            )
        check_names(Register(staged), where=str(copy))
        back_up(register, register.path.with_name(f"{register.path.stem}.before-restore.sqlite"))
        with register.reading() as db:
            devices = rows(db, "SELECT * FROM device")
        with (
            contextlib.closing(sqlite3.connect(staged)) as source,
            contextlib.closing(sqlite3.connect(register.path, timeout=10.0)) as target,
        ):
            source.backup(target)
    with register.writing() as db:
        db.execute("DELETE FROM device")
        for device in devices:
            marks = ", ".join("?" for _ in device)
            db.execute(f"INSERT INTO device ({', '.join(device)}) VALUES ({marks})", tuple(device.values()))


def check_names(register: Register, *, where: str) -> None:
    """Refuse a register whose names of files lead out of the studio's folder, or that does things by itself.

    Raises InputError, called by `where`.
    """
    try:
        with register.reading() as db:
            kinds = [one["type"] for one in rows(db, "SELECT DISTINCT type FROM sqlite_master")]
            strays = [
                str(one[column])
                for table, column, looks in _NAMES
                for one in rows(db, f"SELECT {column} FROM {table} WHERE {column} IS NOT NULL")
                if one[column] in (".", "..") or not re.fullmatch(looks, str(one[column]))
            ]
    except sqlite3.DatabaseError as error:
        raise InputError(
            "is damaged.", where=where, remedy="Nothing was changed; try an earlier backup."
        ) from error
    if strays or set(kinds) - {"table", "index"}:
        raise InputError(
            "holds what no claybed wrote.", where=where, remedy="Nothing was changed; try another backup."
        )


def as_json(register: Register) -> str:
    """Everything that was entered, as one JSON text: a list of rows for each table."""
    return json.dumps(
        {"register": len(STEPS), "tables": _tables(register)}, ensure_ascii=False, indent=1, allow_nan=False
    )


def as_csv(register: Register) -> dict[str, str]:
    """Everything that was entered, as one CSV text for each table (RFC 4180, header line first).

    Text that a spreadsheet would take for a formula gets a leading apostrophe.
    """
    texts = {}
    for table, found in _tables(register).items():
        with register.reading() as db:
            names = [column["name"] for column in rows(db, f"PRAGMA table_info({table})")]
        out = io.StringIO()
        writer = csv.writer(out)
        writer.writerow(names)
        writer.writerows([_plain(one[name]) for name in names] for one in found)
        texts[table] = out.getvalue()
    return texts


def _whole(register: Register) -> bool:
    try:
        with register.reading() as db:
            state = db.execute("PRAGMA integrity_check").fetchone()[0]
            return state == "ok" and not db.execute("PRAGMA foreign_key_check").fetchall()
    except sqlite3.DatabaseError:
        return False


def _tables(register: Register) -> dict[str, list[dict[str, Any]]]:
    with register.reading() as db:
        return {table: rows(db, f"SELECT * FROM {table} ORDER BY rowid") for table in EXPORTED}


def _plain(value: object) -> object:
    if isinstance(value, str) and value[:1] in ("=", "+", "-", "@", "\t", "\r"):
        return f"'{value}"
    return value
