"""Solids between sheets: closed, exact, and told apart when they are not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM
from claybed.geometry.mesh import Origin
from claybed.geometry.sheet import Sheet
from claybed.geometry.slab import LatticeSolid, odd_faced_edges, solid_between
from tests.mold.molds import sheets_of, six_volumes
from tests.pieces import solids


def grid(side: int, step: int = 2 * XY_PER_MM) -> tuple[np.ndarray, np.ndarray]:
    """Plan points of a grid of side x side squares and their triangles, two to a square."""
    x, y = np.meshgrid(np.arange(side + 1), np.arange(side + 1), indexing="ij")
    plan = np.stack([x.ravel(), y.ravel()], axis=1).astype(np.int64) * step
    i, j = (a.ravel() for a in np.meshgrid(np.arange(side), np.arange(side), indexing="ij"))
    a, b = i * (side + 1) + j, (i + 1) * (side + 1) + j
    faces = np.concatenate([np.stack([a, b, b + 1], axis=1), np.stack([a, b + 1, a + 1], axis=1)])
    return plan, faces.astype(np.int32)


def sheet(plan: np.ndarray, faces: np.ndarray, heights_mm: np.ndarray) -> Sheet:
    """A sheet with one height (mm) for each triangle."""
    z = np.repeat((heights_mm * Z_PER_MM).astype(np.int64)[:, None], 3, axis=1)
    return Sheet(plan, faces, z, np.zeros(len(faces), np.uint8))


def test_a_tower_block_has_the_volume_of_its_towers() -> None:
    """Squares of random whole heights: closed, and the volume is the sum of base times height."""
    plan, faces = grid(6)
    squares = np.random.default_rng(3).integers(1, 6, 36).astype(float)
    upper = sheet(plan, faces, np.tile(squares, 2))
    lower = sheet(plan, faces, np.zeros(len(faces)))
    solid = solid_between(lower, upper, wall_origin=int(Origin.OUTSIDE))
    assert odd_faced_edges(solid)[0] == 0
    assert solid.volume_mm3 == squares.sum() * 4.0
    assert solid.six_volumes == six_volumes(solid)


def test_steps_take_the_origin_of_the_thinner_side_and_the_outline_its_own() -> None:
    """An inner wall takes the origin of the face where the solid is thinner; the outline as asked."""
    plan, faces = grid(2)
    step = np.array([1.0, 1.0, 3.0, 3.0])
    origin = np.tile(np.array([1, 1, 2, 2], np.uint8), 2)
    upper = replace(sheet(plan, faces, np.tile(step, 2)), origin=origin)
    solid = solid_between(sheet(plan, faces, np.zeros(8)), upper, wall_origin=int(Origin.OUTSIDE))
    p = solid.points[solid.faces]
    upright = np.ptp(p[:, :, 2], axis=1) > 0
    inner = upright & (p[:, :, 0] == 2 * XY_PER_MM).all(axis=1)
    assert inner.any()
    assert set(solid.origin[inner].tolist()) == {1}
    assert set(solid.origin[upright & ~inner].tolist()) == {int(Origin.OUTSIDE)}


def test_cells_of_no_thickness_are_left_out() -> None:
    """Where both sheets run at one height there is no solid, and what is left is closed."""
    plan, faces = grid(2)
    upper = sheet(plan, faces, np.tile(np.array([0.0, 2.0, 2.0, 2.0]), 2))
    solid = solid_between(sheet(plan, faces, np.zeros(8)), upper, wall_origin=0)
    assert odd_faced_edges(solid)[0] == 0
    assert solid.volume_mm3 == 3 * 4.0 * 2.0


def test_towers_that_meet_at_a_corner_are_told() -> None:
    """Two towers across a corner touch along one upright edge; it is found, with its ends."""
    plan, faces = grid(2)
    upper = sheet(plan, faces, np.tile(np.array([3.0, 1.0, 1.0, 3.0]), 2))
    solid = solid_between(sheet(plan, faces, np.zeros(8)), upper, wall_origin=0)
    open_edges, crowded = odd_faced_edges(solid)
    assert open_edges == 0
    assert len(crowded) == 1
    ends = solid.points[crowded[0]]
    assert (ends[:, :2] == 2 * XY_PER_MM).all()
    assert sorted(ends[:, 2].tolist()) == [Z_PER_MM, 3 * Z_PER_MM]


def test_a_missing_face_is_told() -> None:
    """Taking one triangle away opens its three edges."""
    _, _, found = sheets_of(solids.box(20.0, 20.0, 20.0))
    solid = solid_between(found.bottom, found.top, wall_origin=0)
    broken = LatticeSolid(solid.points, solid.faces[1:], solid.origin[1:])
    assert odd_faced_edges(solid)[0] == 0
    assert odd_faced_edges(broken)[0] == 3


def test_sheets_of_different_outline_are_refused() -> None:
    """No solid stands between a sheet and one that lacks a triangle at its edge."""
    plan, faces = grid(3)
    lower, upper = sheet(plan, faces, np.zeros(18)), sheet(plan, faces, np.ones(18))
    short = Sheet(upper.plan, upper.faces[1:], upper.heights[1:], upper.origin[1:])
    with pytest.raises(ArithmeticError, match="outline"):
        solid_between(lower, short, wall_origin=0)


def test_large_volumes_stay_exact() -> None:
    """A block of metres has the volume of Python's own integers, which no 64-bit sum could hold."""
    side, height = 3 * 10**6, 10**7
    plan = np.array([[0, 0], [side, 0], [side, side], [0, side]], dtype=np.int64)
    faces = np.array([[0, 1, 2], [0, 2, 3]], dtype=np.int32)
    flat = np.zeros((2, 3), np.int64)
    origin = np.zeros(2, np.uint8)
    solid = solid_between(
        Sheet(plan, faces, flat, origin), Sheet(plan, faces, flat + height, origin), wall_origin=0
    )
    assert solid.six_volumes == 6 * side * side * height > 2**63
