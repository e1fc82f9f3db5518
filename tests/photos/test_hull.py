"""Hulls of outlines: bounds known in closed form, and pictures that contradict the others."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
import trimesh

from claybed.actions.photographing import run_photos
from claybed.errors import CannotError, InputError
from claybed.geometry import outline_hull
from claybed.geometry.mesh import Mesh
from claybed.geometry.outline_hull import MOST_VIEWS, Views
from claybed.photos.camera import Camera, Lens
from claybed.photos.hull import carve_hull, section_excess, views_of, wrong_pictures
from claybed.photos.outline import Outline
from tests.photos.rendering import looking_at
from tests.photos.test_profile import at_foot, outline_of_mesh
from tests.pieces import solids

REACH = (90.0, 90.0)
FAR_MM = 60_000.0


def ring_of(
    mesh: trimesh.Trimesh, directions: list[tuple[float, float]], away_mm: float = 500.0
) -> list[Outline]:
    """Exact outlines of a mesh from (azimuth, elevation) in degrees, aimed at its middle."""
    middle = tuple(float(v) for v in mesh.bounds.mean(axis=0))
    lens = Lens(4.4 * away_mm, 399.5, 399.5)
    cameras = [looking_at(lens, a, e, away_mm, middle) for a, e in directions]  # type: ignore[arg-type]
    return [outline_of_mesh(mesh, camera, (800, 800)) for camera in cameras]


def hull_volume(outlines: list[Outline], steps: int = 150) -> float:
    """Volume of the hull in mm³."""
    return carve_hull(views_of(outlines), [o.camera for o in outlines], REACH, steps=steps).mesh.volume_mm3


# Area excess of k views spread over a half turn about a circle, percent: (2k/pi) tan(pi/2k) - 1, derived.
EXCESS = {2: 27.3, 3: 10.3, 4: 5.5, 6: 2.4, 8: 1.3, 12: 0.6}


@pytest.mark.parametrize("k", EXCESS)
def test_excess_is_that_of_the_polygon_of_tangents(k: int) -> None:
    """The formula gives the known table, and seeing the far side again adds nothing."""
    half_turn = [np.pi * i / k for i in range(k)]
    assert 100.0 * section_excess(half_turn)[0] == pytest.approx(EXCESS[k], abs=0.06)
    assert section_excess(half_turn)[1] == pytest.approx(180.0 / k)
    there_and_back = [*half_turn, *(a + np.pi for a in half_turn)]
    assert section_excess(there_and_back)[0] == pytest.approx(section_excess(half_turn)[0])


def test_one_view_bounds_nothing() -> None:
    """A single direction leaves a section open to both sides."""
    assert section_excess([0.3])[0] == float("inf")


@pytest.mark.parametrize("k", EXCESS)
def test_carved_cylinder_has_the_excess_of_its_views(k: int) -> None:
    """A cylinder carved by k far and level views is larger by the polygon's excess, within 0.7 % of it."""
    mesh = at_foot(solids.cylinder(40.0, 60.0, sides=720))
    outlines = ring_of(mesh, [(180.0 * i / k + 7.0, 0.0) for i in range(k)], FAR_MM)
    ratio = hull_volume(outlines) / (np.pi * 40.0**2 * 60.0)
    assert 100.0 * (ratio - 1.0) == pytest.approx(EXCESS[k], abs=0.7)


def test_steinmetz_solids_come_out_of_two_and_three_views() -> None:
    """A ball seen from two square directions leaves 16/3 r³, from three 8 (2 - sqrt 2) r³ (closed forms)."""
    mesh = at_foot(solids.sphere(40.0, subdivisions=5))
    two = ring_of(mesh, [(0.0, 0.0), (90.0, 0.0)], FAR_MM)
    above = ring_of(mesh, [(0.0, 89.99)], FAR_MM)
    assert hull_volume(two) == pytest.approx(16.0 / 3.0 * 40.0**3, rel=0.008)
    assert hull_volume([*two, *above]) == pytest.approx(8.0 * (2.0 - np.sqrt(2.0)) * 40.0**3, rel=0.008)


def test_hull_holds_the_object_and_is_closed() -> None:
    """No point of the object lies outside its hull by more than the grid, which is one closed solid."""
    mesh = trimesh.load("tests/pieces/files/mug_handle.stl", force="mesh")
    mesh.vertices -= [15.0, 0.0, mesh.bounds[0, 2]]
    outlines = ring_of(mesh, [(24.0 * i, 18.0 + 14.0 * (i % 3)) for i in range(15)])
    hull = carve_hull(views_of(outlines), [o.camera for o in outlines], REACH)
    solid = trimesh.Trimesh(hull.mesh.vertices_mm, hull.mesh.faces, process=False)
    assert solid.is_watertight
    assert solid.is_winding_consistent
    assert solid.body_count == 1
    assert solid.euler_number == 0  # the handle's hole is seen through
    own = Mesh.make(mesh.vertices, mesh.faces, frame="object")
    outside = (solids.to_manifold(own) - solids.to_manifold(hull.mesh)).volume()
    assert outside < 0.1 * hull.spacing_mm * own.area_mm2
    assert outside < 0.01 * own.volume_mm3


def test_more_views_never_add() -> None:
    """Each further view takes away or leaves as it is."""
    mesh = at_foot(solids.box(50.0, 30.0, 40.0))
    outlines = ring_of(mesh, [(40.0 * i, 22.0) for i in range(9)])
    volumes = [hull_volume(outlines[:k], 90) for k in (3, 5, 7, 9)]
    assert all(a >= b * 0.998 for a, b in pairwise(volumes))
    assert volumes[-1] > 50.0 * 30.0 * 40.0 * 0.995


def test_flat_top_seen_from_above_is_named() -> None:
    """Cameras above a flat top leave a cone of p tan(e) on it; a measured height cuts it away."""
    mesh = at_foot(solids.cylinder(30.0, 60.0, sides=360))
    outlines = ring_of(mesh, [(40.0 * i, 30.0) for i in range(9)])
    cameras = [o.camera for o in outlines]
    hull = carve_hull(views_of(outlines), cameras, REACH)
    assert hull.mesh.bounds_mm[1, 2] - 60.0 == pytest.approx(hull.top_slack_mm, rel=0.15)
    assert hull.top_slack_mm > 10.0
    cut = carve_hull(views_of(outlines), cameras, REACH, height_mm=60.0)
    assert cut.mesh.bounds_mm[1, 2] == pytest.approx(60.0, abs=0.05)
    assert cut.top_slack_mm == 0.0
    assert cut.mesh.volume_mm3 == pytest.approx(
        np.pi * 30.0**2 * 60.0 * (1 + section_excess([c.azimuth_rad for c in cameras])[0]), rel=0.01
    )


def clean_ring() -> list[Outline]:
    """Outlines of a lumpy thing from all round, one of them low."""
    mesh = at_foot(solids.frustum(34.0, 22.0, 70.0, sides=256))
    return ring_of(mesh, [(36.0 * i, 5.0 if i == 3 else 28.0) for i in range(10)])


def shifted(outline: Outline, x_px: int, y_px: int) -> Outline:
    """The outline of an object that was moved."""
    return Outline(np.roll(outline.inside, (y_px, x_px), axis=(0, 1)), outline.camera, 0.0, False)


def test_true_outlines_are_not_blamed() -> None:
    """A low view that alone cuts the top is no contradiction."""
    outlines = clean_ring()
    assert wrong_pictures(views_of(outlines), outlines, REACH) == []


def test_an_outline_of_a_moved_object_is_found() -> None:
    """Moving the object between pictures is found, once or twice, and only there."""
    outlines = clean_ring()
    outlines[5] = shifted(outlines[5], 60, 0)
    assert [k for k, _ in wrong_pictures(views_of(outlines), outlines, REACH)] == [5]
    outlines[1] = shifted(outlines[1], -70, 10)
    assert sorted(k for k, _ in wrong_pictures(views_of(outlines), outlines, REACH)) == [1, 5]


def test_an_outline_cut_short_and_one_too_large_are_found() -> None:
    """An outline that lost half the object, and one that took in a hand, are told apart."""
    outlines = clean_ring()
    half = outlines[7].inside.copy()
    rows = np.nonzero(half.any(axis=1))[0]
    half[: int(rows.mean())] = 0.0
    outlines[7] = Outline(half, outlines[7].camera, 0.0, False)
    large = outlines[2].inside.copy()
    large[300:520, 150:400] = 1.0
    outlines[2] = Outline(large, outlines[2].camera, 0.0, False)
    found = dict(wrong_pictures(views_of(outlines), outlines, REACH))
    assert sorted(found) == [2, 7]
    assert "sees past" in found[7]
    assert "more than the others" in found[2]


def test_outlines_that_leave_nothing_are_refused() -> None:
    """Outlines with nothing in common say so."""
    outlines = clean_ring()[:6]
    apart = [shifted(o, 150 if k % 2 else -150, 0) for k, o in enumerate(outlines)]
    with pytest.raises(CannotError, match="leave nothing"):
        carve_hull(views_of(apart), [o.camera for o in apart], REACH)


def test_views_are_counted() -> None:
    """No view and more views than there are bits are refused."""
    one = np.zeros((4, 4), np.float32)
    for count in (0, MOST_VIEWS + 1):
        with pytest.raises(ValueError, match="views"):
            Views.of([one] * count, [np.eye(3, 4)] * count, [1.0] * count)


def test_camera_parts_see_the_same() -> None:
    """The camera of a part of a picture sends points to the same pixels, counted from the part's corner."""
    camera = Camera(Lens(900.0, 399.5, 299.5), np.eye(3), np.array([0.0, 0.0, 500.0]))
    points = np.array([[10.0, 20.0, 0.0], [-30.0, 5.0, 40.0]])
    assert np.allclose(camera.cut(100, 50).project(points) + np.array([100, 50]), camera.project(points))


def test_the_first_hull_says_that_it_compiles(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """With no kernels kept, compiling is told before the pictures are read; with some, it is not."""
    told: list[str] = []
    where = [(str(tmp_path), "outline_hull._least*.nbi")]
    monkeypatch.setattr(outline_hull, "carving_cache", lambda: where[0])
    compiled: list[bool] = []
    monkeypatch.setattr(outline_hull, "compile_carving", lambda: compiled.append(True))
    asked = {"paths": [], "name": "", "bar_mm": None, "marker_mm": None, "height_mm": None, "mass_g": None}
    for _ in range(2):
        with pytest.raises(InputError, match="8 to 36"):
            run_photos(asked, lambda phase, done: told.append(phase))
        (tmp_path / "outline_hull._least-1.py311.nbi").touch()
    assert told == ["compiling", "compiling"]
    assert compiled == [True]


def test_compiling_leaves_every_kernel_ready() -> None:
    """Afterwards each kernel has a compiled form, and the named cache file is the one of the last."""
    outline_hull.compile_carving()
    for kernel in (outline_hull._carve, outline_hull._dissent, outline_hull._least):
        assert kernel.signatures
    folder, pattern = outline_hull.carving_cache()
    assert any(Path(folder).glob(pattern))
