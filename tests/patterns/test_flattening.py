"""Surfaces laid flat: exact where they unroll, near the floor where they cannot."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest

from claybed.geometry.flattening import (
    defects_sr,
    flattened,
    is_disk,
    loops,
    parts,
    slit,
    split_by_plane,
    spread_out,
    stretches,
)
from claybed.geometry.mesh import Floats, Mesh
from claybed.patterns.laying import curvature_sr, face_areas, lay
from claybed.patterns.lining import lining_of, solid_share
from claybed.patterns.merging import joined, merged
from claybed.patterns.piecing import floor_ratio, least_parts, part_lining
from claybed.patterns.wrapping import wrap_of, wrapped
from tests.pieces import solids

Surface = tuple[Floats, np.ndarray]


def where(mesh: Mesh, keep: np.ndarray) -> Surface:
    """Some faces of a mesh as an open surface."""
    used, faces = np.unique(mesh.faces[keep], return_inverse=True)
    return mesh.vertices_mm[used].copy(), faces.reshape(-1, 3).astype(np.int64)


def cap(radius_mm: float, angle_deg: float, *, subdivisions: int = 5) -> Surface:
    """The part of a ball within an angle of its pole."""
    ball = solids.sphere(radius_mm, subdivisions=subdivisions)
    low = radius_mm * math.cos(math.radians(angle_deg)) - 1e-9
    return where(ball, (ball.corners_mm[:, :, 2] >= low).all(axis=1))


def wall(mesh: Mesh) -> Surface:
    """The upright faces of a mesh."""
    return where(mesh, np.ptp(mesh.corners_mm[:, :, 2], axis=1) > 1e-6)


@pytest.mark.parametrize("angle_deg", [20.0, 30.0, 45.0, 60.0])
def test_a_cap_is_flattened_near_the_floor(angle_deg: float) -> None:
    """No map of a cap of angle a has less than log(a / sin a) (Milnor 1969, formula from memory); ours is at
    most 1.4 times that, and never below it."""
    points, faces = cap(60.0, angle_deg)
    laid = flattened(points, faces)
    stretch = stretches(points, faces, laid)
    spread = math.log(stretch[:, 0].max() / stretch[:, 1].min())
    # The cap ends at whole faces, a little short of its angle.
    rim = points[loops(faces)[0]]
    angle = math.radians(np.degrees(np.arccos(rim[:, 2] / 60.0)).min())
    floor = math.log(angle / math.sin(angle))
    assert floor <= spread <= 1.4 * floor + 0.01


def test_the_floor_follows_from_curvature() -> None:
    """A cap of angle a holds 2 pi (1 - cos a) of curvature, and small caps need K / 6 pi."""
    for angle in (0.2, 0.6, 1.2):
        total = 2.0 * math.pi * (1.0 - math.cos(angle))
        assert floor_ratio(total) == pytest.approx(math.log(angle / math.sin(angle)), rel=1e-9)
    assert floor_ratio(0.02) == pytest.approx(0.02 / (6.0 * math.pi), rel=0.01)
    assert floor_ratio(0.0) == 0.0
    # 5 % of stretch: 0.94 sr, a cap of about 31 degrees.
    assert least_parts(0.94, 0.05) == 1 and least_parts(0.95, 0.05) == 2
    assert least_parts(2.0 * math.pi, 0.05) == 7


def test_curvature_adds_up() -> None:
    """Defects inside a closed ball sum to 4 pi (Gauss and Bonnet), and sharing them out keeps the sum."""
    ball = solids.sphere(20.0)
    faces = ball.faces.astype(np.int64)
    defect = defects_sr(ball.vertices_mm, faces)
    assert defect.sum() == pytest.approx(4.0 * math.pi, rel=1e-9)
    assert spread_out(defect, faces, 7).sum() == pytest.approx(4.0 * math.pi, rel=1e-9)
    noisy = defect + np.random.default_rng(3).normal(0.0, 0.05, len(defect))
    assert np.abs(spread_out(noisy, faces, 12)).sum() < 0.5 * np.abs(noisy).sum()


@pytest.mark.parametrize(
    ("low_mm", "high_mm", "height_mm"),
    [(30.0, 30.0, 50.0), (20.0, 40.0, 50.0), (40.0, 15.0, 30.0), (0.0, 25.0, 60.0)],
)
def test_cones_and_cylinders_unroll_exactly(low_mm: float, high_mm: float, height_mm: float) -> None:
    """Slant, arcs and area of the sheet are those of the closed form; area is pi (r + R) s."""
    wrap = wrap_of(low_mm, high_mm, height_mm)
    assert wrap.slant_mm == pytest.approx(math.hypot(height_mm, high_mm - low_mm))
    assert wrap.long_mm == pytest.approx(2.0 * math.pi * max(low_mm, high_mm))
    if low_mm != high_mm:
        assert wrap.outer_mm - wrap.inner_mm == pytest.approx(wrap.slant_mm)
        assert wrap.turn_rad * wrap.outer_mm == pytest.approx(wrap.long_mm)
        assert 0.5 * wrap.turn_rad * (wrap.outer_mm**2 - wrap.inner_mm**2) == pytest.approx(
            math.pi * (low_mm + high_mm) * wrap.slant_mm
        )
    else:
        assert math.isinf(wrap.outer_mm)


@pytest.mark.parametrize("mesh", [solids.cylinder(30.0, 50.0), solids.frustum(20.0, 40.0, 50.0)])
def test_a_round_wall_becomes_one_exact_sheet(mesh: Mesh) -> None:
    """The whole wall of a cup is one sheet without stretch, its joint in a straight line."""
    points, faces = wall(mesh)
    laid = wrapped(points, faces)
    assert laid is not None and laid.spread_ratio == 0.0
    stretch = stretches(laid.points_mm, laid.faces, laid.laid_mm)
    assert stretch == pytest.approx(np.ones_like(stretch), abs=1e-3)
    c = laid.laid_mm[laid.faces]
    twice = (c[:, 1, 0] - c[:, 0, 0]) * (c[:, 2, 1] - c[:, 0, 1])
    twice -= (c[:, 1, 1] - c[:, 0, 1]) * (c[:, 2, 0] - c[:, 0, 0])
    assert (twice > 0.0).all()
    assert [one.copies for one in part_lining((points, faces), 0.05, 12)] == [1]


def test_half_a_round_wall_unrolls_face_by_face() -> None:
    """Half the wall of a cone lies flat with every side at its true length."""
    points, faces = wall(solids.frustum(20.0, 40.0, 50.0))
    cut, new, front = split_by_plane(points, faces, np.zeros(3), np.array([1.0, 0.0, 0.0]))
    half = parts(cut, new[front])[0]
    laid = flattened(*half)
    for k in range(3):
        a, b = half[1][:, k], half[1][:, (k + 1) % 3]
        true = np.linalg.norm(half[0][a] - half[0][b], axis=1)
        assert np.linalg.norm(laid[a] - laid[b], axis=1) == pytest.approx(true, rel=1e-7)


def test_a_cut_keeps_area_and_sides() -> None:
    """Both sides of a plane have the whole area together, and no corner lies on the wrong side."""
    points, faces = cap(50.0, 80.0)
    normal = np.array([1.0, 0.3, 0.1])
    cut, new, front = split_by_plane(points, faces, np.array([3.0, 1.0, 40.0]), normal)
    assert face_areas((cut, new)).sum() == pytest.approx(face_areas((points, faces)).sum(), rel=1e-9)
    side = (cut - np.array([3.0, 1.0, 40.0])) @ (normal / np.linalg.norm(normal))
    assert side[new[front]].min() > -0.151 and side[new[~front]].max() < 0.151
    assert all(is_disk(*part) for half in (front, ~front) for part in parts(cut, new[half]))


def test_a_bowl_becomes_equal_gores() -> None:
    """Half a ball takes as many gores as its curvature asks for, or one more; each is within the stretch."""
    bowl = cap(50.0, 90.0, subdivisions=4)
    (gore,) = part_lining(bowl, 0.05, 12)
    least = least_parts(curvature_sr(*bowl), 0.05)
    assert least <= gore.copies <= least + 1
    assert gore.darts == 0 and gore.spread_ratio <= 0.05
    # The rim of whole faces is ragged, so one gore in eight is not just an eighth.
    area = face_areas((gore.points_mm, gore.faces)).sum() * gore.copies
    assert area == pytest.approx(face_areas(bowl).sum(), rel=0.02)


def test_more_stretch_asks_for_fewer_parts() -> None:
    """An egg-shaped half is cut in fewer parts where clay may stretch more; all of it is kept."""
    points, faces = cap(50.0, 90.0, subdivisions=4)
    points = points * np.array([1.5, 1.0, 0.8])
    counts = []
    for stretch in (0.08, 0.15, 0.3):
        done = part_lining((points, faces), stretch, 30)
        counts.append(len(done))
        area = sum(face_areas((one.points_mm, one.faces)).sum() * one.copies for one in done)
        assert area == pytest.approx(face_areas((points, faces)).sum(), rel=0.01)
        assert max(one.spread_ratio for one in done) < 1.3 * stretch
    assert counts[0] >= counts[1] >= counts[2] and counts[0] > counts[2]


def test_parts_are_joined_along_the_line_that_parted_them() -> None:
    """A sheet cut in three, one cut ending on another: joined again it is one sheet of the same area."""
    points, faces = cap(50.0, 60.0, subdivisions=4)
    cut, new, front = split_by_plane(points, faces, np.zeros(3), np.array([1.0, 0.2, 0.0]))
    (left,), (right,) = parts(cut, new[front]), parts(cut, new[~front])
    cut, new, front = split_by_plane(*left, np.zeros(3), np.array([0.1, 1.0, 0.3]))
    (upper,), (lower,) = parts(cut, new[front]), parts(cut, new[~front])
    assert joined(upper, (right[0] + 50.0, right[1])) is None
    half = joined(upper, right)
    assert half is not None and is_disk(*half)
    whole = joined(half, lower)
    assert whole is not None and is_disk(*whole)
    assert face_areas(whole).sum() == pytest.approx(face_areas((points, faces)).sum(), rel=1e-9)


def test_joining_keeps_to_the_stretch_and_saves_parts() -> None:
    """Quarters of a shallow bowl come together while it lies flat enough, and stay apart when it does not."""
    points, faces = cap(50.0, 40.0, subdivisions=4)
    quarters = [(points, faces)]
    for normal in ([1.0, 0.0, 0.0], [0.0, 1.0, 0.0]):
        cuts = [split_by_plane(*one, np.zeros(3), np.array(normal)) for one in quarters]
        quarters = [
            part for cut, new, front in cuts for side in (front, ~front) for part in parts(cut, new[side])
        ]
    laid = [lay(one) for one in quarters]
    whole = lay((points, faces)).spread_ratio
    (one,) = merged(laid, 1.1 * whole, 10.0)
    assert one.spread_ratio == pytest.approx(whole, rel=0.1)
    apart = merged(laid, 0.7 * whole, 10.0)
    assert len(apart) > 1 and all(part.spread_ratio <= 0.7 * whole for part in apart)
    assert len(merged(laid, 1.1 * whole, 0.0)) == 4


def test_a_dart_takes_stretch_off() -> None:
    """A cap cut open to its pole lies flatter, in one part still."""
    points, faces = cap(50.0, 60.0, subdivisions=4)
    pole = int(np.argmax(points[:, 2]))
    opened = slit(points, faces, pole)
    assert is_disk(*opened) and len(opened[1]) == len(faces) and len(opened[0]) > len(points)
    assert lay(opened).spread_ratio < 0.9 * lay((points, faces)).spread_ratio


def test_what_is_no_disk_is_refused() -> None:
    """A ball and a tube cannot be laid flat as they are."""
    ball = solids.sphere(10.0, subdivisions=2)
    with pytest.raises(ValueError, match="one boundary"):
        flattened(ball.vertices_mm, ball.faces.astype(np.int64))
    with pytest.raises(ValueError, match="one boundary"):
        flattened(*wall(solids.cylinder(10.0, 10.0)))


def test_a_fin_that_no_slab_lines_is_told() -> None:
    """A cavity with a fin 4 mm thick: for a slab of 6 mm the fin's wall is bare but for its root."""
    room = manifold3d.Manifold.cube([60.0, 40.0, 40.0])
    fin = manifold3d.Manifold.cube([60.0, 4.0, 30.0]).translate([0.0, 18.0, 40.0])
    cavity = room + fin
    block = manifold3d.Manifold.cube([80.0, 60.0, 90.0]).translate([-10.0, -10.0, -10.0])
    model, plaster = (solids.from_manifold(one) for one in (cavity, block - cavity))
    shut = np.zeros(len(model.faces), np.uint8)
    linings = lining_of([plaster], model, 6.0)
    share, place = solid_share(model, shut, linings, 6.0)
    bare_mm2 = 2.0 * (60.0 + 4.0) * 30.0 + 60.0 * 4.0
    assert 0.7 * bare_mm2 < share * cavity.surface_area() < bare_mm2
    assert place is not None and place[2] > 60.0
    model, plaster = (solids.from_manifold(one) for one in (room, block - room))
    shut = np.zeros(len(model.faces), np.uint8)
    assert solid_share(model, shut, lining_of([plaster], model, 6.0), 6.0) == (0.0, None)
