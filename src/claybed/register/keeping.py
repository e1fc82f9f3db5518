"""Objects, plans and molds: added, found, changed by one person at a time, put away but never lost."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Literal

from claybed.errors import InputError
from claybed.register.naming import fresh_id
from claybed.register.opening import Row, row, rows

State = Literal["planned", "poured", "drying", "ready", "resting", "retired"]
STATES: Final[tuple[State, ...]] = ("planned", "poured", "drying", "ready", "resting", "retired")
_CHANGEABLE: Final = ("name", "state", "shelf", "note")
Kind = Literal["object", "plan", "mold"]


class StaleError(InputError):
    """Someone else saved the mold in the meantime; `theirs` is what it says now."""

    theirs: Row

    def __init__(self, what: str, *, where: str = "", remedy: str = "", theirs: Row | None = None) -> None:
        super().__init__(what, where=where, remedy=remedy)
        self.theirs = theirs or {}


@dataclass(frozen=True, slots=True)
class PlanEntry:
    """What the register keeps of a plan: where its folder is, what was asked, and its facts at a glance.

    `folder` relative to the studio's folder; `sha256` of plan.json; `summary` the few facts that lists show.
    """

    folder: str
    brief: Mapping[str, Any]
    sha256: str
    ready: bool
    summary: Mapping[str, Any]


def add_object(
    db: sqlite3.Connection,
    *,
    name: str,
    how: str,
    file: str,
    now: str,
    brief: Mapping[str, Any] | None = None,
) -> str:
    """Keep an object and return its id. `how` it came (file, readings, photos, shape), `file` relative."""
    name = _named(name)
    made = fresh_id(db, "object")
    db.execute(
        "INSERT INTO object (id, made_at, name, how, file, brief) VALUES (?, ?, ?, ?, ?, ?)",
        (made, now, name, how, file, json.dumps(dict(brief or {}))),
    )
    return made


def note_survey(
    db: sqlite3.Connection, object_id: str, survey: Mapping[str, Any], picture: str | None
) -> None:
    """Keep what the survey of an object found, and its picture."""
    db.execute(
        "UPDATE object SET survey = ?, picture = coalesce(?, picture) WHERE id = ?",
        (json.dumps(survey), picture, object_id),
    )


def ask_anew(db: sqlite3.Connection, object_id: str, brief: Mapping[str, Any]) -> None:
    """Keep what is asked of an object from now on; its survey is no longer the answer."""
    db.execute(
        "UPDATE object SET brief = ?, survey = NULL WHERE id = ?", (json.dumps(dict(brief)), object_id)
    )


def add_plan(db: sqlite3.Connection, object_id: str, entry: PlanEntry, *, now: str) -> str:
    """Keep a plan of an object and return its id."""
    made = fresh_id(db, "plan")
    values = (
        made, now, object_id, entry.folder, json.dumps(dict(entry.brief)), entry.sha256, int(entry.ready),
        json.dumps(dict(entry.summary)),
    )  # fmt: skip
    db.execute(
        "INSERT INTO plan (id, made_at, object, folder, brief, sha256, ready, summary) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        values,
    )
    return made


def add_mold(
    db: sqlite3.Connection,
    *,
    name: str,
    plan_id: str | None,
    pieces: Sequence[Mapping[str, Any]],
    now: str,
    by: str = "",
) -> str:
    """Keep a mold that is to be made and return its id; `pieces` have letter, volume_ml and wet_g."""
    name = _named(name)
    made = fresh_id(db, "mold")
    db.execute(
        "INSERT INTO mold (id, made_at, plan, name, state, changed_by) VALUES (?, ?, ?, ?, 'planned', ?)",
        (made, now, plan_id, name, by),
    )
    for piece in pieces:
        db.execute(
            "INSERT INTO piece (mold, letter, volume_ml, wet_g) VALUES (?, ?, ?, ?)",
            (made, piece["letter"], piece.get("volume_ml"), piece.get("wet_g")),
        )
    return made


def change_mold(
    db: sqlite3.Connection, mold_id: str, changes: Mapping[str, str], *, version: int, by: str
) -> Row:
    """Save a mold's name, state, shelf or note, and return it as it is now.

    `version` is the one that the person was looking at; if it has moved on nothing is saved and StaleError
    carries what the mold says now. Raises InputError for another field or state, or an unknown mold.
    """
    now = _one(db, "mold", mold_id)
    if now["version"] != version:
        raise StaleError(
            f"{now['changed_by'] or 'someone'} saved this mold while you were editing it.",
            where=str(now["name"]),
            remedy="Look at both, then save again.",
            theirs=now,
        )
    unknown = set(changes) - set(_CHANGEABLE)
    if unknown:
        raise InputError(f"{sorted(unknown)[0]} of a mold cannot be changed.", where=mold_id)
    if changes.get("state", "planned") not in STATES:
        raise InputError(
            f"{changes['state']} is no state of a mold.",
            where=str(now["name"]),
            remedy=f"Choose one of {', '.join(STATES)}.",
        )
    if "name" in changes:
        changes = {**changes, "name": _named(changes["name"])}
    sets = "".join(f"{field} = ?, " for field in changes)
    db.execute(
        f"UPDATE mold SET {sets}version = version + 1, changed_by = ? WHERE id = ?",
        (*changes.values(), by, mold_id),
    )
    return _one(db, "mold", mold_id)


def put_away(db: sqlite3.Connection, kind: Kind, name: str, *, now: str) -> None:
    """Take an object, plan or mold off the lists; what was logged on it stays, and `bring_back` undoes it."""
    _one(db, kind, name)
    db.execute(f"UPDATE {kind} SET removed_at = ? WHERE id = ?", (now, name))


def bring_back(db: sqlite3.Connection, kind: Kind, name: str) -> None:
    """Put what was taken off the lists back on them."""
    _one(db, kind, name)
    db.execute(f"UPDATE {kind} SET removed_at = NULL WHERE id = ?", (name,))


def objects(db: sqlite3.Connection) -> list[Row]:
    """Every object on the shelf, newest first, each with `plans` and `molds` counted and its newest plan."""
    found = rows(
        db,
        """SELECT o.*, count(DISTINCT p.id) AS plans, count(DISTINCT m.id) AS molds,
                  (SELECT id FROM plan WHERE object = o.id AND removed_at IS NULL
                   ORDER BY made_at DESC, rowid DESC LIMIT 1) AS newest_plan
           FROM object o LEFT JOIN plan p ON p.object = o.id AND p.removed_at IS NULL
           LEFT JOIN mold m ON m.plan = p.id AND m.removed_at IS NULL
           WHERE o.removed_at IS NULL GROUP BY o.id ORDER BY o.made_at DESC, o.rowid DESC""",
    )
    return [_opened(one, "brief", "survey") for one in found]


def one_object(db: sqlite3.Connection, object_id: str) -> Row:
    """An object; InputError when there is none of that id."""
    return _opened(_one(db, "object", object_id), "brief", "survey")


def plans(db: sqlite3.Connection, object_id: str | None = None) -> list[Row]:
    """Plans, newest first, of one object or of all."""
    found = rows(
        db,
        "SELECT * FROM plan WHERE removed_at IS NULL AND (?1 IS NULL OR object = ?1) "
        "ORDER BY made_at DESC, rowid DESC",
        (object_id,),
    )
    return [_opened(one, "brief", "summary") for one in found]


def one_plan(db: sqlite3.Connection, plan_id: str) -> Row:
    """A plan; InputError when there is none of that id."""
    return _opened(_one(db, "plan", plan_id), "brief", "summary")


def molds(db: sqlite3.Connection) -> list[Row]:
    """Every mold on the shelf, newest first, each with its object and its `pieces`."""
    found = rows(
        db,
        """SELECT m.*, p.object AS object, o.name AS object_name FROM mold m
           LEFT JOIN plan p ON p.id = m.plan LEFT JOIN object o ON o.id = p.object
           WHERE m.removed_at IS NULL ORDER BY m.made_at DESC, m.rowid DESC""",
    )
    parts = rows(db, "SELECT * FROM piece ORDER BY mold, letter")
    return [one | {"pieces": [part for part in parts if part["mold"] == one["id"]]} for one in found]


def one_mold(db: sqlite3.Connection, mold_id: str) -> Row:
    """A mold with its `pieces`; InputError when there is none of that id."""
    found = _one(db, "mold", mold_id)
    return found | {"pieces": rows(db, "SELECT * FROM piece WHERE mold = ? ORDER BY letter", (mold_id,))}


def _one(db: sqlite3.Connection, kind: str, name: str) -> Row:
    found = row(db, f"SELECT * FROM {kind} WHERE id = ?", (name,))
    if found is None:
        raise InputError(
            f"there is no {kind} {name!r} in the register.",
            remedy="Look for it by name; it may have been entered in another studio's register.",
        )
    return found


def _opened(found: Row, *fields: str) -> Row:
    return found | {name: json.loads(found[name]) if found[name] else None for name in fields}


def _named(name: str) -> str:
    plain = " ".join("".join(c if c.isprintable() else " " for c in name).split())[:120]
    if not plain:
        raise InputError("a name is missing.", remedy="Type what you call it at the bench.")
    return plain
