"""The order of the stages: what each reads, what each keeps, and what a changed wish makes anew."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from claybed.flow import course
from claybed.flow.course import Course, run_course
from claybed.flow.document import plan_document
from claybed.flow.keeping_out import length_inside_mm
from claybed.flow.store import FOLLOWS, READS, stage_keys
from claybed.geometry.mesh import Floats, Mesh
from claybed.intake.reading import read_object
from claybed.proof.evidence import prove
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief, KeepOut, KeepOutSpot
from claybed.records.measured import MeasuredObject
from claybed.records.studio import Band, BoardSet
from tests.actions.planned import write_stl
from tests.pieces import solids
from tests.survey.objects import measured

OTHER: dict[str, Any] = {
    "unit": "in", "height_mm": 99.0, "mouth": True, "close_holes": True, "mass_g": 310.0,
    "body": 2, "up": (0.0, 1.0, 0.0),
    "max_triangles": 1000, "axis": (1.0, 0.0, 0.0), "flat_seam": True,
    "keep_out": (KeepOut((0.0, 0.0, 1.0), 1.0, 2.0),), "max_fill_ml": 3.0, "pose_tolerance_deg": 1.0,
    "pieces": 2, "shape": "boxed", "use": "press", "wall_mm": 44.0, "ware_wall_mm": 3.0, "gate": "none",
    "gate_bore_mm": 31.0, "keys": False, "consistency": 70.0, "waste": 0.2, "form": "case", "bucket_l": 3.0,
    "plaster": "statuary_hydrocal", "lift_kg": 5.0,
    "clay": "stoneware", "slip": "yard", "clays": "[slip.yard]\ndensity_ratio = 1.7",
    "fired_height_mm": 120.0, "fired_capacity_ml": 350.0, "expansion_fraction": 0.002, "generations": 3,
    "boards": (BoardSet("long", 600.0, 200.0, 18.0),),
    "bands": (Band("tall", 1500.0, 300.0),), "drills": 2, "mixing": "hand", "scale_step_g": 5.0,
    "bench_mm": 850.0, "shelf_mm": 1700.0, "release": "oil", "lifter": "school", "water_celsius": 30.0,
    "porous": True, "hollow_ml": 200.0, "made_of": "pla", "second_pour": "soaked",
    "hump": True,
}  # fmt: skip


class Kept:
    """A store in memory that counts what it was asked for and did not know."""

    def __init__(self) -> None:
        self.records: dict[str, object] = {}

    def get(self, key: str) -> object | None:
        """Return what is kept under `key`."""
        return self.records.get(key)

    def put(self, key: str, record: object) -> None:
        """Keep it."""
        self.records[key] = record


class Watched:
    """A brief that notes which of its fields are read."""

    def __init__(self, brief: Brief) -> None:
        self.brief = brief
        self.read: set[str] = set()

    def __getattr__(self, name: str) -> Any:
        self.read.add(name)
        return getattr(self.brief, name)


def quiet(phase: str, part: float) -> None:
    """Take progress and say nothing."""


def plan(mesh: Mesh, brief: Brief, store: Kept, source: str = "file") -> Course:
    """Run the course on a generated solid."""
    return run_course(
        lambda asked, progress: replace(measured(mesh), mass_g=asked.mass_g), brief, source, store, quiet
    )


@cache
def ball_planned() -> tuple[Course, dict[str, object]]:
    """The plan of a ball, and what its store then holds."""
    store = Kept()
    return plan(solids.sphere(30.0, subdivisions=3), Brief(), store), store.records


@cache
def box_planned() -> Course:
    """The plan of a box in two pieces."""
    return plan(solids.box(50.0, 40.0, 30.0), Brief(pieces=2), Kept())


def stages_after(direct: set[str]) -> set[str]:
    """The stages and all that follow them."""
    found = set(direct)
    for stage, before in FOLLOWS.items():
        if found & set(before):
            found.add(stage)
    return found


def test_every_field_has_another_value() -> None:
    """The table below changes every field of a brief, each to something else."""
    assert set(OTHER) == {field.name for field in fields(Brief)}
    assert all(getattr(Brief(), name) != value for name, value in OTHER.items())


@pytest.mark.parametrize("name", OTHER)
def test_a_field_moves_its_stages_and_no_other(name: str) -> None:
    """Changing one wish changes the keys of the stages that read it and of those after, and no other key."""
    before = stage_keys(Brief(), "file")
    after = stage_keys(replace(Brief(), **{name: OTHER[name]}), "file")
    direct = {stage for stage, names in READS.items() if name in names}
    assert direct, f"no stage reads {name}"
    assert {stage for stage in before if before[stage] != after[stage]} == stages_after(direct)


def test_another_file_moves_every_stage() -> None:
    """Another file shares no key with the first, and the same file has the same keys again."""
    first, other = stage_keys(Brief(), "file"), stage_keys(Brief(), "other")
    assert first == stage_keys(Brief(), "file")
    assert not set(first.values()) & set(other.values())


@pytest.mark.parametrize(
    "brief", [Brief(), Brief(use="press", mass_g=310.0), Brief(keep_out=OTHER["keep_out"])]
)
def test_stages_read_what_their_keys_hold(tmp_path: Path, brief: Brief) -> None:
    """No stage reads a field of the brief that its key does not hold."""
    file = write_stl(solids.sphere(30.0, subdivisions=3), tmp_path / "ball.stl")
    looked: dict[str, set[str]] = {}

    def watching(stage: str, work: Callable[[Any], Any]) -> Any:
        watched = Watched(brief)
        result = work(watched)
        looked[stage] = watched.read
        return result

    obj = watching("intake", lambda b: read_object(file, b, progress=quiet))
    found = watching("survey", lambda b: course.survey(obj, b, progress=quiet))
    molded = watching("mold", lambda b: course.make_mold(obj, found, b, progress=quiet))
    poured = watching("pours", lambda b: course.plan_all_pours(obj, molded.assembly, b))
    wet_kg = {pour.piece: pour.wet_kg for pour in poured.pours}
    watching("proof", lambda b: prove(molded.assembly, obj.mesh, b, wet_kg, progress=quiet))
    watching("ware", lambda b: course.plan_ware(obj, found.options[0], molded.assembly, b))
    watching("bench", lambda b: course.plan_all_benches(obj, molded.assembly, poured, 1.0, b, "key"))
    beyond = {stage: names - set(READS[stage]) for stage, names in looked.items()}
    assert beyond == {stage: set() for stage in looked}
    assert all(looked.values())


def forbidden(*args: object, **kwargs: object) -> Any:
    """Fail: this stage should have been recalled."""
    raise AssertionError("this stage was worked out again")


@pytest.mark.parametrize(
    ("change", "recalled"),
    [
        ({"wall_mm": 31.0}, ("survey",)),
        ({"shape": "boxed"}, ("survey",)),
        ({"consistency": 70.0}, ("survey", "make_mold")),
        ({"bucket_l": 0.2}, ("survey", "make_mold")),
        ({}, ("survey", "make_mold", "plan_all_pours", "prove")),
    ],
)
def test_replanning_does_only_what_changed(
    change: dict[str, Any], recalled: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A second plan with another wall, shape, ratio or bucket surveys nothing again, and shows the change."""
    first, records = ball_planned()
    store = Kept()
    store.records |= records
    for name in recalled:
        monkeypatch.setattr(course, name, forbidden)

    def unread(brief: Brief, progress: course.Progress) -> MeasuredObject:
        raise AssertionError("the file was read again")

    second = run_course(unread, Brief(**change), "file", store, quiet)
    assert second.obj is first.obj
    assert second.survey == first.survey
    if "wall_mm" in change:
        assert second.molded.assembly.wall_mm == 31.0 != first.molded.assembly.wall_mm
    if "shape" in change:
        assert (first.molded.assembly.shape, second.molded.assembly.shape) == ("boxed", "boxed")
    if "consistency" in change:
        assert second.poured.pours[0].mix.water_g < first.poured.pours[0].mix.water_g
    if "bucket_l" in change:
        assert len(second.poured.pours[0].mix.batches) > len(first.poured.pours[0].mix.batches)


def test_a_record_of_another_kind_is_made_anew() -> None:
    """A store that gives back nonsense under every key changes nothing in the plan."""

    class Confused(Kept):
        def get(self, key: str) -> object | None:
            return 3.0

    solid = solids.sphere(30.0, subdivisions=2)
    assert plan(solid, Brief(), Confused()).poured == plan(solid, Brief(), Kept()).poured


def test_fill_lines_and_spaces() -> None:
    """Two pours fill what the block leaves; the first stands on a bed under the object, the second on it."""
    found, _ = ball_planned()
    assembly = found.molded.assembly
    first, second = found.poured.pours
    height_mm = assembly.outer_mm[2]
    lowest_mm = assembly.model.mesh("block").bounds_mm[0, 2]
    assert first.fill_line_from_board_mm == pytest.approx(height_mm - lowest_mm + 8.0)
    assert second.fill_line_from_board_mm == pytest.approx(height_mm)
    block_ml = float(assembly.outer_mm[0] * assembly.outer_mm[1] * height_mm) / 1000.0
    spaces_ml = first.mix.space_ml + second.mix.space_ml + assembly.model.volume_mm3 / 1000.0
    assert spaces_ml == pytest.approx(block_ml, rel=1e-9)


def test_a_seam_kept_out_is_surveyed_where_it_runs() -> None:
    """When a region forbids the preferred seam, the survey that is handed on is of the way really taken."""
    solid = solids.box(50.0, 40.0, 30.0)
    free = box_planned()
    assert abs(free.molded.option.pull[0]) < 1e-9
    end = KeepOut((1.0, 0.0, 0.0), 20.0, 30.0)
    moved = plan(solid, Brief(pieces=2, keep_out=(end,)), Kept())
    assert abs(moved.molded.option.pull[0]) > 0.9
    assert moved.survey.options[0].pull == moved.molded.option.pull
    assert moved.survey.chosen.axis == moved.molded.option.pull


def test_a_painted_spot_moves_the_seam_and_stands_in_the_plan() -> None:
    """A spot on the preferred seam is avoided, the seam checked against the ball, and the ball is told."""
    solid = solids.box(50.0, 40.0, 30.0)
    free = box_planned().molded.assembly
    ends = seam_edges(free).reshape(-1, 3)
    x, y, z = (float(v) for v in ends[np.argmin(ends[:, 0])])  # far from the gate, through which it must run
    spot = KeepOutSpot((x, y, z), 6.0)
    brief = Brief(pieces=2, keep_out=(spot,))
    moved = plan(solid, brief, Kept())
    made = moved.molded.assembly
    assert length_inside_mm(seam_edges(free), [spot]) > 6.0
    assert length_inside_mm(seam_edges(made), [spot]) == 0.0
    told = plan_document(moved, brief, ())["made"]["brief"]["keep_out"]
    assert told == [{"centre_mm": list(spot.centre_mm), "radius_mm": 6.0}]


def seam_edges(assembly: Assembly) -> Floats:
    """The seam's edges (k, 2, 3) mm in the object's frame."""
    edges = [np.stack([loop[:-1], loop[1:]], axis=1) for loop in assembly.seam_loops]
    placed: Floats = (np.concatenate(edges) - assembly.shift_mm) @ assembly.to_block
    return placed
