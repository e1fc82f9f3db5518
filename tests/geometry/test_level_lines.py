"""Level lines on a closed surface against closed forms, and against a section cut level by level."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.barred import Barred
from claybed.geometry.carving import outlines
from claybed.geometry.halfedges import match_sides
from claybed.geometry.level_lines import Lines, bends, heights_of_change, level_lines
from claybed.geometry.mesh import Floats, Mesh
from tests.pieces import solids

NONE = Barred()


def lines_of(mesh: Mesh, levels_mm: list[float] | Floats, barred: Barred = NONE) -> Lines:
    """The lines with edges counted from 30 degrees on."""
    return level_lines(
        mesh.vertices_mm, mesh.faces, np.asarray(levels_mm), barred, crease_deg=30.0, sharp_deg=45.0
    )


def polygon_mm(radius_mm: float, sides: int) -> float:
    """Perimeter of a regular polygon in a circle."""
    return 2.0 * sides * radius_mm * float(np.sin(np.pi / sides))


def test_a_frustum_is_cut_in_polygons_of_its_radius() -> None:
    """A frustum of radii 30 and 20 over 50 mm: its lines shorten by the same for each millimetre, and lean by
    the arc tangent of 10 / 50 all along.
    """
    got = lines_of(solids.frustum(30.0, 20.0, 50.0, sides=96), [20.0, -24.0, 3.0])
    radius = [25.0 - z / 5.0 for z in (20.0, -24.0, 3.0)]
    assert got.length_mm == pytest.approx([polygon_mm(r, 96) for r in radius], rel=1e-12)
    lean = np.sin(np.arctan(0.2 * np.cos(np.pi / 96)))
    assert got.lean == pytest.approx(np.full(3, lean), abs=0.0051)
    assert got.held_mm2 == pytest.approx(np.zeros(3), abs=1e-9)


def test_a_line_on_a_shallow_side_is_sharp() -> None:
    """Of a step of 8 mm out on 8 mm down, under a lid that drops 4 mm for as much, only the lid is sharp: at
    45 degrees, less the polygon's share, plaster still holds.
    """
    profile = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 10.0], [32.0, 18.1], [24.0, 22.0], [0.0, 22.0]])
    mesh = solids.revolved(profile, sides=48)
    got = lines_of(mesh, [20.0, 14.0, 5.0])
    assert got.sharp_mm == pytest.approx([got.length_mm[0], 0.0, 0.0])


def test_what_looks_down_beyond_a_level_holds() -> None:
    """A ball cut d below its middle has the plan of the zone between there and the middle looking down."""
    ball = solids.sphere(30.0, subdivisions=5)
    got = lines_of(ball, [-9.03, 4.01])
    assert got.held_mm2[0] == pytest.approx(np.pi * 9.03**2, rel=0.01)
    assert got.held_mm2[1] < 2.0


def test_lines_in_hollows_are_left_out() -> None:
    """A cup's hollow, and a stump that stands in it, are no part of the line round it."""
    body = solids.to_manifold(solids.cylinder(30.0, 40.0, sides=64))
    hollow = solids.to_manifold(solids.cylinder(25.0, 40.0, sides=64)).translate([0.0, 0.0, 10.0])
    stump = solids.to_manifold(solids.cylinder(5.0, 25.0, sides=64)).translate([0.0, 0.0, -2.0])
    cup = solids.from_manifold(body - hollow + stump)
    got = lines_of(cup, [0.0, -15.0])
    assert got.length_mm == pytest.approx(np.full(2, polygon_mm(30.0, 64)), rel=1e-9)
    # Two posts beside one another are both met.
    two = solids.from_manifold(body + body.translate([80.0, 0.0, 0.0]))
    assert lines_of(two, [0.0]).length_mm == pytest.approx([2.0 * polygon_mm(30.0, 64)], rel=1e-9)


def test_a_line_along_an_edge_is_told_from_one_along_a_corner() -> None:
    """A flange round a post: just under its upper edge a line runs along the edge, just over the inner corner
    where the post leaves it along that, and half way up along neither.
    """
    flange = np.array([[0, 0], [30, 0], [30, 10], [20, 10], [18, 40], [0, 40]], float)
    mesh = solids.revolved(flange, sides=64)
    got = lines_of(mesh, [9.97, 10.03, 25.0])
    # The tip of each face that has no side of its own on the edge, 0.3 %, is told of neither.
    assert got.crease_mm == pytest.approx([got.length_mm[0], 0.0, 0.0], rel=0.005, abs=1e-9)
    assert got.corner_mm == pytest.approx([0.0, got.length_mm[1], 0.0], rel=0.005, abs=1e-9)
    sides = match_sides(mesh.faces, len(mesh.vertices_mm))
    turned = bends(mesh.vertices_mm, mesh.faces, sides.mate, 30.0)
    # The inner corner is the only ring that turns inwards: 64 edges, each of two sides.
    assert int((turned < 0).sum()) == 2 * 64


def test_a_ball_bars_the_chord_that_it_covers() -> None:
    """A ball on a wall of a box bars the chord of its circle; a layer bars what of the line lies in it."""
    box = solids.box(60.0, 40.0, 50.0)
    ball = Barred(balls=np.array([[30.0, 4.0, 2.0, 6.0]]))
    got = lines_of(box, [5.0, 8.5, 2.0], ball)
    assert got.barred_mm == pytest.approx([2.0 * np.sqrt(36.0 - 9.0), 0.0, 12.0], abs=1e-9)
    slanted = np.array([0.6, 0.0, 0.8])
    layer = Barred(layers=np.array([[*slanted, 10.0, 16.0]]))
    # At height 5: 0.6 x from 6 to 12, on two walls of the box.
    assert lines_of(box, [5.0], layer).barred_mm == pytest.approx([2.0 * 10.0], abs=1e-9)


def test_forbidden_places_end_at_a_height_that_is_judged() -> None:
    """Where no corner lies between top and bottom of a box, the ends of a ball on its wall are found."""
    box = solids.box(60.0, 40.0, 50.0)
    for middle_mm, reach_mm in ((30.0, 6.0), (31.0, float(np.sqrt(35.0)))):
        ball = Barred(balls=np.array([[middle_mm, 4.0, 2.0, 6.0]]))
        ends = ball.ends_mm(box.corners_mm)
        assert ends.max() == pytest.approx(2.0 + reach_mm, abs=1e-9)
        assert ends.min() == pytest.approx(2.0 - reach_mm, abs=1e-9)
        heights = heights_of_change(box.vertices_mm, box.faces, -20.0, 20.0, ball, 100.0)
        assert np.abs(heights - (2.0 + reach_mm)).min() < 0.06
    layer = Barred(layers=np.array([[0.0, 0.0, 1.0, 3.0, 7.0]]))
    found = layer.ends_mm(box.corners_mm)
    assert sorted(set(np.round(found, 9).tolist())) == [3.0, 7.0]


@pytest.mark.parametrize("pull", [(0.0, 0.0, 1.0), (0.6, 0.0, 0.8)])
def test_every_level_agrees_with_a_section(pull: tuple[float, float, float]) -> None:
    """On a lumpy ball each line is as long as the outer outlines of manifold3d's section there."""
    ball = solids.lumpy_sphere(1500)
    x, y, z = np.array([0.0, 1.0, 0.0]), np.cross(pull, [0.0, 1.0, 0.0]), np.array(pull)
    turn = np.stack([np.cross(x, z), x, z])
    points = ball.vertices_mm @ turn.T
    assert np.linalg.norm(y) > 0.5
    mesh = Mesh.make(points, ball.faces, frame="object")
    levels = heights_of_change(points, ball.faces, 20.0, 45.0, NONE, 1.0)[::7]
    got = lines_of(mesh, levels)
    solid = solids.to_manifold(mesh)
    for level, length in zip(levels.tolist(), got.length_mm.tolist(), strict=True):
        outer, _ = outlines(solid.slice(level))
        cut = sum(np.linalg.norm(np.diff(ring, axis=0, append=ring[:1]), axis=1).sum() for ring in outer)
        assert length == pytest.approx(float(cut), rel=1e-6)


def test_an_open_surface_is_refused() -> None:
    """Without one face no line closes."""
    box = solids.box(10.0, 10.0, 10.0)
    with pytest.raises(ArithmeticError, match="closed"):
        level_lines(box.vertices_mm, box.faces[1:], np.zeros(1), NONE, crease_deg=30.0, sharp_deg=45.0)
