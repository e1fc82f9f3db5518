"""The mixing of a pour: who does what when, how long it pours, how hot it gets, what is left."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from claybed.bench.mixing import leftover_use, plan_mixing
from claybed.records.bench import Mixing
from claybed.records.brief import Brief
from tests.bench.standings import SPACE_ML, pour, standing, thing


def mixed(brief: Brief, **changes: object) -> Mixing:
    """The mixing of the ball's first half."""
    return plan_mixing(pour(brief, **changes), standing(), thing(), brief)


def test_one_bucket_takes_eleven_minutes() -> None:
    """Sift 2.5, slake 3.5, mix 3.25 and pour 2 minutes are 11.25 (common practice, no source)."""
    (bucket,) = mixed(Brief()).buckets
    times = [
        bucket.sift_at_min.number, bucket.slake_at_min.number, bucket.mix_at_min.number,
        bucket.pour_at_min.number, bucket.done_at_min.number,
    ]  # fmt: skip
    assert times == [0.0, 2.5, 6.0, 9.25, 11.25]


def test_two_buckets_slake_together() -> None:
    """The second slakes before the first is mixed, and the last drop comes within the working time."""
    brief = Brief(bucket_l=1.3)
    mixing = mixed(brief)
    first, second = mixing.buckets
    assert second.slake_at_min.number < first.mix_at_min.number
    assert mixing.needed_min.number == 10.5
    assert mixing.working_min.figure.high == 12.0
    assert "pour without a pause" in mixing.pace


def test_too_many_buckets_are_told() -> None:
    """Five buckets by one mixer come too late; by three mixers they do not."""
    late = mixed(Brief(bucket_l=0.6))
    assert len(late.buckets) == 5
    assert late.needed_min.number > late.working_min.figure.high
    assert "would meet set plaster" in late.pace and "3 people" in late.pace
    shared = mixed(Brief(bucket_l=0.6, drills=3))
    assert shared.mixers_count.number == 3
    assert shared.needed_min.number <= 12.0


@given(st.integers(1, 12), st.integers(1, 5), st.sampled_from(["drill", "hand"]))
def test_no_one_does_two_things_at_once(batches: int, drills: int, by: str) -> None:
    """One mixer's sifting, mixing and pouring never overlap, nothing is mixed before it has slaked, and every
    bucket is on the list once.
    """
    brief = Brief(bucket_l=SPACE_ML * 1.1 / 1000.0 / batches * 1.0001, drills=drills, mixing=by)  # type: ignore[arg-type]
    mixing = mixed(brief)
    assert [b.number.number for b in mixing.buckets] == list(range(1, batches + 1))
    for mixer in {b.mixer.number for b in mixing.buckets}:
        own = [b for b in mixing.buckets if b.mixer.number == mixer]
        busy = [(b.sift_at_min.number, b.slake_at_min.number) for b in own]
        busy += [(b.mix_at_min.number, b.done_at_min.number) for b in own]
        for (_, end), (start, _) in zip(sorted(busy), sorted(busy)[1:], strict=False):
            assert start >= end - 1e-9
        assert all(b.mix_at_min.number - b.slake_at_min.number >= 3.5 - 1e-9 for b in own)
    total_g = math.fsum(b.plaster_g.number for b in mixing.buckets)
    assert total_g == pytest.approx(pour(brief).mix.plaster_g)


def test_a_batch_of_eight_litres() -> None:
    """Eight litres of slurry weigh 12.4 kg (practice) and want a bucket of 12.3 l at two thirds full."""
    brief = Brief(bucket_l=8.0, waste=0.0)
    mixing = mixed(brief, space_ml=8000.0, volume_ml=8000.0)
    (bucket,) = mixing.buckets
    assert bucket.water_g.number + bucket.plaster_g.number == pytest.approx(12_400.0, abs=10.0)
    assert mixing.bucket_least_l.number == pytest.approx(8.0 / 0.65)


@pytest.mark.parametrize(
    ("water", "minutes"), [(10.0, 9.0), (20.0, 9.0), (29.0, 8.1), (38.0, 7.2), (45.0, 7.2)]
)
def test_warm_water_shortens_a_little(water: float, minutes: float) -> None:
    """From 20 to 38 °C the working time loses a fifth, by the axes of a maker's graph, and no more."""
    assert mixed(Brief(water_celsius=water)).working_min.number == pytest.approx(minutes)


@pytest.mark.parametrize(("water", "peak"), [(20.0, 53.6), (38.0, 68.0)])
def test_peak_of_a_thick_block(water: float, peak: float) -> None:
    """The middle of a thick block at 1 : 1.3: near 54 °C from 20 °C, 68 from water at 38 (practice)."""
    mixing = mixed(Brief(water_celsius=water))
    assert mixing.thickest_mm.number == 85.0
    assert mixing.peak_celsius.number == pytest.approx(peak, abs=0.6)


def test_a_thin_piece_keeps_less_heat() -> None:
    """Under 50 mm the plaster keeps about four fifths of its heat."""
    flat = standing(fill_from_board_mm=95.0)
    thin = plan_mixing(pour(Brief()), flat, thing(), Brief())
    thick = mixed(Brief())
    assert thin.peak_celsius.number - 20.0 == pytest.approx(0.8 * (thick.peak_celsius.number - 20.0))


def test_a_core_under_a_thin_slab_is_as_hot_as_a_thick_block() -> None:
    """A piece of 20 mm over the bed whose core reaches 84 mm into the object keeps its heat there."""
    slab = plan_mixing(pour(Brief()), standing(fill_from_board_mm=80.0), thing(), Brief())
    core = plan_mixing(pour(Brief()), standing(fill_from_board_mm=80.0, deeper_mm=84.0), thing(), Brief())
    assert core.thickest_mm.number == pytest.approx(slab.thickest_mm.number + 84.0)
    assert core.peak_celsius.number == pytest.approx(mixed(Brief()).peak_celsius.number)
    assert slab.peak_celsius.number < core.peak_celsius.number - 5.0


@pytest.mark.parametrize(
    ("made_of", "warned"),
    [("pla", False), ("wax", True), ("oil_clay", True), ("ceramic", False), ("unknown", False)],
)
def test_what_softens_is_told(made_of: str, warned: bool) -> None:
    """At 54 °C wax and oil clay soften, PLA just does not, and stoneware never."""
    found = mixed(Brief(made_of=made_of)).findings  # type: ignore[arg-type]
    assert any(one.id == "heat_softens" for one in found) == warned
    hot = mixed(Brief(made_of="pla", water_celsius=30.0)).findings
    assert {"heat_softens", "water_warm"} <= {one.id for one in hot}


def test_oil_clay_in_gaps_softens_too() -> None:
    """Oil clay that fills gaps is warned of at 54 °C (softens from 40 °C, from memory), no fill is not."""
    (found,) = plan_mixing(pour(Brief()), standing(), thing(fill_ml=2.0), Brief()).findings
    assert (found.id, found.severity) == ("fill_softens", "look")
    assert found.amount is not None and found.amount.value > 40.0
    assert "oil clay" in found.says and "nothing moves it" in found.remedy
    assert plan_mixing(pour(Brief()), standing(), thing(fill_ml=0.0), Brief()).findings == ()


def test_leftover_has_a_use() -> None:
    """A drying bat of 180 x 12 mm takes 305 ml (practice, worked); a test cube takes 100."""
    assert "305 ml" in leftover_use(400.0)
    assert "drying bat" in leftover_use(306.0) and "test cube" in leftover_use(305.0)
    assert "onto newspaper" in leftover_use(99.0)
    mixing = mixed(Brief(waste=0.1))
    assert mixing.leftover_ml.number == pytest.approx(0.1 * SPACE_ML)


def test_a_short_pour_is_rescued_by_weight() -> None:
    """Ten millimetres of 170 x 170 take 195 g of water and 253 g of plaster (practice)."""
    assert "195 g of water and 253 g of plaster" in mixed(Brief()).rescue


def test_a_coarse_scale_is_told() -> None:
    """Steps of more than one per cent of the smallest amount are too coarse."""
    assert not mixed(Brief(scale_step_g=5.0)).findings
    assert [one.id for one in mixed(Brief(scale_step_g=50.0)).findings] == ["scale_coarse"]


def test_cautions_stand_where_the_hazard_is() -> None:
    """Dust, hands in plaster and drains are cautioned always, the drill only where one is used."""
    drill, hand = mixed(Brief()), mixed(Brief(mixing="hand"))
    assert any("Drill and water" in line for line in drill.cautions)
    assert not any("Drill" in line for line in hand.cautions)
    for mixing in (drill, hand):
        said = " ".join(mixing.cautions)
        assert "dust" in said and "part of a body" in said and "drain" in said
    assert hand.set_min.number > drill.set_min.number
