"""What the keeper settles once for the whole studio: the room that molds dry in, the studio's own file."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from typing import Any, Final, Literal

from claybed.register.opening import row

Name = Literal["room", "studio_file"]
USUAL: Final[Mapping[Name, Mapping[str, Any]]] = {
    "room": {"moving": "still", "celsius": None, "humidity_percent": None, "opened": False},
    "studio_file": {"used": True},
}


def preference(db: sqlite3.Connection, name: Name) -> dict[str, Any]:
    """What was settled, with what is usual for fields that were not."""
    found = row(db, "SELECT value FROM setting WHERE name = ?", (name,))
    kept = json.loads(found["value"]) if found else {}
    return {**USUAL[name], **kept}


def settle(db: sqlite3.Connection, name: Name, values: Mapping[str, Any]) -> None:
    """Keep what was settled from now on."""
    db.execute(
        "INSERT INTO setting (name, value) VALUES (?, ?) "
        "ON CONFLICT (name) DO UPDATE SET value = excluded.value",
        (name, json.dumps(dict(values))),
    )
