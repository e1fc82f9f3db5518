"""Finger slots of heavy pieces: where they are, what they take, that their blocks can be drawn."""

from __future__ import annotations

import math
from dataclasses import replace
from io import BytesIO

import numpy as np
import pytest
import trimesh

from claybed.cases.finger_slots import SlotSizes, formers, slot_wall_mm, with_slots
from claybed.cases.loose_keys import with_sockets
from claybed.cases.proving import case_checks, closing_checks, slot_checks
from claybed.cases.vessel import build_case
from claybed.flow.cases import slots_from_kg
from claybed.geometry.forming import box, hull, on_lattice, rod
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.stl import stl_bytes
from claybed.materials import shelf
from claybed.records.assembly import Assembly, BlockKey
from claybed.records.cases import FingerSlot, Poured, Shape
from tests.cases.stood import stand
from tests.proof.small_mold import double_cone, mold_of

SIZES = SlotSizes(
    deep_mm=15.0, deep_least_mm=10.0, wide_mm=50.0, wide_least_mm=30.0, tall_mm=12.0, draft_deg=5.0,
    least_mm=9.0,
)  # fmt: skip
DOWN = (0.0, 0.0, -1.0)


@pytest.fixture(scope="module")
def boxed() -> Assembly:
    """A boxed mold of a double cone, four keys on A."""
    return mold_of(double_cone())


def standing(mold: Assembly, letter: str) -> Poured:
    """A piece of a mold as its case pours it."""
    piece = next(p for p in mold.pieces if p.id == letter)
    return stand(letter, piece.solid, piece.pull, mold.keys, draft_deg=2.0, clearance_mm=0.25)


@pytest.fixture(scope="module")
def slotted(boxed: Assembly) -> Poured:
    """Piece A with finger slots."""
    return with_slots(standing(boxed, "A"), SIZES)


def failed(checks: list) -> list[str]:  # type: ignore[type-arg]
    """Names of the checks that do not hold."""
    return [check.id for check in checks if not check.ok]


def test_slots_stand_opposite_beside_the_centre_of_mass(slotted: Poured) -> None:
    """Two of the largest size, in line with the centre of mass that another library finds."""
    assert len(slotted.slots) == 2
    one, two = slotted.slots
    assert one.out == pytest.approx(-two.out)
    assert (one.wide_mm, one.deep_mm, one.tall_mm) == pytest.approx((50.0, 15.0, 12.0))
    solid = trimesh.load(BytesIO(stl_bytes(slotted.solid)), file_type="stl")
    side = np.array([-one.out[1], one.out[0]])
    for slot in slotted.slots:
        assert slot.at_mm[:2] @ side == pytest.approx(solid.center_mass[:2] @ side, abs=0.5)
        assert slot.at_mm[2] == pytest.approx(slotted.top_mm)


def test_a_slot_takes_a_leaning_box_away(slotted: Poured) -> None:
    """Depth and width shrink downwards by the draft of the block, depth by that of the outside too: the sum
    of slices, of both slots (closed form).
    """
    a, b = math.tan(math.radians(5.0)), math.tan(math.radians(2.0))
    tall, deep, wide = 12.0, 15.0, 50.0
    # Integral of (deep - (a + b) h) (wide - 2 a h) over h from 0 to tall.
    one = deep * wide * tall - (2 * a * deep + (a + b) * wide) * tall**2 / 2 + 2 * a * (a + b) * tall**3 / 3
    taken = slotted.solid.volume_mm3 - with_sockets(slotted).volume_mm3
    assert taken == pytest.approx(2.0 * one, rel=2e-3)
    blocks = formers(slotted)
    screws = 4 * math.pi * 1.65**2 * 14.0
    assert sum(part.solid.volume_mm3 for part in blocks) == pytest.approx(taken - screws, rel=0.02)


def test_enough_plaster_is_left(boxed: Assembly, slotted: Poured) -> None:
    """No corner of a slot comes nearer to cavity or parting side than the least wall, found again by lines up
    through the piece; a wall that must be thicker leaves no room.
    """
    left_mm = slot_wall_mm(slotted)
    assert left_mm >= 9.0
    solid = trimesh.load(BytesIO(stl_bytes(slotted.solid)), file_type="stl")
    under = slotted.slots[0].room_mm[:4]
    middle = under.mean(axis=0) - np.array([*slotted.slots[0].out * 4.0, 0.0])
    starts = np.array([[*middle[:2], slotted.top_mm + 5.0]])
    hits, _, _ = solid.ray.intersects_location(starts, [DOWN])
    assert middle[2] - hits[:, 2].min() >= left_mm - 1e-6
    assert with_slots(standing(boxed, "A"), replace(SIZES, least_mm=45.0)).slots == ()
    assert with_slots(standing(boxed, "A"), replace(SIZES, wide_mm=95.0, wide_least_mm=90.0)).slots == ()


def test_slots_are_smaller_where_there_is_less_room(boxed: Assembly) -> None:
    """Deep and wide are stepped down until the plaster beside them is enough."""
    free = with_slots(standing(boxed, "A"), replace(SIZES, deep_mm=40.0))
    assert free.slots[0].deep_mm == pytest.approx(40.0)
    least_mm = slot_wall_mm(free) + 2.0
    tight = with_slots(standing(boxed, "A"), replace(SIZES, deep_mm=40.0, least_mm=least_mm))
    assert len(tight.slots) == 2 and 10.0 <= tight.slots[0].deep_mm < 40.0
    assert slot_wall_mm(tight) >= least_mm


def test_checks_of_slots_hold_and_can_fail(slotted: Poured) -> None:
    """Blocks leave and fill their slots; thicker walls, and a block wider below, are told."""
    assert len(slot_checks(slotted, 9.0)) == 3 and failed(slot_checks(slotted, 9.0)) == []
    assert failed(slot_checks(slotted, 30.0)) == ["case_slot_wall_A"]
    one = slotted.slots[0]
    hooked = one.room_mm.copy()
    hooked[:4, :2] += 0.15 * (hooked[:4, :2] - hooked[:4, :2].mean(axis=0))
    wide = replace(slotted, slots=(replace(one, room_mm=hooked), slotted.slots[1]))
    assert "case_slot_release_A" in failed(slot_checks(wide, 1.0))
    assert slot_checks(replace(slotted, slots=()), 9.0) == []


def test_pieces_with_slots_leave_and_close(boxed: Assembly, slotted: Poured) -> None:
    """The case is that of the whole piece, with two screw holes behind each block; pieces still close."""
    shape = Shape(3.2, 6.0, (220.0, 220.0, 250.0), 0.25, False, 1.2, 0.15)
    held = build_case(slotted, shape)
    assert failed(case_checks(held)) == []
    bare = build_case(replace(slotted, slots=()), shape)
    holes = [
        trimesh.load(BytesIO(stl_bytes(case.whole)), file_type="stl").euler_number for case in (bare, held)
    ]
    assert (holes[0] - holes[1]) / 2 == 4
    other = with_slots(standing(boxed, "B"), SIZES)
    assert len(other.slots) == 2
    assert failed(closing_checks([slotted, other], {"A": (0.0, 0.0, 1.0), "B": DOWN})) == []


def test_screws_keep_clear_of_flanges(slotted: Poured) -> None:
    """A cut through the end of a slot moves its screw along."""
    x = float(slotted.slots[0].at_mm[0])
    plain, moved = formers(slotted)[0], formers(slotted, ((x + 14.0,), ()))[0]
    away = [np.unique(lattice_mm(part.solid.points)[:, 0]).round(2) for part in (plain, moved)]
    assert len(away[0]) != len(away[1]) or not np.allclose(away[0], away[1])


def test_blocks_print_flat_face_down(slotted: Poured) -> None:
    """The face level with the rim is the widest and lies on the bed."""
    for part in formers(slotted):
        points = lattice_mm(part.solid.points)
        assert points[:, 2].min() == 0.0
        low, high = points[points[:, 2] < 0.01], points[points[:, 2] > part.size_mm[2] - 0.01]
        assert np.ptp(low[:, 0]) > np.ptp(high[:, 0]) and np.ptp(low[:, 1]) > np.ptp(high[:, 1])


def test_slots_begin_where_practice_looks() -> None:
    """From the weight that practice looks at, or less when people lift less."""
    look_kg = shelf.value("practice", "lift_look_kg").value
    assert slots_from_kg(16.0) == look_kg
    assert slots_from_kg(5.0) == 5.0


def test_a_corner_piece_is_held_where_its_neighbours_stand() -> None:
    """Only two sides next to one another are the block's own: slots opposite one another open a side where
    another piece stands as well, and the piece leaves and fills as any other.
    """
    corner = box((0.0, 0.0, 0.0), (160.0, 160.0, 100.0)) - box((120.0, 120.0, -1.0), (161.0, 161.0, 30.0))
    beside = box((0.0, 0.0, 0.0), (260.0, 260.0, 100.0)) - box((0.0, 0.0, -1.0), (160.0, 160.0, 101.0))
    solids = {"A": on_lattice(corner), "B": on_lattice(beside)}
    poured = stand(
        "A", solids["A"], (0.0, 0.0, 1.0), [], draft_deg=2.0, clearance_mm=0.2,
        others={"B": solids["B"]}, pulls={"A": (0.0, 0.0, 1.0), "B": (1.0, 0.0, 0.0)},
    )  # fmt: skip
    assert sorted(poured.met) == [False, False, True, True]
    held = with_slots(poured, SIZES)
    assert len(held.slots) == 2 and held.slots[0].out == pytest.approx(-held.slots[1].out)
    assert failed(slot_checks(held, SIZES.least_mm)) == []


def test_a_piece_that_stands_turned_is_held_square_to_its_sides() -> None:
    """Of a block turned by 45° in plan slots look along the diagonals of the frame."""
    plan = 90.0 * np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]])
    solid = on_lattice(hull(np.array([[x, y, z] for x, y in plan.tolist() for z in (0.0, 60.0)])))
    poured = stand("A", solid, (0.0, 0.0, 1.0), [], draft_deg=2.0, clearance_mm=0.2)
    held = with_slots(poured, SIZES)
    assert len(held.slots) == 2
    assert np.abs(held.slots[0].out) == pytest.approx([math.sqrt(0.5), math.sqrt(0.5)])
    assert failed(slot_checks(held, SIZES.least_mm)) == []


def test_slots_keep_clear_of_sockets() -> None:
    """A socket that looks sideways, filled for the pour, is room all the same: the slot beside it moves aside
    by a step. Distance in closed form: from a cylinder's axis to the plane of the slot's end, which leans 5°.
    """
    bump = rod((100.0, 33.0, 90.0), (90.0, 33.0, 90.0), 5.0)
    block = box((-100.0, -45.0, 0.0), (100.0, 45.0, 100.0)) - box((-60.0, -30.0, -1.0), (60.0, 30.0, 92.0))
    key = BlockKey((100.0, 33.0, 90.0), 10.4, 10.0, "B", "A")
    beside = box((100.0, -45.0, 0.0), (150.0, 45.0, 100.0))
    solids = {"A": on_lattice(block - bump), "B": on_lattice(beside + bump)}
    poured = stand(
        "A", solids["A"], (0.0, 0.0, 1.0), [key], draft_deg=2.0, clearance_mm=0.2,
        others={"B": solids["B"]}, pulls={"A": (0.0, 0.0, 1.0), "B": (1.0, 0.0, 0.0)},
    )  # fmt: skip
    assert len(poured.plugs) == 1
    held = with_slots(poured, replace(SIZES, tall_mm=20.0, wide_least_mm=50.0, deep_least_mm=15.0))
    by_side = {round(float(slot.out[0])): slot for slot in held.slots}
    middle = [float(by_side[sign].at_mm[1]) for sign in (1, -1)]
    assert middle[0] - middle[1] == pytest.approx(-7.5)
    lean = math.radians(5.0)
    left_mm = (33.0 - 17.5 + 10.0 * math.tan(lean)) * math.cos(lean) - 5.0
    assert slot_wall_mm(held) == pytest.approx(left_mm, abs=0.05)
    assert failed(slot_checks(held, SIZES.least_mm)) == []
    astray = replace(held, slots=tuple(_moved(slot, 7.5) for slot in held.slots))
    assert failed(slot_checks(astray, SIZES.least_mm)) == ["case_slot_wall_A"]


def _moved(slot: FingerSlot, along_mm: float) -> FingerSlot:
    by = np.array([0.0, along_mm, 0.0])
    return replace(slot, room_mm=slot.room_mm + by, at_mm=slot.at_mm + by)
