"""Sizes, slip, casts, pressings and drying: laws, closed forms and the traps of the trade."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from claybed.errors import InputError
from claybed.materials.bodies import body, slip
from claybed.materials.shelf import Constant
from claybed.records.ware import Drying
from claybed.ware.advice import press_findings
from claybed.ware.casting import CastAsk, plan_cast
from claybed.ware.drying import Room, days_between, plan_drying
from claybed.ware.pressing import plan_press
from claybed.ware.reckoning import asked, reckon
from claybed.ware.sizing import boil_test, read_bars, shrinkage_of, sizes_of
from claybed.ware.slipping import density_from, slip_batch, slip_change, slip_state
from claybed.ware.trying import fit_pours

SHARE = st.floats(0.0, 0.3)


@given(SHARE, SHARE, st.floats(20, 500))
def test_model_and_fired_undo_each_other(drying: float, firing: float, fired_mm: float) -> None:
    """A model made for a fired length becomes that length, and shrinkage compounds."""
    shrunk = shrinkage_of(drying=asked(drying), firing=asked(firing))
    model = sizes_of(shrunk, fired_mm=fired_mm).model_mm
    assert model is not None
    back = sizes_of(shrunk, model_mm=model.value).fired_mm
    assert back is not None
    assert back.value == pytest.approx(fired_mm, rel=1e-12)
    assert model.value * (1 - drying) * (1 - firing) == pytest.approx(fired_mm, rel=1e-12)


def test_a_total_that_contradicts_its_parts_is_refused() -> None:
    """6.25 % and 6.66 % make 12.49 %: 12.5 is taken, the plain sum of another pair is not."""
    parts = {"drying": asked(0.0625), "firing": asked(0.0666)}
    assert shrinkage_of(total=asked(0.125), **parts).total_percent.value == pytest.approx(12.5)
    with pytest.raises(InputError, match="contradicts the 23"):
        shrinkage_of(total=asked(0.25), drying=asked(0.15), firing=asked(0.10))


def test_bounds_take_in_every_corner() -> None:
    """A body's range reaches the model's length at both ends."""
    made = sizes_of(shrinkage_of(body=body("stoneware")), fired_mm=100.0).model_mm
    assert made is not None
    assert (made.low, made.high) == (pytest.approx(100 / 0.90), pytest.approx(100 / 0.85))
    odd = reckon(lambda a, b: a - b, "-", "a - b", "derived", a=Constant(2, "", 1, 3, "x", "read", ""), b=1.0)
    assert (odd.value, odd.low, odd.high) == (1.0, 0.0, 2.0)


def test_bars_say_how_well_they_know() -> None:
    """One bar: bounds from misreading. Several alike: Student's interval holds their mean, and is narrow."""
    one = read_bars([(150.0, 144.0, 141.0, 133.0)])
    assert one.total_percent.value == pytest.approx(11.3333, abs=1e-4)
    assert one.firing_percent is not None
    assert one.firing_percent.value == pytest.approx(7.6389, abs=1e-4)
    many = read_bars([(100.0, None, None, 88.0 + step / 10) for step in (-1, 0, 1, 0, -1, 1)])
    assert many.total_percent.low < 12.0 < many.total_percent.high
    assert many.total_percent.high - many.total_percent.low < one.total_percent.high - one.total_percent.low
    # By hand: standard deviation 0.0894 %, t(5) = 2.571 (a table of Student's t, from memory).
    assert many.total_percent.high - 12.0 == pytest.approx(2.571 * 0.08944 / math.sqrt(6), rel=1e-3)
    with pytest.raises(InputError, match="grows"):
        read_bars([(100.0, 110.0, None, 88.0)])


def test_boil_test_keeps_its_identity() -> None:
    """Porosity is absorption times bulk density, for any piece (ASTM C373 definitions, from memory)."""
    found = boil_test(123.4, 129.9, 71.2)
    assert found.porosity_percent is not None and found.bulk_density_ratio is not None
    product = found.absorption_percent.value * found.bulk_density_ratio.value
    assert found.porosity_percent.value == pytest.approx(product, rel=1e-12)
    with pytest.raises(InputError):
        boil_test(123.4, 120.0, 71.2)


@given(st.floats(1.3, 2.0), st.floats(1.0, 50.0), st.floats(1.3, 2.0))
def test_changed_slip_weighs_what_was_wanted(density: float, litres: float, target: float) -> None:
    """Mass and volume of the changed batch give the wanted density, whether water or clay went in."""
    change = slip_change(litres, density, target, 2.6)
    water_g = 0.0 if change.water_ml is None else change.water_ml.value
    clay_g = 0.0 if change.clay_g is None else change.clay_g.value
    mass_g = litres * 1000 * density + water_g + clay_g
    assert mass_g / 1000 / change.result_l.value == pytest.approx(target, rel=1e-9)
    assert (change.water_ml is None) != (change.clay_g is None)


@given(st.floats(1.4, 2.0), st.floats(0.5, 100.0))
def test_a_batch_is_its_parts(density: float, litres: float) -> None:
    """Clay and water of a batch weigh what the slip weighs and fill what it fills."""
    batch = slip_batch(litres, density, 2.6, 0.004)
    clay, water = batch.clay_g.value, batch.water_g.value
    assert clay + water == pytest.approx(1000 * litres * density, rel=1e-9)
    assert clay / 2.6 + water == pytest.approx(1000 * litres, rel=1e-9)
    assert slip_state(density, 2.6).water_percent.value == pytest.approx(
        100 * water / (clay + water), rel=1e-9
    )


def test_entries_that_contradict_are_refused_with_both_figures() -> None:
    """A page's recipe of 10 kg and 4 l said to make 8.8 l at 1.75 (Hansen): 14 kg in 8.8 l is 1.591."""
    with pytest.raises(InputError, match=r"1\.784 and its volume 1\.591"):
        density_from(recipe=(10000.0, 4000.0), recipe_l=8.8, solids=2.6)
    with pytest.raises(InputError, match=r"--sg says 1\.750 and --litre-weight 1\.600"):
        density_from(density_ratio=1.75, litre_g=1600.0)
    assert density_from(density_ratio=1.75, litre_g=1755.0).value == 1.75


def test_the_two_pints_are_told_apart() -> None:
    """35 oz is 1.75 in an imperial pint and 2.10 in a US one, which no casting slip weighs."""
    ounces = 35 * 28.349523125
    assert density_from(pint_g=ounces, pint="imperial").value == pytest.approx(1.75)
    assert density_from(pint_g=29.2 * 28.349523125, pint="us").value == pytest.approx(1.75, abs=0.001)


def cast(**more: object) -> CastAsk:
    """A cast of 4 mm at k = 1 on 300 cm² before 38.5 kg/m² of plaster."""
    known: dict[str, object] = {
        "slip": slip(), "wall_mm": 4.0, "k": 1.0, "area_cm2": 300.0, "plaster_kg_per_m2": 38.5,
    }  # fmt: skip
    return CastAsk(**(known | more))  # type: ignore[arg-type]


def test_casts_before_drying_meet_the_worked_row_and_practice() -> None:
    """4.45 casts (worked by hand from a supplier's plaster); a supplier's sheet says to dry after five."""
    casts = plan_cast(cast()).casts_before_drying
    assert casts is not None
    assert casts.value == pytest.approx(4.45, abs=0.01)
    assert casts.low < 5 < casts.high


def test_water_of_the_casts_is_in_the_plaster() -> None:
    """What the rows say the plaster holds is what the casts gave it."""
    made = plan_cast(cast())
    assert made.per_cast is not None
    plaster_g = 38.5 * 300 / 1e4 * 1000
    for row in made.rows:
        assert row.water_percent is not None
        given_g = row.number.value * made.per_cast.water_to_mold_g.value
        assert row.water_percent.value == pytest.approx(100 * given_g / plaster_g, rel=1e-9)
    assert [row.number.value for row in made.rows] == [1, 2, 3, 4]


def test_later_casts_and_cold_slip_take_longer() -> None:
    """The second cast in a row takes 12 to 20 % longer (one supplier's sheet); slip at 30 °C a fifth less."""
    first, second = plan_cast(cast()).minutes, plan_cast(cast(cast_number=2)).minutes
    assert 1.12 <= second.value / first.value <= 1.20
    warm = plan_cast(cast(celsius=30.0)).minutes
    assert warm.value / first.value == pytest.approx(0.795, abs=0.003)
    assert plan_cast(cast(wall_mm=None, minutes=16.0)).wall_mm.value == pytest.approx(4.0)


def test_necks_close_when_the_closed_forms_say() -> None:
    """A slot of 10 mm closes after 25 minutes at k = 1, a bore of 10 mm after half of that."""
    made = plan_cast(cast(bores_mm=(10.0,), slots_mm=(10.0,)))
    times = {one.kind: one.closes_minutes.value for one in made.narrows}
    assert times == {"bore": pytest.approx(12.5), "slot": pytest.approx(25.0)}
    least = {one.kind: one.least_mm.value for one in made.narrows}
    assert least["slot"] == pytest.approx(18.0)
    assert least["bore"] ** 2 == pytest.approx(8 * 16 + 100)


def test_top_ups_come_when_the_spare_has_sunk() -> None:
    """At each time told, the water that has left equals a whole number of spares."""
    made = plan_cast(cast(spare_ml=5.0))
    assert made.per_cast is not None
    whole_ml = made.per_cast.top_up_ml.value
    assert len(made.top_ups) == math.ceil(whole_ml / 5.0) - 1
    for nth, one in enumerate(made.top_ups, 1):
        sunk_ml = whole_ml * math.sqrt(one.minutes.value / made.minutes.value)
        assert sunk_ml == pytest.approx(5.0 * nth)
    assert plan_cast(cast(spare_ml=60.0)).top_ups == ()


def test_the_first_casts_are_in_the_slip_to_prepare() -> None:
    """Two casts of a new mold are thrown away: three good ones take the cavity and four more walls."""
    made = plan_cast(cast(cavity_ml=450.0, good_casts=3)).per_cast
    assert made is not None and made.prepare_ml is not None
    assert made.prepare_ml.value == pytest.approx((450 + 4 * made.slip_ml.value) * 1.1)


def test_test_pours_fit_and_say_when_they_do_not() -> None:
    """Pours on the law give its k and one half; pours in line with time give an exponent near one."""
    exact = fit_pours([(math.sqrt(1.3 * t), t) for t in (4.0, 9.0, 16.0)])
    assert exact.k_mm2_per_min.value == pytest.approx(1.3)
    assert exact.exponent_ratio is not None
    assert exact.exponent_ratio.value == pytest.approx(0.5)
    straight = fit_pours([(0.2 * t, t) for t in (5.0, 10.0, 20.0)])
    assert straight.exponent_ratio is not None
    assert straight.exponent_ratio.value == pytest.approx(1.0)
    assert straight.k_mm2_per_min.low < 1.0 < straight.k_mm2_per_min.high
    with pytest.raises(InputError, match="does not grow"):
        fit_pours([(4.0, 5.0), (3.0, 10.0)])


def test_a_cast_needs_wall_or_time() -> None:
    """Both or neither is refused."""
    for more in ({"minutes": 5.0}, {"wall_mm": None}):
        with pytest.raises(InputError, match="wall or its time"):
            plan_cast(cast(**more))


def test_pressing_scales_and_waits() -> None:
    """Clay is area times thickness times density; 9 mm waits 101 minutes by the square; thin slabs 20."""
    press = plan_press(600.0, slab_mm=6.0, seam_mm=500.0)
    density = 1 / (0.79 / 2.6 + 0.21)
    assert press.clay_g.value == pytest.approx(600 * 0.6 * density)
    assert press.coil_g is not None
    assert press.coil_g.value == pytest.approx(math.pi / 4 * 0.7**2 * 50 * density)
    assert plan_press(600.0, slab_mm=9.0).wait_minutes.value == pytest.approx(101.25)
    assert plan_press(600.0, slab_mm=3.0).wait_minutes.value == 20.0
    assert plan_press(600.0, slab_mm=6.0, press_number=2).wait_minutes.value > 45.0


def slab(room: Room, **more: object) -> Drying:
    """A slab of 50 mm, a square metre, both faces open, at 77 per 100."""
    return plan_drying(water_per_100=77.0, area_cm2=20000.0, plaster_ml=50000.0, room=room, **more)  # type: ignore[arg-type]


def test_moving_and_warm_air_dry_faster_and_open_water_faster_still() -> None:
    """Fan before shelf, cabinet before fan; an open pan loses several times what the mold loses."""
    hours = []
    for moving in ("still", "fan", "cabinet"):
        made = slab(Room(moving))  # type: ignore[arg-type]
        last = made.states[-1].hours
        assert last is not None
        hours.append(last.value)
        assert made.open_pan_g_per_m2_h.value > 2 * made.rate_g_per_m2_h.value
        assert made.wet_bulb_celsius.value < made.air_celsius.value - 4
    assert hours == sorted(hours, reverse=True)


def test_states_come_in_order_and_from_a_damp_start_sooner() -> None:
    """Press before slip before shelf; a mold at 15 % has less to lose, and the parts add up."""
    room = Room(celsius=25.0, humidity_fraction=0.5, speed_m_per_s=0.1)
    full = slab(room)
    times = [state.hours.value for state in full.states if state.hours is not None]
    assert times == sorted(times)
    assert len(times) == 3
    rest = days_between(full, 77.0, 15.0)
    assert rest is not None
    assert rest.value == pytest.approx((times[1] - times[0]) / 24, rel=1e-6)


def test_water_of_a_mold_is_what_the_chemistry_leaves() -> None:
    """Wet less dry is the water to lose; dry is 0.6704 of the trimmed wet weight at 1 : 1.3."""
    made = plan_drying(water_per_100=100 / 1.3, area_cm2=900.0, room=Room(), wet_g=2450.0)
    assert made.dry_g is not None
    assert made.dry_g.value / 2450.0 == pytest.approx(0.6704, abs=5e-5)
    assert made.dry_g.value + made.water_g.value == pytest.approx(2450.0, rel=1e-9)


@pytest.mark.parametrize(
    "room", [Room(celsius=60.0), Room(celsius=-5.0), Room(humidity_fraction=0.99), Room(speed_m_per_s=50.0)]
)
def test_rooms_that_harm_or_do_not_dry_are_refused(room: Room) -> None:
    """Above 49 °C plaster is harmed; frost, fog and gales are no drying rooms."""
    with pytest.raises(InputError):
        slab(room)


def test_a_studio_comes_first() -> None:
    """The studio's own figures replace the shelf's, and its mistakes are named with their place."""
    text = (
        "[body.Ninepin-Stoneware]\ntotal_shrinkage_percent = [11.5, 11.8, 12.1]\n"
        "[body.stoneware]\ntotal_shrinkage_percent = 13\n"
        "[slip.yard_white]\ncasting_rate_mm2_per_min = 1.4\ndensity_ratio = 1.76\n"
    )
    own = body("ninepin stoneware", text)
    assert (own.total.low, own.total.value, own.total.source) == (
        pytest.approx(0.115),
        pytest.approx(0.118),
        "studio",
    )
    assert body("stoneware", text).total.value == pytest.approx(0.13)
    assert body("stoneware").total.value == pytest.approx(0.12)
    assert slip("yard_white", text).rate.value == 1.4
    assert slip("yard_white", text).cast_water == slip().cast_water
    for wrong, says in (
        ("[body.x]\nshrinks = 3", "shrinks"),
        ("[body.x]\ntotal_shrinkage_percent = 90", "90 is out of range"),
        ("body = 3", "holds no tables"),
        ("[slip.x]\ndensity_ratio = 'thick'", "is not a number"),
        ("[slip.x", "TOML"),
    ):
        with pytest.raises(InputError, match=says):
            body("x", wrong)
    with pytest.raises(InputError, match="porcelain"):
        body("porcelin")


def test_only_clay_on_a_hump_is_told_to_shrink_onto_it() -> None:
    """What is pressed into a mold draws away from it; what is draped is lifted in time, not by its rim."""
    press = plan_press(600.0, slab_mm=6.0, seam_mm=500.0)
    pressed, draped = (press_findings(press, draped=kind) for kind in (False, True))
    assert not any("hump" in finding.says for finding in pressed)
    assert any("onto a hump" in finding.says and "Lift it" in finding.remedy for finding in draped)
    assert [any("wait" in finding.id for finding in found) for found in (pressed, draped)] == [True, False]
