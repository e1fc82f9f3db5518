"""The largest distance of points from a surface, found without measuring them all."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.mesh import Mesh
from claybed.geometry.nearness import distances_mm, largest_distance_mm
from tests.pieces import solids


def ball() -> Mesh:
    """A ball of triangles."""
    return solids.sphere(30.0, subdivisions=3)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("spread_mm", [0.0005, 0.02, 3.0])
def test_it_is_the_largest_of_all_distances(seed: int, spread_mm: float) -> None:
    """For corners moved a little, with a few points between corners and a few well off among them."""
    rng = np.random.default_rng(seed)
    mesh = ball()
    corners = mesh.vertices_mm + rng.normal(0.0, spread_mm, mesh.vertices_mm.shape)
    between = mesh.corners_mm.mean(axis=1)[rng.choice(len(mesh.faces), 9)]
    off = 1.0 + rng.choice([0.0, 0.00005, 0.01], 9)
    points = rng.permutation(np.concatenate([corners, between * off[:, None]]))
    every = distances_mm(points, mesh)
    largest_mm, worst = largest_distance_mm(points, mesh)
    assert largest_mm == pytest.approx(every.max(), abs=1e-12)
    assert every[worst] == pytest.approx(largest_mm, abs=1e-12)


def test_points_on_the_surface_lie_off_it_by_nothing() -> None:
    """Its own corners and the middles of its edges."""
    mesh = ball()
    edges = mesh.corners_mm[:, :2].mean(axis=1)
    assert largest_distance_mm(mesh.vertices_mm, mesh)[0] == 0.0
    assert largest_distance_mm(np.concatenate([mesh.vertices_mm, edges]), mesh)[0] < 1e-12


def test_a_point_far_outside_and_no_point_at_all() -> None:
    """A point with no triangle near it in plan is measured all the same; of none there is none."""
    far = np.array([[90.0, 0.0, 0.0]])
    assert largest_distance_mm(far, ball()) == (pytest.approx(60.0, abs=0.5), 0)
    assert largest_distance_mm(np.zeros((0, 3)), ball()) == (0.0, -1)
