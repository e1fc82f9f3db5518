"""Laws of the depth raster: turning, scaling and mirroring the object, and looking from the other side."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from claybed.geometry.columns import gaps
from claybed.geometry.depth import DepthRaster, Score, axis_frame
from claybed.geometry.mesh import Mesh
from tests.pieces import solids

LINES = 200
PIECES = {
    "lumpy": solids.lumpy_sphere(3000),
    "cup": solids.cup_with_handle(),
    "knot": solids.trefoil_tube(along=160, sides=12),
    "crescent": solids.crescent(),
}

unit = st.floats(-1.0, 1.0, allow_nan=False)
axes = st.tuples(unit, unit, unit).filter(lambda a: np.linalg.norm(a) > 0.1).map(np.array)
turns = st.integers(0, 2**32 - 1).map(lambda seed: Rotation.random(random_state=seed).as_matrix())
pieces = st.sampled_from(sorted(PIECES)).map(PIECES.__getitem__)
lawful = settings(max_examples=25)


def look(mesh: Mesh, axis: np.ndarray) -> Score:
    """Score at the laws' resolution."""
    return DepthRaster(mesh, LINES).score(axis)


def same(a: Score, b: Score, mesh: Mesh, *, times: float = 1.0) -> None:
    """Fill, volume and shadow agree to what two placings of the grid may differ by.

    Lines miss or meet the border by half a spacing at random, so sums differ by a few lines of each kind.
    """
    border = mesh.area_mm2 * a.spacing_mm
    assert a.volume_mm3 * times**3 == pytest.approx(b.volume_mm3, abs=0.02 * border * times**3)
    assert a.fill_mm3 * times**3 == pytest.approx(b.fill_mm3, rel=0.02, abs=0.03 * border * times**3)
    assert a.silhouette_mm2 * times**2 == pytest.approx(b.silhouette_mm2, rel=0.01)
    assert a.odd_columns == b.odd_columns == 0


@lawful
@given(pieces, axes, turns)
def test_turning_object_and_axis_changes_nothing(mesh: Mesh, axis: np.ndarray, turn: np.ndarray) -> None:
    """The object turned, looked at along the turned axis, has the same fill, volume and shadow."""
    turned = mesh.moved(turn, np.array([5.0, -3.0, 11.0]), frame="object")
    same(look(mesh, axis), look(turned, turn @ axis), mesh)


@lawful
@given(pieces, axes, st.floats(0.01, 50.0))
def test_scaling_scales_volumes_by_the_cube(mesh: Mesh, axis: np.ndarray, times: float) -> None:
    """The object scaled has fill and volume scaled by the cube, line for line."""
    larger = Mesh.make(mesh.vertices_mm * times, mesh.faces, frame="object")
    same(look(mesh, axis), look(larger, axis), mesh, times=times)


@lawful
@given(pieces, axes)
def test_mirroring_changes_nothing(mesh: Mesh, axis: np.ndarray) -> None:
    """The mirror image, looked at along the mirrored axis, has the same fill, volume and shadow."""
    flip = np.array([-1.0, 1.0, 1.0])
    image = Mesh.make(mesh.vertices_mm * flip, mesh.faces[:, ::-1], frame="object")
    same(look(mesh, axis), look(image, axis * flip), mesh)


@lawful
@given(pieces, axes)
def test_the_other_side_sees_the_same_lines(mesh: Mesh, axis: np.ndarray) -> None:
    """Looking the other way along an axis gives the same fill to rounding, on the same lines."""
    front, back = look(mesh, axis), look(mesh, -axis)
    assert back.fill_mm3 == pytest.approx(front.fill_mm3, rel=1e-6, abs=1e-6)
    assert back.volume_mm3 == pytest.approx(front.volume_mm3, rel=1e-6)
    assert back.gap_columns == front.gap_columns


@lawful
@given(axes)
def test_axis_frame_is_a_turn(axis: np.ndarray) -> None:
    """The frame is a proper rotation whose last row is the axis."""
    frame = axis_frame(axis)
    assert np.allclose(frame @ frame.T, np.eye(3), atol=1e-12)
    assert np.linalg.det(frame) == pytest.approx(1.0)
    assert np.allclose(frame[2], axis / np.linalg.norm(axis))


def bar_of(side_mm: float, length_mm: float) -> Mesh:
    """An upright bar; its corners are written down, since a solid modeller may merge ones this close."""
    corner = np.array(list(itertools.product((-0.5, 0.5), repeat=3))) * [side_mm, side_mm, length_mm]
    quads = [[0, 1, 3, 2], [4, 6, 7, 5], [0, 4, 5, 1], [2, 3, 7, 6], [0, 2, 6, 4], [1, 5, 7, 3]]
    faces = [t for a, b, c, d in quads for t in ([a, b, c], [a, c, d])]
    return Mesh.make(corner, np.array(faces), frame="object")


@settings(max_examples=8)
@given(st.sampled_from(["lumpy", "knot", "crescent"]).map(PIECES.__getitem__), axes)
def test_filled_object_needs_no_more_fill(mesh: Mesh, axis: np.ndarray) -> None:
    """With every gap closed by a bar of its own line, the object locks nothing: fill is filled once."""
    columns = DepthRaster(mesh, 64).columns(axis)
    found = gaps(columns)
    g = columns.grid
    bars = [mesh]
    plan = g.plan_mm(found.pixel)
    # bars reach a little past their gap, so that they join, and are too thin to widen the object and its grid
    thin = 1e-5 * g.spacing_mm
    for (x, y), lo, hi in zip(plan, found.lo_mm, found.hi_mm, strict=True):
        bar = bar_of(thin, float(hi - lo) + 1e-3)
        bars.append(bar.moved(g.rotation.T, np.array([x, y, 0.5 * (lo + hi)]) @ g.rotation, frame="object"))
    start = np.cumsum([0, *(len(b.vertices_mm) for b in bars[:-1])])
    filled = Mesh.make(
        np.vstack([b.vertices_mm for b in bars]),
        np.vstack([b.faces + s for b, s in zip(bars, start, strict=True)]),
        frame="object",
    )
    again = DepthRaster(filled, 64).columns(axis)
    assert again.score.odd_columns == 0
    assert again.score.fill_mm3 == pytest.approx(0.0, abs=1e-6)
    if len(found.pixel):
        grown = again.score.volume_mm3 - columns.score.volume_mm3
        assert grown == pytest.approx(columns.score.fill_mm3, rel=1e-6)
