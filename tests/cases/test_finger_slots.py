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
from claybed.cases.standing import stand
from claybed.cases.vessel import build_case
from claybed.flow.cases import slots_from_kg
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.stl import stl_bytes
from claybed.materials import shelf
from claybed.records.assembly import Assembly
from claybed.records.cases import Poured, Shape
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
