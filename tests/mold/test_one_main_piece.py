"""A mold of one main piece: what lies under the object leaves with the last side piece."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from claybed.cases.proving import case_checks, closing_checks, loose_checks
from claybed.cases.vessel import build_case
from claybed.flow.course import plan_all_benches, plan_all_pours
from claybed.flow.molding import Molded
from claybed.flow.noticing import _side_findings
from claybed.flow.searching import make_mold
from claybed.geometry.lattice import UNITS_PER_MM, lattice_mm
from claybed.geometry.mesh import Origin
from claybed.mold.basing import lettered_anew
from claybed.posing.posing import set_pose
from claybed.proof.evidence import prove
from claybed.proof.leaving import leaving
from claybed.records.assembly import Assembly
from claybed.records.bench import Bench
from claybed.records.brief import Brief
from claybed.records.cases import Shape
from claybed.records.surveyed import MoldOption
from tests.cases.stood import stand
from tests.mold.molds import along
from tests.pieces import solids
from tests.survey.objects import measured

UP = (0.0, 0.0, 1.0)
SIDE_MM, HOLE_MM, DEEP_MM, CORNERS, WALL_MM = 60.0, 8.0, 12.0, 24, 35.0
THING = solids.cube_with_blind_holes(side_mm=SIDE_MM, hole_mm=HOLE_MM, deep_mm=DEEP_MM, corners=CORNERS)
BRIEF = Brief(pieces=3, wall_mm=WALL_MM)


@pytest.fixture(scope="module")
def molded() -> Molded:
    """Three straight holes in a cube that stands on its flat face, in three pieces."""
    sides = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    option = MoldOption("several", UP, 0.0, 0.0, "as asked", sides=sides, base_mm=-SIDE_MM / 2.0)
    found = replace(along(UP), options=(option,))
    return make_mold(measured(THING), found, BRIEF, progress=lambda step, part: None)


@pytest.fixture(scope="module")
def bench(molded: Molded) -> Bench:
    """What is told at the bench of that mold."""
    obj, assembly = measured(THING), molded.assembly
    return plan_all_benches(obj, assembly, plan_all_pours(obj, assembly, BRIEF), 0.0, BRIEF, "key")


def of_object_mm2(assembly: Assembly, letter: str) -> float:
    """Area of the object's faces on a piece."""
    solid = next(p.solid for p in assembly.pieces if p.id == letter)
    corner = lattice_mm(solid.points)[solid.faces[solid.origin == int(Origin.OBJECT)]]
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    return float(np.linalg.norm(across, axis=1).sum()) / 2.0


def test_three_pieces_hold_every_check(molded: Molded) -> None:
    """One piece for each hole, none of them opposite to another; all leave in order, with keys that close one
    way, and together with the model they are the block.

    Source: geometry; three straight holes at right angles take three pieces, and no fewer, at no draft.
    """
    assembly = molded.assembly
    assert [p.id for p in assembly.pieces] == ["A", "B", "C"]
    pulls = np.array([p.pull for p in assembly.pieces])
    assert pulls @ pulls.T == pytest.approx(np.eye(3), abs=1e-9)
    checks = prove(assembly, THING, BRIEF, dict.fromkeys("ABC", 1.0), progress=lambda step, part: None)
    assert [(c.id, c.measured, c.where) for c in checks if not c.ok] == []
    assert {"keys_close_one_way_B", "keys_close_one_way_C", "release_A"} <= {c.id for c in checks}
    parts = sum(p.solid.volume_mm3 for p in assembly.pieces) + assembly.model.volume_mm3
    assert parts == pytest.approx(float(np.prod(assembly.outer_mm)), rel=1e-6)


def test_three_recesses_at_equal_angles_take_three_sides_and_a_base() -> None:
    """A drum with a recess every third of a turn: a side piece for each, the last of which takes what lies
    under it, and a main piece that slip comes through; all of it holds.
    """
    drum, turns = solids.drum(3, corners=48), (120.0, 240.0, 0.0)
    sides = tuple((math.cos(math.radians(a)), math.sin(math.radians(a)), 0.0) for a in turns)
    option = MoldOption("several", UP, 0.0, 0.0, "as asked", sides=sides, base_mm=0.0)
    found, brief = replace(along(UP), options=(option,)), Brief(pieces=4)
    made = make_mold(measured(drum), found, brief, progress=lambda step, part: None)
    assert made.gate.along_pull
    assembly = made.assembly
    assert ([p.id for p in assembly.pieces], assembly.base) == (["A", "B", "C", "D"], "D")
    checks = prove(assembly, drum, brief, dict.fromkeys("ABCD", 1.0), progress=lambda step, part: None)
    assert [(c.id, c.measured, c.where) for c in checks if not c.ok] == []


def test_without_a_gate_the_seam_still_lies_in_the_base() -> None:
    """Upright walls would let it run at either end of them; at the other one the pieces miss a hole."""
    sides = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    option = MoldOption("several", UP, 0.0, 0.0, "as asked", sides=sides, base_mm=-SIDE_MM / 2.0)
    brief = replace(BRIEF, gate="none")
    found = replace(along(UP), options=(option,))
    assembly = make_mold(measured(THING), found, brief, progress=lambda step, part: None).assembly
    parts = sum(p.solid.volume_mm3 for p in assembly.pieces) + assembly.model.volume_mm3
    assert parts == pytest.approx(float(np.prod(assembly.outer_mm)), rel=1e-6)
    base_mm = float(lattice_mm(assembly.model.points)[:, 2].min())
    assert assembly.level_mm == pytest.approx(base_mm, abs=1e-3)


def test_each_piece_leaves_a_case_of_its_own(molded: Molded) -> None:
    """Poured apart, back up, the L that leaves last but one and the pieces beside it leave printed cases, and
    close as they do in the block.
    """
    pieces = {p.id: p for p in molded.assembly.pieces}
    pulls = {letter: p.pull for letter, p in pieces.items()}
    poured = {
        letter: stand(
            letter, p.solid, p.pull, molded.assembly.keys, draft_deg=2.0, clearance_mm=0.2, pulls=pulls,
            others={other: q.solid for other, q in pieces.items() if other != letter},
        )
        for letter, p in pieces.items()
    }  # fmt: skip
    assert len(poured["A"].plugs) >= 2 and poured["A"].cores == ()
    opening = sorted(pieces.values(), key=lambda piece: piece.opens or piece.order)
    checks = closing_checks([poured[piece.id] for piece in opening], pulls)
    for one in poured.values():
        case = build_case(one, Shape(3.2, 6.0, (220.0, 220.0, 250.0), 0.2, False, 1.2, 0.15))
        checks += [*case_checks(case), *loose_checks(one)]
    assert [(check.id, check.measured) for check in checks if not check.ok] == []


def test_nothing_is_filled(molded: Molded) -> None:
    """The model is the object and what the gate holds in the block, to a thousandth, and no face is fill."""
    model, gate = molded.assembly.model, molded.assembly.gate
    assert not (model.origin == int(Origin.FILL)).any()
    assert model.volume_mm3 == pytest.approx(THING.volume_mm3 + 1000.0 * gate.spare_ml, rel=1e-3)


def test_the_last_side_piece_takes_what_the_object_stands_on(molded: Molded) -> None:
    """Piece B has one face of the cube and its hole; C another such, and the whole base but for the gate; A
    has the rest: a face with a hole, and two sides.

    Source: geometry; a hole adds its walls, side pieces reach a hair round the edges of their faces, and the
    gate takes a part of what it meets.
    """
    face_mm2 = SIDE_MM**2
    wall_mm2 = DEEP_MM * 2.0 * CORNERS * HOLE_MM * np.sin(np.pi / CORNERS)
    assembly = molded.assembly
    assert assembly.base == "C"
    edges_mm2 = 0.02 * face_mm2
    assert of_object_mm2(assembly, "B") == pytest.approx(face_mm2 + wall_mm2 + edges_mm2, abs=edges_mm2)
    assert of_object_mm2(assembly, "C") == pytest.approx(2.0 * face_mm2 + wall_mm2, abs=0.1 * face_mm2)
    assert of_object_mm2(assembly, "A") == pytest.approx(3.0 * face_mm2 + wall_mm2, abs=0.1 * face_mm2)
    low = {p.id: float(lattice_mm(p.solid.points)[:, 2].min()) for p in assembly.pieces}
    assert low["A"] == pytest.approx(assembly.level_mm, abs=1e-3)
    assert low["C"] == 0.0


def test_in_another_order_it_locks(molded: Molded) -> None:
    """The piece under the object cannot leave before the one whose keys stand in it."""
    swapped = {"A": 3, "B": 2, "C": 1}
    pieces = tuple(replace(p, opens=swapped[p.id]) for p in molded.assembly.pieces)
    assembly = replace(molded.assembly, pieces=pieces)
    parts = {**{p.id: p.solid for p in pieces}, "model": assembly.model}
    checks = {c.id: c.ok for c in leaving(parts, assembly, lateral_mm=0.01)}
    assert not checks["release_C"]


def test_the_bed_keeps_the_place_under_the_object(molded: Molded, bench: Bench) -> None:
    """Its clay is as wide as the main piece and as high as the base stands over the board, less the gate; it
    stays until the piece that takes its place, which is poured down to the board.
    """
    assembly = molded.assembly
    a, b, c = assembly.pieces
    high_mm = assembly.level_mm - float(lattice_mm(assembly.model.points)[:, 2].min())
    wide_mm2 = np.prod(np.ptp(lattice_mm(a.solid.points)[:, :2], axis=0))
    assert bench.bed is not None
    pad_mm = bench.bed.pad_mm.number
    whole_ml = wide_mm2 * (high_mm + pad_mm) / 1000.0
    assert 0.9 * whole_ml < bench.bed.clay_ml.number < whole_ml
    first, second, third = bench.pours
    turned_kg = [pour.after.flip_kg.number for pour in (first, second) if pour.after.flip_kg]
    clay_kg = bench.bed.clay_g.number / 1000.0
    assert turned_kg[0] > a.solid.volume_mm3 * 1.5e-6 + clay_kg
    assert "The bed stays where it is" in " ".join(first.after.steps)
    assert "Take out the filler, the bed, and all the clay" in " ".join(second.after.steps)
    assert third.form.depth_mm.number == pytest.approx(np.ptp(lattice_mm(c.solid.points)[:, 1]), abs=0.01)
    # The other one fills no more than stands over its interface.
    assert second.form.depth_mm.number == pytest.approx(WALL_MM, abs=0.5)
    coats = [(step.pour.number, step.where) for step in bench.release.steps]
    assert not any("the first piece" in where for _, where in coats)
    assert {pour for pour, where in coats if "the new one will touch" in where} == {2, 3}
    told = {f.where: f.remedy for f in _side_findings(assembly)}
    assert "and the bed, whose place it takes under the object" in told["piece C"]
    assert "the bed" not in told["piece B"]
    assert b.opens == 1


def test_the_bed_is_level_and_carries_no_keys(molded: Molded) -> None:
    """The keys of side pieces are on their fillers; the bed under a single main piece carries none and stands
    at the height of the base at every station, so that it takes no cards.
    """
    assert len(molded.assembly.keys) >= 6
    board_mm = float(lattice_mm(molded.assembly.model.points)[:, 2].min()) - 5.0
    pose = set_pose(molded.assembly, THING, UP, (), board_mm=board_mm, rim_mm=160.0, tilt_deg=None)
    assert (pose.keys, pose.bed_cards, pose.level) == ((), (), True)
    high_mm = molded.assembly.level_mm - board_mm
    assert pose.stations
    assert [station.bed_mm for station in pose.stations] == pytest.approx([high_mm] * len(pose.stations))


def test_letters_have_no_gap_once_a_piece_is_gone(molded: Molded) -> None:
    """Keys and contacts of the second main piece are those of the side piece that took it."""
    a, c, d = molded.assembly.pieces
    named = [a, replace(a, id="B"), replace(c, id="C"), replace(d, id="D")]
    keys = tuple(replace(k, bump_on="C", socket_in="B") for k in molded.assembly.keys[:1])
    contacts = (("A", "B"), ("A", "C"), ("B", "C"), ("B", "D"))
    made = lettered_anew(replace(molded.assembly, pieces=tuple(named), keys=keys, contacts=contacts, base=""))
    assert [(p.id, p.order, p.opens) for p in made.pieces] == [("A", 1, 3), ("B", 2, 1), ("C", 3, 2)]
    assert made.base == "C"
    assert (made.keys[0].bump_on, made.keys[0].socket_in) == ("B", "C")
    assert set(made.contacts) == {("A", "C"), ("A", "B"), ("B", "C")}


def test_a_face_that_tidying_folds_over_is_left_as_it_was(molded: Molded) -> None:
    """No face of a piece lies over another in one plane of the block and looks the other way."""
    for piece in molded.assembly.pieces:
        corner = piece.solid.points[piece.solid.faces]
        across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
        for axis in range(3):
            flat = (np.ptp(corner[:, :, axis], axis=1) == 0) & (across[:, axis] != 0)
            level = corner[flat, 0, axis]
            area = across[flat, axis] / (2.0 * np.delete(UNITS_PER_MM, axis).prod())
            for height in np.unique(level):
                own = area[level == height]
                assert min(own[own > 0.0].sum(), -own[own < 0.0].sum()) < 1.0, (piece.id, axis, height)
