"""The register's tables, as numbered steps: a file of any earlier number is brought up to date, none is lost.

A step that has been released is never edited; a change is a new step at the end.
"""

from __future__ import annotations

from typing import Final

# Every table that people write to carries `made_at` (UTC, ISO 8601), and `client_key` where a device may send
# the same entry twice after a lost network. `version` counts the saves of a row that two people may edit.
_FIRST: Final = (
    """CREATE TABLE object (
        id TEXT PRIMARY KEY, made_at TEXT NOT NULL, name TEXT NOT NULL, how TEXT NOT NULL, file TEXT NOT NULL,
        brief TEXT NOT NULL DEFAULT '{}', survey TEXT, picture TEXT, note TEXT NOT NULL DEFAULT '',
        removed_at TEXT
    ) STRICT""",
    """CREATE TABLE plan (
        id TEXT PRIMARY KEY, made_at TEXT NOT NULL, object TEXT NOT NULL REFERENCES object(id),
        folder TEXT NOT NULL, brief TEXT NOT NULL, sha256 TEXT NOT NULL, ready INTEGER NOT NULL,
        summary TEXT NOT NULL, removed_at TEXT
    ) STRICT""",
    """CREATE TABLE mold (
        id TEXT PRIMARY KEY, made_at TEXT NOT NULL, plan TEXT REFERENCES plan(id), name TEXT NOT NULL,
        state TEXT NOT NULL CHECK (state IN ('planned','poured','drying','ready','resting','retired')),
        shelf TEXT NOT NULL DEFAULT '', note TEXT NOT NULL DEFAULT '', version INTEGER NOT NULL DEFAULT 1,
        changed_by TEXT NOT NULL DEFAULT '', removed_at TEXT
    ) STRICT""",
    """CREATE TABLE piece (
        mold TEXT NOT NULL REFERENCES mold(id), letter TEXT NOT NULL, volume_ml REAL, wet_g REAL,
        trimmed_wet_g REAL, dry_target_g REAL, PRIMARY KEY (mold, letter)
    ) STRICT""",
    """CREATE TABLE pour (
        id INTEGER PRIMARY KEY, client_key TEXT UNIQUE, made_at TEXT NOT NULL, at TEXT NOT NULL,
        mold TEXT NOT NULL REFERENCES mold(id), letter TEXT NOT NULL, batch INTEGER NOT NULL,
        plan_sha256 TEXT NOT NULL, shown TEXT NOT NULL, water_g REAL CHECK (water_g >= 0),
        plaster_g REAL CHECK (plaster_g >= 0), water_c REAL, set_at TEXT, lot TEXT NOT NULL DEFAULT '',
        note TEXT NOT NULL DEFAULT '', by TEXT NOT NULL DEFAULT ''
    ) STRICT""",
    """CREATE TABLE weighing (
        id INTEGER PRIMARY KEY, client_key TEXT UNIQUE, made_at TEXT NOT NULL, at TEXT NOT NULL,
        mold TEXT NOT NULL REFERENCES mold(id), letter TEXT NOT NULL, mass_g REAL NOT NULL CHECK (mass_g > 0),
        note TEXT NOT NULL DEFAULT '', by TEXT NOT NULL DEFAULT ''
    ) STRICT""",
    """CREATE TABLE casting (
        id INTEGER PRIMARY KEY, client_key TEXT UNIQUE, made_at TEXT NOT NULL, at TEXT NOT NULL,
        mold TEXT NOT NULL REFERENCES mold(id), stood_min REAL CHECK (stood_min > 0),
        wall_mm REAL CHECK (wall_mm > 0), slip TEXT NOT NULL DEFAULT '', kept INTEGER NOT NULL DEFAULT 1,
        note TEXT NOT NULL DEFAULT '', by TEXT NOT NULL DEFAULT ''
    ) STRICT""",
    """CREATE TABLE remark (
        id INTEGER PRIMARY KEY, client_key TEXT UNIQUE, made_at TEXT NOT NULL, at TEXT NOT NULL,
        mold TEXT NOT NULL REFERENCES mold(id), kind TEXT NOT NULL CHECK (kind IN ('note','fault')),
        words TEXT NOT NULL, photo TEXT, by TEXT NOT NULL DEFAULT ''
    ) STRICT""",
    """CREATE TABLE device (
        id TEXT PRIMARY KEY, made_at TEXT NOT NULL, name TEXT NOT NULL,
        role TEXT NOT NULL CHECK (role IN ('keeper','bench')), token_sha256 TEXT NOT NULL UNIQUE,
        seen_at TEXT, revoked_at TEXT
    ) STRICT""",
    """CREATE TABLE job (
        id TEXT PRIMARY KEY, made_at TEXT NOT NULL, kind TEXT NOT NULL, about TEXT NOT NULL,
        state TEXT NOT NULL CHECK (state IN ('waiting','running','done','failed','cancelled','interrupted')),
        phase TEXT NOT NULL DEFAULT '', done REAL NOT NULL DEFAULT 0, says TEXT NOT NULL DEFAULT '',
        result TEXT, ended_at TEXT
    ) STRICT""",
    "CREATE TABLE setting (name TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT",
    "CREATE INDEX plan_of ON plan(object, made_at)",
    "CREATE INDEX mold_of ON mold(plan)",
    "CREATE INDEX pour_of ON pour(mold, at)",
    "CREATE INDEX weighing_of ON weighing(mold, letter, at)",
    "CREATE INDEX casting_of ON casting(mold, at)",
    "CREATE INDEX remark_of ON remark(mold, at)",
)

STEPS: Final[tuple[tuple[str, ...], ...]] = (_FIRST,)
# What an export hands out: everything but access tokens and work in progress.
EXPORTED: Final = ("object", "plan", "mold", "piece", "pour", "weighing", "casting", "remark", "setting")
