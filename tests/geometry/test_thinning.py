"""Plan points a step apart are drawn together, but only where nothing turns over."""

from __future__ import annotations

import numpy as np

from claybed.geometry.lattice import Lattice, twice_plan_area
from claybed.geometry.sheet import Sheet, unmated
from claybed.geometry.thinning import thin_out
from tests.pieces.edges import used_twice

# A square fan round point 4, with point 5 a step beside it.
PLAN = np.array([[0, 0], [900, 0], [900, 900], [0, 900], [450, 450], [451, 450]], dtype=np.int64)
FACES = np.array([[0, 1, 4], [1, 5, 4], [1, 2, 5], [2, 3, 4], [2, 4, 5], [3, 0, 4]], dtype=np.int32)


def pair(plan: Lattice) -> tuple[Sheet, Sheet]:
    """A top and a bottom sheet over the same triangles."""
    z = np.arange(18).reshape(6, 3)
    return (
        Sheet(plan, FACES, z + 1000, np.zeros(6, np.uint8)),
        Sheet(plan, FACES, z, np.ones(6, np.uint8)),
    )


def test_a_short_edge_is_drawn_together() -> None:
    """The two slivers at a short edge go, in both sheets at once; area and outline stay as they were."""
    top, bottom = pair(PLAN)
    thin = thin_out(top, bottom, np.zeros(6, bool))
    for before, after in zip((top, bottom), thin, strict=True):
        assert len(after.faces) == 4
        assert len(np.unique(after.faces)) == 5
        assert twice_plan_area(PLAN, after.faces).min() > 0
        assert twice_plan_area(PLAN, after.faces).sum() == twice_plan_area(PLAN, before.faces).sum()
        assert np.array_equal(unmated(after.faces, 6), unmated(before.faces, 6))
        assert len(used_twice(after.faces, 6)) == 0
    assert np.array_equal(thin[0].faces, thin[1].faces)


def test_points_that_must_stay_stay() -> None:
    """With both ends of the short edge kept, nothing changes."""
    top, bottom = pair(PLAN)
    kept = np.zeros(6, bool)
    kept[[4, 5]] = True
    after, _ = thin_out(top, bottom, kept)
    assert np.array_equal(after.faces, top.faces)


def test_longer_edges_are_left() -> None:
    """An edge of three steps is the object's own."""
    plan = PLAN.copy()
    plan[5, 0] = 453
    top, bottom = pair(plan)
    after, _ = thin_out(top, bottom, np.zeros(6, bool))
    assert np.array_equal(after.faces, top.faces)


def test_nothing_is_drawn_together_that_would_turn_a_triangle_over() -> None:
    """Point 0 may not go to its neighbour a step away, since that lies beyond the far side of a triangle."""
    plan = np.array([[450, 450], [451, 451], [449, 452], [440, 461], [400, 400], [500, 400]], dtype=np.int64)
    faces = np.array([[0, 1, 2], [0, 2, 3], [0, 3, 4], [0, 4, 5], [0, 5, 1]], dtype=np.int32)
    assert twice_plan_area(plan, faces).min() > 0
    sheet = Sheet(plan, faces, np.zeros((5, 3), np.int64), np.zeros(5, np.uint8))
    kept = np.array([False, True, True, True, True, True])
    after, _ = thin_out(sheet, sheet, kept)
    assert np.array_equal(after.faces, faces)
