"""What the 3D view shows of a plan: the plaster's wall as the check measures it, and places."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.actions.exporting import Shown
from claybed.flow.document import plan_document
from claybed.records.brief import Brief
from claybed.scene.page import scene_data
from claybed.scene.plaster_wall import outer_planes, wall_scene
from tests.flow.test_course import Kept, plan
from tests.pieces import solids


@pytest.mark.parametrize("shape", ["boxed", "round"])
def test_the_thinnest_wall_is_what_the_check_measured(shape: str) -> None:
    """The view finds the same least wall at the same place as the proof, by planes of its own."""
    brief = Brief(shape=shape, mass_g=20.0)  # type: ignore[arg-type]
    course = plan(solids.sphere(20.0, subdivisions=2), brief, Kept())
    document = plan_document(course, brief, ())
    shown = Shown.of(course.molded.assembly, document)
    pieces = [mesh for _, mesh, _ in shown.pieces]
    told = wall_scene(document, pieces, shown.model)
    assert told is not None
    check = next(one for one in document["checks"] if one["id"] == "wall")
    assert told["low"] == pytest.approx(check["measured"], abs=2e-3)
    planes = np.array(told["outer"])
    at = np.array(check["at_mm"])
    assert (planes[:, :3] @ at - planes[:, 3]).min() == pytest.approx(check["measured"], abs=2e-3)
    assert told["high"] > told["low"]

    scene = scene_data(document, [(a, m) for a, m, _ in shown.pieces], shown.model, shown.seam_loops_mm)
    stations = document["pose"]["stations"]
    assert [one["number"] for one in scene["heights"]] == [one["number"] for one in stations]
    seam = np.concatenate(course.molded.assembly.seam_loops)
    for one in scene["heights"]:  # each flag stands on the seam
        assert np.linalg.norm(seam - np.array(one["at"]), axis=1).min() < 6.0


def test_a_block_has_its_six_planes() -> None:
    """The outer planes of a box are its sides, top and board, facing inward."""
    low, high = np.array([-30.0, -20.0, 0.0]), np.array([30.0, 20.0, 50.0])
    corners = np.array([[x, y, z] for x in (-30.0, 30.0) for y in (-20.0, 20.0) for z in (0.0, 50.0)])
    planes = outer_planes(corners)
    assert len(planes) == 6
    inside = np.array([10.0, -5.0, 12.0])
    found = sorted((planes[:, :3] @ inside - planes[:, 3]).tolist())
    assert found == pytest.approx(sorted([*(inside - low), *(high - inside)]))


def test_findings_of_the_object_stand_in_the_block() -> None:
    """What locks is told in the block's frame, on the model's surface or by it."""
    brief = Brief(pieces=2, axis=(0.0, 0.0, 1.0), max_fill_ml=100.0)
    course = plan(solids.cup_with_handle(), brief, Kept())
    document = plan_document(course, brief, ())
    locked = next(one for one in document["findings"] if one["id"] == "fill_with_oil_clay")
    model = course.molded.assembly.model.mesh("block").vertices_mm
    placed = course.molded.assembly.to_block @ _object_place(document) + course.molded.assembly.shift_mm
    assert locked["at_mm"] == pytest.approx(placed.tolist())
    assert np.linalg.norm(model - np.array(locked["at_mm"]), axis=1).min() < 20.0


def _object_place(document: dict[str, object]) -> np.ndarray:
    places = document["survey"]["fill_places"]  # type: ignore[index]
    filled = [one for one in places if one["lock_class"] == "fill"]
    return np.array(max(filled, key=lambda one: one["depth_mm"])["at_mm"])
