"""The real command line over the real stages: exit codes, what is printed, what is left behind."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from claybed.actions import surveying
from claybed.records.brief import Brief
from tests.actions.planned import write_stl
from tests.pieces import solids

ROOT = Path(__file__).resolve().parents[2]


def claybed(*words: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Run the command in a folder, as a person would who has planned before: what is known is recalled."""
    surroundings = {
        "PYTHONPATH": str(ROOT / "src"),
        "XDG_CACHE_HOME": os.environ["XDG_CACHE_HOME"],
        "PATH": os.environ["PATH"],
    }
    return subprocess.run(
        [sys.executable, "-m", "claybed", *words],
        cwd=folder,
        env=surroundings,
        capture_output=True,
        text=True,
        check=False,
        timeout=500,
    )


@pytest.fixture
def tumbler(tmp_path: Path) -> Path:
    """A folder with a tumbler in it."""
    write_stl(solids.tumbler(), tmp_path / "tumbler.stl")
    return tmp_path


def test_plan_and_replan(tumbler: Path) -> None:
    """A plan ends with 0 and says where it is; asked as JSON, with another wall, it prints what it wrote."""
    first = claybed("plan", "tumbler.stl", "--unit", "mm", folder=tumbler)
    assert first.returncode == 0, first.stderr
    assert "Ready to pour" in first.stdout
    assert "tumbler.claybed" in first.stdout
    words = ("plan", "tumbler.stl", "--unit", "mm", "--wall", "31mm", "--replace", "--json")
    second = claybed(*words, folder=tumbler)
    assert second.returncode == 0, second.stderr
    document = json.loads(second.stdout)
    assert document == json.loads((tumbler / "tumbler.claybed" / "plan.json").read_text("utf-8"))
    assert document["mold"]["wall_mm"] == 31.0


def test_a_piece_too_heavy_is_written_but_not_ready(tumbler: Path) -> None:
    """A plan that must not be poured ends with 4 and says why, and its folder is there to look at."""
    outcome = claybed("plan", "tumbler.stl", "--lift", "1kg", "--out", "heavy", folder=tumbler)
    assert outcome.returncode == 4, outcome.stderr
    assert "Not ready to pour" in outcome.stdout
    document = json.loads((tumbler / "heavy" / "plan.json").read_text("utf-8"))
    assert not document["ready"]
    assert "lift_over_limit" in {f["id"] for f in document["findings"] if f["severity"] == "stop"}
    assert [check["id"] for check in document["checks"] if not check["ok"]] == ["liftable"]


def test_what_cannot_be_leaves_nothing(tmp_path: Path) -> None:
    """Holes from three sides need more pieces than two: exit 3, one line that says so, and no folder."""
    write_stl(solids.cube_with_blind_holes(), tmp_path / "cube.stl")
    outcome = claybed("plan", "cube.stl", "--unit", "mm", "--pieces", "2", folder=tmp_path)
    assert outcome.returncode == 3, outcome.stdout + outcome.stderr
    assert "more than two pieces" in outcome.stderr
    assert {path.name for path in tmp_path.iterdir()} == {"cube.stl"}


def test_a_damaged_file_leaves_nothing(tmp_path: Path) -> None:
    """A file cut short ends with 2 and one line, and no folder."""
    write_stl(solids.tumbler(), tmp_path / "tumbler.stl")
    whole = (tmp_path / "tumbler.stl").read_bytes()
    (tmp_path / "tumbler.stl").write_bytes(whole[: len(whole) // 2])
    outcome = claybed("plan", "tumbler.stl", folder=tmp_path)
    assert outcome.returncode == 2, outcome.stdout
    assert {path.name for path in tmp_path.iterdir()} == {"tumbler.stl"}


def test_survey_says_what_a_plan_starts_from(tmp_path: Path) -> None:
    """A survey names what it is, ranks axes with their working, and plans nothing."""
    file = write_stl(solids.cup_with_handle(), tmp_path / "cup.stl")
    document = surveying.run({"path": file, "brief": Brief(unit="mm"), "units": "metric"}, lambda s, p: None)
    assert document["schema"] == "claybed-survey-1"
    assert set(document) == {"schema", "object", "survey", "refused", "findings", "made", "figures"}
    assert document["survey"]["castable"]
    assert abs(document["survey"]["axis"][1]) == pytest.approx(1.0, abs=1e-3)
    assert "/survey/fill_ml" in document["figures"]
    assert len(document["survey"]["candidates"]) > 1
    json.dumps(document, allow_nan=False)
