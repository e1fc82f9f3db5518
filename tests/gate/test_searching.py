"""Where a gate is put: the place that keeps least, the usual one where that is as good, and told why."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import manifold3d
import numpy as np
import pytest

from claybed.errors import InputError
from claybed.flow import molding
from claybed.flow.gate_noticing import gate_off, gate_placed, gate_words
from claybed.flow.made_fill import SideFillError
from claybed.flow.molding import Molded
from claybed.gate.choosing import another_way, choose_gate
from claybed.gate.flowing import flow_of
from claybed.gate.joining import join_gate
from claybed.gate.judging import cells_of
from claybed.gate.searching import searched
from claybed.gate.slender import is_slender
from claybed.gate.tips import end_beside, tips
from claybed.geometry.mesh import Mesh
from claybed.mold.block import lay_out
from claybed.proof.evidence import prove
from claybed.records.brief import Brief
from claybed.records.gated import GatePlan
from claybed.records.surveyed import MoldOption
from tests.mold.molds import Vector, mold
from tests.pieces import solids
from tests.survey.objects import measured

X: Vector = (1.0, 0.0, 0.0)
Y: Vector = (0.0, 1.0, 0.0)
Z: Vector = (0.0, 0.0, 1.0)


def bridge() -> Mesh:
    """Two legs of 26 mm square, 70 mm long, under a bar: upside down each leg is a blind chimney."""
    cube = manifold3d.Manifold.cube
    legs = [cube([26.0, 26.0, 70.0], True).translate([x, 0.0, 35.0]) for x in (-47.0, 47.0)]
    bar = cube([120.0, 26.0, 26.0], True).translate([0.0, 0.0, 83.0])
    return solids.from_manifold(manifold3d.Manifold.batch_boolean([*legs, bar], manifold3d.OpType.Add))


def flask(neck_mm: float) -> Mesh:
    """A closed bottle 70 mm wide whose neck ends flat."""
    half = neck_mm / 2.0
    outline = [(0.0, 0.0), (35.0, 0.0), (35.0, 90.0), (half, 120.0), (half, 150.0), (0.0, 150.0)]
    return solids.revolved(np.array(outline), sides=48)


def placed_gate(mesh: Mesh, pull: Vector, brief: Brief) -> GatePlan:
    """The gate that a search settles on."""
    obj, option = measured(mesh), MoldOption("two_piece", pull, 0.0, 0.0, "as asked")
    return searched(choose_gate(obj, option, brief), obj, option, brief)


def test_a_gate_leaves_a_foot_whose_other_leg_would_trap_air() -> None:
    """Filled through one foot the other leg is a blind chimney, 26 x 26 x 70 mm: that much air is caught, as
    the cells foretell and as the mold that is cut so has it (geometry). Through the bar nothing is.
    """
    brief = Brief(keys=False)
    gate = placed_gate(bridge(), Y, brief)
    here, usual = gate.tried
    assert gate.chosen == "better"
    assert usual.out == pytest.approx((0.0, 0.0, -1.0), abs=1e-9)
    chimney_ml = 2.6 * 2.6 * 7.0
    assert usual.air_ml == pytest.approx(chimney_ml, rel=0.1)
    assert here.left_ml == 0.0
    made = mold(bridge(), Y, brief)
    assert made.gate == gate
    flow = flow_of(made.assembly, brief)
    assert flow is not None
    assert not flow.air and flow.left_ml == flow.shut_ml == 0.0
    as_usual = flow_of(mold(bridge(), Y, replace(brief, gate=(0.0, 0.0, -1.0))).assembly, brief)
    assert as_usual is not None
    assert sum(pocket.volume_ml for pocket in as_usual.air) == pytest.approx(chimney_ml, rel=0.1)
    (told,) = gate_placed(gate)
    assert told.says.startswith(f"Slip goes in {here.words}, the best of")
    assert told.remedy.endswith("say --gate -z.")


def test_where_no_mold_with_the_best_gate_holds_the_next_best_is_taken(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Not the usual place at once, behind which a chimney full of air stays: there is another without."""
    brief = Brief(keys=False)
    best = placed_gate(bridge(), Y, brief)
    monkeypatch.setattr(molding, "_faulty", lambda made, *_: made.gate == best)
    gate = mold(bridge(), Y, brief).gate
    assert gate == best.in_place_of and gate.chosen == "next"
    assert gate.tried[0].left_ml < 1.0 < gate.tried[1].left_ml
    assert "for which a sound mold could be cut" in gate_words(gate)
    monkeypatch.setattr(molding, "_faulty", lambda made, *_: made.gate.chosen != "")
    assert mold(bridge(), Y, brief).gate.out == pytest.approx((0.0, 0.0, -1.0), abs=1e-9)


def test_what_side_pieces_leave_locked_with_one_gate_is_cut_with_the_next(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A candlestick filled at its socket left 2 ml locked, and nothing filled at its foot."""
    real = molding._one

    def locked(obj: Any, option: Any, gate: GatePlan, *rest: Any, **more: Any) -> Molded:
        if gate.chosen:
            raise SideFillError("2 ml stay", where="here", remedy="none", left_ml=2.0, leave=True)
        return real(obj, option, gate, *rest, **more)

    monkeypatch.setattr(molding, "_one", locked)
    assert mold(bridge(), Y, Brief(keys=False)).gate.chosen == ""


@pytest.mark.parametrize("mesh", [solids.sphere(50.0, subdivisions=3), solids.cup_with_handle()])
def test_a_gate_stays_where_it_is_good_enough(mesh: Mesh) -> None:
    """A ball drains through any place, a cup with a ring through its foot: nothing else is looked for."""
    gate = placed_gate(mesh, Y, Brief())
    assert gate.in_place_of is None and not gate.tried
    assert gate.out == pytest.approx((0.0, 0.0, -1.0), abs=1e-9)
    assert gate_words(gate) == "" and gate_placed(gate) == ()


def test_an_object_thinner_than_a_cell_keeps_the_usual_place() -> None:
    """A cup of 8 mm with a wall of 0.1 mm, read in the wrong unit, is judged by no cell, and no error."""
    cup = solids.tumbler(foot_mm=3.0, rim_mm=4.0, height_mm=8.0, wall_mm=0.1)
    gate = placed_gate(cup, Z, Brief())
    assert gate.in_place_of is None and gate.kind == "bore"


def test_what_is_asked_for_is_not_searched() -> None:
    """A direction given stands, though another keeps less; and so does a bore along the pull."""
    foot = Brief(gate=(0.0, 0.0, -1.0))
    assert placed_gate(bridge(), Y, foot).out == pytest.approx(foot.gate, abs=1e-9)
    obj, brief = measured(bridge()), Brief()
    leaning = MoldOption("several", Z, 0.0, 0.0, "as asked", sides=(Y,), leans=(0.0, -0.6, -0.8))
    plan = choose_gate(obj, leaning, brief)
    assert plan.along_pull and searched(plan, obj, leaning, brief) == plan


def test_hollow_ware_drawn_closed_is_filled_by_its_neck() -> None:
    """At a neck wide enough for the bore and a rim; else at the foot, with the reason; upside down it has no
    neck on top.
    """
    gate = placed_gate(flask(30.0), Y, Brief())
    assert gate.chosen == "neck"
    assert gate.out == pytest.approx((0.0, 0.0, 1.0), abs=1e-9)
    assert "a flat round end of 30 mm" in gate_words(gate)
    narrow = placed_gate(flask(14.0), Y, Brief())
    assert narrow.chosen == "neck_narrow" and narrow.in_place_of is None
    assert "a bore of 20 mm would leave no rim" in gate_words(narrow)
    assert placed_gate(flask(30.0), Y, Brief(up=(0.0, 0.0, -1.0))).chosen == ""


@pytest.mark.parametrize("up", [Z, (0.0, 0.0, -1.0)])
def test_a_disc_with_a_thin_rim_is_filled_through_its_underside(up: Vector) -> None:
    """Every place of a seam round a flange of 5 mm is shut by two walls of 4 mm; a bore along the pull stands
    on the disc itself, on the side that nobody sees, whichever piece that is.
    """
    outline = [(0.0, -14.0), (40.0, -14.0), (40.0, -2.5), (85.0, -2.5)]
    outline += [(85.0, 2.5), (40.0, 2.5), (40.0, 14.0), (0.0, 14.0)]
    gate = placed_gate(solids.revolved(np.array(outline), sides=48), Z, Brief(up=up))
    through, rim = gate.tried
    assert gate.along_pull and gate.out == pytest.approx(-np.array(up))
    assert gate.at_mm is not None and gate.at_mm[2] == pytest.approx(-14.0 * up[2], abs=0.01)
    assert through.words == "at the foot, through the first piece"
    assert through.left_ml == 0.0
    assert rim.shut_ml > 40.0


def test_a_dish_is_drained_through_its_underside() -> None:
    """Walls of 5 mm shut while 4 mm build, and with them 12 mm of floor: the mold is cut the other way up,
    with the bore in the underside, and keeps next to nothing; asked for at the side it keeps the floor's
    slip, 12 - 2 x 4 mm thick (geometry, to a cell on each side).
    """
    outer = solids.to_manifold(solids.frustum(45.0, 50.0, 50.0))
    well = solids.to_manifold(solids.frustum(41.0, 46.0, 50.0)).translate([0.0, 0.0, 12.0])
    dish, brief = solids.from_manifold(outer - well), Brief(keys=False)
    made = mold(dish, Z, brief)
    assert made.gate.chosen == "better" and made.gate.along_pull
    assert made.option.pull == (0.0, 0.0, -1.0)
    assert made.assembly.gate.out == pytest.approx((0.0, 0.0, 1.0), abs=1e-9)
    flow = flow_of(made.assembly, brief)
    assert flow is not None
    assert flow.left_ml + flow.shut_ml < 0.03 * flow.cavity_ml and not flow.air
    aside = flow_of(mold(dish, Z, replace(brief, gate=(1.0, 0.0, 0.0))).assembly, brief)
    assert aside is not None
    floor_ml = math.pi * 41.0**2 * (12.0 - 2.0 * 4.0) / 1000.0
    assert aside.shut_ml == pytest.approx(floor_ml, rel=2.0 * aside.cell_mm / 4.0)
    evidence = prove(made.assembly, dish, brief, {"A": 1.0, "B": 1.0}, progress=lambda step, part: None)
    assert [check.id for check in evidence if not check.ok] == []


def test_each_foot_is_an_end_and_a_way_blocked_is_none() -> None:
    """Downwards a bridge has two ends, upwards one; from between its legs no bore leads out sideways."""
    mesh = bridge()
    turned = Mesh.make(mesh.vertices_mm[:, [0, 2, 1]] * [1.0, 1.0, -1.0], mesh.faces, frame="pull")
    cells = cells_of(turned, 4000)
    down = tips(turned, cells, np.array([0.0, -1.0, 0.0]), 10.0, most=4)
    assert sorted(round(float(at[0])) for at in down) == [-47, 47]
    assert len(tips(turned, cells, np.array([0.0, 1.0, 0.0]), 10.0, most=4)) == 1
    sides = tips(turned, cells, np.array([1.0, 0.0, 0.0]), 10.0, most=4)
    assert [round(float(at[0])) for at in sides] == [60]


def test_a_gate_leaves_a_tail_for_the_body() -> None:
    """A ball of 60 mm with a tail of 16 mm that points away from the bench: the ball is wider than a bore of
    20 mm and two walls of 2 mm, the tail is not, though it drains. The gate that was usual comes last.
    """
    body, tail = solids.to_manifold(solids.sphere(30.0)), solids.to_manifold(solids.cylinder(8.0, 70.0))
    whole = body + tail.translate([0.0, 0.0, -20.0 - float(tail.bounding_box()[5])])
    gate = placed_gate(solids.from_manifold(whole), Y, Brief(ware_wall_mm=2.0))
    assert gate.chosen == "wider"
    assert gate.at_mm is not None
    # On the ball, and not where the tail is.
    assert math.hypot(*gate.at_mm) == pytest.approx(30.0, abs=1.0)
    assert gate.out[2] > -0.9
    last = gate
    while last.in_place_of is not None:
        last = last.in_place_of
    assert last.out == pytest.approx((0.0, 0.0, -1.0), abs=1e-9)
    (told,) = gate_placed(gate)
    assert "at the foot, the usual place" in told.says


def test_another_way_is_named_only_where_a_gate_may_come_out() -> None:
    """Below, a side piece stands in the way: what is named is not refused."""
    obj, brief = measured(flask(40.0)), Brief()
    two = MoldOption("two_piece", X, 0.0, 0.0, "as asked")
    assert another_way(obj, two, brief, (0.0, 0.0, 1.0)) == pytest.approx((0.0, 0.0, -1.0))
    footed = replace(two, sides=((0.0, 0.0, -1.0),))
    way = another_way(obj, footed, brief, (0.0, 0.0, 1.0))
    assert way is not None
    assert way[2] > -0.5
    assert choose_gate(obj, footed, replace(brief, gate=way)).kind == "bore"
    with pytest.raises(InputError, match="side piece stands"):
        choose_gate(obj, footed, replace(brief, gate=(0.0, 0.0, -1.0)))


@pytest.mark.parametrize(("radius_mm", "slender"), [(13.0, True), (15.0, False)])
def test_an_end_is_slender_up_to_the_bore_and_a_wall_either_side(radius_mm: float, slender: bool) -> None:
    """20 + 2 x 4 = 28 mm across; and a knob on a neck of 12 mm, where slip needs sqrt(10^2 + 8 4^2) = 15 mm
    for a clear way of 10 (casting law), is slender however wide it is.
    """
    end = np.array([0.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0])
    walls = {"wall_mm": 4.0, "least_mm": 15.0}
    assert is_slender(flat_top(radius_mm, radius_mm), *end, 20.0, **walls) is slender
    assert is_slender(flat_top(radius_mm, 6.0), *end, 20.0, **walls)


def flat_top(radius_mm: float, neck_mm: float) -> Mesh:
    """A turned object with its flat end at height 0, a neck 12 to 25 mm below it, and a wide foot."""
    outline = [(0.0, -60.0), (40.0, -60.0), (40.0, -30.0), (neck_mm, -25.0), (neck_mm, -12.0)]
    return solids.revolved(np.array([*outline, (radius_mm, -10.0), (radius_mm, 0.0), (0.0, 0.0)]), sides=48)


def test_a_gate_meets_the_object_where_it_was_judged() -> None:
    """A place that is not the furthest end is kept when the bore is joined."""
    mesh, brief = bridge(), Brief()
    plan = choose_gate(measured(mesh), MoldOption("two_piece", Y, 0.0, 0.0, "as asked"), brief)
    there = replace(plan, at_mm=(-47.0, 0.0, 0.0))
    layout = lay_out(mesh, Y, there, brief, pieces=2)
    got = join_gate(mesh, layout, there, top_mm=60.0)
    back = layout.rotation.T @ (got.at_mm - layout.shift_mm)
    assert back == pytest.approx((-47.0, 0.0, 0.0), abs=1e-9)


def test_a_gate_leaves_room_for_the_pieces_above_and_below() -> None:
    """Beside a piece that stands on the object's top a bore comes out lower, on the slope of its side; an
    object too short for it, between two such pieces, keeps the usual place.
    """
    cone = solids.frustum(20.0, 30.0, 60.0)
    top_mm = float(cone.vertices_mm[:, 2].max())
    rim, out, up = np.array([0.0, 30.0, top_mm]), np.array(Y), np.array(Z)
    got = end_beside(cone, rim, out, 12.0, [up])
    assert got[2] == pytest.approx(top_mm - 13.0)
    # on the slope: 10 mm narrower over 60 mm of height
    assert got[1] == pytest.approx(30.0 - 13.0 / 6.0, abs=0.02)
    assert end_beside(cone, got, out, 12.0, [up]) is got
    assert end_beside(cone, rim, out, 35.0, [up, -up]) is rim


def test_a_gate_off_the_way_asked_for_says_by_how_much() -> None:
    """Square to a pull 30 degrees over a level one, a gate asked along z comes out 30 degrees off it; square
    to the pull it is as asked, and nothing is said (geometry).
    """
    aslant = (math.cos(math.radians(30.0)), 0.0, math.sin(math.radians(30.0)))
    gate = placed_gate(solids.sphere(40.0, subdivisions=3), aslant, Brief(gate=Z))
    (told,) = gate_off(gate, Z, aslant)
    assert told.amount is not None and told.amount.value == pytest.approx(30.0, abs=1e-6)
    assert told.says.startswith("The gate comes out 30 degrees off z, ")
    assert "--axis x:" in told.remedy
    level = placed_gate(solids.sphere(40.0, subdivisions=3), Y, Brief(gate=Z))
    assert gate_off(level, Z, Y) == ()
    assert gate_off(gate, "auto", aslant) == ()


def test_a_bore_is_made_narrower_before_it_takes_the_end_it_comes_in_at() -> None:
    """A rod of 16 mm lies inside the usual bore of 20 mm; with a wall of 4 mm a bore of 14 mm still keeps a
    way of sqrt(14^2 - 8 * 4^2) = 8.2 mm clear (closed form of the casting law). What is asked for stays.
    """
    rod = solids.cylinder(8.0, 70.0)
    found = placed_gate(rod, Y, Brief(ware_wall_mm=4.0))
    assert 14.0 <= found.bore_mm <= 16.0 and found.usual_bore_mm == 20.0
    # all of a rod in the usual bore, pi 8^2 mm2 for each millimetre (closed form, faceted)
    assert found.usual_takes_ml == pytest.approx(math.pi * 64.0 * found.usual_takes_mm / 1000.0, rel=0.03)
    assert placed_gate(rod, Y, Brief(ware_wall_mm=4.0, gate_bore_mm=20.0)).bore_mm == 20.0
    assert placed_gate(solids.cylinder(15.0, 70.0), Y, Brief(ware_wall_mm=4.0)).bore_mm == 20.0
