"""The bed's clay, the keys' tools, and what slurry does to the object."""

from __future__ import annotations

import pytest

from claybed.bench.bed import keys_of, plan_bed
from claybed.bench.holding import plan_hold
from claybed.physics.buoyancy import net_lift_N
from claybed.records.brief import Brief
from tests.bench.standings import BED_ML, OVER_ML, key, standing, thing

PER_ML = 1.5504  # g of slurry at 1 : 1.3


def test_the_balls_bed_is_two_and_a_half_kilos() -> None:
    """A ball of 100 mm on 5 mm of pad takes a bed of 55 mm and 2.5 kg of clay (practice; worked by hand)."""
    bed = plan_bed(thing(), standing())
    assert bed is not None
    assert bed.height_mm.number == 55.0
    assert bed.clay_ml.number == BED_ML
    assert bed.clay_g.number == pytest.approx(2500.0, abs=40.0)
    assert plan_bed(thing(bed_ml=None), standing()) is None


def test_keys_are_pressed_or_carved_with_a_ball() -> None:
    """A cap of 20 x 8 mm is left by a ball of 20.5 mm; bumps are pressed, sockets carved."""
    keys = (key("A"), key("B"), key("A"))
    pressed, carved = keys_of(keys, "A", "pressed"), keys_of(keys, "A", "carved")
    assert (len(pressed), len(carved)) == (2, 1)
    assert {one.when for one in pressed} == {"pressed"} and carved[0].when == "carved"
    radius = pressed[0].tool_mm.number / 2.0
    assert pressed[0].tool_mm.number == 20.5
    # A sphere of that radius cut 8 mm deep shows a circle of 20 mm.
    assert 2.0 * (radius**2 - (radius - 8.0) ** 2) ** 0.5 == pytest.approx(20.0)


def test_sealed_it_is_pressed_down_and_seeping_lifts_it() -> None:
    """Sealed in the bed it feels the slurry above it; with slurry under it, all that it displaces."""
    hold = plan_hold(thing(mass_g=400.0), standing(), Brief())
    assert hold.sealed_down_g.number == pytest.approx(OVER_ML * PER_ML, rel=1e-4)
    volume_ml = thing().solid_ml
    assert hold.seeping_up_g is not None and hold.hold_down_g is not None
    lift_N = net_lift_N(0.4, volume_ml * 1e-6, liquid_kg_per_m3=1000.0 * PER_ML)
    assert hold.seeping_up_g.number == pytest.approx(1000.0 * lift_N / 9.80665, rel=1e-4)
    assert hold.hold_down_g.number == pytest.approx(1.5 * hold.seeping_up_g.number)


def test_what_was_not_weighed_is_not_judged() -> None:
    """Without a weight there is no lift, no hold-down and no ballast, and the sentence asks for the scale."""
    hold = plan_hold(thing(), standing(), Brief())
    assert (hold.seeping_up_g, hold.hold_down_g, hold.ballast) == (None, None, ())
    assert "Weigh the object" in hold.says


def test_a_heavy_object_needs_nothing() -> None:
    """What sinks in slurry by its own weight gets no ballast and no weight on top."""
    hold = plan_hold(thing(mass_g=1500.0), standing(), Brief())
    assert hold.seeping_up_g is not None and hold.seeping_up_g.number < 0.0
    assert hold.hold_down_g is not None and hold.hold_down_g.number == 0.0
    assert hold.ballast == ()


def test_dry_sand_in_a_shell_may_not_do() -> None:
    """A thin shell full of dry sand still floats, as the bulk of sand is little over slurry's; shot does."""
    volume_ml = thing().solid_ml
    hold = plan_hold(thing(mass_g=100.0, room_ml=0.8 * volume_ml, room_from="as asked"), standing(), Brief())
    by_name = {one.what: one for one in hold.ballast}
    sand, shot = by_name["dry sand"], by_name["steel shot"]
    assert (sand.fits, shot.fits) == (False, True)
    assert "still floats" in sand.says
    assert sand.needed_ml.number * 1.6 == pytest.approx(shot.needed_ml.number * 4.6)
    # The amount that fits really sinks it, and the sand that fits does not.
    slurry_g = volume_ml * PER_ML
    assert 100.0 + shot.needed_ml.number * 4.6 == pytest.approx(slurry_g, rel=1e-4)
    assert 100.0 + 0.8 * volume_ml * 1.6 < slurry_g


def test_without_a_known_room_no_ballast_is_promised() -> None:
    """When nobody said how much goes in, the amount is told and whether it fits is not."""
    hold = plan_hold(thing(mass_g=100.0), standing(), Brief())
    assert {one.fits for one in hold.ballast} == {None}
    assert hold.room_ml is None


def test_what_lies_in_a_hollow_that_looks_down_is_clay_that_clings() -> None:
    """A vessel on its rim floats below the weight of the slurry it pushes aside (Archimedes). Packed with
    clay it stays down from the least weight told on, and just below that nuts make up what it lacks; by its
    own weight it needs neither.
    """
    volume_ml = thing().solid_ml
    room_ml = 0.7 * volume_ml
    down = {"room_ml": room_ml, "room_from": "inside", "open_down": True}
    hold = plan_hold(thing(**down), standing(), Brief())
    assert hold.displaced_g is not None and hold.packing is not None
    assert hold.displaced_g.number == pytest.approx(volume_ml * PER_ML, rel=1e-4)
    assert hold.packing.clay_g.number == pytest.approx(1.9 * room_ml)
    least_g = hold.packing.least_g.number
    # With the lightest clay in it, what was told as the least weight just balances the slurry.
    assert least_g + 1.75 * room_ml == pytest.approx(volume_ml * PER_ML, rel=1e-4)
    assert "water clay" in hold.says and hold.cap == ""
    assert plan_hold(thing(mass_g=least_g + 1.0, **down), standing(), Brief()).ballast == ()
    (nuts,) = plan_hold(thing(mass_g=least_g - 20.0, **down), standing(), Brief()).ballast
    assert nuts.fits and nuts.needed_ml.number * (3.5 - 1.75) == pytest.approx(20.0)
    heavy = plan_hold(thing(mass_g=volume_ml * PER_ML + 5.0, **down), standing(), Brief())
    assert heavy.packing is None and "own weight" in heavy.says
