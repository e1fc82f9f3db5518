"""A cast map kept with its plan: plan.json untouched, found again, out of date once the plan is another."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest

from claybed.actions import mapping_casts
from claybed.actions.kept_map import KEPT, PICTURE, keep_map, kept_map
from claybed.errors import InputError
from claybed.jobs.folder import check_place, new_folder
from claybed.records.soaked import MapAsk
from tests.actions.planned import Planned


@pytest.fixture(scope="module")
def mapped(planned: Planned, tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Path]:
    """One cast on coarse cells, in US units."""
    out = tmp_path_factory.mktemp("map")
    ask = MapAsk(wall_mm=4.0, cell_mm=4.0, thicker_mm=0.0)
    payload = {"plan": planned.folder, "out": out, "ask": ask, "units": "us"}
    return mapping_casts.run(payload, lambda step, part: None), out


@pytest.fixture
def plan(planned: Planned, tmp_path: Path) -> Path:
    """A plan folder of one's own, with the list of what claybed made."""
    folder = tmp_path / "cup.claybed"
    with new_folder(folder, replace=False) as work:
        shutil.copytree(planned.folder, work, dirs_exist_ok=True)
    return folder


def test_a_kept_map_is_found_again(mapped: tuple[dict[str, Any], Path], plan: Path) -> None:
    """Figures and one picture lie in the plan folder; every file that was there is as it was."""
    before = {path: path.read_bytes() for path in plan.rglob("*") if path.is_file() and path.name[0] != "."}
    assert kept_map(plan) is None
    kept = keep_map(plan, mapped[1], mapped[0])
    assert kept_map(plan) == kept
    assert kept["casts"] == mapped[0]["casts"] and kept["figures"] == mapped[0]["figures"]
    assert all((plan / name).is_file() for name in kept["files"].values())
    assert (plan / PICTURE).read_bytes() == (mapped[1] / "pictures" / "cast-1.png").read_bytes()
    assert before == {path: path.read_bytes() for path in before}


def test_a_kept_map_is_one_of_our_files(mapped: tuple[dict[str, Any], Path], plan: Path) -> None:
    """A plan with a map in it can be made anew; a stranger's file still stops that."""
    keep_map(plan, mapped[1], mapped[0])
    check_place(plan, replace=True)
    (plan / "notes.txt").write_text("mine")
    with pytest.raises(InputError, match="notes"):
        check_place(plan, replace=True)


def test_a_map_of_another_plan_is_not_shown(mapped: tuple[dict[str, Any], Path], plan: Path) -> None:
    """Once plan.json changes, or the map cannot be read, there is no map."""
    keep_map(plan, mapped[1], mapped[0])
    (plan / "plan.json").write_text((plan / "plan.json").read_text("utf-8") + " ", "utf-8")
    assert kept_map(plan) is None
    keep_map(plan, mapped[1], mapped[0])
    assert kept_map(plan) is not None
    (plan / KEPT).write_text("{", "utf-8")
    assert kept_map(plan) is None


def test_sentences_come_in_inches(mapped: tuple[dict[str, Any], Path]) -> None:
    """In US units no sentence speaks of mm, and the figures stay metric."""
    says = " ".join(finding["says"] for finding in mapped[0]["findings"])
    assert " mm" not in says and "cm²" not in says
    assert mapped[0]["casts"][0]["median_mm"] == pytest.approx(4.0, abs=0.4)
