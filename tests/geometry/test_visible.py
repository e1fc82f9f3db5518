"""Faces are cut only along what is seen of the edges at which a surface ends."""

from __future__ import annotations

import numpy as np

from claybed.geometry.cell_heights import cell_heights
from claybed.geometry.halfedges import match_sides, side_ends
from claybed.geometry.lattice import numbered_in
from claybed.geometry.overlap import PlanFaces
from claybed.geometry.visible import Contours

# A large face on the ground and a small one 500 over it, each a triangle of its own.
POINTS = np.array(
    [[0, 0, 0], [9000, 0, 0], [0, 9000, 0], [1000, 1000, 500], [2000, 1000, 500], [1000, 7600, 500]],
    dtype=np.int64,
)
FACES = np.array([[0, 1, 2], [3, 4, 5]])


def contours(points: np.ndarray) -> tuple[PlanFaces, Contours]:
    """The contours of two separate triangles."""
    faces = PlanFaces(points[:, :2][FACES].reshape(-1, 6), points[:, 2][FACES])
    sides = match_sides(FACES, len(points))
    ends = points[side_ends(FACES, sides.lone)]
    segments, heights = ends[:, :, :2].reshape(-1, 4), ends[:, :, 2]
    crossed = faces.crossed_by(segments, heights)
    return faces, Contours(faces, sides.mate, sides.lone, segments, heights, *crossed)


def test_only_the_lower_face_is_crossed() -> None:
    """Edges of the upper face run over the lower one; those of the lower one run under the upper."""
    faces = contours(POINTS)[0]
    ends = POINTS[side_ends(FACES, np.arange(6))]
    face, segment = faces.crossed_by(ends[:, :, :2].reshape(-1, 4), ends[:, :, 2])
    assert set(face.tolist()) == {0}
    assert set(segment.tolist()) == {3, 4, 5}


def test_what_passes_under_is_left_out() -> None:
    """The lower face's long side is hidden between the two places where it goes under the upper face."""
    moved = POINTS.copy()
    moved[3:, 0] += 3000
    lines = contours(moved)[1].lines(np.array([True, True]))
    on_side = lines[(lines[:, [0, 2]] + lines[:, [1, 3]] == 9000).all(axis=1)]
    length = np.abs(on_side[:, 0] - on_side[:, 2]).sum()
    # The upper face covers the side from x = 4000 to where its own slanted side meets x + y = 9000.
    meets = 5000 - 1000 * (9000 - 5000 - 1000) / (6600 - 1000)
    assert length == 9000 - round(meets - 4000)
    corners = {tuple(p) for p in lines.reshape(-1, 2).tolist()}
    assert {(4000, 5000), (round(meets), 9000 - round(meets))} <= corners


def test_nothing_else_is_hidden() -> None:
    """A face is no cover for itself, nor for what lies above it."""
    faces = contours(POINTS)[0]
    at, own = np.array([[1200.0, 1200.0]] * 2), np.array([[0, -1], [1, -1]])
    assert faces.hidden_at(at, np.array([0.0, 500.0]), own).tolist() == [True, False]
    assert faces.hidden_at(at, np.array([600.0, 600.0]), own).tolist() == [False, False]


def test_a_sliver_takes_the_height_its_own_neighbours_have() -> None:
    """A cell a step thin that reaches off its face: the corner off it takes what a cell of one origin has."""
    steep = np.array([[0, 0, 0], [100, 0, 0], [0, 100, 900]])
    wide = np.array([[100, 0, 40], [900, 0, 40], [100, 900, 40]])
    cells = np.array([[[0, 0], [900, 0], [100, 1]], [[100, 1], [900, 0], [900, 900]]], dtype=np.int64)
    corners = np.array([[0, 1, 2], [2, 1, 3]])
    faces = np.array([steep, wide])
    same = cell_heights(cells, corners, faces, np.zeros(2, np.uint8))
    other = cell_heights(cells, corners, faces, np.array([0, 4], np.uint8))
    assert same[0, 1] == 40
    assert same[1].tolist()[:2] == [40, 40]
    assert (same[0, 0], other[0, 0]) == (0, 0)


def test_new_plan_points_come_after_the_known_ones() -> None:
    """Known points keep their numbers, new ones are counted on, equal ones share a number."""
    plan = np.array([[0, 0], [0, 5], [7, -3]], dtype=np.int64)
    xy = np.array([[7, -3], [9, 9], [0, 5], [-4, 2], [9, 9]], dtype=np.int64)
    merged, number = numbered_in(plan, xy)
    assert np.array_equal(merged[:3], plan)
    assert np.array_equal(merged[number], xy)
    assert len(merged) == 5
