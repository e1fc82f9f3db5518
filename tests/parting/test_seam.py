"""The seam: level where it may be, kept out where asked, and squarely met by the parting surface."""

from __future__ import annotations

import math
from dataclasses import replace

import manifold3d
import numpy as np
import pytest
import trimesh

from claybed.flow.keeping_out import length_inside_mm
from claybed.flow.noticing import corner_findings
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, to_lattice
from claybed.geometry.mesh import Mesh
from claybed.geometry.outside import closed_loops
from claybed.geometry.sheet import rim_edges
from claybed.geometry.sheets import envelope
from claybed.mold.block import lay_out
from claybed.parting.seam import choose_heights
from claybed.parting.surface import part
from claybed.proof.seam_edges import seam_angle, seam_in_corner
from claybed.records.brief import KeepOutSpot
from claybed.records.gated import GatePlan
from claybed.records.parted import BarredBall, Parting
from tests.mold.molds import BARE, UP, Vector, mold, sheets_of
from tests.pieces import solids

NO_GATE = GatePlan("none", (0.0, 0.0, 0.0), float("nan"), False, "asked for none")


def parted(obj: Mesh, pull: Vector = UP, **asked: object) -> Parting:
    """A parted object in a square block."""
    layout = lay_out(obj, pull, NO_GATE, replace(BARE, shape="boxed", wall_mm=30.0), pieces=2)
    found = envelope(to_lattice(obj, layout.rotation, layout.shift_mm), layout.footprint)
    return part(found, layout, spacing_mm=4.0, square_mm=10.0, **asked)  # type: ignore[arg-type]


def test_a_round_wall_is_parted_at_its_rim() -> None:
    """On a cylinder's wall the seam is level, flat, at the top edge, and as long as the rim's polygon."""
    cut = parted(solids.cylinder(22.0, 50.0, sides=48))
    assert cut.flat
    assert cut.off_plane_mm == 0.0
    assert np.unique(cut.seam_z).tolist() == [25 * Z_PER_MM]
    assert cut.seam_length_mm == pytest.approx(48 * 2.0 * 22.0 * math.sin(math.pi / 48), abs=0.01)


def prism(corners_mm: list[tuple[float, float]], low_mm: float, high_mm: float) -> manifold3d.Manifold:
    """An upright prism over a plan outline, between two heights."""
    outline = manifold3d.CrossSection([corners_mm])
    return manifold3d.Manifold.extrude(outline, high_mm - low_mm).translate((0.0, 0.0, low_mm))


def sector(from_deg: float, to_deg: float, low_mm: float, high_mm: float) -> manifold3d.Manifold:
    """A slice of a disk of 30 mm about the origin, between two heights."""
    turn = np.radians(np.linspace(from_deg, to_deg, max(2, round((to_deg - from_deg) / 15.0) + 1)))
    rim = [(30.0 * math.cos(t), 30.0 * math.sin(t)) for t in turn.tolist()]
    return prism([(0.0, 0.0), *rim], low_mm, high_mm)


def grooved_post(*, apex_mm: float) -> Mesh:
    """A bar with a groove down its front, its left end 10 mm tall from below and its right from 20 mm up, so
    that its seam has to climb on upright walls that are free between; without a groove for an apex of 0.
    """
    front = [(-6.0, -15.0), (-2.0, -15.0), (0.0, -15.0 + apex_mm), (2.0, -15.0), (6.0, -15.0)]
    middle = prism([*front, (6.0, 15.0), (-6.0, 15.0)], 0.0, 40.0)
    left = prism([(-30.0, -15.0), (-6.0, -15.0), (-6.0, 15.0), (-30.0, 15.0)], 0.0, 10.0)
    right = prism([(6.0, -15.0), (30.0, -15.0), (30.0, 15.0), (6.0, 15.0)], 20.0, 40.0)
    return solids.from_manifold(middle + left + right)


def test_a_seam_that_climbs_crosses_an_inner_corner_square() -> None:
    """In the groove the seam is level: it does its climbing on the walls on either side; so it does not run
    along the corner, and what plaster it leaves is nowhere sharp.
    """
    made = mold(grooved_post(apex_mm=5.0), UP).assembly
    seam = (np.concatenate(made.seam_loops) - made.shift_mm) @ made.to_block
    groove = seam[(np.abs(seam[:, 0]) < 2.1) & (seam[:, 1] < 0.0)]
    assert len(np.unique(groove[:, 0].round(3))) == 3
    assert np.ptp(groove[:, 2]) == 0.0
    assert {seam[:, 2].min(), seam[:, 2].max()} == {10.0, 20.0}
    angle = seam_angle(made)
    assert angle is not None
    assert angle.measured > 80.0
    assert seam_in_corner(made) is None
    assert corner_findings(made) == ()


def test_an_inner_corner_that_every_seam_must_cross_is_told() -> None:
    """Three slices of a disk meet in an upright line: the two that end beside the seam share no height, and
    the third fills 210 degrees between them, so that any seam runs 10 mm along an inner corner there. The
    plaster has the other 150 degrees, and its two pieces half each.
    """
    slices = sector(0.0, 30.0, 0.0, 10.0) + sector(30.0, 240.0, 0.0, 30.0) + sector(240.0, 270.0, 20.0, 30.0)
    made = mold(solids.from_manifold(slices), UP).assembly
    corner = seam_in_corner(made)
    assert corner is not None
    assert corner.length_mm == pytest.approx(10.0, abs=0.01)
    assert corner.object_deg == pytest.approx(210.0, abs=0.1)
    assert corner.plaster_deg == pytest.approx(75.0, abs=0.1)
    angle = seam_angle(made)
    assert angle is not None
    assert angle.measured == corner.plaster_deg
    (found,) = corner_findings(made)
    assert found.id == "edge_acute"
    assert "10 mm along an inner corner of 210 degrees" in found.says
    assert "every seam along this pull" in found.says
    assert found.amount is not None
    assert found.amount.value == corner.plaster_deg


def test_an_l_shaped_bar_is_parted_off_its_inner_corner() -> None:
    """Pulled along its length the corner stands upright and is crossed level, in one plane; pulled along one
    leg the seam keeps to the outer edges.
    """
    corners = [(0.0, 0.0), (30.0, 0.0), (30.0, 10.0), (10.0, 10.0), (10.0, 40.0), (0.0, 40.0)]
    bar = solids.from_manifold(prism(corners, 0.0, 50.0))
    for pull in (UP, (1.0, 0.0, 0.0)):
        made = mold(bar, pull).assembly
        assert made.seam_flat
        assert seam_in_corner(made) is None


def test_a_seam_keeps_to_the_sharper_rim() -> None:
    """A dome that meets its wall without a bend hides no seam; the wall's foot does, and is as level."""
    turn = np.linspace(0.0, np.pi / 2.0, 24)
    dome = np.stack([20.0 * np.cos(turn), 30.0 + 20.0 * np.sin(turn)], axis=1)
    profile = np.concatenate([[[0.0, 0.0], [20.0, 0.0]], dome])
    _, _, found = sheets_of(solids.revolved(profile, sides=48))
    standing = choose_heights(found.top, found.bottom, rim_edges(found.top))
    assert np.unique(standing.heights / Z_PER_MM).tolist() == [-25.0]
    _, _, found = sheets_of(solids.revolved(profile, sides=48), (0.0, 0.0, -1.0))
    hung = choose_heights(found.top, found.bottom, rim_edges(found.top))
    assert np.unique(hung.heights / Z_PER_MM).tolist() == [25.0]


def test_a_seam_keeps_out_of_where_it_may_not_run() -> None:
    """Forbidden the upper half of a wall, it runs level below; forbidden the foot too, between the two."""
    obj = solids.cylinder(22.0, 50.0, sides=48)
    _, _, found = sheets_of(obj)
    rim = rim_edges(found.top)
    low = choose_heights(found.top, found.bottom, rim, freedom=[(0.0, 30.0)]).heights / Z_PER_MM
    assert low.max() < 0.0
    both = choose_heights(found.top, found.bottom, rim, freedom=[(5.0, 30.0), (-30.0, -5.0)])
    assert np.abs(both.heights / Z_PER_MM).max() < 5.0
    assert len(np.unique(both.heights)) == 1


def test_a_seam_keeps_off_a_painted_spot() -> None:
    """A ball painted on the rim of a wall, between two corners, pushes the seam below it there."""
    obj = solids.cylinder(22.0, 50.0, sides=16)
    _, _, found = sheets_of(obj)
    rim = rim_edges(found.top)
    free = choose_heights(found.top, found.bottom, rim)
    angle = math.pi / 16.0
    ball = BarredBall((22.0 * math.cos(angle), 22.0 * math.sin(angle), 23.0), 3.0)
    kept = choose_heights(found.top, found.bottom, rim, freedom=[ball])
    plan = found.top.plan[rim] / XY_PER_MM
    was, runs = (np.concatenate([plan, s.edge_heights[:, :, None] / Z_PER_MM], axis=2) for s in (free, kept))
    spot = KeepOutSpot(ball.centre_mm, ball.radius_mm)
    assert length_inside_mm(was, [spot]) > 3.0
    assert length_inside_mm(runs, [spot]) == 0.0
    assert kept.heights.min() >= -25 * Z_PER_MM


@pytest.mark.parametrize("off_mm", [0.0, 2.5, 4.9, 5.1])
def test_a_seam_through_a_spot_is_as_long_as_the_chord(off_mm: float) -> None:
    """A straight seam that passes a ball of 5 mm at some distance runs 2 sqrt(r² - d²) inside it."""
    edge = np.array([[[-15.0, off_mm, 1.0], [15.0, off_mm, 1.0]]])
    chord_mm = 2.0 * math.sqrt(max(0.0, 25.0 - off_mm**2))
    found_mm = length_inside_mm(edge, [KeepOutSpot((0.0, 0.0, 1.0), 5.0)])
    assert found_mm == pytest.approx(chord_mm, abs=1.0)


def test_a_level_asked_for_is_taken_as_far_as_the_wall_goes() -> None:
    """Asked for -8 mm the seam is there; asked beyond the wall it stops at the wall's end."""
    _, _, found = sheets_of(solids.cylinder(22.0, 50.0, sides=48))
    rim = rim_edges(found.top)
    asked = choose_heights(found.top, found.bottom, rim, level_mm=-8.0)
    assert set(asked.heights.tolist()) == {-8 * Z_PER_MM}
    beyond = choose_heights(found.top, found.bottom, rim, level_mm=99.0)
    assert set(beyond.heights.tolist()) == {25 * Z_PER_MM}


def test_a_fine_ball_of_random_corners_has_a_curved_seam() -> None:
    """Its silhouette lies in no plane; the seam follows it and no fill is made."""
    points = np.random.default_rng(7).normal(size=(300, 3))
    hull = trimesh.convex.convex_hull(30.0 * points / np.linalg.norm(points, axis=1)[:, None])
    cut = parted(Mesh.make(hull.vertices, hull.faces, frame="object"))
    assert cut.hidden_faces == 0
    assert not cut.flat
    assert cut.off_plane_mm > 0.5


def test_the_parting_surface_meets_the_seam_and_leaves_squarely() -> None:
    """Its corners on the seam have the seam's height; across the seam it rises less than 35 degrees or so."""
    cut = parted(solids.cup_with_handle(), (0.0, 1.0, 0.0))
    f, plan, z = cut.outside.faces.astype(np.int64), cut.outside.plan, cut.outside.heights
    n = len(plan)
    seam = {
        (int(v), int(u)): (int(zv), int(zu)) for (u, v), (zu, zv) in zip(cut.rim, cut.seam_z, strict=True)
    }
    met = 0
    for row, heights in zip(f.tolist(), z.tolist(), strict=True):
        for k in range(3):
            edge = (row[k], row[(k + 1) % 3])
            if edge not in seam:
                continue
            met += 1
            assert (heights[k], heights[(k + 1) % 3]) == seam[edge]
            a, b, c = (plan[row[(k + i) % 3]] / XY_PER_MM for i in range(3))
            along = (b - a) / np.linalg.norm(b - a)
            t = (c - a) @ along / np.linalg.norm(b - a)
            across = abs(along[0] * (c - a)[1] - along[1] * (c - a)[0])
            level = heights[k] + np.clip(t, -0.25, 1.25) * (heights[(k + 1) % 3] - heights[k])
            assert abs(heights[(k + 2) % 3] - level) / Z_PER_MM <= 0.7 * across + 1e-3
    assert met == len(cut.rim)
    assert n > met


def test_the_surface_is_flat_further_out() -> None:
    """At the block's side it lies near the level chosen for the flat part."""
    cut = parted(solids.torus(40.0, 10.0, around=64, sides=24), (0.0, 1.0, 0.0))
    edge = np.abs(cut.outside.plan).max(axis=0)
    plan = cut.outside.plan[cut.outside.faces]
    on_side = (np.abs(plan) == edge).any(axis=2)
    off = np.abs(cut.outside.heights[on_side] - cut.level) / Z_PER_MM
    assert on_side.any()
    assert np.median(off) < 2.0


def test_without_an_object_in_the_way_the_surface_is_level() -> None:
    """No rim at all: the level asked for, everywhere."""
    _, _, found = sheets_of(solids.box(10.0, 10.0, 10.0))
    nothing = choose_heights(found.top, found.bottom, np.zeros((0, 2), np.int64), level_mm=3.0)
    assert nothing.level == 3 * Z_PER_MM
    assert len(nothing.heights) == 0


def test_a_ring_has_one_seam_more_than_it_has_holes() -> None:
    """A torus pulled along its axis parts along two closed loops, a ball along one, a bar with three holes
    along four.
    """
    bar = manifold3d.Manifold.cube([90.0, 30.0, 12.0], center=True)
    for x in (-28.0, 0.0, 28.0):
        bar -= manifold3d.Manifold.cylinder(20.0, 8.0, 8.0, 24, True).translate([x, 0.0, 0.0])
    ring = solids.torus(40.0, 10.0, around=64, sides=24)
    for obj, count in ((ring, 2), (solids.sphere(30.0), 1), (solids.from_manifold(bar), 4)):
        cut = parted(obj)
        loops = closed_loops(np.concatenate([cut.outside.plan[cut.rim[:, k]] for k in (0, 1)], axis=1))
        assert len(loops) == count
        assert all((loop[0] == loop[-1]).all() for loop in loops)
