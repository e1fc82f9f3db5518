"""A mold is cut and proved along axes that nobody would choose, and through a gate that crosses a cleft."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import trimesh

from claybed.flow import molding
from claybed.flow.course import plan_all_pours
from claybed.flow.searching import make_mold
from claybed.geometry.mesh import Mesh
from claybed.intake.reading import read_object
from claybed.proof.evidence import prove
from claybed.proof.plaster import wall
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject
from claybed.survey.surveying import survey
from tests.mold.molds import BARE
from tests.pieces import solids
from tests.survey.objects import measured

FIGURE = Path(__file__).resolve().parents[1] / "pieces" / "files" / "npm_bunny.obj"
BRIEF = Brief(height_mm=155.0, up=(0.0, 1.0, 0.0), pieces=2, max_fill_ml=1000.0)
# What an awkward axis may cost: plaster thin or sharp is told, and another axis is asked for.
OF_THE_AXIS = {"tongue", "seam_angle", "liftable"}


def quiet(phase: str, part: float) -> None:
    """Take progress and say nothing."""


@pytest.fixture(scope="module")
def figure() -> MeasuredObject:
    """A scanned figure of four times its triangles."""
    obj = read_object(FIGURE, BRIEF, progress=quiet)
    v, f = trimesh.remesh.subdivide_loop(obj.mesh.vertices_mm, obj.mesh.faces, iterations=1)
    mesh = Mesh.make(v, f, frame="object")
    return replace(obj, mesh=mesh, solid_ml=mesh.volume_mm3 / 1e3, area_cm2=mesh.area_mm2 / 100.0)


@pytest.mark.parametrize("axis", [(0.1, 0.97, 0.2), (1.0, 0.0, 0.0)])
def test_an_odd_axis_gives_a_proved_mold(figure: MeasuredObject, axis: tuple[float, float, float]) -> None:
    """Solids close and leave, volumes add up, and the model stays within the lattice of the object."""
    brief = replace(BRIEF, axis=axis)
    made = make_mold(figure, survey(figure, brief, progress=quiet), brief, progress=quiet)
    pours = plan_all_pours(figure, made.assembly, brief).pours
    checks = prove(made.assembly, figure.mesh, brief, {p.piece: p.wet_kg for p in pours}, progress=quiet)
    assert {c.id for c in checks if not c.ok} <= OF_THE_AXIS
    assert {"model_true", "release_A", "release_B", "volumes_fill_block"} <= {c.id for c in checks}
    assert len(made.assembly.keys) >= 3


@pytest.mark.parametrize("failed", [0, 1, 2, 4])
def test_an_object_moved_by_a_hair_keeps_its_wall(failed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A brick whose block has no plaster to spare, after cuts that did not come out clean."""
    obj = measured(solids.box(50.0, 40.0, 30.0), name="brick")
    brief = replace(BARE, axis=(0.0, 0.0, 1.0), pieces=2, wall_mm=30.0, shape="boxed", keys=False)
    cut, tried = molding.cut_in_two, []

    def sometimes(*args: Any, **how: Any) -> Any:
        tried.append(args[1])
        if len(tried) <= failed:
            raise ArithmeticError("an edge touches itself")
        return cut(*args, **how)

    monkeypatch.setattr(molding, "cut_in_two", sometimes)
    made = make_mold(obj, survey(obj, brief, progress=quiet), brief, progress=quiet)
    assert len(tried) == failed + 1
    assert wall(made.assembly).ok
    moved = [tuple(layout.shift_mm.tolist()) + tuple(layout.rotation.ravel().tolist()) for layout in tried]
    assert len(set(moved)) == len(moved)
