"""Triangles near others are found by the cells they share; none within reach is missed."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from claybed.geometry.plan_bins import bin_triangles, near_any, plan_reach


@pytest.mark.parametrize("seed", range(8))
def test_no_near_triangle_is_missed(seed: int) -> None:
    """Every triangle that GEOS finds within reach is flagged, and most far ones are not."""
    rng = np.random.default_rng(seed)
    few, many = (
        (rng.integers(0, 9000, (400, 1, 2)) + rng.integers(-60, 60, (400, 3, 2))).reshape(-1, 6)
        for _ in range(2)
    )
    few[:, 1::2] = few[:, 0::2] + rng.integers(-60, 60, (400, 3))  # walls along one line
    got = near_any(many, bin_triangles(few), 25)
    hulls = [shapely.convex_hull(shapely.multipoints(t.reshape(-1, 3, 2).astype(float))) for t in (few, many)]
    gap = shapely.distance(hulls[1][:, None], hulls[0][None, :]).min(axis=1)
    assert got[gap <= 25].all()
    assert got.mean() < 0.8


def test_the_reach_is_that_of_the_corners() -> None:
    """Least and largest coordinates over all corners."""
    tri = np.array([[3, 4, -5, 6, 7, 0], [1, 1, 2, 9, 0, -2]], dtype=np.int64)
    assert plan_reach(tri) == (-5, -2, 7, 9)
