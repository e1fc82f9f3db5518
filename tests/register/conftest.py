"""A register in an empty folder, with one mold of two pieces in it."""

from __future__ import annotations

from pathlib import Path

import pytest

from claybed.register import keeping
from claybed.register.opening import Register

NOW = "2026-11-25T10:00:00Z"


@pytest.fixture
def register(tmp_path: Path) -> Register:
    """An empty register."""
    return Register(tmp_path / "studio" / "register.sqlite")


@pytest.fixture
def mold(register: Register) -> str:
    """The id of a mold with pieces A and B, planned from an object."""
    with register.writing() as db:
        thing = keeping.add_object(db, name="Dried gourd", how="file", file="gourd.stl", now=NOW)
        entry = keeping.PlanEntry("plans/1", {"wall_mm": 30.0}, "ab" * 32, True, {"pieces": 2})
        plan = keeping.add_plan(db, thing, entry, now=NOW)
        pieces = [
            {"letter": "A", "volume_ml": 2100.0, "wet_g": 3255.0},
            {"letter": "B", "volume_ml": 1900.0, "wet_g": 2945.0},
        ]
        return keeping.add_mold(db, name="Gourd bottle", plan_id=plan, pieces=pieces, now=NOW)
