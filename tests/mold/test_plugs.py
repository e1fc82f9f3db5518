"""A side piece with a plug: a hole half way up a side, which no level at the object's end reaches."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from claybed.flow.molding import Molded
from claybed.flow.searching import make_mold
from claybed.flow.side_seams import seam_checks
from claybed.flow.sideways import seen_along, stood_along
from claybed.geometry.closest import nearest_within
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.geometry.nearness import distances_mm
from claybed.posing.fillers import bed_loops, filler_loops
from claybed.posing.posing import set_pose
from claybed.proof.leaving import leaving
from claybed.proof.likeness import model_true
from claybed.proof.plaster import wall
from claybed.proof.seam_edges import seam_angle
from claybed.proof.solidity import solidity, volumes_fill_block
from claybed.records.assembly import BLOCK_FRAME, Assembly, BlockKey, Piece
from claybed.records.brief import KeepOutSpot
from claybed.records.finding import Check
from claybed.records.surveyed import MoldOption
from claybed.sheets.bench_templates import templates_of
from tests.mold.molds import BARE, along
from tests.pieces import solids
from tests.survey.objects import measured

MAIN = (0.5, -float(np.sqrt(3.0)) / 2.0, 0.0)
SIDE = (1.0, 0.0, 0.0)


def drilled() -> Mesh:
    """A tapered post with two blind holes: one along the main axis, one along x, 60 degrees apart."""
    body = solids.to_manifold(solids.frustum(26.0, 34.0, 90.0, sides=64))
    drill = solids.to_manifold(solids.cylinder(6.0, 60.0, sides=32))
    one = drill.rotate([0.0, 90.0, 0.0]).translate([42.0, 0.0, -5.0])
    two = drill.rotate([90.0, 0.0, 0.0]).translate([0.0, -42.0, 10.0]).rotate([0.0, 0.0, 30.0])
    return solids.from_manifold(body - one - two)


@pytest.fixture(scope="module")
def molded() -> Molded:
    """The mold in three pieces, the third along x; taken when its seam leaves no sharp plaster."""
    option = MoldOption("several", MAIN, 0.0, 0.0, "as asked", sides=(SIDE,))
    found = replace(along(MAIN), options=(option,))
    brief = replace(BARE, axis=MAIN, pieces=3)

    def weak(assembly: Assembly) -> list[Check]:
        angle = seam_angle(assembly)
        return [] if angle is None or angle.ok else [angle]

    return make_mold(measured(drilled()), found, brief, progress=lambda step, part: None, weak=weak)


def test_what_the_plug_reaches_is_no_fill(molded: Molded) -> None:
    """Two pieces would have had to fill the hole; the third reaches it. What is named object is the object to
    a lattice step, and what is still named fill stands off it by less than locks in plaster.
    """
    assembly = molded.assembly
    assert model_true(assembly, measured(drilled()).mesh).ok
    hole = measured(drilled()).mesh.moved(assembly.to_block, assembly.shift_mm, frame=BLOCK_FRAME)
    for solid in (assembly.model, *(piece.solid for piece in assembly.pieces)):
        left = np.unique(solid.faces[solid.origin == int(Origin.FILL)])
        nearest, _ = nearest_within(lattice_mm(solid.points[left]), hole.corners_mm, 0.1)
        assert (nearest >= 0).all()


def test_the_seam_runs_on_the_object_where_a_plug_reaches_in(molded: Molded) -> None:
    """Every seam line lies on the model; none is left of the fill that two pieces would have had over the
    hole, whose straight line across would stand off the object by millimetres.
    """
    surface = molded.assembly.model.mesh("block")
    for loop in molded.assembly.seam_loops:
        middles = (loop[1:] + loop[:-1]) / 2.0
        assert float(distances_mm(np.concatenate([loop, middles]), surface).max()) < 0.06
    assert molded.assembly.seam_length_mm > 100.0


def test_it_frees_the_hole_and_every_piece_leaves(molded: Molded) -> None:
    """Nothing is filled beyond rounding, all solids are whole, fill the block, and leave in order."""
    assembly = molded.assembly
    parts = {**{p.id: p.solid for p in assembly.pieces}, "model": assembly.model}
    checks: list[Check] = solidity(parts, assembly)
    checks.append(volumes_fill_block(parts, assembly, share=1e-6))
    checks += leaving(parts, assembly, lateral_mm=0.01)
    checks.append(wall(assembly))
    assert [(c.id, c.measured) for c in checks if not c.ok] == []
    assert abs(assembly.model.volume_mm3 - drilled().volume_mm3) < 30.0


def test_the_plug_reaches_the_bottom_of_the_hole(molded: Molded) -> None:
    """The side piece ends where the hole does, 12 mm from the axis, and its seam is not sharp."""
    assembly = molded.assembly
    side = next(p for p in assembly.pieces if p.id == "C")
    away = np.array(side.pull)
    along_mm = (side.solid.points / np.array([1024.0, 1024.0, 4096.0])) @ away
    middle_mm = float(assembly.shift_mm @ away)
    assert along_mm.min() - middle_mm == pytest.approx(12.0, abs=0.2)
    angle = seam_angle(assembly)
    assert angle is not None
    assert angle.ok, angle


def test_the_plug_is_told_from_the_level(molded: Molded) -> None:
    """Seen along its pull the piece stands on its level, over the object, and its plug reaches from there to
    the bottom of the hole: 6 mm over a radius of about 31, and 12 mm from the axis.
    """
    assembly = molded.assembly
    view = seen_along(assembly, next(p for p in assembly.pieces if p.id == "C"))
    assert view.plug_mm == pytest.approx(6.0 + 34.0 - 12.0, abs=0.5)


def test_the_bed_comes_up_to_the_main_seam_alone(molded: Molded) -> None:
    """The line that the bed comes up to lies between A and B; that of the side piece's filler is apart from
    it, at the face's level; both together are the seam. Only keys of main pieces are pressed into the bed.
    """
    side = next(p for p in molded.assembly.pieces if p.id == "C")
    keys = tuple(BlockKey((40.0, 0.0, 60.0), 12.0, 5.0, letter, "B") for letter in "AC")
    assembly = replace(molded.assembly, keys=keys)
    bed, fillers = bed_loops(assembly), filler_loops(assembly)
    away = distances_mm(
        np.concatenate([(one[1:] + one[:-1]) / 2.0 for one in bed]), side.solid.mesh(BLOCK_FRAME)
    )
    assert away.min() > 0.05
    long_mm = [float(np.linalg.norm(np.diff(one, axis=0), axis=1).sum()) for one in (*bed, *fillers)]
    assert sum(long_mm) == pytest.approx(assembly.seam_length_mm, rel=1e-6)
    pose = set_pose(assembly, drilled(), (0.0, 0.0, 1.0), (), board_mm=5.0, rim_mm=200.0, tilt_deg=None)
    assert [key.diameter_mm for key in pose.keys] == [12.0]
    drawn = {drawing.id: drawing for drawing in templates_of(pose, assembly)}
    face = drawn["filler-C"]
    assert "1 keys" not in face.says and "1 key of clay" in face.says
    outline = np.ptp(face.lines[0].points, axis=0)
    assert outline == pytest.approx(np.ptp(lattice_mm(side.solid.points) @ _across(side), axis=0), abs=1.0)
    assert "28 mm out of the face" in face.says


def _across(side: Piece) -> Floats:
    """The two directions across a pull, (3, 2): sideways, and up along the face."""
    x, y, _ = np.array(side.pull) / np.hypot(*side.pull[:2])
    # A face that leans is longer, from foot to top, than it is tall.
    return np.array([[y, 0.0], [-x, 0.0], [0.0, 1.0 / float(np.hypot(*side.pull[:2]))]])


def test_a_block_with_flat_sides_stands_square_while_a_side_is_poured(molded: Molded) -> None:
    """Where the pull slants by 7 degrees the nearest flat side is up; a round block follows the pull."""
    assembly = molded.assembly
    slant = replace(assembly.pieces[-1], pull=(-0.9925, 0.1219, 0.0))
    assert stood_along(slant, replace(assembly, shape="boxed")) == (-1.0, 0.0, 0.0)
    assert stood_along(slant, replace(assembly, shape="round")) == slant.pull


def test_a_seam_of_a_side_piece_is_found_where_none_may_run(molded: Molded) -> None:
    """A spot over the hole that the side piece frees holds part of its seam; one on the far side holds none.
    Of a longer stretch in a larger spot more is found, and without spots nothing is asked.
    """
    mouth = KeepOutSpot((30.0, 6.0, -5.0), 4.0)
    other = KeepOutSpot((-30.0, 0.0, -5.0), 4.0)
    (found,) = seam_checks(molded.assembly, (mouth,))
    assert not found.ok
    assert found.measured > found.limit
    assert found.where.startswith("piece C")
    assert found.at_mm is not None
    at = (np.array(found.at_mm) - molded.assembly.shift_mm) @ molded.assembly.to_block
    assert np.linalg.norm(at - np.array(mouth.centre_mm)) < mouth.radius_mm + 1.0
    (clear,) = seam_checks(molded.assembly, (other,))
    assert (clear.ok, clear.measured) == (True, 0.0)
    (larger,) = seam_checks(molded.assembly, (KeepOutSpot(mouth.centre_mm, 9.0), other))
    assert larger.measured > found.measured
    # The whole rim of a hole of 6 mm is at least as long as its circle.
    (whole,) = seam_checks(molded.assembly, (KeepOutSpot((30.0, 0.0, -5.0), 30.0),))
    assert whole.measured >= 2.0 * np.pi * 6.0 * 0.99
    assert seam_checks(molded.assembly, ()) == ()


def trenched() -> Mesh:
    """A tapered post with a ring trench in its upper end, 8 mm wide and 12 mm deep round a stump of 13 mm."""
    body = solids.to_manifold(solids.frustum(32.0, 28.0, 50.0, sides=48))
    outer, inner = (
        solids.to_manifold(solids.cylinder(radius, 40.0, sides=48)).translate([0.0, 0.0, 33.0])
        for radius in (21.0, 13.0)
    )
    return solids.from_manifold(body - (outer - inner))


def test_what_a_plug_goes_round_leaves_with_it() -> None:
    """A side piece over the object reaches a ring trench: the plaster over the stump, cut off from the main
    pieces all round, is the side piece's and no fill, and everything leaves.
    """
    pull, side = (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)
    option = MoldOption("several", pull, 0.0, 0.0, "as asked", sides=(side,))
    tried: list[Assembly] = []

    def all_but_the_second(assembly: Assembly) -> list[Check]:
        tried.append(assembly)
        return [] if len(tried) == 2 else [Check("tongues", False, 2.0, 3.0, "mm", "least", "A", "by hand")]

    brief = replace(BARE, axis=pull, pieces=3)
    found = replace(along(pull), options=(option,))
    made = make_mold(
        measured(trenched()), found, brief, progress=lambda step, part: None, weak=all_but_the_second
    )
    assembly = made.assembly
    assert len(tried) == 2 and [t.check.id for t in made.tried if t.check] == ["tongues"]
    assert abs(assembly.model.volume_mm3 - trenched().volume_mm3) < 30.0
    parts = {**{p.id: p.solid for p in assembly.pieces}, "model": assembly.model}
    checks = [*solidity(parts, assembly), volumes_fill_block(parts, assembly, share=1e-6)]
    checks += leaving(parts, assembly, lateral_mm=0.01)
    assert [(c.id, c.measured) for c in checks if not c.ok] == []
    # Straight over the stump it reaches down to the object.
    view = seen_along(assembly, next(p for p in assembly.pieces if p.id == "C"))
    assert view.plug_mm == pytest.approx(6.0 + 12.0, abs=0.5)
