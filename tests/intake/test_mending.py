"""Every way a mesh is commonly broken, made on a small stone: what comes out is the solid that was meant."""

from __future__ import annotations

from pathlib import Path

import manifold3d
import numpy as np
import pytest
from intake_shapes import Arrays, box, lumpy, read, together, volume_ml, write_obj, write_stl

from claybed.errors import InputError
from claybed.geometry.mesh import Mesh, Origin
from claybed.intake.remesh import remesh
from claybed.intake.skin import Skin
from claybed.records.measured import MeasuredObject

STONE = lumpy()
STONE_ML = volume_ml(STONE)


def _steps(found: MeasuredObject) -> set[str]:
    return {repair.step for repair in found.repairs}


def _assert_solid(mesh: Mesh) -> None:
    sides = np.sort(np.stack([mesh.faces, np.roll(mesh.faces, -1, axis=1)], axis=2).reshape(-1, 2), axis=1)
    _, count = np.unique(sides, axis=0, return_counts=True)
    assert (count == 2).all()
    solid = manifold3d.Manifold(
        manifold3d.Mesh64(np.array(mesh.vertices_mm), np.array(mesh.faces).astype(np.uint64))
    )
    assert solid.status() == manifold3d.Error.NoError
    assert solid.volume() == pytest.approx(mesh.volume_mm3, rel=1e-9)
    assert mesh.volume_mm3 > 0


def _without(arrays: Arrays, centres: list[int], reach_mm: float) -> Arrays:
    """With all faces near the given points taken out."""
    v, f = arrays
    middle = v[f].mean(axis=1)
    near = np.zeros(len(f), bool)
    for k in centres:
        near |= np.linalg.norm(middle - v[k], axis=1) < reach_mm
    assert near.any()
    return v, f[~near]


def _open_base(arrays: Arrays) -> Arrays:
    v, f = arrays
    flat = (v[f][:, :, 2] <= v[:, 2].min() + 1e-9).all(axis=1)
    assert flat.sum() > 50
    return v, f[~flat]


def _soup(arrays: Arrays, jitter_mm: float = 0.0) -> Arrays:
    v, f = arrays
    corners = v[f].reshape(-1, 3)
    corners = corners + np.random.default_rng(3).uniform(-jitter_mm, jitter_mm, corners.shape)
    return corners, np.arange(len(corners)).reshape(-1, 3)


def _some(count: int, share: float) -> np.ndarray:
    return np.random.default_rng(5).random(count) < share


def test_clean_stone_is_left_alone(tmp_path: Path) -> None:
    """A closed, outward mesh must come through with its own points and faces, no repair and no change."""
    found = read(write_obj(tmp_path / "stone.obj", STONE))
    assert found.repairs == ()
    assert found.mend.volume_change_percent == 0.0
    assert np.array_equal(found.mesh.vertices_mm, STONE[0])
    assert np.array_equal(found.mesh.faces, STONE[1])
    assert found.solid_ml == pytest.approx(STONE_ML, rel=1e-12)


def test_unwelded_soup(tmp_path: Path) -> None:
    """Triangles that share no points must be joined exactly, at no change of volume."""
    found = read(write_obj(tmp_path / "soup.obj", _soup(STONE)))
    _assert_solid(found.mesh)
    assert len(found.mesh.vertices_mm) == len(STONE[0])
    assert found.solid_ml == pytest.approx(STONE_ML, rel=1e-12)


@pytest.mark.parametrize("jitter_mm", [1e-5, 1e-3, 1e-2])
def test_jittered_seams(jitter_mm: float, tmp_path: Path) -> None:
    """Points scattered by up to 0.01 mm must find their partners, and the shift be told."""
    found = read(write_obj(tmp_path / "jitter.obj", _soup(STONE, jitter_mm)))
    _assert_solid(found.mesh)
    assert "weld" in _steps(found) and "remesh" not in _steps(found)
    assert len(found.mesh.vertices_mm) == len(STONE[0])
    assert 0 < found.mend.largest_shift_mm <= jitter_mm * np.sqrt(3) * 2
    assert found.solid_ml == pytest.approx(STONE_ML, rel=3e-3 * jitter_mm / 1e-2 + 1e-9)


@pytest.mark.parametrize("holes", [1, 20])
def test_holes(holes: int, tmp_path: Path) -> None:
    """Holes in a curved surface must be closed, their faces marked, and the volume kept within 1 %."""
    high = np.flatnonzero(STONE[0][:, 2] > 0)
    centres = high[:: max(1, len(high) // holes)][:holes].tolist()
    found = read(write_obj(tmp_path / "holes.obj", _without(STONE, centres, 4.0)))
    _assert_solid(found.mesh)
    assert "fill_hole" in _steps(found)
    assert (found.mesh.origin == Origin.MEND).any()
    assert np.isnan(found.mend.volume_change_percent)
    assert found.solid_ml == pytest.approx(STONE_ML, rel=1e-2)


def test_open_base_gets_a_flat_cap(tmp_path: Path) -> None:
    """A base cut flat must be closed by a flat cap that restores the stone, and the opening be told."""
    found = read(write_obj(tmp_path / "open.obj", _open_base(STONE)))
    _assert_solid(found.mesh)
    assert found.solid_ml == pytest.approx(STONE_ML, rel=1e-9)
    cap = found.mesh.corners_mm[found.mesh.origin == Origin.MEND]
    assert len(cap) and np.ptp(cap[:, :, 2]) < 1e-9
    told = [f for f in found.findings if f.id == "hole_closed"]
    assert len(told) == 1 and told[0].amount is not None
    area_cm2 = (
        float(np.linalg.norm(np.cross(cap[:, 1] - cap[:, 0], cap[:, 2] - cap[:, 0]), axis=1).sum()) / 200
    )
    assert told[0].amount.value == pytest.approx(area_cm2)


def test_duplicate_faces(tmp_path: Path) -> None:
    """One face in a hundred there twice must leave the same solid."""
    again = STONE[1][_some(len(STONE[1]), 0.01)]
    found = read(write_obj(tmp_path / "twice.obj", (STONE[0], np.concatenate([STONE[1], again]))))
    _assert_solid(found.mesh)
    assert found.solid_ml == pytest.approx(STONE_ML, rel=1e-12)
    assert next(r for r in found.repairs if r.step == "drop_duplicate").count == len(again)


def test_flipped_faces(tmp_path: Path) -> None:
    """One face in fifty turned over must be turned back, and counted."""
    flip = _some(len(STONE[1]), 0.02)
    faces = np.where(flip[:, None], STONE[1][:, ::-1], STONE[1])
    found = read(write_obj(tmp_path / "flips.obj", (STONE[0], faces)))
    _assert_solid(found.mesh)
    assert found.solid_ml == pytest.approx(STONE_ML, rel=1e-12)
    assert next(r for r in found.repairs if r.step == "orient").count == int(flip.sum())


def test_all_flipped(tmp_path: Path) -> None:
    """A mesh inside out must come out positive."""
    found = read(write_obj(tmp_path / "inside_out.obj", (STONE[0], STONE[1][:, ::-1])))
    _assert_solid(found.mesh)
    assert _steps(found) == {"flip_all"}
    assert found.solid_ml == pytest.approx(STONE_ML, rel=1e-12)
    assert found.mend.volume_change_percent == pytest.approx(0.0, abs=0.2)


@pytest.mark.parametrize("reversed_inside", [False, True])
def test_inner_shell_is_dropped(reversed_inside: bool, tmp_path: Path) -> None:
    """A shell inside the outer one displaces no plaster, whichever way it looks: only the outer one stays."""
    inner = (STONE[0] * 0.6, STONE[1][:, ::-1] if reversed_inside else STONE[1])
    found = read(write_obj(tmp_path / "nested.obj", together(STONE, inner)))
    _assert_solid(found.mesh)
    assert "keep_outer" in _steps(found)
    assert found.solid_ml == pytest.approx(STONE_ML, rel=1e-12)


def test_overlapping_bodies_are_united(tmp_path: Path) -> None:
    """Two boxes that run into each other must count their common space once."""
    found = read(write_obj(tmp_path / "two.obj", together(box((40, 40, 40)), box((40, 40, 40), (20, 10, 5)))))
    _assert_solid(found.mesh)
    assert found.solid_ml == pytest.approx(2 * 64.0 - 0.001 * 20 * 30 * 35, rel=1e-9)
    united = next(r for r in found.repairs if r.step == "unite")
    assert united.amount == pytest.approx(20 * 30 * 35, rel=1e-9)


def test_bodies_that_share_a_corner_are_united_as_well(tmp_path: Path) -> None:
    """A rod that hangs on a block by one common corner and runs into it must not be left standing in it when
    a third body makes them one object; the kernel's own union of the three says what is left.
    """
    turn, tilt = np.radians(20.0), np.radians(15.0)
    about = np.array([[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1]])
    up = np.array([[np.cos(tilt), 0, np.sin(tilt)], [0, 1, 0], [-np.sin(tilt), 0, np.cos(tilt)]])
    block, rod = box((40, 40, 40)), box((60, 10, 10))
    three = (block, (rod[0] @ (about @ up).T, rod[1]), box((10, 60, 10.5), (5, -20, 12.3)))
    found = read(write_obj(tmp_path / "hung.obj", together(*three)))
    _assert_solid(found.mesh)
    whole = manifold3d.Manifold()
    for v, f in three:
        whole += manifold3d.Manifold(manifold3d.Mesh64(np.array(v, np.float64), f.astype(np.uint64)))
    assert found.solid_ml == pytest.approx(whole.volume() / 1000.0, rel=1e-6)
    assert whole.volume() < sum(volume_ml(one) for one in three) * 1000.0 - 500.0


def test_crossing_rods_share_no_point_inside_each_other(tmp_path: Path) -> None:
    """Bodies that cross without a corner of one inside the other must be united as well."""
    rods = together(box((100, 10, 10), (0, 45, 0)), box((10, 100, 10.5), (45, 0, 0.25)))
    found = read(write_obj(tmp_path / "rods.obj", rods))
    _assert_solid(found.mesh)
    assert found.solid_ml == pytest.approx((10_000 + 10_500 - 100 * 9.75) / 1000, rel=1e-9)


def test_spikes_through_the_surface(tmp_path: Path) -> None:
    """A few points pushed through the other side must still end as a solid of about the same volume."""
    v = STONE[0].copy()
    for k in (10, 700, 1500):
        v[k] = -1.02 * v[k]
    found = read(write_obj(tmp_path / "spikes.obj", (v, STONE[1])))
    _assert_solid(found.mesh)
    assert found.solid_ml == pytest.approx(STONE_ML, rel=2e-2)


def test_stray_triangles(tmp_path: Path) -> None:
    """A triangle beside the stone and a fin on it must go, the stone stay exact."""
    v, f = STONE
    points = np.array([[80.0, 0, 0], [81, 0, 0], [80, 1, 0], v[f[100, 0]] * 1.05])
    n = len(v)
    faces = np.concatenate([f, [[n, n + 1, n + 2], [f[100, 0], f[100, 1], n + 3]]])
    found = read(write_obj(tmp_path / "stray.obj", (np.concatenate([v, points]), faces)))
    _assert_solid(found.mesh)
    assert "drop_scrap" in _steps(found)
    assert found.solid_ml == pytest.approx(STONE_ML, rel=1e-12)


def test_all_of_it_at_once(tmp_path: Path) -> None:
    """Holes, flips, duplicates and an inner shell together must still give the outer solid."""
    v, f = _without(STONE, [200, 900, 2200], 4.0)
    f = np.where(_some(len(f), 0.02)[:, None], f[:, ::-1], f)
    f = np.concatenate([f, f[_some(len(f), 0.01)]])
    found = read(write_obj(tmp_path / "all.obj", together((v, f), (STONE[0] * 0.6, STONE[1]))))
    _assert_solid(found.mesh)
    assert found.solid_ml == pytest.approx(STONE_ML, rel=1e-2)


def test_torn_surface(tmp_path: Path) -> None:
    """With a third of the faces gone at random the stone must still come out whole within 5 %."""
    v, f = STONE
    found = read(write_obj(tmp_path / "torn.obj", (v, f[~_some(len(f), 0.35)])))
    _assert_solid(found.mesh)
    assert found.solid_ml == pytest.approx(STONE_ML, rel=5e-2)


def test_self_overlap_is_redrawn(tmp_path: Path) -> None:
    """One surface that runs through itself must be redrawn so that no space counts twice."""
    # A closed band along a path that comes back through its own beginning.
    angles = np.linspace(0, 2.4 * np.pi, 121)
    radius = 10.0
    ring = np.arange(24) * 2 * np.pi / 24
    path = np.stack([50 * np.cos(angles), 50 * np.sin(angles), 1.5 * angles], axis=1)
    out = np.stack([np.cos(angles), np.sin(angles), 0 * angles], axis=1)
    v = (
        path[:, None]
        + radius
        * (np.cos(ring)[None, :, None] * out[:, None] + np.sin(ring)[None, :, None] * np.array([0, 0, 1.0]))
    ).reshape(-1, 3)
    faces = []
    for i in range(120):
        for k in range(24):
            a, b, n = i * 24 + k, (i + 1) * 24 + k, (k + 1) % 24
            faces += [[a, b, (i + 1) * 24 + n], [a, (i + 1) * 24 + n, i * 24 + n]]
    first, last = len(v), len(v) + 1
    faces += [[first, k, (k + 1) % 24] for k in range(24)]
    faces += [[last, 120 * 24 + (k + 1) % 24, 120 * 24 + k] for k in range(24)]
    v = np.concatenate([v, path[:1], path[-1:]])
    coil = (v, np.array(faces))
    if volume_ml(coil) < 0:
        coil = (v, coil[1][:, ::-1])
    found = read(write_obj(tmp_path / "coil.obj", coil))
    _assert_solid(found.mesh)
    assert "remesh" in _steps(found)
    assert found.solid_ml < 0.95 * volume_ml(coil)
    assert abs(found.mend.volume_change_percent) < 2.0
    assert 0 < found.mend.largest_shift_mm < 2.0
    assert any(finding.id == "surface_redrawn" for finding in found.findings)


def test_separate_bodies_ask(tmp_path: Path) -> None:
    """Bodies side by side must be asked about, and --body must pick by size, largest first."""
    path = write_obj(tmp_path / "pair.obj", together(box((20, 20, 20)), box((40, 40, 40), (60, 0, 0))))
    with pytest.raises(InputError, match=r"2 separate bodies.*--body 1 to 2"):
        read(path)
    assert read(path, body=1).solid_ml == pytest.approx(64.0)
    assert read(path, body=2).solid_ml == pytest.approx(8.0)
    with pytest.raises(InputError, match="no body 3"):
        read(path, body=3)


def test_ring_shaped_cap(tmp_path: Path) -> None:
    """A pipe open at both ends, wall and all, must be closed by rings, not by lids over its bore."""
    angles = np.arange(48) * 2 * np.pi / 48
    rings = [
        np.stack([r * np.cos(angles), r * np.sin(angles), np.full(48, z)], axis=1)
        for r, z in ((30, 0), (30, 50), (24, 50), (24, 0))
    ]
    v = np.concatenate(rings)
    k, n = np.arange(48), (np.arange(48) + 1) % 48
    wall = [np.stack([k, n, n + 48], axis=1), np.stack([k, n + 48, k + 48], axis=1)]
    bore = [f + 96 for f in wall]
    found = read(write_obj(tmp_path / "pipe.obj", (v, np.concatenate(wall + bore))))
    _assert_solid(found.mesh)
    area = 0.5 * 48 * np.sin(2 * np.pi / 48)
    assert found.solid_ml == pytest.approx(area * (30**2 - 24**2) * 50 / 1000, rel=1e-9)


def test_flat_sheet_is_refused(tmp_path: Path) -> None:
    """A surface that encloses nothing must be refused in one sentence."""
    v = np.array([[0.0, 0, 0], [50, 0, 0], [50, 50, 0], [0, 50, 0], [25, 25, 0]])
    f = np.array([[0, 1, 4], [1, 2, 4], [2, 3, 4], [3, 0, 4]])
    with pytest.raises(InputError, match="closed solid"):
        read(write_obj(tmp_path / "sheet.obj", (v, f)))


def test_crumbs_are_dropped_and_told(tmp_path: Path) -> None:
    """Crumbs beside the object must go with a finding, not count as bodies."""
    found = read(write_stl(tmp_path / "crumb.stl", together(box((40, 40, 40)), box((2, 2, 2), (60, 0, 0)))))
    assert found.solid_ml == pytest.approx(64.0)
    assert [f.id for f in found.findings] == ["scrap_dropped"]


def test_blocks_that_share_an_edge_are_parted(tmp_path: Path) -> None:
    """Two blocks drawn with one common edge must come in exactly, not be redrawn."""
    v, f = together(box((30, 30, 30)), box((30, 30, 30), (30, 30, 0)))
    v, inverse = np.unique(v, axis=0, return_inverse=True)
    path = write_obj(tmp_path / "edge.obj", (v, inverse.reshape(-1)[f]))
    found = read(path)
    _assert_solid(found.mesh)
    assert "remesh" not in _steps(found) and "part_edges" in _steps(found)
    assert found.solid_ml == pytest.approx(54.0)


def test_redrawn_surface_keeps_to_the_old_one(tmp_path: Path) -> None:
    """Drawn anew, a stone with a hole must close it smoothly and stay within a cell of the rest."""
    v, f = _without(STONE, [int(STONE[0][:, 0].argmax())], 12.0)
    drawn = remesh(Skin.of(v, f))
    assert drawn is not None
    skin, repair, shift_mm = drawn
    _assert_solid(skin.mesh())
    assert skin.mesh().volume_mm3 / 1000 == pytest.approx(STONE_ML, rel=5e-3)
    assert repair.amount == pytest.approx(np.ptp(v, axis=0).max() / 160, rel=0.2)
    assert shift_mm < repair.amount / 2
    patch = skin.vertices[skin.faces[skin.origin == Origin.MEND]].reshape(-1, 3)
    assert len(patch)
    assert np.linalg.norm(patch - STONE[0][STONE[0][:, 0].argmax()], axis=1).max() < 16.0


def test_winding_around_nothing_is_not_drawn() -> None:
    """A flat sheet winds around nothing, so there is no surface to draw."""
    v = np.array([[0.0, 0, 0], [50, 0, 0], [50, 50, 0], [0, 50, 0]])
    assert remesh(Skin.of(v, np.array([[0, 1, 2], [0, 2, 3]]))) is None


def test_want_of_memory_is_an_input_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Running out of memory must end in one sentence like any other unusable input."""

    def starved(*_: object) -> None:
        raise MemoryError

    monkeypatch.setattr("claybed.intake.reading.mend", starved)
    with pytest.raises(InputError, match="more memory"):
        read(write_obj(tmp_path / "stone.obj", STONE))
