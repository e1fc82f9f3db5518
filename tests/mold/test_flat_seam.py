"""A seam laid in one plane by filling: how much that takes, that both pieces leave, and what is refused."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import trimesh

from claybed.errors import CannotError
from claybed.flow.flat_seam import flat_ways
from claybed.flow.searching import make_mold
from claybed.geometry.depth import DepthRaster
from claybed.geometry.directions import fibonacci_axes
from claybed.geometry.lattice import rotation_about
from claybed.geometry.mesh import Mesh
from claybed.geometry.planing import least_fill_height_mm, missed_mm, split_at
from claybed.proof.evidence import prove
from claybed.records.brief import KeepOut
from claybed.records.surveyed import MoldOption
from claybed.survey.levelling import levelled
from claybed.survey.limits import shelf_limits
from tests.mold.molds import BARE, UP, along, assert_whole, fill_mm3
from tests.pieces import solids
from tests.survey.objects import measured

FLAT = replace(BARE, flat_seam=True, axis=UP)
TURN_DEG = 25.0
LENGTH_MM, WIDE_MM, TALL_MM = 50.0, 40.0, 30.0
TWO = MoldOption("two_piece", UP, 0.0, 0.0, "Leaves.")


def tilted_box() -> Mesh:
    """A box turned about its length, so that its seam runs along two edges at different heights."""
    turn = rotation_about((TURN_DEG, 0.0, 0.0))
    return solids.box(LENGTH_MM, WIDE_MM, TALL_MM).moved(turn, np.zeros(3), frame="object")


def tilted_box_fill_mm3() -> float:
    """What brings the seam of the tilted box into a plane through its middle, mm³.

    In the cross section either outermost corner stands z off the plane, and the side of the box that leads
    from there to the plane leans by the turn: a triangle z high and z tan(turn) wide.
    """
    turn = math.radians(TURN_DEG)
    off_mm = abs(TALL_MM / 2.0 * math.cos(turn) - WIDE_MM / 2.0 * math.sin(turn))
    return LENGTH_MM * off_mm**2 * math.tan(turn)


def test_a_tilted_box_is_parted_in_a_plane() -> None:
    """Its seam lies in one plane, for as much fill as the cross section says, and every proof holds."""
    obj = tilted_box()
    subject = measured(obj)
    molded = make_mold(subject, along(UP), FLAT, progress=lambda step, part: None)
    assembly = molded.assembly
    assert (assembly.seam_flat, assembly.off_plane_mm) == (True, 0.0)
    assert fill_mm3(assembly, obj) == pytest.approx(tilted_box_fill_mm3(), rel=2e-3)
    assert molded.option.plane_fill_ml == pytest.approx(tilted_box_fill_mm3() / 1000.0, rel=0.02)
    assert_whole(assembly)
    weights = {piece.id: 1.0 for piece in assembly.pieces}
    checks = prove(assembly, obj, FLAT, weights, progress=lambda step, part: None)
    assert [check.id for check in checks if not check.ok] == []


def test_the_plane_is_where_least_has_to_be_filled() -> None:
    """No other height of a tilted cone takes less; forbidden there, the nearer end of the region is taken."""
    turn = rotation_about((30.0, 0.0, 0.0))
    cone = solids.frustum(8.0, 30.0, 50.0, sides=32).moved(turn, np.zeros(3), frame="object")
    columns = DepthRaster(cone, 128).columns(np.array(UP))
    top, bottom = columns.top_mm[columns.covered], columns.bottom_mm[columns.covered]
    best = least_fill_height_mm(top, bottom, [])
    heights = np.linspace(float(bottom.min()), float(top.max()), 101)
    fills = [float(missed_mm(top, bottom, z).sum()) for z in heights]
    assert float(missed_mm(top, bottom, best).sum()) <= min(fills)
    low, high = best - 1.0, best + 0.5
    assert least_fill_height_mm(top, bottom, [(low, high)]) in (low, high)
    with pytest.raises(ValueError, match="no height"):
        least_fill_height_mm(top, bottom, [(-1e3, 1e3)])
    barred = levelled(DepthRaster(cone, 128), TWO, shelf_limits(), [(best - 3.0, best + 3.0)])
    assert barred.plane_mm in (best - 3.0, best + 3.0)


def test_a_seam_that_is_flat_already_takes_no_clay() -> None:
    """A standing cylinder is parted as it is, without fill; its plane costs nothing."""
    obj = solids.cylinder(22.0, 50.0, sides=24)
    molded = make_mold(measured(obj), along(UP), FLAT, progress=lambda step, part: None)
    assert molded.option.plane_mm is None
    assert molded.assembly.seam_flat
    assert abs(fill_mm3(molded.assembly, obj)) < 1.0


def test_a_plane_that_takes_too_much_is_refused_with_both_numbers() -> None:
    """The refusal says how much it takes, how much is allowed, and what passes; that does pass."""
    small = tilted_box()
    big = measured(Mesh.make(2.0 * small.vertices_mm, small.faces, frame="object"))
    brief = replace(FLAT, max_fill_ml=1.0)
    takes_ml = 8.0 * tilted_box_fill_mm3() / 1000.0
    with pytest.raises(CannotError, match=rf"takes {takes_ml:.1f} ml .*allows 1.0 ml") as told:
        flat_ways(big, [TWO], brief)
    allow = takes_ml * 1.05 + 0.1
    assert f"--max-fill {allow:.1f}ml" in told.value.remedy
    assert "leave --flat-seam out: then it takes none" in told.value.remedy
    assert flat_ways(big, [TWO], replace(brief, max_fill_ml=allow))[0].plane_mm is not None


def test_what_no_plane_can_do_is_refused_at_once() -> None:
    """Three pieces have no common plane; a region over all the height leaves none."""
    obj = measured(tilted_box())
    with pytest.raises(CannotError, match="more than two pieces"):
        flat_ways(obj, [TWO], replace(FLAT, pieces=3))
    everywhere = KeepOut(UP, -100.0, 100.0)
    with pytest.raises(CannotError, match="keeps clear"):
        flat_ways(obj, [TWO], replace(FLAT, keep_out=(everywhere,)))


def test_faces_are_divided_along_the_plane_and_stay_closed() -> None:
    """Each edge still has its mate, no face crosses the plane, and volume and origin are kept."""
    obj = tilted_box()
    cut = split_at(obj, 3.0)
    assert cut.volume_mm3 == pytest.approx(obj.volume_mm3, rel=1e-12)
    edges = np.concatenate([cut.faces[:, [k, (k + 1) % 3]] for k in range(3)])
    assert {tuple(e) for e in edges.tolist()} == {tuple(e[::-1]) for e in edges.tolist()}
    side = np.sign(np.round(cut.vertices_mm[cut.faces][:, :, 2] - 3.0, 9))
    assert not ((side.min(axis=1) < 0) & (side.max(axis=1) > 0)).any()
    assert split_at(obj, 500.0) is obj


def test_no_plane_parts_a_fine_polyhedral_ball() -> None:
    """A ball of random corners, all but round, leaves in one plane along none of several pulls without fill:
    its silhouette lies in no plane. What is missing is of the order of its facets' sagitta.

    Source: Bremner and Golynski, arXiv cs/0203025 (abstract): convex polyhedra between concentric balls whose
    radii differ by less than 1.07 times are not made of two parts that meet in a plane.
    """
    points = np.random.default_rng(4).normal(size=(400, 3))
    hull = trimesh.convex.convex_hull(30.0 * points / np.linalg.norm(points, axis=1)[:, None])
    ball = Mesh.make(hull.vertices, hull.faces, frame="object")
    corner = ball.corners_mm
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    inner_mm = (np.einsum("ij,ij->i", across, corner[:, 0]) / np.linalg.norm(across, axis=1)).min()
    assert 1.0 < 30.0 / inner_mm < 1.07
    raster = DepthRaster(ball, 256)
    for axis in fibonacci_axes(6):
        x, y, z = (float(c) for c in axis)
        columns = raster.columns(axis)
        top, bottom = columns.top_mm[columns.covered], columns.bottom_mm[columns.covered]
        flat = levelled(raster, replace(TWO, pull=(x, y, z)), shelf_limits(), [])
        assert columns.score.gap_columns == 0
        missed = missed_mm(top, bottom, flat.plane_mm or 0.0)
        assert missed.max() > 0.3
        assert flat.plane_fill_ml > 0.002
