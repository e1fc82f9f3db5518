"""The block: walls, whole rulers, turned to waste little plaster, boxed or round."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from claybed.errors import InputError
from claybed.geometry.lattice import XY_PER_MM
from claybed.geometry.mesh import Mesh
from claybed.materials import shelf
from claybed.mold.block import choose_wall, lay_out
from claybed.records.brief import Brief
from claybed.records.gated import GatePlan
from claybed.records.parted import Layout
from tests.mold.molds import BARE, UP
from tests.pieces import solids

NO_GATE = GatePlan("none", (0.0, 0.0, 0.0), float("nan"), False, "asked for none")
SIDE_BORE = GatePlan("bore", (1.0, 0.0, 0.0), 20.0, False, "a bore")


def reach_mm(mesh: Mesh, layout: Layout) -> float:
    """The least distance from the object to the block's outline, mm."""
    placed = (mesh.vertices_mm @ layout.rotation.T + layout.shift_mm)[:, :2]
    corners = layout.footprint / XY_PER_MM
    best = math.inf
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        along = (b - a) / np.linalg.norm(b - a)
        best = min(best, float((along[0] * (placed[:, 1] - a[1]) - along[1] * (placed[:, 0] - a[0])).min()))
    return best


@pytest.mark.parametrize("shape", ["boxed", "round", "auto"])
@pytest.mark.parametrize("gate", [NO_GATE, SIDE_BORE])
def test_the_wall_stands_all_round(shape: str, gate: GatePlan) -> None:
    """No part of the object is nearer to the outline than the wall, but for the flat that a gate gets."""
    obj = solids.lumpy_sphere(1200)
    brief = replace(BARE, shape=shape, wall_mm=30.0)  # type: ignore[arg-type]
    layout = lay_out(obj, UP, gate, brief, pieces=2)
    if not (layout.shape == "round" and gate.kind == "bore"):
        assert reach_mm(obj, layout) >= 30.0 - 0.01
    assert all(v % 5.0 == 0.0 for v in layout.outer_plan_mm)
    x, y = layout.footprint.T.tolist()
    area = sum(a * d - c * b for a, b, c, d in zip(x, y, x[1:] + x[:1], y[1:] + y[:1], strict=True))
    assert area > 0
    assert np.linalg.det(layout.rotation) == pytest.approx(1.0)


def test_the_block_is_turned_to_the_smallest_box() -> None:
    """A bar lying askew in plan gets a box along its own sides."""
    a = math.radians(33.0)
    turn = np.array([[math.cos(a), -math.sin(a), 0.0], [math.sin(a), math.cos(a), 0.0], [0.0, 0.0, 1.0]])
    bar = solids.box(100.0, 20.0, 20.0).moved(turn, np.array([50.0, 0.0, 0.0]), frame="object")
    layout = lay_out(bar, UP, NO_GATE, replace(BARE, shape="boxed", wall_mm=30.0), pieces=2)
    assert sorted(layout.outer_plan_mm) == [80.0, 160.0]
    placed = bar.vertices_mm @ layout.rotation.T + layout.shift_mm
    assert (placed.min(axis=0) + placed.max(axis=0)) == pytest.approx([0.0, 0.0, 0.0], abs=1e-9)


def test_a_gate_through_the_side_looks_along_y() -> None:
    """The plan is turned so that the bore leaves square to one board."""
    layout = lay_out(solids.cup_with_handle(), UP, SIDE_BORE, BARE, pieces=2)
    assert layout.rotation @ np.array([1.0, 0.0, 0.0]) == pytest.approx([0.0, 1.0, 0.0], abs=1e-12)


def test_round_where_it_saves_plaster() -> None:
    """A ball is cast in a round form, a long bar between boards."""
    assert lay_out(solids.sphere(40.0), UP, NO_GATE, BARE, pieces=2).shape == "round"
    assert lay_out(solids.box(150.0, 20.0, 20.0), UP, NO_GATE, BARE, pieces=2).shape == "boxed"


def test_room_for_keys_is_added_to_the_wall() -> None:
    """The reason says so."""
    plain = lay_out(solids.sphere(40.0), UP, NO_GATE, BARE, pieces=2)
    wide = lay_out(solids.sphere(40.0), UP, NO_GATE, BARE, pieces=2, key_room_mm=10.0)
    assert wide.wall_mm == plain.wall_mm + 10.0
    assert "keys" in wide.wall_reason


def test_walls_grow_with_the_object() -> None:
    """Small, medium and large objects get the walls of practice; press molds their own."""
    walls = [choose_wall(solids.sphere(r), Brief())[0] for r in (20.0, 70.0, 200.0)]
    assert walls == sorted(walls)
    assert walls[0] < walls[2]
    assert (
        choose_wall(solids.sphere(20.0), Brief(use="press"))[0]
        == shelf.value("practice", "wall_press_mm").value
    )


def test_a_wall_too_thin_is_refused() -> None:
    """Thinner than plaster molds are made: where it was asked and the least that will do are both said."""
    with pytest.raises(InputError, match="5 mm is thinner") as found:
        choose_wall(solids.sphere(20.0), Brief(wall_mm=5.0))
    assert f"{shelf.value('practice', 'wall_least_mm').value:g} mm" in str(found.value)
