"""From readings to a mold: the doubt of the readings arrives at the plaster."""

from __future__ import annotations

from pathlib import Path

import pytest

from claybed.actions.making import run_turn
from claybed.flow.course import run_course
from claybed.flow.store import NoStore
from claybed.intake.reading import read_object
from claybed.records.brief import Brief

TUMBLER = "height,diameter\n0,44\n20,47\n45,52\n"


def quiet(step: str, part: float) -> None:
    """Say nothing of the progress."""


def test_readings_become_a_mold_with_their_doubt(tmp_path: Path) -> None:
    """A turned form is planned with every check held; the space for plaster is uncertain by just what the
    object is, and the allowance grows by what it may be smaller."""
    (tmp_path / "cup.csv").write_text(TUMBLER)
    out = tmp_path / "cup.claybed"
    asked = {"path": tmp_path / "cup.csv", "out": out, "name": "cup", "mass_g": None}
    document = run_turn(asked | {"asked": {"reading_mm": 1.5}}, quiet)
    course = run_course(
        lambda brief, tell: read_object(out, brief, progress=tell), Brief(), "cup", NoStore(), quiet
    )
    assert all(check.ok for check in course.checks)
    share = document["measured"]["band"]["larger_share"]
    doubt_ml = share * course.obj.solid_ml
    pours = course.poured.pours
    assert sum(p.mix_high.space_ml - p.mix_low.space_ml for p in pours) == pytest.approx(
        2 * doubt_ml, rel=1e-9
    )
    assert doubt_ml == pytest.approx(document["volume_ml"] * share, rel=1e-9)
    over_ml = sum((p.waste - 0.1) * p.mix.space_ml for p in pours)
    assert over_ml == pytest.approx(doubt_ml, rel=1e-9)
