"""Few pulls that free the whole space outside, and spots that share none, on solids whose answer is known."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import pytest

from claybed.geometry.cover import best_sets, fewest, sharing_none, whole_set
from claybed.geometry.depth import DepthRaster
from claybed.geometry.directions import fibonacci_axes
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.reach import free_along, locked_points, open_directions, outside_points
from tests.pieces import solids

CORNERS = np.array([v for v in np.ndindex(3, 3, 3) if v != (1, 1, 1)]) - 1.0
GRID = CORNERS / np.linalg.norm(CORNERS, axis=1, keepdims=True)
HALF = fibonacci_axes(40)
PULLS = np.concatenate([GRID, HALF, -HALF])
NEGLIGIBLE = 0.002


def freed(mesh: Mesh, pulls: Floats, *, steps: int = 36) -> tuple[Floats, np.ndarray]:
    """Points outside a mesh, and which of them each pull frees."""
    raster = DepthRaster(mesh, 256)
    size_mm = float(np.ptp(mesh.vertices_mm, axis=0).max())
    points = outside_points(mesh, raster, spacing_mm=size_mm / steps, margin_mm=size_mm / 20.0)
    return points, np.stack([free_along(raster, points, pull) for pull in pulls])


def hole_bottoms(sides: Iterable[str]) -> Floats:
    """Points just above the bottoms of the blind holes of `solids.cube_with_blind_holes`."""
    axes = {"x": 0, "y": 1, "z": 2}
    return np.array([np.eye(3)[axes[s[1]]] * (30.0 - 14.9) * (1.0 if s[0] == "+" else -1.0) for s in sides])


@pytest.mark.parametrize(
    ("sides", "count"),
    [(("+x", "+y", "+z"), 3), (("+x", "-x", "+y", "-y", "+z", "-z"), 6)],
    ids=["three holes", "six holes"],
)
def test_a_cube_needs_one_piece_for_each_hole(sides: tuple[str, ...], count: int) -> None:
    """Straight blind holes in three faces take three pieces, in six faces six, and as many spots bear
    witness.

    Source: geometry; an upright hole is left along its own axis alone, and the holes' pulls free all faces.
    """
    mesh = solids.cube_with_blind_holes(sides)
    points, free = freed(mesh, PULLS)
    chosen = fewest(free, np.ones(len(points)), 7, NEGLIGIBLE)
    assert chosen is not None
    assert len(chosen) == count
    out = np.array([np.eye(3)["xyz".index(s[1])] * (1.0 if s[0] == "+" else -1.0) for s in sides])
    assert {tuple(np.round(PULLS[k], 6)) for k in chosen} == {tuple(row) for row in out}
    directions = np.concatenate([PULLS, fibonacci_axes(600), -fibonacci_axes(600)])
    open_to = np.stack([open_directions(mesh, spot, directions) for spot in hole_bottoms(sides)])
    near = directions @ directions.T > np.cos(np.radians(6.0))
    assert len(sharing_none(open_to, near, 9)) == count


def test_three_rods_are_seen_all_round_and_still_hold_the_plaster() -> None:
    """Three pulls reach every face of three loose rods, but not the space between them: they are no mold.

    Source: geometry; the counter-example to covering the surface.
    """
    rods = solids.three_rods()
    turn = np.radians([90.0, 210.0, 330.0])
    pulls = np.stack([np.cos(turn), np.sin(turn), np.zeros(3)], axis=1)
    sides = rods.corners_mm
    normal = np.cross(sides[:, 1] - sides[:, 0], sides[:, 2] - sides[:, 0])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    round_the_rods = np.abs(normal[:, 2]) < 0.5
    spots = (sides.mean(axis=1) + 0.5 * normal)[round_the_rods]
    raster = DepthRaster(rods, 512)
    seen = np.stack([free_along(raster, spots, pull) for pull in pulls])
    assert seen.any(axis=0).mean() > 0.99
    points = outside_points(rods, raster, spacing_mm=2.0, margin_mm=0.0)
    points = points[np.abs(points[:, 2]) < 15.0]
    free = np.stack([free_along(raster, points, pull) for pull in pulls])
    locked = points[~free.any(axis=0)]
    assert len(locked) > 0
    assert np.linalg.norm(locked[:, :2], axis=1).min() < 10.0
    assert fewest(free, np.ones(len(points)), 3, 1e-4) is None


def test_locked_points_stand_for_the_gaps() -> None:
    """Their volumes sum to the fill of the axis, and a torus on edge has what its closed form says.

    Source: geometry, fill of a torus pulled in its own plane: pi (2 r R² - pi R r² + 4/3 r³).
    """
    R_mm, r_mm = 40.0, 10.0
    raster = DepthRaster(solids.torus(R_mm, r_mm), 512)
    columns = raster.columns(np.array([1.0, 0.0, 0.0]))
    points, volume, patch = locked_points(columns)
    exact = np.pi * (2 * r_mm * R_mm**2 - np.pi * R_mm * r_mm**2 + 4.0 / 3.0 * r_mm**3)
    assert volume.sum() == pytest.approx(columns.score.fill_mm3, rel=1e-9)
    assert volume.sum() == pytest.approx(exact, rel=0.01)
    assert len(points) == len(volume) == len(patch)
    # All of it is the hole of the ring and what lies over and under it: the ring's own axis frees it.
    up = np.array([0.0, 0.0, 1.0])
    assert (free_along(raster, points, up) | free_along(raster, points, -up)).mean() > 0.99


def test_best_sets_are_never_beaten_by_another_pair() -> None:
    """The pair found frees at least as much as every pair there is."""
    rng = np.random.default_rng(3)
    free = rng.random((14, 500)) < rng.uniform(0.05, 0.5, (14, 1))
    weight = rng.uniform(0.1, 1.0, 500)
    one, two, *_ = best_sets(free, weight, 3)
    sums = [[float(weight[free[i] | free[j]].sum()) for j in range(14)] for i in range(14)]
    assert float(weight[free[list(two)].any(axis=0)].sum()) == pytest.approx(max(map(max, sums)), rel=1e-6)
    assert float(weight[free[one[0]]].sum()) == pytest.approx(
        float((free * weight).sum(axis=1).max()), rel=1e-6
    )


def test_fewest_meets_a_cover_that_greed_misses() -> None:
    """Two rows cover everything although a third row frees more than either."""
    free = np.zeros((3, 12), bool)
    free[0, :6] = True
    free[1, 6:] = True
    free[2, 2:10] = True
    assert sorted(fewest(free, np.ones(12), 3, 0.0) or ()) == [0, 1]
    assert fewest(free[1:], np.ones(12), 3, 0.0) is None


@pytest.mark.parametrize(("draft_deg", "count"), [(0.0, 3), (1.0, 4)])
def test_draft_costs_a_drilled_cube_a_fourth_piece(draft_deg: float, count: int) -> None:
    """Three straight holes take three pieces where plaster may slide along whole faces, and four where it may
    not: no pull of a hole leaves the far faces with draft, and that of the far corner leaves all three.

    Source: geometry; a hole with walls straight, or tapered by the draft alone, is left along its axis only.
    """
    sides = ("+x", "+y", "+z")
    mesh = solids.cube_with_blind_holes(sides)
    far = -np.eye(3)
    spots = np.concatenate([hole_bottoms(sides), 30.01 * far])
    open_to = np.stack([open_directions(mesh, spot, PULLS) for spot in spots])
    straight = PULLS.T > 1.0 - 1e-9
    drafted = far @ PULLS.T >= np.sin(np.radians(draft_deg)) - 1e-9
    chosen = fewest((open_to & np.concatenate([straight, drafted])).T, np.ones(len(spots)), 6, 0.0)
    assert chosen is not None
    assert len(chosen) == count


def test_a_set_that_frees_all_is_found_where_the_greedy_one_does_not() -> None:
    """Two pulls that each free a good part of four heaps lure step by step; those of one heap each free all.

    Source: the worst case of greedy cover, by hand.
    """
    heap, number = np.divmod(np.arange(4 * 40), 40)
    own = [heap == k for k in range(4)]
    lures = [(number >= low) & (number < low + 16) for low in (0, 16)]
    free = np.stack([*own, *lures])
    weight, cost = np.ones(len(heap)), np.zeros(6)
    greedy = best_sets(free, weight, 4)[-1]
    assert not free[list(greedy)].any(axis=0).all()
    found = whole_set(free, weight, 4, 0.0, dear=cost)
    assert found is not None
    assert sorted(found) == [0, 1, 2, 3]
    assert whole_set(free, weight, 3, 0.0, dear=cost) is None
    assert whole_set(free & (number > 0), weight, 4, 0.0, dear=cost) is None
