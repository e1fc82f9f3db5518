"""Laws of the mold: turned, mirrored, scaled and refined objects need the same fill."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
import trimesh
from hypothesis import given, settings
from hypothesis import strategies as st

from claybed.geometry.mesh import Floats, Mesh
from claybed.records.assembly import Assembly
from tests.mold.molds import UP, Vector, assert_whole, mold, sheet_fill_mm3
from tests.pieces import solids

PIECES: dict[str, tuple[Mesh, Vector]] = {
    "ball": (solids.sphere(30.0, subdivisions=2), UP),
    "crescent": (solids.crescent(), UP),
    "drilled": (solids.cube_with_blind_holes(), UP),
    "lumpy": (solids.lumpy_sphere(1000), UP),
    "ring": (solids.torus(40.0, 10.0, around=48, sides=16), (0.0, 1.0, 0.0)),
}
names = st.sampled_from(sorted(PIECES))
lawful = settings(max_examples=5)
# Snapping moves a surface by no more than a few thousandths of a millimetre.
SNAP_MM = 1.5e-3


@cache
def fill_of(name: str) -> float:
    """Least fill of a piece as it lies, mm³."""
    return sheet_fill_mm3(*PIECES[name])


def slack(mesh: Mesh, times: float = 1.0) -> float:
    """What snapping may change of a volume, mm³."""
    return SNAP_MM * mesh.area_mm2 * times


def about(pull: Vector, turn_rad: float) -> Floats:
    """Rotation about a pull that is a coordinate axis."""
    axis = np.array(pull)
    k = np.cross(np.eye(3), axis)
    rotation: Floats = np.eye(3) + math.sin(turn_rad) * k.T + (1.0 - math.cos(turn_rad)) * (k @ k)
    return rotation


@lawful
@given(names, st.floats(0.0, 6.28))
def test_turning_about_the_pull_changes_no_fill(name: str, turn: float) -> None:
    """Only the lattice lies otherwise."""
    mesh, pull = PIECES[name]
    turned = mesh.moved(about(pull, turn), np.array([1.7, -2.3, 0.9]), frame="object")
    assert sheet_fill_mm3(turned, pull) == pytest.approx(fill_of(name), abs=slack(mesh))


@lawful
@given(names, st.sampled_from([0, 1, 2]))
def test_a_mirrored_object_needs_the_same_fill(name: str, axis: int) -> None:
    """Mirrored together with its pull."""
    mesh, pull = PIECES[name]
    flip = np.ones(3)
    flip[axis] = -1.0
    mirrored = Mesh.make(mesh.vertices_mm * flip, mesh.faces[:, ::-1], frame="object")
    assert sheet_fill_mm3(mirrored, np.array(pull) * flip) == pytest.approx(fill_of(name), abs=slack(mesh))


@lawful
@given(names, st.floats(0.5, 2.0))
def test_fill_grows_with_the_cube_of_the_size(name: str, times: float) -> None:
    """A larger object needs as much more."""
    mesh, pull = PIECES[name]
    larger = Mesh.make(mesh.vertices_mm * times, mesh.faces, frame="object")
    want = fill_of(name) * times**3
    assert sheet_fill_mm3(larger, pull) == pytest.approx(want, abs=slack(mesh, max(1.0, times**3)))


@lawful
@given(names)
def test_refining_a_mesh_changes_nothing(name: str) -> None:
    """Each triangle cut in four: the same solid, the same fill."""
    mesh, pull = PIECES[name]
    v, f = trimesh.remesh.subdivide(mesh.vertices_mm, mesh.faces)
    assert sheet_fill_mm3(Mesh.make(v, f, frame="object"), pull) == pytest.approx(
        fill_of(name), abs=slack(mesh)
    )


@lawful
@given(names)
def test_a_pull_and_its_opposite_need_the_same_fill(name: str) -> None:
    """What locks one way locks the other way too."""
    mesh, pull = PIECES[name]
    assert sheet_fill_mm3(mesh, -np.array(pull)) == pytest.approx(fill_of(name), abs=slack(mesh))


@cache
def upright_ball() -> Assembly:
    """The mold of the ball as it lies."""
    return mold(*PIECES["ball"]).assembly


@settings(max_examples=4)
@given(st.sampled_from(["ball", "drilled", "ring"]), st.floats(0.1, 6.1), st.floats(0.6, 1.6))
def test_every_turned_and_scaled_object_gives_a_whole_mold(name: str, turn: float, times: float) -> None:
    """Closed solids that fill their block exactly, and a model that holds the object and its fill."""
    mesh, pull = PIECES[name]
    other = Mesh.make(times * mesh.vertices_mm @ about(pull, turn).T, mesh.faces, frame="object")
    made = mold(other, pull).assembly
    assert_whole(made)
    held = made.model.volume_mm3 - other.volume_mm3
    assert held == pytest.approx(fill_of(name) * times**3, abs=2.0 * slack(other) + 1e-4 * other.volume_mm3)


def test_pieces_of_a_turned_object_have_the_same_volumes() -> None:
    """A ball turned about the pull gets the same block and, to snapping, the same pieces."""
    mesh, pull = PIECES["ball"]
    turned = mold(mesh.moved(about(pull, math.pi / 2.0), np.zeros(3), frame="object"), pull).assembly
    plain = upright_ball()
    assert turned.outer_mm == plain.outer_mm
    got = sorted(p.solid.volume_mm3 for p in turned.pieces)
    want = sorted(p.solid.volume_mm3 for p in plain.pieces)
    assert got == pytest.approx(want, rel=2e-3)
    assert sum(got) == pytest.approx(sum(want), abs=slack(mesh))
