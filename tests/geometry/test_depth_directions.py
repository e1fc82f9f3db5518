"""Axes worth trying: evenly spread, and suggested by flats, walls, symmetry and turning."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from claybed.geometry.depth import DepthRaster
from claybed.geometry.directions import (
    around,
    fibonacci_axes,
    flat_patches,
    principal_axes,
    suggested,
    turning_axis,
    wall_axes,
)
from claybed.geometry.mesh import Mesh
from claybed.geometry.proxy import proxy
from tests.pieces import solids

TURN = Rotation.from_euler("xyz", [31.0, -47.0, 12.0], degrees=True).as_matrix()


def turned(mesh: Mesh) -> Mesh:
    """The mesh off all coordinate axes."""
    return mesh.moved(TURN, np.array([3.0, 7.0, -20.0]), frame="object")


def nearest_deg(axes: np.ndarray, wanted: np.ndarray) -> float:
    """Angle from `wanted` to the nearest of `axes`, either way round."""
    return float(np.degrees(np.arccos(min(1.0, np.abs(axes @ (wanted / np.linalg.norm(wanted))).max()))))


def test_fibonacci_axes_are_even() -> None:
    """250 axes leave no direction farther than 8 degrees from one, and none stand closer than 3 degrees."""
    axes = fibonacci_axes(250)
    assert np.allclose(np.linalg.norm(axes, axis=1), 1.0)
    probes = np.random.default_rng(1).normal(size=(2000, 3))
    assert max(nearest_deg(axes, p) for p in probes) < 8.0
    gram = np.abs(axes @ axes.T) - 2.0 * np.eye(250)
    assert np.degrees(np.arccos(gram.max())) > 3.0
    with pytest.raises(ValueError, match="axis"):
        fibonacci_axes(0)


def test_flats_of_a_turned_box() -> None:
    """A box has its six sides for flats, with their areas, offsets and outward normals."""
    mesh = turned(solids.box(30.0, 40.0, 50.0))
    flats = flat_patches(mesh)
    assert sorted(f.area_mm2 for f in flats) == pytest.approx([1200, 1200, 1500, 1500, 2000, 2000])
    for f in flats:
        heights = mesh.vertices_mm @ np.array(f.normal)
        assert heights.max() == pytest.approx(f.offset_mm)


def test_curved_solids_have_no_flats() -> None:
    """A sphere has no flat patch; a tumbler has its foot and its top."""
    assert flat_patches(solids.sphere(30.0, subdivisions=5)) == ()
    assert {round(f.normal[2]) for f in flat_patches(solids.tumbler(), least_share=0.05)} == {1, -1}


def test_turning_axis_of_a_tumbler() -> None:
    """The turning axis of a turned tumbler is its own; a cup with a handle and a lumpy ball have none."""
    axis = turning_axis(turned(solids.tumbler()))
    assert axis is not None
    assert nearest_deg(axis[None], TURN[:, 2]) < 0.01
    assert turning_axis(solids.cup_with_handle()) is None
    assert turning_axis(solids.lumpy_sphere(5000)) is None


def test_symmetry_plane_and_walls_are_found() -> None:
    """The normal of a handle's plane is a principal axis; a prism's walls run along the first wall axis."""
    assert nearest_deg(principal_axes(turned(solids.cup_with_handle())), TURN[:, 1]) < 0.2
    prism = turned(solids.frustum(20.0, 20.0, 200.0, sides=5))
    assert nearest_deg(wall_axes(prism)[:1], TURN[:, 2]) < 0.01


def test_principal_axes_do_not_depend_on_the_triangles() -> None:
    """A turned box of twelve triangles has its edges for principal axes."""
    found = principal_axes(turned(solids.box(30.0, 40.0, 50.0)))
    for k in range(3):
        assert nearest_deg(found, TURN[:, k]) < 1e-3


def test_straight_walls_are_always_suggested() -> None:
    """The axes of a turned cube's holes are suggested exactly, where no sampled axis comes near."""
    mesh = turned(solids.cube_with_blind_holes())
    found = np.array([c.axis for c in suggested(mesh, flat_patches(mesh))])
    for k in range(3):
        assert nearest_deg(found, TURN[:, k]) < 1e-4
        assert nearest_deg(fibonacci_axes(250), TURN[:, k]) > 0.5


def test_suggestions_are_distinct_and_upright_first() -> None:
    """Suggestions start with the upright axis and never repeat one within a twentieth of a degree."""
    mesh = solids.tumbler()
    found = suggested(mesh, flat_patches(mesh), up=(0.0, 2.0, 0.0))
    assert found[0].axis == (0.0, 1.0, 0.0)
    assert found[0].why == "upright"
    gram = np.abs(np.array([c.axis for c in found]) @ np.array([c.axis for c in found]).T)
    assert (gram - 2.0 * np.eye(len(found))).max() < np.cos(np.radians(0.04))


def test_ring_of_tilted_axes() -> None:
    """Axes round an axis stand at the asked tilt and evenly apart."""
    ring = around(np.array([1.0, 2.0, 3.0]), 10.0, 8)
    cosine = ring @ np.array([1.0, 2.0, 3.0]) / np.sqrt(14.0)
    assert np.degrees(np.arccos(cosine)) == pytest.approx(np.full(8, 10.0))
    step = np.linalg.norm(np.roll(ring, 1, axis=0) - ring, axis=1)
    assert step == pytest.approx(np.full(8, step[0]))


def test_stand_in_is_lighter_closed_and_alike() -> None:
    """The stand-in of a large mesh is light, closed and close in volume; a small mesh stands for itself."""
    mesh = solids.lumpy_sphere(100_000)
    light = proxy(mesh, 10_000)
    assert len(light.faces) <= 11_000
    assert light.volume_mm3 == pytest.approx(mesh.volume_mm3, rel=2e-3)
    assert all(DepthRaster(light, 128).score(a).odd_columns == 0 for a in fibonacci_axes(10))
    assert proxy(light, 10_000) is light
    with pytest.raises(ValueError, match="100"):
        proxy(mesh, 50)
