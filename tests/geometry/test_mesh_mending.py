"""Outlines that rounding has parted are made one again; outlines that the object parted are left."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from claybed.geometry import mending
from claybed.geometry.lattice import Lattice, twice_plan_area
from claybed.geometry.mending import mend
from claybed.geometry.mesh import Origin
from claybed.geometry.pinches import close_pinches
from claybed.geometry.sheet import Sheet, unmated
from tests.pieces.edges import used_twice

# A square, and beside its lower edge points that stand a step or two off it, as rounding leaves them.
PLAN = np.array(
    [[0, 0], [9000, 0], [9000, 9000], [0, 9000], [3000, 1], [6000, -1], [3002, -1], [4000, 4000]],
    dtype=np.int64,
)


def sheet(faces: list[list[int]], plan: Lattice = PLAN, height: int = 0) -> Sheet:
    """A sheet that rises by one unit for each unit of x."""
    f = np.array(faces, dtype=np.int32)
    return Sheet(plan, f, plan[f][:, :, 0] + height, np.zeros(len(f), np.uint8))


def assert_one_outline(top: Sheet, bottom: Sheet) -> None:
    """Both tile one area: the same rim, no side twice, every triangle turning left."""
    n = len(top.plan)
    assert np.array_equal(unmated(top.faces, n), unmated(bottom.faces, n))
    for s in (top, bottom):
        assert len(used_twice(s.faces, n)) == 0
        assert twice_plan_area(s.plan, s.faces).min() > 0
    areas = [int(twice_plan_area(s.plan, s.faces).sum()) for s in (top, bottom)]
    assert areas[0] == areas[1]


FAN = [[4, 5, 7], [5, 1, 7], [1, 2, 7], [2, 3, 7], [3, 0, 7]]


def test_outlines_that_take_other_steps_become_one() -> None:
    """One side goes over a point above the line and one below it, the other over a third: one way is kept."""
    top = sheet([[0, 4, 7], *FAN], height=50)
    bottom = sheet([[0, 6, 7], [6, 1, 7], *FAN[2:]])
    mended = mend(top, bottom)
    assert_one_outline(*mended)
    for before, after in zip((top, bottom), mended, strict=True):
        rise = after.heights - after.plan[after.faces][:, :, 0]
        assert np.abs(rise - (before.heights - before.plan[before.faces][:, :, 0])[0, 0]).max() <= 4


def test_a_crack_inside_one_sheet_is_closed() -> None:
    """Two faces that meet along a line but divide it differently, a step off it, are joined."""
    plan = np.array([[0, 0], [9000, 0], [9000, 9000], [0, 9000], [4501, 4499]], dtype=np.int64)
    whole = sheet([[0, 1, 2], [0, 2, 3]], plan)
    cracked = sheet([[0, 1, 4], [1, 2, 4], [0, 2, 3]], plan, height=50)
    assert len(unmated(cracked.faces, 5)) > 4
    assert_one_outline(*mend(cracked, whole))


def test_edges_between_faces_stay_where_triangles_are_laid_anew() -> None:
    """Two faces that meet in a valley along the long diagonal, their outlines a step apart beside them: each
    triangle laid anew lies on one of the two, not across the valley.
    """
    plan = np.array([[0, 0], [9000, 0], [12000, 3000], [3000, 3000], [4500, -1], [4502, 1]], dtype=np.int64)
    z = np.array([0, 8000, 0, 8000, 4000, 4002])

    def folded(middle: int) -> Sheet:
        f = np.array([[0, middle, 2], [middle, 1, 2], [0, 2, 3]], dtype=np.int32)
        return Sheet(plan, f, z[f], np.zeros(len(f), np.uint8))

    mended = mend(folded(4), folded(5))
    assert_one_outline(*mended)
    for laid in mended:
        x, y = (plan[laid.faces].mean(axis=1)).T
        # Right of the valley, from (0, 0) to (12000, 3000), and left of it the two planes rise from it.
        wanted = np.where(4.0 * y < x, (x - 4.0 * y) * 8.0 / 9.0, (4.0 * y - x) * 8.0 / 9.0)
        assert laid.heights.mean(axis=1) == pytest.approx(wanted, abs=4.0)


def test_a_missing_corner_is_not_rounding() -> None:
    """A corner triangle that one sheet lacks is left for others to tell."""
    top, bottom = sheet([[0, 1, 2], [0, 2, 3]], height=50), sheet([[0, 1, 2]])
    after = mend(top, bottom)
    assert [len(s.faces) for s in after] == [2, 1]


def test_sheets_that_agree_are_left_alone() -> None:
    """Nothing is laid anew where nothing differs."""
    top, bottom = sheet([[0, 1, 2], [0, 2, 3]], height=50), sheet([[0, 1, 2], [0, 2, 3]])
    after = mend(top, bottom)
    assert after[0] is top
    assert after[1] is bottom


def wedges(gap: int) -> Sheet:
    """Two triangles that meet in a point and stand `gap` lattice steps apart at their far ends."""
    plan = np.array([[0, 0], [900, 0], [900, 400], [900, 400 + gap], [900, 900]], dtype=np.int64)
    return sheet([[0, 1, 2], [0, 3, 4]], plan)


def test_a_narrow_gap_between_two_parts_of_the_outline_is_closed_with_fill() -> None:
    """A gap a few steps wide becomes a cell of both sheets; the outline then runs through the point once."""
    top, bottom = wedges(6), wedges(6)
    low = Sheet(bottom.plan, bottom.faces, bottom.heights - 70, bottom.origin)
    closed = close_pinches(top, low)
    assert_one_outline(*closed)
    rim = unmated(closed[0].faces, 5)
    assert np.unique(rim // 5, return_counts=True)[1].max() == 1
    for before, after in zip((top, low), closed, strict=True):
        assert after.origin.tolist() == [0, 0, int(Origin.FILL)]
        assert np.array_equal(after.heights[:2], before.heights)
        assert set(after.heights[2].tolist()) <= set(before.heights.ravel().tolist())


def test_a_wide_gap_is_the_objects_own() -> None:
    """Parts of the outline that only meet in a point stay as they are."""
    top, bottom = wedges(60), wedges(60)
    assert close_pinches(top, bottom)[0] is top


@pytest.mark.parametrize(
    ("corner", "own_height", "name"),
    [
        ((4501, 4499), False, Origin.FILL),
        ((4501, 4499), True, Origin.OBJECT),
        ((6000, 3000), False, Origin.OBJECT),
    ],
)
def test_a_sliver_from_one_surface_to_another_is_fill(
    corner: tuple[int, int], own_height: bool, name: Origin
) -> None:
    """A triangle a step wide beside the object, one corner of which only the gate has, is the wall between
    them. With a height of the object's own it stays the object, and so does a wide one, laid at
    the object's height.
    """
    plan = np.array([[0, 0], [9000, 0], [9000, 9000], [0, 9000], corner], dtype=np.int64)
    gate = int(Origin.GATE)
    old = [([0, 1, 2], [50] * 3, 0), ([0, 4, 3], [50_000] * 3, gate), ([4, 2, 3], [50_000] * 3, gate)]
    if own_height:
        old += [([0, 1, 4], [50] * 3, 0), ([1, 2, 4], [50] * 3, 0)]
    faces = np.array([t[0] for t in old], dtype=np.int32)
    given = Sheet(plan, faces, np.array([t[1] for t in old]), np.array([t[2] for t in old], np.uint8))
    laid = mending._Patches(given, [{(0, 2)}])._with_heights(np.array([[0, 4, 2]]), old, Counter())
    [(points, heights, named)] = laid
    assert points == [0, 4, 2]
    assert heights == [50, 50_000 if name == Origin.FILL else 50, 50]
    assert named == int(name)
