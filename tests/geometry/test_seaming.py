"""Sheets that divide a common line differently are made to agree, and what cannot agree is told."""

from __future__ import annotations

import numpy as np

from claybed.geometry.lattice import twice_plan_area
from claybed.geometry.seaming import conform, odd_edges
from claybed.geometry.sheet import Sheet, unmated
from tests.pieces.edges import used_twice

PLAN = np.array([[0, 0], [4000, 0], [4000, 4000], [0, 4000], [2000, 0], [2001, 1]], dtype=np.int64)


def sheet(faces: list[list[int]], height: int = 0) -> Sheet:
    """A sheet over PLAN that rises by one unit for each unit of x."""
    f = np.array(faces, dtype=np.int32)
    return Sheet(PLAN, f, PLAN[f][:, :, 0] + height, np.zeros(len(f), np.uint8))


WHOLE = [[0, 1, 2], [0, 2, 3]]
HALVED = [[0, 4, 2], [4, 1, 2], [0, 2, 3]]


def test_sheets_that_agree_are_left_alone() -> None:
    """No odd edge before, no triangle changed after."""
    top, bottom = sheet(WHOLE, 50), sheet(WHOLE)
    assert len(odd_edges(top, bottom)[0]) == 0
    after = conform(top, bottom)
    assert sorted(after[0].faces.tolist()) == sorted(top.faces.tolist())


def test_an_edge_is_split_at_the_other_sheets_corner() -> None:
    """The undivided side gets the corner, at the height its edge has there; area and shape stay."""
    top, bottom = sheet(WHOLE, 50), sheet(HALVED)
    assert len(odd_edges(top, bottom)[0]) == 3
    fixed, other = conform(top, bottom)
    assert len(odd_edges(fixed, other)[0]) == 0
    assert len(fixed.faces) == 3
    assert twice_plan_area(PLAN, fixed.faces).min() > 0
    assert twice_plan_area(PLAN, fixed.faces).sum() == twice_plan_area(PLAN, top.faces).sum()
    assert set(fixed.heights[fixed.faces == 4].tolist()) == {2050}


def test_a_corner_a_step_off_the_line_is_taken_too() -> None:
    """A rounded corner one lattice step inside the edge splits it; both outlines then run through it."""
    top, bottom = sheet(WHOLE, 50), sheet([[0, 5, 2], [5, 1, 2], [0, 2, 3]])
    fixed, other = conform(top, bottom)
    assert len(odd_edges(fixed, other)[0]) == 0
    assert np.array_equal(unmated(fixed.faces, len(PLAN)), unmated(other.faces, len(PLAN)))


def test_outlines_that_really_differ_stay_odd() -> None:
    """A corner triangle that one sheet lacks is no rounding: it is told, not papered over."""
    top, bottom = sheet(WHOLE, 50), sheet(WHOLE[:1])
    odd, rims = odd_edges(*conform(top, bottom))
    assert len(odd) > 0
    assert len(rims[0]) == 4
    assert len(rims[1]) == 3


def test_a_triangle_laid_twice_is_odd() -> None:
    """An edge that two triangles use in one direction is told."""
    top, bottom = sheet([*WHOLE, WHOLE[0]], 50), sheet(WHOLE)
    assert len(used_twice(top.faces, len(PLAN))) == 3
    assert len(odd_edges(top, bottom)[0]) >= 3


def test_a_sliver_folded_over_its_neighbour_is_dropped() -> None:
    """A triangle a step thin that shares a directed edge with another goes, and the sheets agree again."""
    top, bottom = sheet([*WHOLE, [0, 1, 5]], 50), sheet(WHOLE)
    fixed, other = conform(top, bottom)
    assert len(used_twice(fixed.faces, len(PLAN))) == 0
    assert len(odd_edges(fixed, other)[0]) == 0
    assert twice_plan_area(PLAN, fixed.faces).sum() == 2 * 4000 * 4000
