"""The lattice: exact areas, straight walls that stay straight, and how far snapping may move anything."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from claybed.geometry.lattice import (
    UNITS_PER_MM,
    distinct_plan,
    lattice_mm,
    pull_rotation,
    rotation_about,
    row_codes,
    to_lattice,
    twice_plan_area,
)
from claybed.geometry.mesh import Mesh
from tests.pieces import solids

STRAIGHT = {
    "box": solids.box(40.0, 30.0, 25.0),
    "cylinder": solids.cylinder(22.0, 50.0, sides=48),
}


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("name", sorted(STRAIGHT))
def test_straight_walls_stay_upright_however_the_object_lies(name: str, seed: int) -> None:
    """Turned at random and seen along its own axis, every face is exactly upright or exactly level."""
    turn = Rotation.random(random_state=seed).as_matrix()
    solid = STRAIGHT[name].moved(turn, np.array([3.1, -7.7, 12.9]), frame="object")
    rotation = pull_rotation(turn[:, 2])
    lat = to_lattice(solid, rotation, -rotation @ solid.bounds_mm.mean(axis=0))
    z = lat.points[:, 2][lat.faces]
    level = (z == z[:, :1]).all(axis=1)
    assert len(np.unique(lat.points[:, 2])) == 2
    assert (lat.twice_area[~level] == 0).all()
    assert (lat.twice_area[level] != 0).all()
    assert lat.twice_area.sum() == 0


def test_a_wall_a_hair_askew_stands_upright() -> None:
    """Pulled 0.002 degrees off its axis, a cylinder leans by two steps and is put upright."""
    lean = np.radians(0.002)
    solid = STRAIGHT["cylinder"]
    lat = to_lattice(solid, pull_rotation((np.sin(lean), 0.0, np.cos(lean))), np.zeros(3))
    wall = np.ptp(lat.points[:, 2][lat.faces], axis=1) > 4096
    assert wall.sum() == 2 * 48
    assert (lat.twice_area[wall] == 0).all()


def test_a_flat_face_stays_flat_through_single_precision() -> None:
    """Heights that differ only in the last digit, half-way between two steps, all snap to one plane."""
    solid = STRAIGHT["cylinder"]
    v = solid.vertices_mm.copy()
    v[:, 2] += 0.5 / 4096.0 + np.where(v[:, 0] > 0.0, 6e-6, -6e-6)
    lat = to_lattice(Mesh.make(v, solid.faces, frame="object"), np.eye(3), np.zeros(3))
    assert len(np.unique(lat.points[:, 2])) == 2


def test_snapping_moves_nothing_far_and_single_precision_holds_it() -> None:
    """No vertex moves by more than 0.006 mm, and each lattice point is a single-precision number."""
    solid = solids.lumpy_sphere(4000, radius_mm=180.0)
    rotation = pull_rotation((0.3, -0.5, 0.8))
    lat = to_lattice(solid, rotation, np.array([11.0, 5.0, 700.0]))
    placed = solid.vertices_mm @ rotation.T + np.array([11.0, 5.0, 700.0])
    mm = lattice_mm(lat.points)
    assert np.abs(mm[lat.faces] - placed[solid.faces]).max() < 0.006
    assert np.array_equal(mm.astype(np.float32).astype(np.float64), mm)


def test_areas_are_exact_where_doubles_are_not() -> None:
    """A triangle metres long and one step high has the area that Python's own integers give."""
    plan = np.array([[-4194303, -4194301], [4194301, 4194303], [4194300, 4194303]], dtype=np.int64)
    got = twice_plan_area(plan, np.array([[0, 1, 2], [0, 2, 1]]))
    (ax, ay), (bx, by), (cx, cy) = plan.tolist()
    want = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
    assert got.tolist() == [want, -want]


def test_plan_points_keep_their_numbers_below_zero() -> None:
    """Each point finds itself again among the different ones, negative coordinates too."""
    xy = np.array([[5, -3], [-5, 3], [5, -3], [0, 0], [-2048000, 2048000]], dtype=np.int64)
    plan, number = distinct_plan(xy)
    assert len(plan) == 4
    assert np.array_equal(plan[number], xy)


def test_a_pull_makes_a_proper_rotation() -> None:
    """The third row is the pull, the determinant 1; exact axes stay exact."""
    for pull in ((0.0, 0.0, 1.0), (0.0, -1.0, 0.0), (1.0, 2.0, -2.0)):
        rotation = pull_rotation(pull, turn_rad=0.7)
        assert np.allclose(rotation[2], np.array(pull) / np.linalg.norm(pull), atol=1e-15)
        assert np.allclose(rotation @ rotation.T, np.eye(3), atol=1e-14)
        assert np.linalg.det(rotation) == pytest.approx(1.0)
    assert pull_rotation((0.0, -3.0, 0.0))[2].tolist() == [0.0, -1.0, 0.0]


@pytest.mark.parametrize("pull", [(0.0, 0.0, 0.0), (np.nan, 0.0, 1.0), (np.inf, 0.0, 1.0)])
def test_a_pull_that_is_none_is_refused(pull: tuple[float, float, float]) -> None:
    """Zero and what is not a number are no directions."""
    with pytest.raises(ValueError, match="pull"):
        pull_rotation(pull)


def test_objects_out_of_reach_are_refused() -> None:
    """Beyond two metres the lattice's promise of exactness would not hold."""
    with pytest.raises(ValueError, match="two metres"):
        to_lattice(solids.box(10.0, 10.0, 10.0), np.eye(3), np.array([1996.0, 0.0, 0.0]))


def test_small_turns_follow_the_right_hand() -> None:
    """Ninety degrees about z carry x to y; turns add about one axis."""
    assert np.allclose(rotation_about((0.0, 0.0, 90.0)) @ [1.0, 0.0, 0.0], [0.0, 1.0, 0.0])
    assert np.allclose(
        rotation_about((0.0, 20.0, 0.0)) @ rotation_about((0.0, 25.0, 0.0)), rotation_about((0.0, 45.0, 0.0))
    )


def test_faces_smaller_than_a_step_vanish_and_the_rest_stays_closed() -> None:
    """Slivers of a thousandth of a millimetre collapse; every edge is still mated."""
    ball = solids.sphere(0.003, subdivisions=3)
    big = solids.sphere(20.0, subdivisions=2)
    both = Mesh.make(
        np.concatenate([big.vertices_mm, ball.vertices_mm + np.array([60.0, 0.0, 0.0])]),
        np.concatenate([big.faces, ball.faces + len(big.vertices_mm)]),
        frame="object",
    )
    lat = to_lattice(both, np.eye(3), np.zeros(3))
    assert len(lat.faces) < len(both.faces)
    f = lat.faces.astype(np.int64)
    edges = np.concatenate([f[:, [0, 1]], f[:, [1, 2]], f[:, [2, 0]]])
    keys, mates = (edges[:, order] @ [len(lat.points), 1] for order in ([0, 1], [1, 0]))
    assert np.array_equal(np.sort(keys), np.sort(mates))
    assert np.all(np.abs(lat.points / UNITS_PER_MM) < 70.0)


@pytest.mark.parametrize("reach", [3, 1 << 20, 1 << 40])
def test_rows_have_one_number_each_in_their_order(reach: int) -> None:
    """Equal rows share a number, and the numbers sort as numpy sorts the rows; wide ranges as well."""
    rng = np.random.default_rng(5)
    rows = rng.integers(-reach, reach, (400, 3))
    rows = np.concatenate([rows, rows[::7]])
    codes = row_codes(rows)
    unique, inverse = np.unique(rows, axis=0, return_inverse=True)
    _, first, number = np.unique(codes, return_index=True, return_inverse=True)
    assert np.array_equal(rows[first], unique)
    assert np.array_equal(number, inverse.reshape(-1))
