"""Volumes beyond a depth against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.inset import DepthField, depth_field, distances_mm
from claybed.geometry.mesh import Mesh
from tests.pieces import solids


def skin_of(mesh: Mesh, keep: np.ndarray) -> Mesh:
    """The faces of a mesh that are kept."""
    return Mesh.make(mesh.vertices_mm, mesh.faces[keep], frame=mesh.frame)


def ball() -> DepthField:
    """A ball of 50 mm."""
    mesh = solids.sphere(50.0, subdivisions=5)
    return depth_field([mesh], mesh)


def test_a_ball_within_its_skin() -> None:
    """Beyond 4 mm of a ball of 50 mm lies a ball of 46 mm, to 2 parts in a thousand."""
    assert ball().beyond_mm3(4.0) == pytest.approx(4 / 3 * np.pi * 46.0**3, rel=2e-3)
    assert ball().within_mm3(4.0) == pytest.approx(4 / 3 * np.pi * (50.0**3 - 46.0**3), rel=1e-2)


def test_a_box_open_on_top_loses_no_lid() -> None:
    """A cup of 60 x 50 x 40 mm, open above, holds 52 x 42 x 36 mm behind a wall of 4 mm."""
    mesh = solids.box(60.0, 50.0, 40.0)
    top = mesh.corners_mm[:, :, 2].min(axis=1) > mesh.bounds_mm[1, 2] - 1e-6
    field = depth_field([mesh], skin_of(mesh, ~top), cells=64)
    assert field.beyond_mm3(4.0) == pytest.approx(52 * 42 * 36, rel=4e-3)
    closed = depth_field([mesh], mesh, cells=64)
    assert closed.beyond_mm3(4.0) == pytest.approx(52 * 42 * 32, rel=6e-3)


def test_nothing_lies_beyond_the_middle_and_all_beyond_nothing() -> None:
    """Depth runs from all of the solid to none of it, and never rises."""
    field = ball()
    volumes = [field.beyond_mm3(depth) for depth in np.linspace(-2, 60, 40)]
    assert volumes[0] == pytest.approx(4 / 3 * np.pi * 50.0**3, rel=3e-3)
    assert volumes[-1] == 0.0
    assert (np.diff(volumes) <= 0).all()


def test_distances_are_those_of_igl() -> None:
    """Distances to a lumpy skin agree with libigl's box tree (an independent implementation)."""
    import igl

    mesh = solids.lumpy_sphere(3000)
    points = np.random.default_rng(5).normal(0, 30, (500, 3))
    square, _, _ = igl.point_mesh_squared_distance(
        points, np.ascontiguousarray(mesh.vertices_mm), np.ascontiguousarray(mesh.faces, np.int64)
    )
    ours = distances_mm(points, mesh, 2.0)
    assert (ours >= np.sqrt(square) - 1e-9).all()
    assert np.abs(ours - np.sqrt(square)).max() < 0.05
