"""Who may come in over the studio's network: one token for each device, kept only as its hash."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import sqlite3
from typing import Literal

from claybed.register.naming import fresh_id
from claybed.register.opening import Row, row, rows

Role = Literal["keeper", "bench"]


def let_in(db: sqlite3.Connection, *, name: str, role: Role, now: str) -> tuple[str, str]:
    """Make a token for a device; return its id and the token, which is not kept and cannot be shown again."""
    token = secrets.token_urlsafe(24)
    made = fresh_id(db, "device")
    db.execute(
        "INSERT INTO device (id, made_at, name, role, token_sha256) VALUES (?, ?, ?, ?, ?)",
        (made, now, name.strip()[:80] or "a device", role, _hash(token)),
    )
    return made, token


def known_device(db: sqlite3.Connection, token: str) -> Row | None:
    """The device whose token this is, unless it has been shut out."""
    found = row(db, "SELECT * FROM device WHERE token_sha256 = ? AND revoked_at IS NULL", (_hash(token),))
    if found is None or not hmac.compare_digest(str(found["token_sha256"]), _hash(token)):
        return None
    return found


def shut_out(db: sqlite3.Connection, device_id: str, *, now: str) -> None:
    """Let a device in no longer."""
    db.execute("UPDATE device SET revoked_at = ? WHERE id = ?", (now, device_id))


def devices(db: sqlite3.Connection) -> list[Row]:
    """Every device that may come in, without its token."""
    return rows(
        db, "SELECT id, made_at, name, role, seen_at FROM device WHERE revoked_at IS NULL ORDER BY made_at"
    )


def seen(db: sqlite3.Connection, device_id: str, *, now: str) -> None:
    """Note that a device was here."""
    db.execute("UPDATE device SET seen_at = ? WHERE id = ?", (now, device_id))


def _hash(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()
