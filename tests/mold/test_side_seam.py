"""Seams of side pieces that no level gives: round a forbidden spot, along an edge that runs aslant."""

from __future__ import annotations

from dataclasses import replace

import manifold3d
import numpy as np
import pytest

from claybed.flow.molding import make_mold
from claybed.flow.side_seams import seam_checks
from claybed.geometry.barred import Barred
from claybed.geometry.mesh import Floats, Mesh
from claybed.materials import shelf
from claybed.mold.side_seam import Dip, dipping, ridden_mm
from claybed.proof.leaving import leaving
from claybed.proof.seam_edges import seam_angle, side_seam_angle
from claybed.proof.solidity import solidity, volumes_fill_block
from claybed.records.assembly import Assembly
from claybed.records.brief import KeepOutSpot
from claybed.records.surveyed import MoldOption
from tests.mold.molds import BARE, along
from tests.pieces import solids
from tests.survey.objects import measured

NONE = Barred()
SLANT_DEG = 8.0
TAN = float(np.tan(np.radians(SLANT_DEG)))
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


def assert_it_comes_apart(assembly: Assembly) -> None:
    """Every solid is whole, they fill the block, every piece leaves, and no plaster is sharp at the seam."""
    parts = {**{p.id: p.solid for p in assembly.pieces}, "model": assembly.model}
    checks = [*solidity(parts, assembly), volumes_fill_block(parts, assembly, share=1e-6)]
    checks += leaving(parts, assembly, lateral_mm=0.01)
    angle = seam_angle(assembly)
    assert angle is not None
    assert [(c.id, c.measured) for c in [*checks, angle] if not c.ok] == []


def in_three(mesh: Mesh, *, foot: float, **wishes: object) -> Assembly:
    """A mold of two halves and a piece that takes the lower (`foot` -1) or the upper (1) end."""
    pull = (0.0, 1.0, 0.0)
    option = MoldOption("several", pull, 0.0, 0.0, "as asked", sides=((0.0, 0.0, foot),))
    survey = replace(along(pull), options=(option,))
    brief = replace(BARE, axis=pull, pieces=3, **wishes)  # type: ignore[arg-type]
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
