"""What was measured on a mold: pours, weighings, casts, notes and faults, each entered once.

A tablet that loses the network sends again what it is not sure of. Each entry carries the device's own
`client_key`, and the second arrival of a key is the first one over again.
"""

from __future__ import annotations

import json
import math
import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from claybed.errors import InputError
from claybed.register.keeping import one_mold
from claybed.register.opening import Row, row, rows

Log = Literal["pour", "weighing", "casting", "remark"]
_LOGS: Final[tuple[Log, ...]] = ("pour", "weighing", "casting", "remark")


@dataclass(frozen=True, slots=True)
class Stamp:
    """Who entered something, and when: `now` when it arrived, `at` when it happened (both UTC, ISO 8601)."""

    now: str
    at: str
    by: str = ""
    client_key: str | None = None


def log_pour(
    db: sqlite3.Connection,
    mold_id: str,
    letter: str,
    stamp: Stamp,
    *,
    batch: int,
    plan_sha256: str,
    shown: Mapping[str, Any],
    water_g: float | None,
    plaster_g: float | None,
    water_c: float | None = None,
    set_at: str | None = None,
    lot: str = "",
    note: str = "",
) -> Row:
    """Keep what was really weighed for a batch (g), beside the plan's hash and the figures that were shown.

    Raises InputError for an unknown mold or piece, or an amount that no bucket holds.
    """
    _known(db, mold_id, letter)
    _between("water", water_g, 0.0, 200_000.0, "g")
    _between("plaster", plaster_g, 0.0, 400_000.0, "g")
    _between("water temperature", water_c, 0.0, 60.0, "°C")
    return _once(
        db,
        "pour",
        stamp,
        mold=mold_id,
        letter=letter,
        batch=batch,
        plan_sha256=plan_sha256,
        shown=json.dumps(dict(shown)),
        water_g=water_g,
        plaster_g=plaster_g,
        water_c=water_c,
        set_at=set_at,
        lot=lot,
        note=note,
    )


def log_weighing(
    db: sqlite3.Connection, mold_id: str, letter: str, stamp: Stamp, *, mass_g: float, note: str = ""
) -> Row:
    """Keep the mass of a piece on a scale, g. Raises InputError for what no scale can show."""
    _known(db, mold_id, letter)
    if not (math.isfinite(mass_g) and 0.0 < mass_g <= 500_000.0):
        raise InputError(f"{mass_g:g} g is no weight of a mold piece.", remedy="Type the grams on the scale.")
    return _once(db, "weighing", stamp, mold=mold_id, letter=letter, mass_g=mass_g, note=note)


def log_casting(
    db: sqlite3.Connection,
    mold_id: str,
    stamp: Stamp,
    *,
    stood_min: float | None,
    wall_mm: float | None,
    slip: str = "",
    kept: bool = True,
    note: str = "",
) -> Row:
    """Keep a cast: how long the slip stood, the wall measured, and whether the ware was kept."""
    one_mold(db, mold_id)
    _between("standing time", stood_min, 0.1, 7 * 24 * 60.0, "min")
    _between("wall", wall_mm, 0.1, 100.0, "mm")
    return _once(
        db,
        "casting",
        stamp,
        mold=mold_id,
        stood_min=stood_min,
        wall_mm=wall_mm,
        slip=slip,
        kept=int(kept),
        note=note,
    )


def log_remark(
    db: sqlite3.Connection,
    mold_id: str,
    stamp: Stamp,
    *,
    kind: Literal["note", "fault"],
    words: str,
    photo: str | None = None,
) -> Row:
    """Keep a note or a fault, with the file name of a photo when there is one."""
    one_mold(db, mold_id)
    if not words.strip() and photo is None:
        raise InputError(f"the {kind} is empty.", remedy="Write what you saw, or add a photo.")
    return _once(db, "remark", stamp, mold=mold_id, kind=kind, words=words.strip(), photo=photo)


def set_trimmed(
    db: sqlite3.Connection, mold_id: str, letter: str, *, wet_g: float, dry_target_g: float
) -> None:
    """Keep the wet mass of a trimmed piece and the dry mass that follows from it, g."""
    _known(db, mold_id, letter)
    if not 0.0 < dry_target_g < wet_g:
        raise InputError("a dry piece weighs less than a wet one.", remedy="Check the two weights.")
    db.execute(
        "UPDATE piece SET trimmed_wet_g = ?, dry_target_g = ? WHERE mold = ? AND letter = ?",
        (wet_g, dry_target_g, mold_id, letter),
    )


def entries(db: sqlite3.Connection, log: Log, mold_id: str) -> list[Row]:
    """What was logged on a mold, earliest first."""
    return rows(db, f"SELECT * FROM {log} WHERE mold = ? ORDER BY at, id", (mold_id,))


def history(db: sqlite3.Connection, mold_id: str) -> list[Row]:
    """Everything logged on a mold in one list, latest first, each with `log` naming what it is."""
    found = [entry | {"log": log} for log in _LOGS for entry in entries(db, log, mold_id)]
    return sorted(found, key=lambda entry: (entry["at"], entry["made_at"]), reverse=True)


def _once(db: sqlite3.Connection, log: Log, stamp: Stamp, **values: object) -> Row:
    if stamp.client_key is not None:
        known = row(db, f"SELECT * FROM {log} WHERE client_key = ?", (stamp.client_key,))
        if known is not None:
            return known | {"again": True}
    values = {"client_key": stamp.client_key, "made_at": stamp.now, "at": stamp.at, "by": stamp.by, **values}
    marks = ", ".join("?" for _ in values)
    placed = db.execute(f"INSERT INTO {log} ({', '.join(values)}) VALUES ({marks})", tuple(values.values()))
    found = row(db, f"SELECT * FROM {log} WHERE id = ?", (placed.lastrowid,))
    assert found is not None
    return found | {"again": False}


def _known(db: sqlite3.Connection, mold_id: str, letter: str) -> None:
    letters = [piece["letter"] for piece in one_mold(db, mold_id)["pieces"]]
    if letter not in letters:
        raise InputError(
            f"this mold has no piece {letter!r}.",
            where=mold_id,
            remedy=f"It has {', '.join(letters) or 'none'}.",
        )


def _between(what: str, value: float | None, low: float, high: float, unit: str) -> None:
    if value is not None and not (math.isfinite(value) and low <= value <= high):
        raise InputError(
            f"a {what} of {value:g} {unit} cannot be right.",
            remedy=f"Type a number from {low:g} to {high:g} {unit}.",
        )
