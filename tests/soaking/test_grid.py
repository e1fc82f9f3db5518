"""Plaster as cells, the wall as patches, curvature, and slip that does not drain."""

from __future__ import annotations

import math
from dataclasses import replace

import manifold3d
import numpy as np
import pytest

from claybed.errors import CannotError
from claybed.records.soaked import Cast, PlasterGrid
from claybed.soaking.clearing import pockets
from claybed.soaking.grid import bends, build_grid
from tests.pieces import solids
from tests.soaking import columns


def bottle(cell_mm: float, *, dent_mm: float = 0.0) -> tuple[PlasterGrid, float, float]:
    """A cylinder of radius 25 and 60 mm deep in a block, open at z = 0 by a bore of radius 10.

    Also its plaster in ml and its wall in cm². `dent_mm` a gutter in the shoulder that holds slip when the
    mold stands on its head.
    """
    body = manifold3d.Manifold.cylinder(60.0, 25.0, 25.0, 96).translate([0.0, 0.0, -75.0])
    neck = manifold3d.Manifold.cylinder(15.5, 10.0, 10.0, 96).translate([0.0, 0.0, -15.5])
    cavity = body + neck
    if dent_mm:
        # A gutter above the shoulder: slip in it lies lower than the neck's edge when the neck looks down.
        gutter = manifold3d.Manifold.cylinder(dent_mm, 24.0, 24.0, 96) - manifold3d.Manifold.cylinder(
            dent_mm, 14.0, 14.0, 96
        )
        cavity += gutter.translate([0.0, 0.0, -15.0])
    block = manifold3d.Manifold.cube([90.0, 90.0, 110.0]).translate([-45.0, -45.0, -110.0])
    grid = columns.in_block(cavity, block, cell_mm)
    area = cavity.surface_area() - math.pi * 10.0**2
    return grid, (block - cavity).volume() / 1000.0, area / 100.0


def thin_cast(grid: PlasterGrid, wall_mm: float) -> Cast:
    """A cast of the same wall everywhere."""
    patches = len(grid.area_mm2)
    return Cast(np.full(patches, wall_mm), np.ones(patches), np.zeros(patches, np.uint8), 0, 0, 0, 0, 0, 0)


def test_plaster_and_wall_keep_their_amount() -> None:
    """Cells hold the plaster's volume and patches the wall's area; slip goes in at the top."""
    grid, plaster_ml, area_cm2 = bottle(2.0)
    assert grid.plaster_mm3.sum() / 1000.0 + grid.left_out_mm3 / 1000.0 == pytest.approx(plaster_ml, rel=2e-3)
    assert grid.area_mm2.sum() / 100.0 == pytest.approx(area_cm2, rel=5e-3)
    assert grid.up == pytest.approx([0.0, 0.0, 1.0])
    assert (grid.near[grid.near >= 0] < len(grid.cells)).all()


def test_neighbours_are_mutual() -> None:
    """A cell's neighbour has it as its own neighbour on the opposite side."""
    grid, _, _ = bottle(3.0)
    for side in range(6):
        here = np.flatnonzero(grid.near[:, side] >= 0)
        assert np.array_equal(grid.near[grid.near[here, side], side ^ 1], here)


@pytest.mark.parametrize("radius_mm", [8.0, 30.0])
def test_curvature_is_exact_on_balls_and_cylinders(radius_mm: float) -> None:
    """Both principal curvatures are 1 / R on a ball, 1 / R and 0 on a cylinder."""
    rng = np.random.default_rng(4)
    way = rng.normal(size=(3000, 3))
    way /= np.linalg.norm(way, axis=1)[:, None]
    assert bends(radius_mm * way, way, radius_mm) == pytest.approx(
        np.full((3000, 2), 1 / radius_mm), rel=1e-6
    )
    turn, high = rng.uniform(0, 2 * np.pi, 3000), rng.uniform(0, 3 * radius_mm, 3000)
    normal = np.stack([np.cos(turn), np.sin(turn), np.zeros(3000)], axis=1)
    at = radius_mm * normal + np.stack([np.zeros(3000), np.zeros(3000), high], axis=1)
    found = bends(at, normal, 0.6 * radius_mm)
    assert np.median(found[:, 0]) == pytest.approx(1 / radius_mm, rel=1e-3)
    assert abs(np.median(found[:, 1])) < 1e-3 / radius_mm


def test_half_way_across_a_bore_is_its_radius() -> None:
    """Patches of a bore see the wall on the other side at twice its radius."""
    grid = columns.ring(10.0, 0.75)
    assert grid.most_mm == pytest.approx(np.full(len(grid.most_mm), 10.0), abs=0.5)


def test_a_closed_mold_is_refused() -> None:
    """A mold without an opening cannot be filled, and says so."""
    ball = solids.sphere(10.0)
    block = solids.box(40.0, 40.0, 40.0)
    with pytest.raises(CannotError, match="no opening"):
        build_grid([block], ball, np.zeros(len(ball.faces), np.uint8), 2.0, bend_reach_mm=6.0)


def test_extra_plaster_is_added_outside() -> None:
    """10 mm more on five sides of a box: the plaster grows by their volume, the opening stays free."""
    cavity = manifold3d.Manifold.cylinder(40.0, 12.0, 12.0, 64).translate([0.0, 0.0, -40.0])
    block = manifold3d.Manifold.cube([60.0, 60.0, 60.0]).translate([-30.0, -30.0, -60.0])
    model, plaster = solids.from_manifold(cavity), solids.from_manifold(block - cavity)
    opens = (np.abs(model.corners_mm[:, :, 2]) < 1e-6).all(axis=1).astype(np.uint8)
    thin, thick = (
        build_grid([plaster], model, opens, 2.0, bend_reach_mm=6.0, extra_mm=extra) for extra in (0.0, 10.0)
    )
    more = thick.plaster_mm3.sum() - thin.plaster_mm3.sum()
    assert more == pytest.approx(80.0 * 80.0 * 70.0 - 60.0**3, rel=1e-6)
    assert thick.area_mm2.sum() == pytest.approx(thin.area_mm2.sum(), rel=1e-9)


def test_a_clear_bottle_drains_and_a_gutter_does_not() -> None:
    """A shoulder is flat and keeps nothing; a gutter of 24 mm over 14 mm keeps its own volume of slip."""
    clear, _, _ = bottle(1.5)
    assert pockets(clear, thin_cast(clear, 0.0)) == (0.0, ())
    gutter, _, _ = bottle(1.5, dent_mm=9.0)
    slip_ml, places = pockets(gutter, thin_cast(gutter, 0.0))
    assert slip_ml == pytest.approx(math.pi * (24.0**2 - 14.0**2) * 9.0 / 1000.0, rel=0.15)
    assert len(places) == 1 and places[0].deep_mm == pytest.approx(9.0, abs=1.6)
    assert places[0].at_mm[2] == pytest.approx(-10.5, abs=1.0)


def test_a_closed_neck_keeps_all_slip() -> None:
    """A cast thicker than the neck is wide closes it, and what is still liquid inside stays."""
    grid, _, _ = bottle(1.5)
    closed = thin_cast(grid, 11.0)
    slip_ml, _ = pockets(grid, closed)
    assert slip_ml == pytest.approx(math.pi * 14.0**2 * 38.0 / 1000.0, rel=0.15)
    assert pockets(replace(grid), thin_cast(grid, 40.0)) == (0.0, ())
