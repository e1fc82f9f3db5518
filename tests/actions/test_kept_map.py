"""A cast map kept with its plan: on its sheet, plan.json untouched, out of date once the plan is another."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from claybed.actions import mapping_casts
from claybed.actions.kept_map import KEPT, PICTURE, SHEET, keep_map, kept_map
from claybed.errors import InputError
from claybed.jobs.folder import check_place, new_folder
from claybed.records.soaked import MapAsk
from claybed.sheets import bench_sheet
from claybed.units import say_gauged
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
    """Figures and one picture lie in the plan folder; every file but the sheet is as it was."""
    before = {path: path.read_bytes() for path in plan.rglob("*") if path.is_file() and path.name[0] != "."}
    del before[plan / SHEET]
    assert kept_map(plan) is None
    kept = keep_map(plan, mapped[1], mapped[0])
    assert kept_map(plan) == kept
    assert kept["casts"] == mapped[0]["casts"] and kept["figures"] == mapped[0]["figures"]
    assert all((plan / name).is_file() for name in kept["files"].values())
    assert (plan / PICTURE).read_bytes() == (mapped[1] / "pictures" / "cast-1.png").read_bytes()
    assert before == {path: path.read_bytes() for path in before}


def test_the_sheet_is_made_anew_with_the_wall(mapped: tuple[dict[str, Any], Path], plan: Path) -> None:
    """One page more on the same paper and in its units: each cast from least to most, and the picture."""
    before = PdfReader(plan / SHEET)
    keep_map(plan, mapped[1], mapped[0])
    after = PdfReader(plan / SHEET)
    assert len(after.pages) == len(before.pages) + 1
    assert after.pages[0].mediabox == before.pages[0].mediabox
    page = next(page for page in after.pages if "The wall, place by place" in page.extract_text())
    text = " ".join(page.extract_text().split())
    first = mapped[0]["casts"][0]
    us = bench_sheet.in_us_units((plan / SHEET).read_bytes())
    for key in ("least_mm", "median_mm", "most_mm"):
        assert say_gauged(first[key], us=us) in text.replace("\xa0", " ")
    assert len(page.images) == 1


def test_a_kept_map_is_one_of_our_files(mapped: tuple[dict[str, Any], Path], plan: Path) -> None:
    """A plan with a map in it can be made anew; any other file still stops that."""
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
