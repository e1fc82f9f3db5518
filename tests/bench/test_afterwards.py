"""Release, what comes after a pour, dry weights and lifts."""

from __future__ import annotations

import pytest

from claybed.bench.afterwards import dry_targets, plan_after
from claybed.bench.lifts import plan_lifts
from claybed.bench.planning import scratch_code
from claybed.bench.release import plan_release
from claybed.physics.lifting import hand_reach_m, multipliers, recommended_weight_kg
from claybed.physics.plaster import dry_from_wet_kg
from claybed.records.bench import After
from claybed.records.brief import Brief
from claybed.ware.drying import Room, plan_drying
from tests.bench.standings import pour, standing, thing


def after(brief: Brief, *, last: bool, opening: tuple[str, ...] = ("A", "B"), **changes: object) -> After:
    """What comes after the ball's first half."""
    following = None if last else standing(piece="B", order=2)
    return plan_after(
        pour(brief), [standing()], thing(**changes), brief,
        following=following, opening=opening, code="WJ63K", clay_kg=0.25,
    )  # fmt: skip


def test_soap_is_put_on_three_times() -> None:
    """Soap: three coats, five minutes each, before both pours, and on the parting face for the second."""
    release = plan_release(Brief(), 2)
    assert {step.coats_count.number for step in release.steps} == {3.0}
    assert {step.wait_min.number for step in release.steps} == {5.0}
    second = [step for step in release.steps if step.pour.number == 2]
    assert "parting face" in second[0].where and "key" in second[0].where
    assert all(step.pour.number == 1 for step in plan_release(Brief(), 1).steps)
    assert any("two kinds of release" in line for line in release.never)


def test_an_object_that_drinks_is_sealed_first() -> None:
    """A porous object is sealed the day before, and only then released."""
    release = plan_release(Brief(porous=True), 2)
    assert "shellac" in release.steps[0].what and release.steps[0].wait_min.number == 720.0
    assert release.steps[1].what.startswith("mold soap")
    assert len(release.steps) == len(plan_release(Brief(), 2).steps) + 1


def test_under_a_hump_lies_a_vessel() -> None:
    """What a hump is cast in is called the vessel wherever it is coated; other molds know of none."""
    hump, block = plan_release(Brief(hump=True, porous=True), 1), plan_release(Brief(porous=True), 1)
    of_hump, of_block = (
        [*(step.where for step in found.steps), *(step.says for step in found.steps), *found.never]
        for found in (hump, block)
    )
    assert sum("vessel" in words for words in of_hump) == 4
    assert not [words for words in of_hump if "object" in words]
    assert not [words for words in of_block if "vessel" in words]


def test_the_flip_weighs_piece_object_and_clay() -> None:
    """What is turned over is the wet piece, the object and the clay that hangs on."""
    flip = after(Brief(), last=False, mass_g=400.0).flip_kg
    assert flip is not None and flip.number == pytest.approx(3.4 + 0.4 + 0.25)
    guessed = after(Brief(), last=False).flip_kg
    assert guessed is not None and "weigh it" in str(guessed.figure.inputs["model_mass_from"])
    assert guessed.figure.low < flip.number < guessed.figure.high
    assert after(Brief(), last=True).flip_kg is None


def test_the_form_comes_off_by_the_nail() -> None:
    """45 minutes are usual, never under 30, and a nail and the heat decide (practice)."""
    found = after(Brief(), last=False)
    assert (found.form_off_min.number, found.form_off_min.figure.low) == (45.0, 30.0)
    assert "nail" in found.steps[0] and "never under 30" in found.steps[0]


@pytest.mark.parametrize(
    ("when", "word"), [("same_day", "same day"), ("wrapped", "Wrap"), ("soaked", "bubbles")]
)
def test_the_second_pour_meets_wet_plaster(when: str, word: str) -> None:
    """The first piece is still wet, kept wrapped, or soaked until no more bubbles come."""
    steps = after(Brief(second_pour=when), last=False).steps  # type: ignore[arg-type]
    assert any(word in step for step in steps)


def test_sockets_are_carved_between_the_pours() -> None:
    """The keys whose bump is on the second piece are carved after the first pour, none after the last."""
    assert len(after(Brief(), last=False).keys) == 1
    assert after(Brief(), last=True).keys == ()


def test_what_is_scratched_in_names_the_plan() -> None:
    """Letter, date, ratio and a code of five characters that are not mixed up; another plan has another."""
    assert after(Brief(), last=True).scratch == "A · date · 1 : 1.3 (77 per 100) · WJ63K"
    codes = {scratch_code(f"plan {k}") for k in range(200)}
    assert len(codes) == 200
    assert all(len(code) == 5 and not set(code) & set("BIOQSUZ012580G") for code in codes)
    assert scratch_code("plan 1") == scratch_code("plan 1")


def test_dry_is_two_thirds_of_wet() -> None:
    """At 1 : 1.3 a piece dries to 0.6704 of its trimmed wet weight (practice, from the atomic masses)."""
    (target,) = dry_targets((pour(Brief()),))
    assert target.dry_share.number == pytest.approx(0.6704, abs=5e-5)
    assert target.dry_g.number == pytest.approx(0.67045 * target.wet_g.number, rel=1e-4)
    assert target.press_ready_g.number == pytest.approx(1.15 * target.dry_g.number)
    assert target.slip_ready_g.number == pytest.approx(1.05 * target.dry_g.number)
    # A purity of 95 % takes 0.8 % off; a point of water per hundred, 0.57 %: both lie within the band.
    impure = dry_from_wet_kg(1.0, 100.0 / 1.3, purity_fraction=0.95) / target.dry_share.number - 1.0
    assert impure == pytest.approx(-0.008, abs=2e-4)
    assert target.dry_share.figure.low / target.dry_share.number - 1.0 < impure - 0.0057
    # The drying of the ware page tells the same dry weight with the same band.
    ware = plan_drying(
        water_per_100=100.0 / 1.3, area_cm2=500.0, room=Room(), wet_g=target.wet_g.number
    ).dry_g
    assert ware is not None
    assert target.dry_g.number == pytest.approx(ware.value, rel=1e-12)
    assert target.dry_share.figure.low * target.wet_g.number == pytest.approx(ware.low, rel=1e-12)
    (thirsty,) = dry_targets((pour(Brief(consistency=100.0 / 1.3 + 1.0)),))
    change = thirsty.dry_share.number / target.dry_share.number - 1.0
    assert change == pytest.approx(-0.0057, abs=1e-4)


def test_order_of_readiness() -> None:
    """A mold passes press-ready, slip-ready and shelf-dry on its way from wet to dry."""
    for consistency in (60.0, 77.0, 100.0):
        (one,) = dry_targets((pour(Brief(consistency=consistency)),))
        weights = [one.wet_g, one.press_ready_g, one.slip_ready_g, one.shelf_dry_g, one.dry_g]
        assert [w.number for w in weights] == sorted((w.number for w in weights), reverse=True)


def test_lifts_are_judged_by_the_equation() -> None:
    """A wet piece onto the shelf has the limit of its harder end, by the published equation."""
    lifts, findings = plan_lifts((standing(),), thing(), 4.0, Brief())
    flip, shelf, full = lifts
    reach_m = hand_reach_m(0.170, 1.52)
    expected = recommended_weight_kg(multipliers(reach_m, 1.52, 0.6, coupling="poor"))
    assert shelf.limit_kg is not None and shelf.limit_kg.number == pytest.approx(expected)
    assert flip.limit_kg is not None and flip.limit_kg.number > shelf.limit_kg.number
    assert (full.limit_kg, full.index) == (None, None) and "does not hold" in full.why.replace(
        "do not", "does not"
    )
    assert findings == ()


@pytest.mark.parametrize(
    ("kg", "lifter", "flag"),
    [(7.0, "school", "none"), (9.0, "school", "look"), (9.0, "staff", "none"), (13.0, "school", "stop"),
     (13.0, "staff", "look"), (17.0, "staff", "stop")],
)  # fmt: skip
def test_flags_by_who_lifts(kg: float, lifter: str, flag: str) -> None:
    """Look from 8 and stop over 12 kg in a school, 10 and 16 for staff (practice)."""
    (one, *_), _ = plan_lifts((standing(wet_kg=kg),), thing(), None, Brief(lifter=lifter))  # type: ignore[arg-type]
    assert one.flag == flag


def test_a_lift_over_its_limit_is_told() -> None:
    """A lift that is more than the equation recommends, or than one should lift, is a finding."""
    _, findings = plan_lifts((standing(wet_kg=15.0),), thing(), None, Brief(shelf_mm=1700.0))
    assert [found.id for found in findings] == ["lift_two_people"]
    assert "recommends" in findings[0].says and "two people" in findings[0].remedy


def test_a_lift_within_the_equation_says_what_it_is_over() -> None:
    """Where the equation would take more than practice leaves to one person, practice is the reason told."""
    (first, *_), findings = plan_lifts((standing(wet_kg=16.3),), thing(), None, Brief(shelf_mm=850.0))
    assert first.index is not None and first.index.number < 1.0 and first.flag == "stop"
    says = findings[0].says
    assert "16.3 kg, more than the 16 kg" in says and "though" in says and "recommends" not in says


def test_nothing_pressed_is_tipped() -> None:
    """A press mold is never full of slip."""
    lifts, _ = plan_lifts((standing(),), thing(), 4.0, Brief(use="press"))
    assert not any("slip" in lift.what for lift in lifts)
