"""Faces that hide one another: known limits of tori, coils, knots and drilled cubes."""

from __future__ import annotations

import math

import numpy as np
import pytest
import trimesh
from scipy.spatial.transform import Rotation

from claybed.geometry.directions import fibonacci_axes
from claybed.geometry.mesh import Mesh
from claybed.geometry.overlap import PlanFaces, has_gap
from tests.mold.molds import sheet_fill_mm3
from tests.pieces import solids

TORI = [(40.0, 10.0), (45.0, 15.0), (40.0, 24.0)]


@pytest.mark.parametrize(("R_mm", "r_mm"), TORI)
def test_a_torus_leaves_up_to_its_limiting_tilt(R_mm: float, r_mm: float) -> None:
    """Tilted off its axis by th it leaves in two parts exactly when r <= R cos(th)**2.

    Facets of the mesh lock a few tenths of a cubic millimetre below the limit; beyond it the lock grows fast.
    """
    limit = math.degrees(math.acos(math.sqrt(r_mm / R_mm)))
    ring = solids.torus(R_mm, r_mm, around=128, sides=48)

    def fill_mm3(tilt_deg: float) -> float:
        a = math.radians(tilt_deg)
        return sheet_fill_mm3(ring, (math.sin(a), 0.0, math.cos(a)))

    assert not has_gap(ring, (0.0, 0.0, 1.0))
    assert fill_mm3(0.0) == 0.0
    assert fill_mm3(limit - 4.0) < 0.6
    assert fill_mm3(limit + 8.0) > 100.0


def test_a_knot_leaves_along_no_axis() -> None:
    """A trefoil is locked along every one of sixty even directions."""
    knot = solids.trefoil_tube(along=120, sides=12)
    assert all(has_gap(knot, tuple(d)) for d in fibonacci_axes(60))


def test_linked_rings_leave_along_no_axis() -> None:
    """Two rings through each other are locked along every one of sixty even directions, near ones and their
    common plane's among them.

    Source: geometry; what leaves in two parts is unlinked.
    """
    ring = solids.torus(40.0, 8.0, around=64, sides=16)
    turned = ring.vertices_mm[:, [0, 2, 1]] * np.array([1.0, -1.0, 1.0]) + np.array([40.0, 0.0, 0.0])
    both = Mesh.make(
        np.concatenate([ring.vertices_mm, turned]),
        np.concatenate([ring.faces, ring.faces + len(ring.vertices_mm)]),
        frame="object",
    )
    assert both.volume_mm3 == pytest.approx(2.0 * ring.volume_mm3, rel=1e-6)
    axes = [*fibonacci_axes(60), *np.eye(3)]
    assert all(has_gap(both, tuple(d)) for d in axes)


def test_a_coil_leaves_sideways_below_its_limit_only() -> None:
    """A coil of radius a and pitch 2 pi b leaves sideways exactly when r <= b**2 / a, never along itself."""
    a_mm, b_mm = 20.0, 16.0
    limit = b_mm**2 / a_mm
    slender, stout = (
        solids.helix_tube(a_mm, 2.0 * math.pi * b_mm, share * limit, along=120, sides=16)
        for share in (0.7, 1.5)
    )
    least, locked = (sheet_fill_mm3(coil, (0.0, 1.0, 0.0)) for coil in (slender, stout))
    assert least < 5e-5 * slender.volume_mm3
    assert locked > 50.0 * least
    assert has_gap(slender, (0.0, 0.0, 1.0))
    assert has_gap(stout, (0.0, 0.0, 1.0))


@pytest.mark.parametrize("pull", [(1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (1.0, 1.0, 1.0)])
def test_a_cube_drilled_from_three_sides_leaves_along_no_single_axis(
    pull: tuple[float, float, float],
) -> None:
    """Each hole asks for its own pull, so two of three are always locked."""
    assert has_gap(solids.cube_with_blind_holes(), pull)
    assert not has_gap(solids.cube_with_blind_holes(("+x", "-x")), (1.0, 0.0, 0.0))


def test_rods_seen_all_over_are_locked_between_them() -> None:
    """Three loose rods leave upright; along the line through two of them the space between is locked."""
    rods = solids.three_rods()
    assert not has_gap(rods, (0.0, 0.0, 1.0))
    assert has_gap(rods, (1.0, 0.0, 0.0))


@pytest.mark.parametrize("seed", range(5))
def test_convex_solids_leave_any_way(seed: int) -> None:
    """Turned at random there is no gap at all along the axis, and along random pulls none beyond snapping."""
    turn = Rotation.random(random_state=seed).as_matrix()
    other = Rotation.random(random_state=seed + 50).as_matrix()[0]
    for solid in (solids.box(40.0, 30.0, 25.0), solids.cylinder(22.0, 50.0, sides=48)):
        turned = solid.moved(turn, np.zeros(3), frame="object")
        assert not has_gap(turned, tuple(turn[:, 2]))
        assert 0.0 <= sheet_fill_mm3(turned, other) < 1e-4 * turned.area_mm2


def test_a_fine_polyhedral_ball_is_accepted_along_any_pull() -> None:
    """A curved seam takes a ball of random corners, whose silhouette lies in no plane."""
    points = np.random.default_rng(4).normal(size=(400, 3))
    hull = trimesh.convex.convex_hull(30.0 * points / np.linalg.norm(points, axis=1)[:, None])
    ball = Mesh.make(hull.vertices, hull.faces, frame="object")
    assert not any(has_gap(ball, tuple(d)) for d in fibonacci_axes(12))


def test_touching_is_not_overlapping() -> None:
    """Triangles with a common edge or corner share no area; one step further they do."""
    first = [0, 0, 1000, 0, 0, 1000]
    for other, want in (
        ([1000, 0, 1000, 1000, 0, 1000], False),
        ([1000, 0, 2000, 0, 2000, 1000], False),
        ([999, 0, 1000, 1000, 0, 1000], True),
        ([100, 100, 200, 100, 100, 200], True),
        ([0, 0, 1000, 0, 0, 1000], True),
    ):
        faces = PlanFaces(np.array([first, other], dtype=np.int64), np.zeros((2, 3), np.int64))
        assert faces.overlapping().tolist() == [want, want]
        assert faces.overlapping(first_only=True).any() == want


def test_the_highest_and_the_lowest_face_over_a_point() -> None:
    """Of two levels and a slope over one point, each extreme and its interpolated height is found."""
    square = [0, 0, 900, 0, 0, 900]
    heights = np.array([[10, 10, 10], [0, 90, 0], [50, 50, 50]], dtype=np.int64)
    faces = PlanFaces(np.array([square] * 3, dtype=np.int64), heights)
    thirds = np.array([[900, 900], [2400, 150], [3000, 3000]], dtype=np.int64)
    number, height = faces.extreme_at(thirds, highest=True)
    assert number.tolist() == [2, 1, -1]
    assert height[:2] == pytest.approx([50.0, 80.0])
    number, height = faces.extreme_at(thirds, highest=False)
    assert number.tolist() == [0, 0, -1]
    assert height[:2] == pytest.approx([10.0, 10.0])
