"""Gates: which one, how wide, and that its model is closed and runs out of the block."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from claybed.errors import CannotError, InputError
from claybed.gate.along import bore_place, widening_mm
from claybed.gate.choosing import choose_gate
from claybed.gate.joining import PAST_BLOCK_MM, flare_ratio, join_gate
from claybed.geometry.lattice import XY_PER_MM
from claybed.geometry.mesh import Mesh, Origin
from claybed.geometry.sheet import unmated
from claybed.materials import shelf
from claybed.mold.block import lay_out
from claybed.records.brief import Brief
from claybed.records.gated import GatePlan
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import MoldOption
from tests.mold.molds import UP, Vector, mouth_of
from tests.pieces import solids
from tests.survey.objects import measured

X: Vector = (1.0, 0.0, 0.0)


def two_piece(pull: Vector) -> MoldOption:
    """A two-piece option along a pull."""
    return MoldOption("two_piece", pull, 0.0, 0.0, "as asked")


def vessel() -> MeasuredObject:
    """A tumbler whose top is its closed mouth."""
    solid = solids.tumbler()
    top = (solid.corners_mm[:, :, 2] > 99.9).all(axis=1)
    mesh = Mesh.make(
        solid.vertices_mm, solid.faces, frame="object", origin=np.where(top, int(Origin.MOUTH), 0)
    )
    turn = np.arange(128) * 2.0 * np.pi / 128
    rim = np.stack([40.0 * np.cos(turn), 40.0 * np.sin(turn), np.full(128, 100.0)], axis=1)
    return measured(mesh, mouth=mouth_of(rim, UP))


def test_an_object_without_a_mouth_gets_a_bore_at_its_foot() -> None:
    """It leaves square to the pull, downwards as the object stands."""
    plan = choose_gate(measured(solids.cup_with_handle()), two_piece((0.0, 1.0, 0.0)), Brief())
    assert plan.kind == "bore"
    assert plan.out == pytest.approx((0.0, 0.0, -1.0))
    assert not plan.along_pull


@pytest.mark.parametrize("turned_deg", [1.3, -20.0, 44.0])
def test_the_block_stands_square_to_a_side_piece(turned_deg: float) -> None:
    """A long object whose side piece leaves aslant of its length: gate and block go by the side piece, whose
    pull is then whole on the lattice; and so does a block without a gate.
    """
    turn = math.radians(turned_deg)
    side = (math.cos(turn), math.sin(turn), 0.0)
    obj = measured(solids.box(90.0, 30.0, 30.0))
    option = MoldOption("several", UP, 0.0, 0.0, "as asked", sides=(side,))
    plan = choose_gate(obj, option, Brief())
    assert float(np.dot(plan.out, side)) == pytest.approx(-1.0)
    for gate in (plan, replace(plan, kind="none")):
        layout = lay_out(obj.mesh, UP, gate, Brief(), pieces=2, sides=option.sides)
        x, y, z = np.abs(layout.rotation @ np.array(side))
        assert (max(x, y), min(x, y), z) == pytest.approx((1.0, 0.0, 0.0), abs=1e-9)


def test_pulled_upright_the_bore_leaves_sideways() -> None:
    """When the foot looks along the pull, the bore takes the long way, still square to the pull."""
    plan = choose_gate(measured(solids.box(90.0, 30.0, 30.0)), two_piece(UP), Brief())
    assert abs(plan.out[0]) == pytest.approx(1.0, abs=1e-6)
    assert plan.out[2] == pytest.approx(0.0, abs=1e-9)


def test_a_vessel_is_filled_through_its_mouth() -> None:
    """Along the pull or out of the side, as the mouth looks."""
    upright = choose_gate(vessel(), two_piece(UP), Brief())
    assert (upright.kind, upright.along_pull) == ("mouth", True)
    lying = choose_gate(vessel(), two_piece(X), Brief())
    assert (lying.kind, lying.along_pull) == ("mouth", False)
    assert lying.out == pytest.approx(UP)


def test_gates_that_are_not_wanted_are_left_out() -> None:
    """Asked for none, pressed by hand, or an open face: no bore."""
    ball = measured(solids.sphere(30.0, subdivisions=3))
    assert choose_gate(ball, two_piece(UP), Brief(gate="none")).kind == "none"
    assert choose_gate(ball, two_piece(UP), Brief(use="press")).kind == "none"
    assert choose_gate(ball, replace(two_piece(UP), kind="one_piece"), Brief()).kind == "face"


@pytest.mark.parametrize("ware_mm", [2.0, 3.0, 4.0, 5.5, 7.0])
def test_a_bore_never_closes_while_the_wall_builds(ware_mm: float) -> None:
    """A bore D narrows to sqrt(D² - 8 L²) by the time a wall L stands: the clear way asked for is left."""
    plan = choose_gate(measured(solids.sphere(50.0)), two_piece(UP), Brief(ware_wall_mm=ware_mm))
    left = math.sqrt(plan.bore_mm**2 - 8.0 * ware_mm**2)
    assert left >= shelf.value("practice", "gate_clear_least_mm").value - 1e-9
    assert plan.bore_mm > shelf.value("practice", "closing_bore_factor").value * ware_mm


def test_a_bore_that_would_close_is_refused() -> None:
    """The largest wall that bore can cast is below the wall asked for."""
    closes = shelf.value("practice", "closing_bore_factor").value * 4.0
    ball = measured(solids.sphere(50.0))
    assert choose_gate(ball, two_piece(UP), Brief(gate_bore_mm=closes + 0.1)).bore_mm == closes + 0.1
    with pytest.raises(InputError, match="closes while"):
        choose_gate(ball, two_piece(UP), Brief(gate_bore_mm=closes))


@pytest.mark.parametrize("shape", ["boxed", "round"])
def test_a_bore_runs_from_inside_the_object_past_the_block(shape: str) -> None:
    """The joined mesh is closed, reaches beyond the outline, and the spare is the cone in between."""
    ball = measured(solids.sphere(50.0, subdivisions=3))
    brief = Brief(shape=shape)  # type: ignore[arg-type]
    plan = choose_gate(ball, two_piece(UP), brief)
    layout = lay_out(ball.mesh, UP, plan, brief, pieces=2)
    got = join_gate(ball.mesh, layout, plan, top_mm=100.0)
    assert len(unmated(got.mesh.faces, len(got.mesh.vertices_mm))) == 0
    far = float(got.mesh.vertices_mm[:, 1].max())
    side = float(layout.footprint[:, 1].max()) / XY_PER_MM
    assert far == pytest.approx(side + PAST_BLOCK_MM, abs=1e-6)
    length = side - 50.0
    r = plan.bore_mm / 2.0
    wide = r + length * flare_ratio("bore")
    cone_ml = math.pi * length / 3.0 * (r * r + r * wide + wide * wide) / 1000.0
    assert got.spare_ml == pytest.approx(cone_ml, rel=0.01)
    assert got.closes_at_wall_mm == pytest.approx(
        plan.bore_mm / shelf.value("practice", "closing_bore_factor").value
    )
    gate = got.mesh.corners_mm[got.mesh.origin == int(Origin.GATE)]
    assert (np.linalg.norm(gate, axis=2).max(axis=1) > 45.0).all()


def test_a_mouth_along_the_pull_ends_at_the_blocks_top() -> None:
    """The spare ends level with the top of the block and holds mouth area times its length."""
    cup = vessel()
    plan = choose_gate(cup, two_piece(UP), Brief())
    layout = lay_out(cup.mesh, UP, plan, Brief(), pieces=2)
    got = join_gate(cup.mesh, layout, plan, top_mm=90.0)
    assert got.mesh.vertices_mm[:, 2].max() == pytest.approx(90.0)
    assert len(unmated(got.mesh.faces, len(got.mesh.vertices_mm))) == 0
    disc = 0.5 * 128 * 40.0**2 * math.sin(2.0 * math.pi / 128)
    assert got.spare_ml == pytest.approx(disc * (90.0 - 50.0) / 1000.0, rel=1e-6)


@pytest.mark.parametrize("lean_deg", [10.0, 25.0])
def test_all_of_a_leaning_mouth_comes_out_of_the_block(lean_deg: float) -> None:
    """Pulled aslant of its mouth, a vessel's spare still ends in one plane past the block's side."""
    cup, lean = vessel(), math.radians(lean_deg)
    pull = (math.cos(lean), 0.0, math.sin(lean))
    plan = choose_gate(cup, two_piece(pull), Brief())
    layout = lay_out(cup.mesh, pull, plan, Brief(), pieces=2)
    got = join_gate(cup.mesh, layout, plan, top_mm=90.0)
    end = got.mesh.vertices_mm[np.unique(got.mesh.faces[got.mesh.origin == int(Origin.MOUTH)])] @ got.out
    side = float((layout.footprint / XY_PER_MM @ got.out[:2]).max())
    assert end == pytest.approx(side + PAST_BLOCK_MM, abs=1e-6)
    assert len(unmated(got.mesh.faces, len(got.mesh.vertices_mm))) == 0


def test_a_mouth_sideways_runs_past_the_block() -> None:
    """Carried out of the block's side it is closed, and wider at the end than at the rim."""
    cup = vessel()
    plan = choose_gate(cup, two_piece(X), Brief())
    layout = lay_out(cup.mesh, X, plan, Brief(), pieces=2)
    got = join_gate(cup.mesh, layout, plan, top_mm=90.0)
    assert len(unmated(got.mesh.faces, len(got.mesh.vertices_mm))) == 0
    end = got.mesh.vertices_mm[:, 1]
    assert end.max() == pytest.approx(
        float(layout.footprint[:, 1].max()) / XY_PER_MM + PAST_BLOCK_MM, abs=1e-6
    )
    ring = got.mesh.vertices_mm[end > end.max() - 1e-6]
    assert np.ptp(ring[:, 2]) > 80.0


def wedge(length_mm: float, half_angle_deg: float) -> Mesh:
    """A wedge 80 mm wide whose edge lies at +x and whose sides open at half the angle each."""
    half = length_mm * math.tan(math.radians(half_angle_deg))
    corners = [(length_mm, -40.0, 0.0), (length_mm, 40.0, 0.0)]
    corners += [(0.0, y, z) for y in (-40.0, 40.0) for z in (-half, half)]
    faces = [(0, 1, 5), (0, 5, 3), (0, 4, 1), (0, 2, 4), (0, 3, 2), (1, 4, 5), (2, 3, 5), (2, 5, 4)]
    return Mesh.make(np.array(corners), np.array(faces), frame="object")


@pytest.mark.parametrize("half_angle_deg", [20.0, 30.0])
def test_a_bore_at_an_edge_goes_in_until_slip_gets_past_both_walls(half_angle_deg: float) -> None:
    """As deep as the wedge takes to be two walls and a clear way thick: geometry; less for thin ware."""
    mesh = wedge(100.0, half_angle_deg)
    went = []
    for ware_mm in (2.0, 3.0):
        brief = Brief(ware_wall_mm=ware_mm, up=(-1.0, 0.0, 0.0))
        plan = choose_gate(measured(mesh), two_piece(UP), brief)
        layout = lay_out(mesh, UP, plan, brief, pieces=2)
        got = join_gate(mesh, layout, plan, top_mm=100.0)
        thick = 2.0 * ware_mm + shelf.value("practice", "gate_clear_least_mm").value
        needed = thick / (2.0 * math.tan(math.radians(half_angle_deg)))
        assert needed - 0.01 <= got.laps_mm[0] <= needed + 0.51
        assert got.laps_mm[1] == pytest.approx(got.laps_mm[0], abs=0.01)
        went.append(got.laps_mm[0])
    assert went[0] < went[1]


def test_a_bore_laps_over_the_edge_of_a_thin_plate_by_a_third_of_its_width() -> None:
    """A plate never thick enough is not run through: 0.35 of a bore's width of it are covered on both sides
    (chosen, materials/practice).
    """
    plate = solids.box(120.0, 90.0, 6.0)
    brief = Brief(up=(-1.0, 0.0, 0.0))
    plan = choose_gate(measured(plate), two_piece(UP), brief)
    got = join_gate(plate, lay_out(plate, UP, plan, brief, pieces=2), plan, top_mm=60.0)
    assert got.laps_mm == pytest.approx((0.35 * plan.bore_mm, 0.35 * plan.bore_mm), abs=0.51)


def test_a_gate_comes_out_where_it_is_asked_for() -> None:
    """Square to the pull as near as asked; a direction along the pull, or for a mouth, is refused."""
    ball = measured(solids.sphere(50.0, subdivisions=3))
    asked = Brief(gate=(0.6, 0.0, 0.8))
    assert choose_gate(ball, two_piece(UP), Brief()).out != pytest.approx(X)
    assert choose_gate(ball, two_piece((0.0, 0.0, 1.0)), replace(asked, gate=(0.9, 0.1, 0.2))).out[
        2
    ] == pytest.approx(0.0, abs=1e-12)
    assert choose_gate(ball, two_piece((0.0, 1.0, 0.0)), asked).out == pytest.approx((0.6, 0.0, 0.8))
    with pytest.raises(InputError, match="square to the pull"):
        choose_gate(ball, two_piece(UP), Brief(gate=UP))
    with pytest.raises(InputError, match="own mouth"):
        choose_gate(vessel(), two_piece(X), Brief(gate=(0.0, 1.0, 0.0)))
    beside = replace(two_piece(UP), sides=(X,))
    with pytest.raises(InputError, match="side piece"):
        choose_gate(ball, beside, Brief(gate=X))


def test_a_bore_at_a_base_tells_what_it_takes() -> None:
    """Half of it runs over the base: a bar of 10 x 7 mm on it lies inside a bore of 20 mm for the radius that
    it goes in, 0.7 ml (closed form); of a block nothing is taken.
    """
    out = (0.0, -1.0, 0.0)
    plan = GatePlan("bore", out, 20.0, False, "at the foot", at_base=True, slot_mm=18.0)
    taken = []
    for mesh in (solids.box(10.0, 60.0, 7.0), solids.box(60.0, 60.0, 60.0)):
        layout = lay_out(mesh, UP, plan, brief=Brief(), pieces=2, sides=((0.0, 1.0, 0.0),))
        foot_mm = float(mesh.vertices_mm[:, 2].min() + layout.shift_mm[2])
        gated = join_gate(mesh, replace(layout, plane_mm=foot_mm), plan, top_mm=100.0)
        taken.append((gated.taken_mm, gated.taken_ml))
    assert taken[0] == pytest.approx((10.0, 0.7), rel=0.05)
    assert taken[1] == (0.0, 0.0)


def test_a_bore_at_two_feet_goes_to_the_wider_one() -> None:
    """Of two feet that reach as far the bore comes out of one of them, not from the air between."""
    feet = solids.box(20.0, 20.0, 60.0).vertices_mm, solids.box(30.0, 30.0, 60.0).vertices_mm
    corners = np.concatenate([feet[0] + [-50.0, 0.0, 30.0], feet[1] + [50.0, 0.0, 30.0]])
    faces = np.concatenate([solids.box(1.0, 1.0, 1.0).faces, solids.box(1.0, 1.0, 1.0).faces + len(feet[0])])
    bar = solids.box(130.0, 30.0, 20.0)
    faces = np.concatenate([faces, bar.faces + len(corners)])
    corners = np.concatenate([corners, bar.vertices_mm + np.array([0.0, 0.0, 65.0])])
    mesh = Mesh.make(corners, faces, frame="object")
    plan = choose_gate(measured(mesh), two_piece((0.0, 1.0, 0.0)), Brief(gate=(0.0, 0.0, -1.0)))
    layout = lay_out(mesh, (0.0, 1.0, 0.0), plan, Brief(), pieces=2)
    got = join_gate(mesh, layout, plan, top_mm=60.0)
    back = layout.rotation.T @ (got.at_mm - layout.shift_mm)
    assert back[0] == pytest.approx(50.0, abs=0.1)
    assert abs(back[1]) < 0.1


RING = ((0.0, 0.0, 1.0), (0.0, 0.0, -1.0), (0.0, 1.0, 0.0), (0.0, -1.0, 0.0))


def test_side_pieces_all_round_send_the_gate_along_the_pull() -> None:
    """With one side free it still comes out between the main pieces; with none, or beside a piece that leans,
    through the first piece. One that nobody asked for may be as narrow as slip allows.
    """
    cube = measured(solids.box(60.0, 60.0, 60.0))
    shut = MoldOption("several", X, 0.0, 0.0, "as asked", sides=RING)
    along = choose_gate(cube, shut, Brief())
    assert (along.kind, along.along_pull, along.out, along.beside) == ("bore", True, X, RING)
    assert along.least_mm < along.bore_mm
    assert choose_gate(cube, shut, Brief(gate_bore_mm=22.0)).least_mm == 22.0
    beside = choose_gate(cube, replace(shut, sides=RING[:3]), Brief())
    assert not beside.along_pull
    assert beside.out == pytest.approx(RING[3], abs=1e-9)
    assert choose_gate(cube, shut, Brief(gate=X)).along_pull
    with pytest.raises(InputError, match="side pieces stand all round"):
        choose_gate(cube, shut, Brief(gate=(0.0, 0.0, 1.0)))
    leaning = replace(shut, sides=RING[:1], leans=(-0.6, 0.0, -0.8), crown_mm=30.0)
    assert choose_gate(cube, leaning, Brief()).along_pull


def test_a_bore_along_the_pull_takes_the_room_there_is() -> None:
    """As wide as asked where it fits, narrower beside a hole and side pieces, and refused with what would fit
    where even the narrowest does not.
    """
    ends = [np.array(side) for side in ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0))]
    plain = solids.box(60.0, 60.0, 60.0)
    at, bore_mm = bore_place(plain, ends, length_mm=30.0, bore_mm=25.0, least_mm=16.0)
    assert bore_mm == 25.0
    drilled = solids.cube_with_blind_holes(("+z",), hole_mm=8.0, corners=24)
    at, bore_mm = bore_place(drilled, ends, length_mm=30.0, bore_mm=25.0, least_mm=16.0)
    reach_mm = bore_mm / 2.0 + widening_mm(30.0)
    assert 16.0 <= bore_mm < 25.0
    assert float(np.hypot(*at[:2])) >= 8.0 + reach_mm
    assert (at[:2] + reach_mm <= 25.0).all()
    assert (at[:2] - reach_mm >= -30.0).all()
    with pytest.raises(CannotError, match=r"at most .* would fit") as refused:
        bore_place(drilled, ends, length_mm=30.0, bore_mm=25.0, least_mm=25.0)
    assert "--gate none" in refused.value.remedy


def test_a_bore_finds_a_flat_place_below_the_top() -> None:
    """A tray has no room on its rim of 4 mm: the bore stands on its floor, a web of plaster off its walls,
    as wide as asked; where the top has room it stays there.
    """
    outer, well = solids.box(100.0, 80.0, 30.0), solids.box(92.0, 72.0, 30.0)
    tray = solids.from_manifold(
        solids.to_manifold(outer) - solids.to_manifold(well).translate([0.0, 0.0, 12.0])
    )
    top_mm, floor_mm = float(tray.vertices_mm[:, 2].max()), float(np.unique(tray.vertices_mm[:, 2])[1])
    at, bore_mm = bore_place(tray, (), length_mm=30.0, bore_mm=20.0, least_mm=16.0)
    assert bore_mm == 20.0
    assert at[2] == pytest.approx(floor_mm) and floor_mm < top_mm - 15.0
    reach_mm = 10.0 + widening_mm(30.0 + top_mm - floor_mm)
    web_mm = shelf.value("practice", "plate_least_mm").value
    assert abs(at[0]) + reach_mm + web_mm <= 46.0 and abs(at[1]) + reach_mm + web_mm <= 36.0
    turned = tray.moved(np.diag([1.0, -1.0, -1.0]), np.zeros(3), frame="pull")
    under, _ = bore_place(turned, (), length_mm=30.0, bore_mm=20.0, least_mm=16.0)
    assert under[2] == pytest.approx(float(turned.vertices_mm[:, 2].max()))
