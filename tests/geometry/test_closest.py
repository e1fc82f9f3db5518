"""Distances from triangles agree with a box tree's; the nearest within reach is found or rightly missed."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.closest import distances_from, lying_on, nearest_within
from claybed.geometry.lattice import lattice_mm, to_lattice
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.nearness import distances_mm
from tests.pieces import solids


def scattered(mesh: Mesh, count: int, spread_mm: float, seed: int) -> Floats:
    """Points beside a surface: on faces, edges and corners, and moved off by a random step."""
    rng = np.random.default_rng(seed)
    weight = rng.dirichlet(np.ones(3), count) * (rng.random((count, 3)) < 0.7)
    weight[weight.sum(axis=1) == 0.0] = (1.0, 0.0, 0.0)
    weight /= weight.sum(axis=1, keepdims=True)
    on = np.einsum("nk,nki->ni", weight, mesh.corners_mm[rng.integers(0, len(mesh.faces), count)])
    return np.asarray(on + rng.normal(0.0, spread_mm, on.shape))


@pytest.mark.parametrize("spread_mm", [0.0, 0.01, 5.0])
def test_the_same_distance_as_a_box_tree(spread_mm: float) -> None:
    """On and off the surface of a cup, over faces, edges and corners. Source: igl's box tree."""
    mesh = solids.cup_with_handle()
    points = scattered(mesh, 200, spread_mm, 3)
    assert distances_from(points, mesh.corners_mm) == pytest.approx(distances_mm(points, mesh), abs=1e-9)


def test_a_triangle_without_area_is_its_longest_side() -> None:
    """Three corners in a line, two of them one."""
    line = np.array([[[0.0, 0.0, 0.0], [4.0, 0.0, 0.0], [4.0, 0.0, 0.0]]])
    points = np.array([[2.0, 3.0, 0.0], [7.0, 0.0, 4.0], [-1.0, 0.0, 0.0]])
    assert distances_from(points, line).tolist() == [3.0, 5.0, 1.0]


@pytest.mark.parametrize("reach_mm", [0.005, 0.3])
def test_the_nearest_face_within_reach(reach_mm: float) -> None:
    """It is as near as any; where none is named, none lies within reach."""
    lat = to_lattice(solids.cup_with_handle(), np.eye(3), np.zeros(3))
    corners = lattice_mm(lat.points)[lat.faces]
    mesh = Mesh.make(lattice_mm(lat.points), lat.faces, frame="plan")
    spots = scattered(mesh, 400, reach_mm, 5)
    found, away_mm = nearest_within(spots, corners, reach_mm)
    true_mm = distances_mm(spots, mesh)
    some = found >= 0
    assert some.any()
    assert not some.all()
    assert (true_mm[~some] >= reach_mm - 1e-6).all()
    own = [
        distances_from(p[None], corners[k][None])[0] for p, k in zip(spots[some], found[some], strict=True)
    ]
    assert np.array(own) == pytest.approx(true_mm[some], abs=2e-5)
    assert away_mm[some] == pytest.approx(true_mm[some], abs=1e-9)
    assert np.isinf(away_mm[~some]).all()


def test_of_faces_as_near_as_one_another_the_first_counts() -> None:
    """A spot on the edge between two faces belongs to the one that comes first, whichever cell holds it."""
    lat = to_lattice(solids.sphere(30.0, subdivisions=2), np.eye(3), np.zeros(3))
    corners = lattice_mm(lat.points)[lat.faces]
    middles = (corners + np.roll(corners, -1, axis=1)).reshape(-1, 3) / 2.0
    found, _ = nearest_within(middles, corners, 0.01)
    far = np.array([distances_from(middles, c[None]) for c in corners])
    assert found.tolist() == np.argmax(far < 1e-9, axis=0).tolist()


def test_spots_far_beyond_all_triangles_have_none() -> None:
    """Spots metres away on any side are answered like others: no triangle, no distance."""
    lat = to_lattice(solids.sphere(30.0, subdivisions=1), np.eye(3), np.zeros(3))
    ways = np.concatenate([np.eye(3), -np.eye(3)])
    found, away_mm = nearest_within(
        np.concatenate([ways * 2e3, ways * 1e6]), lattice_mm(lat.points)[lat.faces], 0.01
    )
    assert (found == -1).all()
    assert np.isinf(away_mm).all()


@pytest.mark.parametrize("off_mm", [0.0, 0.004, 0.02])
def test_faces_that_lie_on_one_triangle_do_so_all_over(off_mm: float) -> None:
    """Quarters of a cup's triangles, moved off by a random step: where they are said to lie on it, no point
    of them is further away. Source: igl's box tree.
    """
    mesh, rng = solids.cup_with_handle(), np.random.default_rng(5)
    a, b, c = (mesh.corners_mm[::7, k] for k in range(3))
    quarters = np.concatenate(
        [
            np.stack([a, (a + b) / 2.0, (a + c) / 2.0], axis=1),
            np.stack([(a + b) / 2.0, (b + c) / 2.0, (a + c) / 2.0], axis=1),
        ]
    )
    quarters += rng.uniform(-off_mm, off_mm, (len(quarters), 1, 3))
    lying = lying_on(quarters, mesh.corners_mm, 0.005)
    assert lying.all() == (off_mm == 0.0)
    assert lying.any()
    weight = rng.dirichlet(np.ones(3), (int(lying.sum()), 8))
    inside = np.einsum("fnk,fki->fni", weight, quarters[lying]).reshape(-1, 3)
    assert distances_mm(inside, mesh).max() <= 0.005 + 1e-9


def test_a_face_across_a_fold_lies_on_neither_side() -> None:
    """Three corners on a roof, two on one side of its ridge and one on the other: the ridge is cut off."""
    roof = np.array([[[0, 0, 0], [4, 0, 0], [0, 4, 4]], [[0, 8, 0], [0, 4, 4], [4, 8, 0]]], float)
    across = np.array([[[0.0, 3.0, 3.0], [0.0, 5.0, 3.0], [0.5, 3.0, 3.0]]])
    assert not lying_on(across, roof, 0.05).any()
    assert lying_on(roof[:1], roof, 0.05).all()
