"""A log of weighings on disk: one line of JSON each, appended and put on the disk before it counts."""

from __future__ import annotations

import json
import math
import os
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from claybed.errors import InputError
from claybed.records.weighing import Weighing

_MOST_BYTES: Final = 5_000_000


def log_beside(plan: Path, piece: str | None = None) -> Path:
    """Where the weighings of a plan's mold, or of one piece of it, are logged.

    Beside the plan's folder: a plan that is made anew must not take its weighings along.
    """
    name = f"{plan.name.removesuffix('.claybed')}-{piece or 'mold'}.weighings.jsonl"
    return plan.absolute().parent / name


def read_log(path: Path) -> list[Weighing]:
    """Return the weighings of a log, in the order written; none when there is no file yet.

    A last line that was cut off by a power cut is passed over. Raises InputError naming the line for any
    other that cannot be read.
    """
    try:
        if not path.exists():
            return []
        if path.stat().st_size > _MOST_BYTES:
            raise InputError("is too large for a log.", where=str(path), remedy="Begin a new one.")
        lines = path.read_text("utf-8", errors="replace").split("\n")
    except OSError as problem:
        raise InputError(
            f"cannot be read: {problem.strerror}.", where=str(path), remedy="Name another file."
        ) from None
    found = []
    for number, line in enumerate(lines, 1):
        if not line.strip():
            continue
        try:
            found.append(_weighing(json.loads(line)))
        except (ValueError, KeyError, TypeError):
            if number == len(lines):  # no newline behind it: it was being written when the power went
                continue
            raise InputError(
                f"line {number} is no weighing.", where=str(path), remedy="Mend that line, or take it out."
            ) from None
    return found


def append_weighing(path: Path, weighing: Weighing) -> None:
    """Add a weighing to a log, which is begun when there is none; returns once it is on the disk.

    Raises InputError when the file cannot be written.
    """
    line = json.dumps(
        {
            "at": datetime.fromtimestamp(weighing.at_s, UTC).isoformat(timespec="seconds"),
            "mass_g": weighing.mass_g,
            "note": weighing.note,
        },
        ensure_ascii=False,
    )
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("ab+") as stream:
            stream.seek(0, os.SEEK_END)
            torn = False
            if stream.tell():
                stream.seek(-1, os.SEEK_END)
                torn = stream.read(1) != b"\n"
            if torn:
                _drop_torn_line(stream.name)
            stream.seek(0, os.SEEK_END)
            stream.write(line.encode() + b"\n")
            stream.flush()
            os.fsync(stream.fileno())
    except OSError as problem:
        raise InputError(
            f"cannot be written: {problem.strerror}.", where=str(path), remedy="Name another file."
        ) from None


def _drop_torn_line(name: str) -> None:
    """Cut off a last line without its newline when it is no weighing; give it its newline when it is one."""
    with Path(name).open("rb+") as stream:
        data = stream.read()
        start = data.rfind(b"\n") + 1
        try:
            _weighing(json.loads(data[start:]))
        except (ValueError, KeyError, TypeError):
            stream.truncate(start)
        else:
            stream.write(b"\n")


def read_time(text: str, *, where: str) -> float:
    """Read a date and time ("2026-11-25 14:30", "2026-11-25T14:30+01:00") as seconds since the epoch.

    Without an offset it is local time. Raises InputError for anything else.
    """
    try:
        moment = datetime.fromisoformat(text.strip())
    except ValueError:
        raise InputError(f"“{text}” is not a time.", where=where, remedy="Write 2026-11-25T14:30.") from None
    return moment.timestamp()


def _weighing(row: dict[str, object]) -> Weighing:
    mass = row["mass_g"]
    if isinstance(mass, bool) or not isinstance(mass, int | float) or not math.isfinite(mass):
        raise ValueError("no mass")
    return Weighing(datetime.fromisoformat(str(row["at"])).timestamp(), float(mass), str(row.get("note", "")))
