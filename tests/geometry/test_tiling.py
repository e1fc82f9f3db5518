"""Triangles that cover a convex figure once, and releases decided by lying on one another."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial import Delaunay

from claybed.geometry.clearance import crossing_pairs
from claybed.geometry.lattice import Lattice
from claybed.geometry.tiling import covers_once, lying_on


def tiles(seed: int, count: int = 40) -> Lattice:
    """Counter-clockwise triangles over a square with whole corners, from scattered points."""
    rng = np.random.default_rng(seed)
    square = np.array([[0, 0], [1000, 0], [1000, 1000], [0, 1000], [500, 0], [0, 250]])
    points = np.unique(np.concatenate([square, rng.integers(1, 1000, (count, 2))]), axis=0)
    corners = points[Delaunay(points).simplices]
    u, v = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    corners[area < 0] = corners[area < 0][:, ::-1]
    kept: Lattice = corners[area != 0].reshape(-1, 6).astype(np.int64)
    return kept


@pytest.mark.parametrize("seed", range(5))
def test_a_tiling_of_a_square_covers_it_once(seed: int) -> None:
    """In any order and from any corner, also with points in the straight sides."""
    plan = tiles(seed)
    assert covers_once(plan)
    rng = np.random.default_rng(seed)
    turned = np.roll(plan.reshape(-1, 3, 2), int(rng.integers(3)), axis=1).reshape(-1, 6)
    assert covers_once(turned[rng.permutation(len(turned))])


def test_what_overlaps_or_has_a_hole_or_a_bay_is_not_said_to_cover_once() -> None:
    """A tile twice, a tile missing inside or at the side, the whole twice, two squares apart, none at all."""
    plan = tiles(1)
    inside = int(np.flatnonzero(((plan > 0) & (plan < 1000)).all(axis=1))[0])
    beside = int(np.flatnonzero((plan[:, [1, 3, 5]] == 0).sum(axis=1) == 2)[0])
    apart = plan + np.tile([3000, 0], 3)
    assert not covers_once(np.concatenate([plan, plan[:1]]))
    assert not covers_once(np.delete(plan, inside, axis=0))
    assert not covers_once(np.delete(plan, beside, axis=0))
    assert not covers_once(np.concatenate([plan, plan]))
    assert not covers_once(np.concatenate([plan, apart]))
    assert not covers_once(plan[:, [4, 5, 2, 3, 0, 1]])
    assert not covers_once(plan[:0])


def test_a_moved_corner_is_no_longer_a_tiling() -> None:
    """A corner pushed over its neighbour turns a triangle over; a corner of one tile alone opens a gap."""
    plan = tiles(2)
    for k in range(0, len(plan), 7):
        torn = plan.copy()
        torn[k, 0] += 1
        assert not covers_once(torn)


@settings(max_examples=60)
@given(st.integers(0, 10_000), st.integers(0, 6))
def test_faces_that_lie_on_a_tiling_are_in_nobodys_way(seed: int, lowered: int) -> None:
    """Leaving them out changes no pair that comparing all with all would find."""
    plan = tiles(seed % 50)
    rng = np.random.default_rng(seed)
    under = rng.integers(-5000, 5000, (len(plan), 3))
    over = under + rng.integers(0, 3, under.shape)
    over[rng.choice(len(plan), lowered, replace=False), rng.integers(3)] -= 4
    moved = np.roll(plan.reshape(-1, 3, 2), 1, axis=1).reshape(-1, 6)[::-1]
    heights = np.roll(under, 1, axis=1)[::-1]
    split = int(rng.integers(len(plan)))
    part, part_z = moved[split:], heights[split:]
    lies = lying_on(plan, over, part, part_z)
    every = crossing_pairs(plan, over, part, part_z)
    rest = crossing_pairs(plan, over, part[~lies], part_z[~lies]) if (~lies).any() else every[:0]
    again = np.stack([rest[:, 0], np.flatnonzero(~lies)[rest[:, 1]]], axis=1)
    assert {tuple(p) for p in again.tolist()} == {tuple(p) for p in every.tolist()}
    assert lies.sum() >= len(part) - lowered
