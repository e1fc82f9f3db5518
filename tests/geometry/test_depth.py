"""The depth raster against a plain twin, closed forms and conservation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from claybed.geometry import crossings
from claybed.geometry.depth import Columns, DepthRaster, axis_frame
from claybed.geometry.directions import fibonacci_axes
from claybed.geometry.mesh import Mesh
from tests.pieces import solids

AXIS = np.array([0.3, -0.5, 0.8])


def twin_plan(mesh: Mesh, columns: Columns) -> tuple[np.ndarray, np.ndarray]:
    """Lattice plan (n, 2) and heights (n,) worked out again with numpy."""
    g = columns.grid
    x, y, z = (sum(g.rotation[k, c] * mesh.vertices_mm[:, c] for c in range(3)) for k in range(3))
    scale = (1 << g.shift) / g.spacing_mm
    plan = np.stack(
        [np.floor((v - o) * scale + 0.5) for v, o in zip((x, y), g.origin_mm, strict=True)], axis=1
    )
    return plan.astype(np.int64), z


def twin_crossings(
    plan: np.ndarray, z: np.ndarray, faces: np.ndarray, columns: int, rows: int, shift: int
) -> list[tuple[int, int, float]]:
    """(line, side, height) of every crossing, decided by cross-multiplication instead of division."""
    half = 1 << (shift - 1)
    out = []
    for f, corner in enumerate(faces):
        p = plan[corner].astype(np.int64)
        u, v = p[1] - p[0], p[2] - p[0]
        area = int(u[0] * v[1] - u[1] * v[0])
        if area == 0:
            continue
        lo = np.clip((p.min(axis=0) >> shift) - 1, 0, None)
        hi = np.minimum((p.max(axis=0) >> shift) + 2, [columns, rows])
        if (lo >= hi).any():
            continue
        i, j = np.meshgrid(np.arange(lo[0], hi[0]), np.arange(lo[1], hi[1]))
        x, y = (i << shift) + half, (j << shift) + half
        odd = np.zeros(x.shape, bool)
        for k in range(3):
            a, b = sorted((p[k], p[(k + 1) % 3]), key=lambda q: q[1])
            crossing = (a[1] <= y) & (y < b[1])
            odd ^= crossing & ((x - a[0]) * (b[1] - a[1]) >= (y - a[1]) * (b[0] - a[0]))
        zs = z[corner]
        px, py = x[odd] - p[0, 0], y[odd] - p[0, 1]
        wb, wc = (px * v[1] - py * v[0]) / area, (u[0] * py - u[1] * px) / area
        height = zs[0] + wb * (zs[1] - zs[0]) + wc * (zs[2] - zs[0])
        line = j[odd] * columns + i[odd]
        out.extend(zip(line.tolist(), [2 * f + (area > 0)] * len(line), height.tolist(), strict=True))
    return out


@pytest.mark.parametrize("name", ["lumpy", "rods", "holes", "box", "coil"])
def test_raster_equals_plain_twin(name: str) -> None:
    """The compiled raster and the plain twin find the same crossings, at the same heights."""
    mesh = {
        "lumpy": lambda: solids.lumpy_sphere(1500),
        "rods": solids.three_rods,
        "holes": lambda: solids.cube_with_blind_holes(),
        "box": lambda: solids.box(40.0, 20.0, 10.0),
        "coil": lambda: solids.helix_tube(40.0, 60.0, 6.0, along=60, sides=10),
    }[name]()
    for axis in (np.array([0.0, 0.0, 1.0]), AXIS):
        got = DepthRaster(mesh, 96).columns(axis)
        plan, z = twin_plan(mesh, got)
        g = got.grid
        want = sorted(twin_crossings(plan, z, mesh.faces, g.columns, g.rows, g.shift))
        line = np.repeat(np.arange(len(got.start) - 1), np.diff(got.start))
        have = sorted(zip(line.tolist(), got.side.tolist(), got.z_mm.tolist(), strict=True))
        assert [(a, b) for a, b, _ in have] == [(a, b) for a, b, _ in want]
        assert np.allclose([c for *_, c in have], [c for *_, c in want], rtol=0, atol=1e-9)


@settings(max_examples=60)
@given(st.lists(st.tuples(*[st.integers(-1, 9)] * 2), min_size=6, max_size=6))
def test_ties_are_never_counted_twice(corners: list[tuple[int, int]]) -> None:
    """With every vertex on a pixel's centre or corner, up and down cancel on each line."""
    shift = 4
    plan = (np.array(corners, np.int64) * 8).astype(np.int32)  # half pixels: centres and corners of pixels
    octahedron = np.array(
        [[0, 2, 4], [2, 1, 4], [1, 3, 4], [3, 0, 4], [2, 0, 5], [1, 2, 5], [3, 1, 5], [0, 3, 5]], np.int32
    )
    z = np.arange(6, dtype=np.float64)
    count = np.zeros(25 + 1, np.int32)
    pixel, side, height = np.empty(4000, np.int32), np.empty(4000, np.int32), np.empty(4000)
    every = np.arange(len(octahedron), dtype=np.int32)
    used = crossings.cross(plan, z, octahedron, every, 5, 5, shift, count, pixel, side, height)
    up = np.bincount(pixel[:used][side[:used] % 2 == 1], minlength=25)
    down = np.bincount(pixel[:used][side[:used] % 2 == 0], minlength=25)
    assert (up == down).all()
    want = sorted((a, b) for a, b, _ in twin_crossings(plan, z, octahedron, 5, 5, shift))
    assert sorted(zip(pixel[:used].tolist(), side[:used].tolist(), strict=True)) == want


def test_open_mesh_has_odd_columns() -> None:
    """A mesh with one face missing shows odd lines, so their absence means something."""
    whole = solids.lumpy_sphere(2000)
    hole = Mesh.make(whole.vertices_mm, whole.faces[1:], frame="object")
    facing = np.cross(*(whole.corners_mm[0, k] - whole.corners_mm[0, 0] for k in (1, 2)))
    assert DepthRaster(whole, 512).score(facing).odd_columns == 0
    assert DepthRaster(hole, 512).score(facing).odd_columns > 0


def test_volume_converges_with_the_spacing() -> None:
    """The volume of the columns closes in on the divergence theorem's at least in step with the spacing."""
    mesh = solids.trefoil_tube()
    for axis in fibonacci_axes(5):
        for lines in (64, 256, 1024):
            score = DepthRaster(mesh, lines).score(axis)
            assert score.odd_columns == 0
            # a surface layer of one spacing bounds the error; a fiftieth of it is what cancellation leaves
            assert abs(score.volume_mm3 - mesh.volume_mm3) < 0.02 * mesh.area_mm2 * score.spacing_mm


def test_mean_projected_area_is_a_quarter_of_the_surface() -> None:
    """Over all directions the projected area of the faces looking up averages to S/4, for a knot too."""
    mesh = solids.trefoil_tube(along=240, sides=16)
    raster = DepthRaster(mesh, 256)
    scores = [raster.score(axis) for axis in fibonacci_axes(400)]
    mean = np.mean([0.5 * s.crossings * s.spacing_mm**2 for s in scores])
    assert mean == pytest.approx(mesh.area_mm2 / 4.0, rel=5e-4)


@pytest.mark.parametrize(("R", "r", "limit"), [(20.0, 5.0, 60.0), (30.0, 10.0, 54.74), (20.0, 12.0, 39.23)])
def test_torus_tilt_limit(R: float, r: float, limit: float) -> None:
    """A torus has no gap up to r = R cos(tilt)**2 but for its facets' films, and a real one 6 degrees on."""
    raster = DepthRaster(solids.torus(R, r, around=384, sides=96), 700)

    def fill(tilt_deg: float) -> float:
        t = np.radians(tilt_deg)
        return raster.score(np.array([np.sin(t), 0.0, np.cos(t)])).fill_mm3

    assert np.cos(np.radians(limit)) ** 2 == pytest.approx(r / R, abs=2e-4)
    assert all(fill(limit * part) < 0.05 for part in (0.0, 0.3, 0.6, 0.9))
    assert fill(limit + 6.0) > 1.0


@pytest.mark.parametrize(("R", "r"), [(20.0, 5.0), (30.0, 10.0), (20.0, 12.0)])
def test_torus_fill_in_its_own_plane(R: float, r: float) -> None:
    """Pulled in its own plane a torus locks pi (2 r R**2 - pi R r**2 + 4/3 r**3)."""
    mesh = solids.torus(R, r, around=512, sides=128)
    score = DepthRaster(mesh, 700).score(np.array([1.0, 0.0, 0.0]))
    want = np.pi * (2.0 * r * R**2 - np.pi * R * r**2 + 4.0 / 3.0 * r**3)
    assert score.fill_mm3 == pytest.approx(want, rel=1.5e-3)
    assert score.undercut_mm2 > 0.0


@pytest.mark.parametrize("name", ["box", "sphere", "cylinder", "cone", "frustum"])
def test_convex_solids_lock_along_no_axis(name: str) -> None:
    """A convex solid has no gap in any direction, and its shadow is half of what its lines cross."""
    mesh = {
        "box": lambda: solids.box(60.0, 40.0, 25.0),
        "sphere": lambda: solids.sphere(30.0),
        "cylinder": lambda: solids.cylinder(20.0, 60.0),
        "cone": lambda: solids.cone(25.0, 50.0),
        "frustum": lambda: solids.frustum(10.0, 25.0, 40.0),
    }[name]()
    raster = DepthRaster(mesh, 200)
    for axis in (*np.eye(3), *fibonacci_axes(40)):
        score = raster.score(axis)
        assert score.fill_mm3 == 0.0
        assert score.gap_columns == 0
        assert score.crossings * score.spacing_mm**2 == pytest.approx(2.0 * score.silhouette_mm2)


def test_knotted_tube_locks_along_every_axis() -> None:
    """A trefoil is isotopic to no planar domain times an interval, so every axis leaves fill."""
    raster = DepthRaster(solids.trefoil_tube(), 256)
    scores = [raster.score(axis) for axis in fibonacci_axes(220)]
    assert min(s.fill_mm3 for s in scores) > 100.0
    assert all(s.odd_columns == 0 for s in scores)


def test_coil_leaves_sideways_but_not_along_its_axis() -> None:
    """A coil of a = 40, b = 20 locks along its axis; sideways it is free up to r = b**2/a = 10."""
    pitch = 2.0 * np.pi * 20.0

    def fill(r: float, axis: tuple[float, float, float]) -> float:
        mesh = solids.helix_tube(40.0, pitch, r, along=1200, sides=64)
        return DepthRaster(mesh, 900).score(np.array(axis)).fill_mm3

    assert fill(8.0, (0.0, 0.0, 1.0)) > 1e4
    assert fill(8.0, (0.0, 1.0, 0.0)) < 1.0
    assert fill(13.0, (0.0, 1.0, 0.0)) > 5.0


def test_three_rods_lock_the_space_between_them() -> None:
    """Three directions reach all of the rods' surface, yet a place between the rods is blocked along each."""
    mesh = solids.three_rods()
    raster = DepthRaster(mesh, 512)
    normal = np.cross(*(mesh.corners_mm[:, k] - mesh.corners_mm[:, 0] for k in (1, 2)))
    round_ = np.abs(normal[:, 2]) < 1e-6 * np.linalg.norm(normal, axis=1)
    middle = (
        mesh.corners_mm.mean(axis=1)[round_]
        + 1e-3 * (normal / np.linalg.norm(normal, axis=1)[:, None])[round_]
    )
    seen = np.zeros(len(middle), bool)
    blocked = 0
    for angle in (90.0, 210.0, 330.0):
        d = np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle)), 0.0])
        columns = raster.columns(d)
        top = np.nan_to_num(columns.top_mm, nan=-np.inf)

        def above(points: np.ndarray, c: Columns = columns, top: np.ndarray = top) -> np.ndarray:
            at = points @ c.grid.rotation.T
            i = np.clip(((at[:, :2] - c.grid.origin_mm) / c.grid.spacing_mm).astype(int), 0, None)
            row, column = np.minimum(i[:, 1], c.grid.rows - 1), np.minimum(i[:, 0], c.grid.columns - 1)
            return at[:, 2] > top[row, column] - c.grid.spacing_mm

        seen |= above(middle)
        blocked += int(not above(np.zeros((1, 3)))[0])
    assert seen.all()
    assert blocked == 3
    assert raster.score(np.array([1.0, 0.0, 0.0])).fill_mm3 > 1e4


def test_window_agrees_with_the_whole() -> None:
    """A window around everything holds the same volume and fill, and one beside the object holds nothing."""
    mesh = solids.torus(30.0, 10.0)
    raster = DepthRaster(mesh, 256)
    whole = raster.columns(AXIS)
    middle = (mesh.bounds_mm.mean(axis=0) @ axis_frame(AXIS).T)[:2]
    window = raster.window(AXIS, (float(middle[0]), float(middle[1])), 100.0, 0.25).score
    assert window.volume_mm3 == pytest.approx(whole.score.volume_mm3, rel=2e-3)
    assert window.fill_mm3 == pytest.approx(whole.score.fill_mm3, rel=0.05, abs=0.5)
    assert raster.window(AXIS, (500.0, 0.0), 20.0, 0.25).score.crossings == 0


def test_window_crosses_what_the_whole_mesh_would() -> None:
    """A small window anywhere in the plan holds every crossing that the whole mesh has there."""
    mesh = solids.lumpy_sphere(2000)
    raster = DepthRaster(mesh, 64)
    rotation = axis_frame(AXIS)
    plan = mesh.vertices_mm @ rotation.T
    everywhere = np.arange(len(mesh.faces), dtype=np.int32), np.arange(len(plan), dtype=np.int32)
    for centre in plan[::97, :2]:
        look = raster.window(AXIS, (float(centre[0]), float(centre[1])), 9.0, 0.5)
        again = raster._kept(look.grid, plan.min(axis=0), plan.max(axis=0), everywhere)
        assert look.score.crossings == again.score.crossings > 0
        assert np.array_equal(look.side, again.side)
        assert np.array_equal(look.z_mm, again.z_mm)


def test_fields_are_the_lowest_and_highest_crossings() -> None:
    """The top and bottom of a box along z are its faces, and nan outside it."""
    columns = DepthRaster(solids.box(30.0, 20.0, 12.0), 64).columns(np.array([0.0, 0.0, 1.0]))
    covered = columns.covered
    assert np.allclose(columns.top_mm[covered], 6.0)
    assert np.allclose(columns.bottom_mm[covered], -6.0)
    assert np.isnan(columns.top_mm[~covered]).all()
    assert (~covered).any()


def test_room_grows_for_meshes_with_many_layers() -> None:
    """A comb of forty plates is crossed more often than the first guess allows and still adds up."""
    plates = [
        solids.box(30.0, 30.0, 1.0).moved(np.eye(3), np.array([0, 0, 2.0 * k]), frame="object")
        for k in range(40)
    ]
    vertices = np.vstack([p.vertices_mm for p in plates])
    faces = np.vstack([p.faces + 8 * k for k, p in enumerate(plates)])
    score = DepthRaster(Mesh.make(vertices, faces, frame="object"), 64).score(np.array([0.0, 0.0, 1.0]))
    assert score.volume_mm3 == pytest.approx(40.0 * score.silhouette_mm2)
    assert score.fill_mm3 == pytest.approx(39.0 * score.silhouette_mm2)


def test_inside_out_mesh_encloses_nothing() -> None:
    """A mesh turned inside out has no volume in its columns, and touching boxes have no gap between them."""
    ball = solids.sphere(20.0)
    turned = Mesh.make(ball.vertices_mm, ball.faces[:, ::-1], frame="object")
    assert DepthRaster(turned, 64).score(AXIS).volume_mm3 == 0.0
    box = solids.box(20.0, 20.0, 10.0)
    for order in (0, 1):
        raised = np.array([0.0, 0.0, 10.0])
        vertices = np.vstack([box.vertices_mm + order * raised, box.vertices_mm + (1 - order) * raised])
        pair = Mesh.make(vertices, np.vstack([box.faces, box.faces + 8]), frame="object")
        score = DepthRaster(pair, 64).score(np.array([0.0, 0.0, 1.0]))
        assert score.gap_columns == 0
        assert score.volume_mm3 == pytest.approx(20.0 * score.silhouette_mm2)


def test_bad_requests_are_refused() -> None:
    """A zero axis, a silly resolution and a window finer than the lattice raise ValueError."""
    mesh = solids.box(10.0, 10.0, 10.0)
    with pytest.raises(ValueError, match="axis"):
        DepthRaster(mesh).score(np.zeros(3))
    with pytest.raises(ValueError, match="resolution"):
        DepthRaster(mesh, 4)
    with pytest.raises(ValueError, match="window"):
        DepthRaster(mesh).window(AXIS, (0.0, 0.0), 1e-3, 1e-8)
