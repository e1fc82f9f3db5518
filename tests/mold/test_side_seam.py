"""Seams of side pieces that no level gives: round a forbidden spot, along an edge that runs aslant."""

from __future__ import annotations

from dataclasses import replace

import manifold3d
import numpy as np
import pytest

from claybed.flow.searching import make_mold
from claybed.flow.side_seams import seam_checks, seam_edges_mm
from claybed.geometry.barred import Barred
from claybed.geometry.lattice import XY_PER_MM
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.geometry.nearness import distances_mm
from claybed.materials import shelf
from claybed.mold.seam_prices import interface_normal, leaves, sharpest_deg
from claybed.mold.side_seam import Dip, dipping, ridden_mm
from claybed.proof.leaving import leaving
from claybed.proof.seam_edges import seam_angle, side_seam_angle
from claybed.proof.solidity import solidity, volumes_fill_block
from claybed.records.assembly import Assembly
from claybed.records.brief import KeepOutSpot
from claybed.records.surveyed import MoldOption
from tests.mold.molds import BARE, Vector, along
from tests.pieces import solids
from tests.survey.objects import measured

NONE = Barred()
SLANT_DEG = 8.0
TAN = float(np.tan(np.radians(SLANT_DEG)))
JOINT = (int(Origin.PARTING), int(Origin.KEY))
STEEP = shelf.value("practice", "collar_steepest_ratio").value


def shouldered(*, sides: int = 48) -> Mesh:
    """A post that widens to a shoulder 8 degrees aslant, whose outer edge is an ellipse round the point at
    z = 10 on the axis; its end is at z = 20.
    """
    low = solids.to_manifold(solids.frustum(31.0, 29.0, 60.0, sides=sides))
    top = solids.to_manifold(solids.frustum(26.5, 25.0, 40.0, sides=sides))
    over = manifold3d.Manifold.cube([200.0, 200.0, 100.0], True).translate([0.0, 0.0, 60.0])
    return solids.from_manifold((low - over.rotate([SLANT_DEG, 0.0, 0.0])) + top)


def dip_of(mesh: Mesh, low_mm: float, high_mm: float, barred: Barred = NONE) -> Dip | None:
    """The dip of an object without hollows."""
    hollow = np.zeros(len(mesh.faces), bool)
    return dipping(mesh, low_mm=low_mm, high_mm=high_mm, hollow=hollow, barred=barred)


def turned(mesh: Mesh, angle: float) -> Mesh:
    """A mesh turned about z."""
    c, s = np.cos(angle), np.sin(angle)
    about = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    return Mesh.make(mesh.vertices_mm @ about.T, mesh.faces, frame="object")


def steepest(lines: Floats) -> float:
    """The steepest of lines (k, 2, 3) longer than a tenth of a millimetre in plan."""
    run = lines[:, 1] - lines[:, 0]
    flat = np.hypot(run[:, 0], run[:, 1])
    return float((np.abs(run[:, 2]) / flat)[flat > 0.1].max())


@pytest.mark.parametrize("angle", [0.0, 0.9])
def test_it_follows_an_edge_that_runs_aslant(angle: float) -> None:
    """The seam lies within 0.3 mm of the shoulder's plane all round, is as long as the edge, and all of it is
    hidden there; turned about the pull the object has the same seam.
    """
    mesh = turned(shouldered(), angle)
    dip = dip_of(mesh, 2.0, 19.69)
    assert dip is not None
    spots = dip.lines_mm.reshape(-1, 3)
    y = -np.sin(angle) * spots[:, 0] + np.cos(angle) * spots[:, 1]
    plane = 10.0 / np.cos(np.radians(SLANT_DEG)) + y * TAN
    assert np.abs(spots[:, 2] - plane).max() < 0.3
    edge_mm = ridden_mm(mesh, 2.0, 19.69)
    assert edge_mm == pytest.approx(2.0 * np.pi * 29.7, rel=0.02)
    assert dip.length_mm == pytest.approx(edge_mm, rel=0.01)
    assert dip.hidden_mm == pytest.approx(dip.length_mm, rel=0.05)
    # One line, closed, and the interface is level at its highest point.
    (loop,) = dip.loops_mm()
    assert np.allclose(loop[0], loop[-1], atol=1e-4)
    assert dip.level_mm == pytest.approx(spots[:, 2].max(), abs=0.3)


def test_it_goes_round_a_spot_as_short_as_it_may_climb() -> None:
    """A ball on the wall of a post, from above its end to 12 mm under it: the seam keeps out, climbs nowhere
    more steeply than a parting surface, and is no longer than down and up again at that slope.
    """
    post = solids.frustum(36.0, 28.0, 40.0, sides=64)
    ball = Barred(balls=np.array([[30.0, 0.0, 16.0, 8.0]]))
    dip = dip_of(post, 0.0, 19.69, ball)
    assert dip is not None
    assert float(dip.lines_mm[:, :, 2].min()) < 8.5
    p, q = dip.lines_mm[:, 0], dip.lines_mm[:, 1]
    share = np.linspace(0.0, 1.0, 5)[:, None, None]
    away = np.linalg.norm(p + share * (q - p) - ball.balls[0, :3], axis=2)
    assert float(away.min()) > 7.5
    assert steepest(dip.lines_mm) < STEEP + 0.35
    level_mm = 2.0 * np.pi * 28.1
    deep_mm = 19.69 - float(dip.lines_mm[:, :, 2].min())
    more_mm = 2.0 * deep_mm * (np.sqrt(1.0 + STEEP**2) - 1.0) / STEEP
    # The post widens by 1 in 5, so that the seam is longer where it is deep as well.
    assert level_mm < dip.length_mm < level_mm + more_mm + 2.0 * np.pi * deep_mm / 5.0


def test_where_every_seam_is_barred_there_is_none() -> None:
    """A layer along the pull is crossed by every line round the post; and nothing that looks away from the
    pull is given to a side piece: round a spot that reaches to the middle of a ball no seam is free.
    """
    post = solids.frustum(36.0, 28.0, 40.0, sides=48)
    assert dip_of(post, 14.0, 19.69, Barred(layers=np.array([[1.0, 0.0, 0.0, -5.0, 5.0]]))) is None
    ball = solids.sphere(12.0, subdivisions=2)
    spot = Barred(balls=np.array([[9.6, 0.0, 7.2, 8.8]]))
    assert dip_of(ball, -8.0, 11.6, spot) is None
    # A smaller one is passed above the ball's middle.
    passed = dip_of(ball, -8.0, 11.6, Barred(balls=np.array([[9.6, 0.0, 7.2, 3.0]])))
    assert passed is not None
    assert float(passed.lines_mm[:, :, 2].min()) > -0.5


def test_it_leads_round_a_shelf_too_shallow_for_plaster() -> None:
    """A post stands on a shelf of 20 degrees, and a mark on it bars every level down to the shelf. Across the
    shelf plaster would end at 20 degrees: the seam goes round its edge instead, all of it, though that is
    half as long again.
    """
    slope = float(np.tan(np.radians(20.0)))
    profile = [[0, -25], [37, -25], [34, 0], [20, 14 * slope], [19.5, 20], [0, 20]]
    mesh = solids.revolved(np.array(profile), sides=48)
    mark = Barred(balls=np.array([[19.5, 0.0, 13.0, 9.0]]))
    dip = dip_of(mesh, -15.0, 19.69, mark)
    assert dip is not None
    assert dip.sharp_mm == 0.0
    assert float(dip.lines_mm[:, :, 2].max()) < 0.3
    assert dip.length_mm == pytest.approx(2.0 * np.pi * 34.0, rel=0.02)
    # A mark that leaves room on the post is passed there.
    lower = dip_of(mesh, -15.0, 19.69, Barred(balls=np.array([[19.5, 0.0, 17.0, 5.0]])))
    assert lower is not None
    assert lower.sharp_mm == 0.0
    assert float(lower.lines_mm[:, :, 2].min()) > 14.0 * slope - 0.3


def test_a_face_that_hangs_over_is_never_the_side_pieces() -> None:
    """As for the main seam: what looks away from the pull by half a degree hangs over and stays; what is only
    tilted by rounding to the lattice does not; and a ceiling never leaves.
    """
    rise, width = 2.5, 2.0

    def tilted(over_mm: float) -> tuple[Floats, Floats]:
        corner = np.array([[[0.0, 0.0, 0.0], [0.0, width, 0.0], [over_mm, 0.0, rise]]])
        normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
        return corner, normal / np.linalg.norm(normal)

    half_deg = rise * float(np.tan(np.radians(0.5)))
    for over_mm, free in ((-half_deg, True), (0.0, True), (1.0 / XY_PER_MM, True), (half_deg, False)):
        assert leaves(*tilted(over_mm)).tolist() == [free], over_mm
    flat = np.array([[[0.0, 0.0, 0.0], [0.0, 1.0, 0.0], [1.0, 0.0, 0.0]]])
    assert leaves(flat, np.array([[0.0, 0.0, -1.0]])).tolist() == [False]


def test_plaster_at_a_seam_edge_is_measured_on_both_sides() -> None:
    """A level seam between a lid that rises by 20 degrees and a plumb wall: with the lid the side piece's,
    plaster has 160 degrees over it and 90 under it; the other way round the main pieces would end at 20. A
    seam that climbs along its edge takes its slope over, no steeper than a parting surface.
    """
    level = interface_normal(np.array([[1.0, 0.0, 0.0]]))
    a = np.radians(20.0)
    lid, wall = np.array([[0.0, -np.sin(a), np.cos(a)]]), np.array([[0.0, -1.0, 0.0]])
    assert sharpest_deg(level, lid, wall) == pytest.approx([90.0])
    assert sharpest_deg(level, wall, lid) == pytest.approx([20.0])
    climbs = interface_normal(np.array([[1.0, 0.0, 0.3], [1.0, 0.0, 5.0]]))
    assert np.degrees(np.arctan2(-climbs[:, 0], climbs[:, 2])) == pytest.approx(
        np.degrees(np.arctan([0.3, STEEP]))
    )


def assert_it_comes_apart(assembly: Assembly) -> None:
    """Every solid is whole, they fill the block, every piece leaves, and no plaster is sharp at the seam."""
    parts = {**{p.id: p.solid for p in assembly.pieces}, "model": assembly.model}
    checks = [*solidity(parts, assembly), volumes_fill_block(parts, assembly, share=1e-6)]
    checks += leaving(parts, assembly, lateral_mm=0.01)
    angles = [check for check in (seam_angle(assembly), side_seam_angle(assembly)) if check]
    assert len(angles) == 2
    assert [(c.id, c.measured) for c in [*checks, *angles] if not c.ok] == []
    assert_plaster_leaves_plaster(assembly)


def assert_plaster_leaves_plaster(assembly: Assembly) -> None:
    """Every joint face of a side piece opens along its pull by the taper of practice, but for slivers and for
    what meets a side piece that has left before it.
    """
    least = float(np.sin(np.radians(shelf.value("practice", "plug_taper_deg").value)))
    sides = assembly.pieces[2:]
    for k, piece in enumerate(sides):
        corner = piece.solid.mesh("block").corners_mm[np.isin(piece.solid.origin, JOINT)]
        for gone in sides[:k]:
            corner = corner[distances_mm(corner.mean(axis=1), gone.solid.mesh("block")) > 0.02]
        across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
        area = np.linalg.norm(across, axis=1) / 2.0
        opens = -(across @ np.array(piece.pull)) / np.maximum(2.0 * area, 1e-12)
        assert float(area[opens < least - 1e-3].sum()) < 0.1
        assert float(area.sum()) > 100.0


def in_three(mesh: Mesh, *, foot: float, **wishes: object) -> Assembly:
    """A mold of two halves and a piece that takes the lower (`foot` -1) or the upper (1) end."""
    return with_sides(mesh, (0.0, 0.0, foot), **wishes)


def with_sides(mesh: Mesh, *sides: Vector, **wishes: object) -> Assembly:
    """A mold of two halves along y and a further piece for each of some pulls, in opening order."""
    pull = (0.0, 1.0, 0.0)
    option = MoldOption("several", pull, 0.0, 0.0, "as asked", sides=sides)
    survey = replace(along(pull), options=(option,))
    brief = replace(BARE, axis=pull, pieces=2 + len(sides), **wishes)  # type: ignore[arg-type]
    return make_mold(measured(mesh), survey, brief, progress=lambda step, part: None).assembly


def test_a_foot_piece_dips_round_a_mark_that_lies_across_every_level() -> None:
    """A mark from under the foot to 12 mm up the wall: every level near the foot crosses it, the finished
    piece's seam does not; what it takes leaves, and the keys of all pieces stay.
    """
    outline = [[0.0, 3.0], [10.0, 3.0], [11.0, 0.0], [14.0, 0.0], [14.4, 2.0], [18.0, 27.0], [0.0, 27.0]]
    spot = KeepOutSpot((0.0, 15.0, 5.0), 7.0)
    mold = in_three(solids.revolved(np.array(outline), sides=32), foot=-1.0, keep_out=(spot,), keys=True)
    (check,) = seam_checks(mold, (spot,))
    assert (check.ok, check.measured) == (True, 0.0)
    assert {key.bump_on for key in mold.keys} == {"A", "C"}
    assert_it_comes_apart(mold)


def test_a_piece_over_a_shoulder_parts_along_its_edge() -> None:
    """The finished piece touches the object down to the shoulder's edge, and no further: what it holds of
    the object's surface lies over the edge's plane.
    """
    mold = in_three(shouldered(), foot=1.0)
    side = next(p for p in mold.pieces if p.id == "C")
    own = (side.solid.mesh("block").vertices_mm - mold.shift_mm) @ mold.to_block
    solid = side.solid
    touching = np.unique(solid.faces[solid.origin == 0])
    away = own[touching, 2] - (10.0 / np.cos(np.radians(SLANT_DEG)) + own[touching, 1] * TAN)
    assert float(away.min()) > -0.4
    assert float(away.min()) < 0.1
    assert_it_comes_apart(mold)


def spool() -> Mesh:
    """A bellied body 60 mm tall with a foot ring round a hollow at either end."""
    foot = [[0, 3], [12, 3], [13, 0], [17, 0], [17.4, 2]]
    head = [[17.4, 58], [17, 60], [13, 60], [12, 57], [0, 57]]
    return solids.revolved(np.array([*foot, [21, 30], *head], float), sides=24)


def test_two_side_pieces_dip_each_round_its_mark() -> None:
    """Marks at both ends of a body, each across every level near its end: both seams go round theirs, the
    second on what the first has left, and the mold comes apart.
    """
    spots = (KeepOutSpot((0.0, 17.5, 5.0), 7.0), KeepOutSpot((3.0, -17.5, 54.0), 7.5))
    mesh = spool()
    mold = with_sides(mesh, (0.0, 0.0, -1.0), (0.0, 0.0, 1.0), keep_out=spots)
    (check,) = seam_checks(mold, spots)
    assert (check.ok, check.measured) == (True, 0.0)
    for piece in mold.pieces[2:]:
        along_mm = (seam_edges_mm(piece.solid) @ np.array(piece.pull)).reshape(-1)
        # From inside the foot ring's hollow, a few mm under the end, down to under the mark.
        assert float(np.ptp(along_mm)) > 5.0
    assert_it_comes_apart(mold)


def test_a_gate_stays_clear_of_side_pieces_at_both_ends() -> None:
    """With a side piece at the foot and one at the top the bore comes out across, in the main seam, so that
    both hollows are theirs and nothing is filled.
    """
    mesh = spool()
    mold = with_sides(mesh, (0.0, 0.0, -1.0), (0.0, 0.0, 1.0), gate="auto")
    assert mold.gate.kind == "bore"
    out = np.array(mold.gate.out)
    assert [abs(float(out @ np.array(piece.pull))) for piece in mold.pieces] == pytest.approx(
        [0.0] * 4, abs=1e-6
    )
    corner = mold.model.mesh("block").corners_mm[mold.model.origin == int(Origin.FILL)]
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    assert float(np.linalg.norm(across, axis=1).sum() / 2.0) < 1.0


def test_a_second_piece_dips_on_what_the_first_has_left() -> None:
    """A foot piece, then one that leaves sideways, whose every good level a mark bars: its seam ends at the
    foot piece, goes round the mark, and the foot piece is the one it was without the mark.
    """
    profile = [[0, 3], [20, 3], [21, 0], [27, 0], [27.6, 3], [31, 40], [0, 40]]
    mesh = solids.revolved(np.array(profile, float), sides=32)
    sides = ((0.0, 0.0, -1.0), (1.0, 0.0, 0.0))
    mark = KeepOutSpot((22.0, 21.0, 22.0), 15.0)
    plain, mold = with_sides(mesh, *sides), with_sides(mesh, *sides, keep_out=(mark,))
    foot, side = mold.pieces[2:]
    assert foot.solid.volume_mm3 == pytest.approx(plain.pieces[2].solid.volume_mm3, rel=1e-9)
    assert side.solid.volume_mm3 > plain.pieces[3].solid.volume_mm3
    (check,) = seam_checks(mold, (mark,))
    assert (check.ok, check.measured) == (True, 0.0)
    own = (seam_edges_mm(side.solid).reshape(-1, 3) - mold.shift_mm) @ mold.to_block
    # On the flank with the mark it runs lower than on the other, and both ends are at the foot piece.
    left, right = own[own[:, 1] < -10.0], own[own[:, 1] > 10.0]
    assert float(right[:, 0].min()) < float(left[:, 0].min()) - 5.0
    assert float(left[:, 2].min()) == pytest.approx(float(right[:, 2].min()), abs=0.5)
    assert_it_comes_apart(mold)


def test_a_piece_over_a_shallow_lid_goes_down_to_the_wall() -> None:
    """Under a lid of 25 degrees, 14 mm high, no usual level leaves plaster that lasts: the side piece takes
    the whole lid, and its seam runs on the wall. Where the wall leans by 30 degrees all the way down, the
    sharpest plaster is as sharp as that, and told.
    """
    run_mm = 14.0 / np.tan(np.radians(25.0))
    lidded = [[0.0, 0.0], [33.0, 0.0], [30.0, 40.0], [0.0, 40.0 + 14.0 * 30.0 / run_mm]]
    check = side_seam_angle(in_three(solids.revolved(np.array(lidded), sides=48), foot=1.0))
    assert check is not None
    assert check.ok
    assert check.measured == pytest.approx(90.0 - np.degrees(np.arctan(3.0 / 40.0)), abs=0.5)
    cone = solids.frustum(60.0, 60.0 - 30.0 / np.tan(np.radians(30.0)), 30.0, sides=48)
    check = side_seam_angle(in_three(cone, foot=1.0))
    assert check is not None
    assert not check.ok
    assert check.measured == pytest.approx(30.0, abs=0.5)
    assert check.where.startswith(("piece A", "piece B"))
    assert check.remedy
