"""What has been worked out before, by what it depends on.

A stage's key is the hash of its version, the brief fields it reads and the keys of the stages before it; the
same key means the same record. The flow is handed a store and stays free of files and clocks.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import Protocol, TypeVar

from claybed.records.brief import Brief

Record = TypeVar("Record")

# Which fields of the brief each stage reads; a test changes every field and sees its stages move.
READS: dict[str, tuple[str, ...]] = {
    "intake": ("unit", "height_mm", "mouth", "close_holes", "mass_g", "body", "up", "max_triangles", "hump"),
    "survey": ("up", "axis", "pieces", "pose_tolerance_deg", "max_fill_ml"),
    "mold": (
        "up", "axis", "pieces", "flat_seam", "keep_out", "max_fill_ml", "shape", "use", "wall_mm",
        "ware_wall_mm", "gate", "gate_bore_mm", "keys", "boards", "bands", "hump",
    ),
    "pours": (
        "consistency", "waste", "form", "bucket_l", "plaster", "use", "lift_kg", "lifter", "water_celsius",
    ),
    "proof": ("lift_kg", "keys", "consistency"),
    "flow": ("use", "ware_wall_mm"),
    "bench": (
        "boards", "bands", "form", "drills", "mixing", "scale_step_g", "bench_mm", "shelf_mm",
        "release", "lifter", "porous", "hollow_ml", "made_of", "second_pour", "consistency", "use", "hump",
    ),
    "ware": (
        "clay", "slip", "clays", "fired_height_mm", "fired_capacity_ml", "expansion_fraction",
        "generations", "ware_wall_mm", "use", "consistency", "up", "hump",
    ),
    "timetable": ("use",),
}  # fmt: skip
VERSIONS = {
    "intake": 5,
    "survey": 9,
    "mold": 20,
    "pours": 3,
    "proof": 8,
    "flow": 9,
    "bench": 9,
    "ware": 6,
    "timetable": 3,
}
FOLLOWS = {
    "intake": (),
    "survey": ("intake",),
    "mold": ("intake", "survey"),
    "pours": ("mold",),
    "proof": ("mold", "pours"),
    "flow": ("mold",),
    "bench": ("pours",),
    "ware": ("mold",),
    "timetable": ("bench", "ware"),
}


class Store(Protocol):
    """Keeps records by key; may forget any of them."""

    def get(self, key: str) -> object | None:
        """Return the record kept under a key, or None."""

    def put(self, key: str, record: object) -> None:
        """Keep a record."""


class NoStore:
    """A store that forgets everything."""

    def get(self, key: str) -> object | None:
        """Return None."""
        return None

    def put(self, key: str, record: object) -> None:
        """Forget the record."""


def stage_keys(brief: Brief, source: str) -> dict[str, str]:
    """Key of every stage for a brief and the hash of the input file."""
    keys: dict[str, str] = {}
    for stage, fields in READS.items():
        parts = [stage, str(VERSIONS[stage]), *(f"{name}={getattr(brief, name)!r}" for name in fields)]
        parts += [keys[before] for before in FOLLOWS[stage]] or [source]
        keys[stage] = hashlib.sha256("\n".join(parts).encode()).hexdigest()
    return keys


def recall(store: Store, key: str, kind: type[Record], make: Callable[[], Record]) -> Record:
    """The record kept under `key` if it is of the right kind, else a new one, which is kept."""
    known = store.get(key)
    if isinstance(known, kind):
        return known
    record = make()
    store.put(key, record)
    return record
