"""Long work that the app has under way, kept so that a restart says what was interrupted."""

from __future__ import annotations

import json
import sqlite3
from typing import Any, Literal

from claybed.register.naming import fresh_id
from claybed.register.opening import Row, row, rows

JobState = Literal["waiting", "running", "done", "failed", "cancelled", "interrupted"]


def add_job(db: sqlite3.Connection, *, kind: str, about: str, now: str) -> str:
    """Keep a piece of work that waits for its turn and return its id; `about` names what it works on."""
    made = fresh_id(db, "job")
    db.execute(
        "INSERT INTO job (id, made_at, kind, about, state) VALUES (?, ?, ?, ?, 'waiting')",
        (made, now, kind, about),
    )
    return made


def end_job(
    db: sqlite3.Connection,
    job_id: str,
    state: JobState,
    *,
    now: str,
    says: str = "",
    result: dict[str, Any] | None = None,
) -> None:
    """Keep how a piece of work ended, with what to tell the person and what it led to."""
    db.execute(
        "UPDATE job SET state = ?, says = ?, result = ?, ended_at = ? WHERE id = ?",
        (state, says, None if result is None else json.dumps(result), now, job_id),
    )


def start_job(db: sqlite3.Connection, job_id: str) -> None:
    """Keep that a piece of work has begun."""
    db.execute("UPDATE job SET state = 'running' WHERE id = ?", (job_id,))


def note_interrupted(db: sqlite3.Connection, *, now: str) -> int:
    """Mark what a server that was stopped or killed left unfinished; return how many that were."""
    changed = db.execute(
        "UPDATE job SET state = 'interrupted', ended_at = ?, says = 'claybed stopped before it was done.' "
        "WHERE state IN ('waiting', 'running')",
        (now,),
    )
    return changed.rowcount


def one_job(db: sqlite3.Connection, job_id: str) -> Row | None:
    """A piece of work, with its result as values, or None."""
    found = row(db, "SELECT * FROM job WHERE id = ?", (job_id,))
    return None if found is None else _opened(found)


def jobs_about(db: sqlite3.Connection, about: str) -> list[Row]:
    """Work on one thing, newest first."""
    return [
        _opened(one) for one in rows(db, "SELECT * FROM job WHERE about = ? ORDER BY rowid DESC", (about,))
    ]


def _opened(found: Row) -> Row:
    return found | {"result": json.loads(found["result"]) if found["result"] else None}
