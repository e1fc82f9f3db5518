"""Sections of closed surfaces at a level against closed forms, and against a boolean library's own slices."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from claybed.geometry.carving import outlines
from claybed.geometry.lattice import UNITS_PER_MM, pull_rotation
from claybed.geometry.level_sections import section_at
from claybed.geometry.mesh import Mesh
from claybed.geometry.slab import LatticeSolid
from tests.pieces import solids

UP = pull_rotation((0.0, 0.0, 1.0))


def on_lattice(mesh: Mesh) -> LatticeSolid:
    """A mesh as a lattice solid."""
    points = np.rint(mesh.vertices_mm * UNITS_PER_MM).astype(np.int64)
    return LatticeSolid(points, mesh.faces, np.array(mesh.origin))


def test_a_ring_on_edge_is_cut_in_two_disks_and_lying_in_one_with_a_hole() -> None:
    """Through the middle of a torus of 20 and 6 mm: two polygons of radius 6 beside one another, or one of 26
    less one of 14.
    """
    ring = on_lattice(solids.torus(20.0, 6.0, around=96, sides=32))

    def polygon(radius_mm: float, sides: int) -> float:
        return sides / 2.0 * radius_mm**2 * float(np.sin(2.0 * np.pi / sides))

    on_edge = section_at(ring, pull_rotation((1.0, 0.0, 0.0)), 0.0)
    outer, holes = outlines(on_edge)
    assert (len(outer), len(holes)) == (2, 0)
    assert on_edge.area() == pytest.approx(2.0 * polygon(6.0, 32), rel=1e-3)
    lying = section_at(ring, UP, 0.0)
    outer, holes = outlines(lying)
    assert (len(outer), len(holes)) == (1, 1)
    assert lying.area() == pytest.approx(polygon(26.0, 96) - polygon(14.0, 96), rel=1e-3)


@pytest.mark.parametrize("pull", [(0.0, 0.0, 1.0), (0.6, 0.0, -0.8), (0.0, -1.0, 0.0)])
def test_it_is_what_a_boolean_library_slices(pull: tuple[float, float, float]) -> None:
    """Manifold's slice of the same solid covers the same plan, hollows, slants and all."""
    cube = solids.cube_with_blind_holes(("+x", "+y", "+z"), side_mm=40.0, hole_mm=8.0, deep_mm=15.0)
    rotation = pull_rotation(pull)
    turned = solids.to_manifold(cube).transform(np.column_stack([rotation, np.zeros(3)]))
    for level_mm in (-11.3, 0.77, 13.1, 19.2):
        mine, theirs = section_at(on_lattice(cube), rotation, level_mm), turned.slice(level_mm)
        assert theirs.area() > 100.0
        assert (mine - theirs).area() + (theirs - mine).area() < 1e-4 * theirs.area()


def test_a_level_beside_the_object_meets_nothing() -> None:
    """Over its end there is no section."""
    assert section_at(on_lattice(solids.box(10.0, 10.0, 10.0)), UP, 6.0).is_empty()


def test_an_open_surface_is_refused() -> None:
    """Where a face is missing beside the level, no line closes."""
    box = on_lattice(solids.box(10.0, 10.0, 10.0))
    crossing = np.flatnonzero(np.ptp(box.points[box.faces][:, :, 2], axis=1) > 0)
    keep = np.arange(len(box.faces)) != crossing[0]
    with pytest.raises(ArithmeticError, match="closed"):
        section_at(replace(box, faces=box.faces[keep], origin=box.origin[keep]), UP, 0.3)
