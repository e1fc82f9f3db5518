"""A solid that touches itself along an edge is parted by adding clay, never by taking any away."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM
from claybed.geometry.mesh import Origin
from claybed.geometry.sheet import Sheet
from claybed.geometry.slab import odd_faced_edges, solid_between
from claybed.geometry.uncrowding import CrowdedError, relieve, uncrowd


def touching() -> tuple[Sheet, Sheet, Sheet]:
    """Two towers that meet at a corner, their ground, and an empty parting surface."""
    x, y = np.meshgrid(np.arange(3), np.arange(3), indexing="ij")
    across, up = np.array([0, 5, 20]) * XY_PER_MM, np.array([0, 5, 10]) * XY_PER_MM
    plan = np.stack([across[x.ravel()], up[y.ravel()]], axis=1)
    i, j = (a.ravel() for a in np.meshgrid(np.arange(2), np.arange(2), indexing="ij"))
    a, b = i * 3 + j, (i + 1) * 3 + j
    faces = np.concatenate([np.stack([a, b, b + 1], 1), np.stack([a, b + 1, a + 1], 1)]).astype(np.int32)
    z = np.tile(np.array([3, 1, 1, 3]) * Z_PER_MM, 2)
    named = np.zeros(8, np.uint8)
    top = Sheet(plan, faces, np.repeat(z[:, None], 3, axis=1), named)
    bottom = Sheet(plan, faces, np.zeros((8, 3), np.int64), named)
    nothing = Sheet(plan, faces[:0], np.zeros((0, 3), np.int64), named[:0])
    return top, bottom, nothing


def crowded_ends(top: Sheet, bottom: Sheet) -> np.ndarray:
    """Ends of the edges where the solid between two sheets touches itself."""
    solid = solid_between(bottom, top, wall_origin=0)
    return solid.points[odd_faced_edges(solid)[1]]


def test_towers_that_touch_are_joined_by_fill() -> None:
    """After one step no edge is shared by more than two faces; only heights rose, and what rose is fill."""
    top, bottom, outside = touching()
    ends = crowded_ends(top, bottom)
    assert len(ends) == 1
    higher, lower, _ = relieve(top, bottom, outside, ends)
    assert len(crowded_ends(higher, lower)) == 0
    assert (higher.heights >= top.heights).all()
    assert (lower.heights <= bottom.heights).all()
    moved = (higher.heights != top.heights).any(axis=1)
    assert moved.any()
    assert set(higher.origin[moved].tolist()) == {int(Origin.FILL)}
    assert set(higher.origin[~moved].tolist()) == {0}
    assert (higher.plan[higher.faces[moved]][:, :, 0] <= 5 * XY_PER_MM).all()  # the smaller cell gave way


def test_the_same_from_below() -> None:
    """A bottom sheet that touches itself is lowered."""
    top, bottom, outside = touching()
    roof = Sheet(bottom.plan, bottom.faces, bottom.heights + 9 * Z_PER_MM, bottom.origin)
    floor = Sheet(top.plan, top.faces, -top.heights, top.origin)
    ends = crowded_ends(roof, floor)
    assert len(ends) == 1
    higher, lower, _ = relieve(roof, floor, outside, ends)
    assert len(crowded_ends(higher, lower)) == 0
    assert (lower.heights <= floor.heights).all()
    assert (lower.heights < floor.heights).any()
    assert np.array_equal(higher.heights, roof.heights)


def test_edges_that_are_nowhere_change_nothing() -> None:
    """An edge over no plan point of the sheets is passed by."""
    top, bottom, outside = touching()
    stray = np.array([[[7, 7, 0], [7, 7, 9]]], dtype=np.int64)
    higher, lower, _ = relieve(top, bottom, outside, stray)
    assert np.array_equal(higher.heights, top.heights)
    assert np.array_equal(lower.heights, bottom.heights)


def test_the_error_says_how_many_and_carries_them() -> None:
    """It is an arithmetic fault with the ends of the edges for whoever relieves them."""
    ends = crowded_ends(*touching()[:2])
    with pytest.raises(ArithmeticError, match="1 edges") as found:
        raise CrowdedError(ends)
    assert np.array_equal(found.value.edges, ends)  # type: ignore[attr-defined]


def test_places_are_parted_before_solids_are_made() -> None:
    """Without being told where, the same towers are joined; sheets with nothing to part stay as given."""
    top, bottom, outside = touching()
    higher, lower, _ = uncrowd(top, bottom, outside)
    assert len(crowded_ends(higher, lower)) == 0
    assert (higher.heights > top.heights).any()
    assert uncrowd(higher, lower, outside)[0] is higher
