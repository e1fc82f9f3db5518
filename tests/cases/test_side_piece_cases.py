"""Cases of pieces beside a side piece: backs off the pull, rims in steps, cores; against closed forms."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import manifold3d
import numpy as np
import pytest

from claybed.cases.drawing import drawn_along
from claybed.cases.leaning import sides_of
from claybed.cases.loose_cores import print_cores
from claybed.cases.loose_keys import with_sockets
from claybed.cases.proving import case_checks, closing_checks, loose_checks
from claybed.cases.standing import in_block
from claybed.cases.vessel import build_case
from claybed.errors import CannotError
from claybed.geometry.forming import box, halved, hull, on_lattice
from claybed.geometry.lattice import UNITS_PER_MM, lattice_mm
from claybed.geometry.slab import LatticeSolid
from claybed.records.cases import Poured, Shape
from tests.cases.stood import stand

SHAPE = Shape(3.2, 6.0, (200.0, 200.0, 200.0), 0.25, False, 1.2, 0.15)
UP = (0.0, 0.0, 1.0)
DRAFT = math.tan(math.radians(2.0))


def standing(solids: Mapping[str, LatticeSolid], pulls: Mapping[str, Sequence[float]], letter: str) -> Poured:
    """A piece of a block as its case pours it, 2 degrees of draft, no keys."""
    others = {name: solid for name, solid in solids.items() if name != letter}
    return stand(
        letter, solids[letter], pulls[letter], [], draft_deg=2.0, clearance_mm=0.2, others=others, pulls=pulls
    )


def failed(poured: Poured) -> list[str]:
    """Names of the checks of a piece's case that do not hold."""
    checks = [*case_checks(build_case(poured, SHAPE)), *loose_checks(poured)]
    return [check.id for check in checks if not check.ok]


def test_a_piece_whose_pull_is_aslant_is_drawn_out_aslant() -> None:
    """Of a block parted by a slanted plane the side piece stands on the block's own side, is drawn 1 in 8
    off it, and leans by that and the draft where it goes, not at all where it comes from.

    Source: geometry; tan of the lean is the slant's and the draft's together.
    """
    aslant = np.array([-8.0, 1.0, 0.0]) / math.sqrt(65.0)
    behind, before = halved(box((-60.0, -40.0, 0.0), (60.0, 40.0, 50.0)), aslant.tolist(), 20.0)
    solids = {"A": on_lattice(behind), "C": on_lattice(before)}
    pulls = {"A": UP, "C": tuple(aslant.tolist())}
    side, main = standing(solids, pulls, "C"), standing(solids, pulls, "A")
    assert side.pull[2] == pytest.approx(8.0 / math.sqrt(65.0))
    # The block's sides lie along x in the case's frame where the pull does; the back is level.
    out = {round(float(n)): n for n in np.ptp(side.top_outline_mm - side.low_outline_mm, axis=0)}
    tall = side.top_mm - side.low_mm
    more = sorted(out.values())
    assert more[0] == pytest.approx(2.0 * DRAFT * tall, rel=1e-6)
    assert more[1] == pytest.approx((DRAFT + 0.125) * tall, rel=1e-6)
    assert failed(side) == [] and failed(main) == []
    assert [check.ok for check in closing_checks([side, main], pulls)] == [True]
    # Drawn aslant the other way it would lock on the wall that does not lean.
    x, y, z = side.pull
    astray = replace(build_case(side, SHAPE), poured=replace(side, pull=(-x, -y, z)))
    assert {"case_no_undercut_C", "case_release_C"} <= {c.id for c in case_checks(astray) if not c.ok}


def corner_piece() -> LatticeSolid:
    """The corner of a block, cut off along the diagonal."""
    return on_lattice(hull(np.array([[0.0, 0.0, 0.0], [40.0, 0.0, 0.0], [0.0, 40.0, 0.0], [0.0, 0.0, 40.0]])))


def test_a_pull_far_off_every_side_is_drawn_square() -> None:
    """A corner piece that leaves along the diagonal lets go just as well square to one of its sides."""
    pull = tuple((-np.ones(3) / math.sqrt(3.0)).tolist())
    way = drawn_along(corner_piece(), pull, None, draft_deg=2.0, aslant_deg=20.0)
    assert way == (-1.0, 0.0, 0.0)
    poured = stand("D", corner_piece(), way, [], draft_deg=2.0, clearance_mm=0.2)
    assert poured.pull == UP and failed(poured) == []


def test_a_piece_that_only_leaves_far_aslant_leans_out_with_it() -> None:
    """A slot along the pull, 45 degrees off both sides, lets the piece go no other way: its outside leans out
    by that and the draft together.

    Source: geometry; tan 45° and the draft's on the side it goes to.
    """
    lip = hull(np.array([[x, y, z] for y in (-9.0, 9.0) for x, z in ((0, 0), (30, 30), (30, 36), (0, 6))]))
    piece = on_lattice(box((0.0, -20.0, 0.0), (40.0, 20.0, 40.0)) - lip.translate((-1.0, 0.0, 4.0)))
    pull = (math.sqrt(0.5), 0.0, math.sqrt(0.5))
    way = drawn_along(piece, pull, None, draft_deg=2.0, aslant_deg=20.0)
    assert way == pytest.approx(pull)
    poured = stand("D", piece, way, [], draft_deg=2.0, clearance_mm=0.2)
    out = float(np.ptp(poured.top_outline_mm - poured.low_outline_mm, axis=0).max())
    assert out == pytest.approx((poured.top_mm - poured.low_mm) * (1.0 + DRAFT), rel=1e-3)


def test_a_leaning_piece_is_drawn_between_both_ways() -> None:
    """A piece over a corner with three square walls leaves straight and along the diagonal: it is drawn as
    near to its back as gives the walls 2 degrees, which 1 in 16 does and more.

    Source: closed form; drawn along (1, 1, 17) a wall along the pull has asin(1 / sqrt 291) of draft.
    """
    block = box((-60.0, -60.0, -60.0), (0.0, 0.0, 0.0)) - box((-30.0, -30.0, -30.0), (9.0, 9.0, 9.0))
    leaves = tuple((-np.ones(3) / math.sqrt(3.0)).tolist())
    way = drawn_along(on_lattice(block), (0.0, 0.0, -1.0), leaves, draft_deg=2.0, aslant_deg=20.0)
    assert way == pytest.approx(-np.array([1.0, 1.0, 17.0]) / math.sqrt(291.0))
    steep = drawn_along(on_lattice(block), (0.0, 0.0, -1.0), leaves, draft_deg=4.0, aslant_deg=20.0)
    assert steep == pytest.approx(-np.array([1.0, 1.0, 9.0]) / math.sqrt(83.0))
    assert drawn_along(on_lattice(block), (0.0, 0.0, -1.0), None, draft_deg=2.0, aslant_deg=20.0) == (
        0,
        0,
        -1,
    )


def stepped() -> manifold3d.Manifold:
    """A block 80 x 60 x 50 of which a step 30 high is missing under half its length."""
    return box((-40.0, -30.0, 0.0), (40.0, 30.0, 50.0)) - box((0.0, -99.0, -1.0), (99.0, 99.0, 30.0))


def slivered(solid: LatticeSolid) -> LatticeSolid:
    """The solid with an outer side drawn anew around a corner within it, all but in line with the inner
    corner of the rim and one of the back.
    """
    points = lattice_mm(solid.points)
    faces = [face for face in solid.faces.tolist() if not (points[face][:, 1] < -30.0 + 1e-6).all()]
    within = [36.0, -30.0, 47.75]
    points = np.concatenate([points, [within]])
    side = [(0, 30), (40, 30), (40, 50), (-40, 50), (-40, 0), (0, 0)]
    a, b, c, d, e, f = (int(np.flatnonzero((points == [x, -30.0, z]).all(axis=1))[0]) for x, z in side)
    v = len(points) - 1
    faces += [[a, b, v], [v, b, c], [a, v, c], [a, c, d], [a, d, e], [a, e, f]]
    whole = np.rint(points * UNITS_PER_MM).astype(np.int64)
    return LatticeSolid(whole, np.array(faces, np.int32), np.zeros(len(faces), np.uint8))


def test_a_rim_in_steps_leans_from_each_step() -> None:
    """Sides lean from the rim right under them: over the step less is laid on than beside it, and all of it
    leaves with the piece.

    Source: closed form; a side that leans by s over the height h takes s h² / 2 for every mm, a corner of
    two such s² h³ / 3.
    """
    poured = standing({"A": slivered(on_lattice(stepped()))}, {"A": UP}, "A")
    assert poured.cut
    wide, tall, low = 60.0, 50.0, 20.0
    sides = DRAFT / 2.0 * (tall**2 * (wide + 2.0 * 40.0) + low**2 * (wide + 2.0 * 40.0))
    corners = DRAFT**2 / 3.0 * 2.0 * (tall**3 + low**3)
    assert poured.solid.volume_mm3 - 80.0 * 60.0 * 50.0 + 40.0 * 60.0 * 30.0 == pytest.approx(
        sides + corners, rel=2e-3
    )
    assert failed(poured) == []


RADIUS_MM, OVER_MM, DEEP_MM = 12.0, 4.0, 9.0


@pytest.fixture(scope="module")
def plugged() -> dict[str, LatticeSolid]:
    """A main piece A over a side piece C whose round plug is widest 4 mm over the seam of A, so that A lies
    under it on both sides.
    """
    rod = manifold3d.Manifold.cylinder(DEEP_MM, RADIUS_MM, RADIUS_MM, 96)
    plug = rod.rotate((-90.0, 0.0, 0.0)).translate((0.0, 0.0, OVER_MM))
    main = box((-50.0, 0.0, 0.0), (50.0, 60.0, 40.0)) - plug
    side = box((-50.0, -25.0, -40.0), (50.0, 0.0, 40.0)) + plug
    below = box((-50.0, 0.0, -40.0), (50.0, 60.0, 0.0)) - plug
    return {"A": on_lattice(main), "B": on_lattice(below), "C": on_lattice(side)}


PULLS = {"A": UP, "B": (0.0, 0.0, -1.0), "C": (0.0, -1.0, 0.0)}


def test_what_lies_over_a_piece_sideways_is_a_core(plugged: dict[str, LatticeSolid]) -> None:
    """The plug over A's seam is printed apart, screwed on, and drawn out of A the way C leaves; A comes back
    as the plan has it. B, which no part of C lies under, needs none.

    Source: closed form; a circle of radius r cut h under its middle has r² (π - acos(h / r)) + h √(r² - h²).
    """
    poured = standing(plugged, PULLS, "A")
    (core,) = poured.cores
    area = RADIUS_MM**2 * (math.pi - math.acos(OVER_MM / RADIUS_MM))
    area += OVER_MM * math.sqrt(RADIUS_MM**2 - OVER_MM**2)
    assert core.solid.volume_mm3 == pytest.approx(area * DEEP_MM, rel=0.01)
    assert core.screw_deep_mm == 7.5 and core.pull == (0.0, -1.0, 0.0)
    (part,) = print_cores(poured)
    assert part.size_mm == pytest.approx((OVER_MM + RADIUS_MM, 2.0 * RADIUS_MM, DEEP_MM), abs=0.05)
    bore = math.pi * 1.65**2 * 7.5
    assert part.solid.volume_mm3 == pytest.approx(core.solid.volume_mm3 - bore, rel=0.01)
    assert failed(poured) == []
    assert standing(plugged, PULLS, "B").cores == ()
    turned = replace(poured, cores=(replace(core, pull=UP),))
    assert [check.ok for check in loose_checks(turned)] == [True, False]
    smaller = replace(poured, cores=())
    assert [check.ok for check in loose_checks(replace(smaller, opened=with_sockets(poured)))] == [False]


def test_pieces_around_a_core_close(plugged: dict[str, LatticeSolid]) -> None:
    """C leaves A and B as they come out of their cases, and A leaves B; without its core A had no case."""
    three = [standing(plugged, PULLS, letter) for letter in "CAB"]
    assert [check.ok for check in closing_checks(three, PULLS)] == [True, True]
    corners = {tuple(p) for p in in_block(three[1]).points.tolist()}
    planned = lattice_mm(plugged["A"].points)
    inner = plugged["A"].points[(planned[:, 2] < 30.0) & (np.abs(planned[:, 0]) < 40.0)]
    assert {tuple(p) for p in inner.tolist()} <= corners
    with pytest.raises(CannotError, match="look up"):
        stand("A", plugged["A"], UP, [], draft_deg=2.0, clearance_mm=0.2)


def test_short_stretches_tell_no_side() -> None:
    """The side of a long wall is told by its longest stretch: a corner that rounding put a hair off makes no
    side of its own, and turns none.
    """
    ring = [[-50.0, -30.0], [50.0, -30.0], [50.0, 30.0], [-49.98, 30.0], [-50.0, 29.98], [-50.001, 0.0]]
    points = np.array([[x, y, z] for x, y in ring for z in (0.0, 40.0)])
    sides = sides_of(points, points, UP, 2.0)
    assert len(sides) == 4
    square = np.abs([side.normal for side in sides])
    assert np.sort(square, axis=1) == pytest.approx(np.tile([0.0, 1.0], (4, 1)), abs=1e-4)
