"""Short names for what is kept: said aloud, scratched into plaster, typed from a tag."""

from __future__ import annotations

import secrets
import sqlite3
from typing import Final

# Without 0 O 1 I L U V: each of these is taken for another one in wet plaster.
LETTERS: Final = "23456789ABCDEFGHJKMNPQRSTWXYZ"
_LENGTH: Final = 5


def fresh_id(db: sqlite3.Connection, table: str) -> str:
    """A name of five letters that no row of `table`, which is one of ours, has yet."""
    while True:
        name = "".join(secrets.choice(LETTERS) for _ in range(_LENGTH))
        if db.execute(f"SELECT 1 FROM {table} WHERE id = ?", (name,)).fetchone() is None:
            return name


def tidy_id(typed: str) -> str:
    """A typed or scanned name as it is kept: capitals, and nothing around it."""
    return typed.strip().upper()
