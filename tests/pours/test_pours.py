"""The mix, the pours, what floats, and the working behind each figure."""

from __future__ import annotations

from typing import Any

import pytest

from claybed.errors import InputError
from claybed.pours import mixing, planning, working
from claybed.pours.floating import judge_float
from claybed.records.brief import Brief
from claybed.records.measuring import VolumeBand
from claybed.records.pour import PiecePour, Pour
from claybed.units import say_mass, say_spread

RATIO = 100 / 1.3
BOX = 170.0 * 170.0


def piece(name: str = "A", order: int = 1, ml: float = 2600.0, **other: Any) -> PiecePour:
    """A piece in a box of 170 mm square."""
    return PiecePour(name, order, ml, ml, 90.0, 12.0, BOX, **other)


def numbers(tree: Any, at: str = "") -> set[str]:
    """JSON pointers of all measured numbers in a document; counts are no measurements."""
    if isinstance(tree, dict):
        return set().union(*(numbers(branch, f"{at}/{key}") for key, branch in tree.items()))
    if isinstance(tree, list):
        return set().union(*(numbers(branch, f"{at}/{i}") for i, branch in enumerate(tree)))
    return {at} if isinstance(tree, float) else set()


def at(tree: Any, pointer: str) -> Any:
    """The value at a JSON pointer."""
    for key in pointer.strip("/").split("/"):
        tree = tree[int(key)] if isinstance(tree, list) else tree[key]
    return tree


def test_ten_litres() -> None:
    """Ten litres at 1 : 1.3 must take 6741 g of water and 8763 g of plaster, in two equal buckets."""
    mix = mixing.mix_for_space(10_000.0, consistency=RATIO, waste=0.0, bucket_l=8.0)
    assert round(mix.water_g) == 6741
    assert round(mix.plaster_g) == 8763
    assert [round(batch.slurry_ml) for batch in mix.batches] == [5000, 5000]
    assert (mix.common_water_g, round(mix.common_plaster_g)) == (10_000.0, 13_000)
    assert mix.common_water_g / mix.water_g == pytest.approx(1.48, abs=0.005)


@pytest.mark.parametrize(
    ("space_ml", "waste", "bucket_l", "count"),
    [
        (8000.0, 0.0, 8.0, 1),
        (8000.01, 0.0, 8.0, 2),
        (16_000.0, 0.1, 8.8, 2),
        (24_000.0, 0.0, 8.0, 3),
        (300.0, 0.1, 8.0, 1),
    ],
)
def test_number_of_buckets(space_ml: float, waste: float, bucket_l: float, count: int) -> None:
    """A space of whole buckets must not ask for one more, and a drop over must."""
    mix = mixing.mix_for_space(space_ml, consistency=RATIO, waste=waste, bucket_l=bucket_l)
    assert len(mix.batches) == count


@pytest.mark.parametrize(
    "wrong",
    [
        {"space_ml": 0.0},
        {"space_ml": -1.0},
        {"space_ml": float("nan")},
        {"space_ml": float("inf")},
        {"consistency": 0.0},
        {"consistency": 300.0},
        {"consistency": float("nan")},
        {"waste": -0.1},
        {"waste": 10.0},
        {"bucket_l": 0.0},
        {"bucket_l": 0.001},
    ],
)
def test_a_senseless_mix_is_refused(wrong: dict[str, float]) -> None:
    """A mix that no one can make must be refused with what to give instead."""
    asked = {"space_ml": 10_000.0, "consistency": RATIO, "waste": 0.1, "bucket_l": 8.0, **wrong}
    with pytest.raises(InputError) as caught:
        mixing.mix_for_space(asked.pop("space_ml"), **asked)
    assert caught.value.where and caught.value.remedy


@pytest.mark.parametrize(("form", "waste"), [("hand", 0.10), ("boards", 0.05), ("case", 0.05)])
def test_allowance_by_form(form: str, waste: float) -> None:
    """The allowance must follow the form, say why, and give way to what was asked."""
    (pour,) = planning.plan_pours([piece()], Brief(form=form), 0.0)  # type: ignore[arg-type]
    assert (pour.waste, pour.mix.waste) == (waste, waste)
    assert "common practice" in pour.waste_reason
    (asked,) = planning.plan_pours([piece()], Brief(form=form, waste=0.0), 0.0)  # type: ignore[arg-type]
    assert (asked.waste, asked.waste_reason) == (0.0, "0 % as asked")
    with pytest.raises(InputError, match="hand, boards, case"):
        mixing.waste_for_form("bag")


def test_weights_of_a_piece() -> None:
    """A litre of piece must weigh 1.5504 kg wet and 0.6704 of that dry; a millimetre 19.5 and 25.3 g."""
    (pour,) = planning.plan_pours([piece(ml=1000.0)], Brief(), 0.0)
    assert pour.wet_kg == pytest.approx(1.5504, abs=5e-5)
    assert pour.dry_kg == pytest.approx(1.0395, abs=5e-5)
    assert pour.dry_kg / pour.wet_kg == pytest.approx(0.6704, abs=5e-5)
    assert pour.water_g_per_mm == pytest.approx(19.5, abs=0.05)
    assert pour.plaster_g_per_mm == pytest.approx(25.3, abs=0.05)
    assert pour.peak_celsius == pytest.approx(54.0, abs=0.5)
    assert (pour.fill_line_from_board_mm, pour.fill_line_from_rim_mm) == (90.0, 12.0)


def test_doubt_about_the_object_moves_only_its_share() -> None:
    """A volume known to 2 % must move the space by 2 % of the object, or else of the space."""
    (known,) = planning.plan_pours([piece(object_ml=400.0)], Brief(), 0.02)
    assert known.mix_low.space_ml == pytest.approx(2592.0)
    assert known.mix_high.space_ml == pytest.approx(2608.0)
    assert known.wet_high_kg - known.wet_kg == pytest.approx(0.008 * 1.5504, rel=1e-3)
    (unknown,) = planning.plan_pours([piece()], Brief(), 0.02)
    assert unknown.mix_low.space_ml == pytest.approx(2548.0)
    (exact,) = planning.plan_pours([piece()], Brief(), 0.0)
    assert exact.mix_low == exact.mix == exact.mix_high


def test_pours_come_in_their_order() -> None:
    """Pours must stand in the order in which they are poured."""
    pours = planning.plan_pours([piece("B", 2), piece("A", 1), piece("C", 3)], Brief(), 0.0)
    assert [pour.piece for pour in pours] == ["A", "B", "C"]


def found(pour: Pour) -> dict[str, str]:
    """Findings of a pour by id, with their severity."""
    return {finding.id: finding.severity for finding in pour.findings}


@pytest.mark.parametrize(
    ("wet_kg", "lift_kg", "expected"),
    [
        (7.9, 16.0, {}),
        (8.1, 16.0, {"lift_heavy": "look"}),
        (15.9, 16.0, {"lift_heavy": "look"}),
        (16.1, 16.0, {"lift_over_limit": "stop"}),
        (16.1, 21.0, {"lift_with_two": "look"}),
        (21.1, 21.0, {"lift_over_limit": "stop"}),
        (12.1, 12.0, {"lift_over_limit": "stop"}),
        (6.1, 6.0, {"lift_over_limit": "stop"}),
    ],
)
def test_heavy_pieces_are_flagged(wet_kg: float, lift_kg: float, expected: dict[str, str]) -> None:
    """A wet piece from 8 kg on must be looked at, and one over the limit must stop the plan."""
    ml = 1000 * wet_kg / mixing.slurry_g_per_ml(RATIO)
    (pour,) = planning.plan_pours([piece("B", ml=ml)], Brief(lift_kg=lift_kg, bucket_l=100.0), 0.0)
    assert found(pour) == expected
    for finding in pour.findings:
        assert finding.where == "piece B" and finding.remedy
        assert finding.amount is not None and finding.amount.value == pytest.approx(wet_kg)


@pytest.mark.parametrize(
    ("litres", "expected"),
    [(7.0, None), (14.0, ("batches_several", "note")), (20.0, ("batches_many", "look"))],
)
def test_many_buckets_are_flagged(litres: float, expected: tuple[str, str] | None) -> None:
    """More than one bucket must be said, more than two asks for another pair of hands."""
    (pour,) = planning.plan_pours([piece(ml=1000 * litres)], Brief(lift_kg=100.0), 0.0)
    buckets = {key: value for key, value in found(pour).items() if key.startswith("batches")}
    assert buckets == (dict([expected]) if expected else {})


def test_no_crowd_is_asked_to_mix() -> None:
    """Two hundred cups for one pour are answered with a bucket, not with a hundred people."""
    (pour,) = planning.plan_pours([piece(ml=4000.0)], Brief(lift_kg=100.0, bucket_l=0.02), 0.0)
    (many,) = (finding for finding in pour.findings if finding.id == "batches_many")
    assert "mixers" not in many.remedy
    assert "in a bucket of 4 l or more" in many.remedy


def test_unusual_consistency_is_said() -> None:
    """The usual consistency must pass in silence; another must be set against the plaster and the use."""
    assert planning.consistency_findings(Brief()) == ()
    assert {f.id for f in planning.consistency_findings(Brief(consistency=100.0))} == {
        "consistency_off_plaster",
        "consistency_off_use",
    }
    (press,) = planning.consistency_findings(Brief(use="press"))
    assert "softer" in press.says
    (hard,) = planning.consistency_findings(Brief(consistency=65.0))
    assert "harder" in hard.says
    with pytest.raises(InputError, match="pottery_plaster"):
        planning.consistency_findings(Brief(plaster="cement"))


@pytest.mark.parametrize(
    "wrong",
    [
        {"space_ml": 0.0},
        {"volume_ml": -1.0},
        {"footprint_mm2": float("nan")},
        {"fill_line_from_board_mm": 0.0},
        {"fill_line_from_rim_mm": -3.0},
    ],
)
def test_a_senseless_piece_is_refused(wrong: dict[str, float]) -> None:
    """A piece without space, or poured above its boards, must be refused by name."""
    whole = {
        "space_ml": 2600.0,
        "volume_ml": 2600.0,
        "fill_line_from_board_mm": 90.0,
        "fill_line_from_rim_mm": 12.0,
        "footprint_mm2": BOX,
    }
    with pytest.raises(InputError, match="piece A"):
        planning.plan_pours([PiecePour("A", 1, **{**whole, **wrong})], Brief(), 0.0)


def test_vague_volumes_are_refused() -> None:
    """A volume too vague to pour from must be refused, and so must no piece at all."""
    with pytest.raises(InputError, match="too vague"):
        planning.plan_pours([piece()], Brief(), 0.7)
    with pytest.raises(InputError, match="too uncertain"):
        planning.plan_pours([piece(ml=100.0, object_ml=5000.0)], Brief(), 0.1)
    with pytest.raises(InputError, match="no piece"):
        planning.plan_pours([], Brief(), 0.0)


@pytest.mark.parametrize(
    ("litres", "kg", "water", "slurry", "words"),
    [
        (0.90, 0.30, True, True, "floats in water and in slurry"),
        (0.50, 0.62, False, True, "sinks in water but floats in slurry"),
        (0.80, 1.52, False, False, "sinks in water and in this slurry"),
    ],
)
def test_floating(litres: float, kg: float, water: bool, slurry: bool, words: str) -> None:
    """What is lighter than slurry must be held down, even when it sinks in water."""
    reading = judge_float(1000 * litres, 1000 * kg, RATIO)
    assert (reading.floats_in_water, reading.floats_in_slurry) == (water, slurry)
    assert words in reading.says
    assert reading.lift_in_slurry_g == pytest.approx(1000 * litres * 1.5504 - 1000 * kg, rel=1e-4)
    assert reading.lift_in_slurry_newtons == pytest.approx(reading.lift_in_slurry_g * 9.80665e-3)
    assert reading.slurry_relative_density == pytest.approx(1.5535, abs=1e-4)
    assert (reading.ballast_g > 0) == (reading.on_top_g > 0) == slurry


@pytest.mark.parametrize(
    ("volume_ml", "mass_g"), [(0.0, 1.0), (100.0, 0.0), (1.0, 26.0), (float("nan"), 5.0)]
)
def test_an_impossible_object_is_refused(volume_ml: float, mass_g: float) -> None:
    """A mass that no object of that size has must be asked about."""
    with pytest.raises(InputError):
        judge_float(volume_ml, mass_g, RATIO)


@pytest.mark.parametrize("doubt", [0.0, 0.02])
def test_every_figure_has_its_working(doubt: float) -> None:
    """Each number of a pour must have its working, and lie within the bounds given for it."""
    (pour,) = planning.plan_pours([piece(ml=12_000.0)], Brief(lift_kg=50.0), doubt)
    entry = working.pour_entry(pour)
    figures = working.pour_figures(pour)
    assert set(figures) == numbers(entry)
    weights = {"wet_kg": pour.wet_kg, "dry_kg": pour.dry_kg}
    for tree, worked in ((entry, figures), (weights, working.weight_figures(pour))):
        for pointer, figure in worked.items():
            assert figure.unit and figure.formula and figure.source
            if figure.low is not None and figure.high is not None:
                assert figure.low < at(tree, pointer) < figure.high, pointer
    assert (figures["/space_ml"].low is None) == (doubt == 0.0)


def test_working_can_be_placed() -> None:
    """Pointers must start where the figures stand, and bounds be those of the plaster."""
    (pour,) = planning.plan_pours([piece()], Brief(), 0.0)
    assert all(pointer.startswith("/pours/0/") for pointer in working.pour_figures(pour, at="/pours/0"))
    assert set(working.weight_figures(pour, at="/pieces/1")) == {"/pieces/1/wet_kg", "/pieces/1/dry_kg"}
    plaster = working.mix_figures(pour.mix)["/plaster_g"]
    assert plaster.low is not None and plaster.high is not None
    # grains of 2.62 and 2.757 instead of 2.70 g/ml, water of 0.993 and 1.0 instead of 0.998
    assert plaster.low / pour.mix.plaster_g == pytest.approx(0.9868, abs=2e-4)
    assert plaster.high / pour.mix.plaster_g == pytest.approx(1.0082, abs=2e-4)


def test_working_can_be_redone_by_hand() -> None:
    """The formula and inputs printed for the plaster must give the plaster."""
    (pour,) = planning.plan_pours([piece()], Brief(), 0.0)
    given = {name: float(value) for name, value in working.mix_figures(pour.mix)["/plaster_g"].inputs.items()}
    by_hand = given["slurry_ml"] / (
        given["consistency_per_100"] / 100 / given["water_density_g_per_ml"]
        + 1 / given["hemihydrate_density_g_per_ml"]
    )
    assert by_hand == pytest.approx(pour.mix.plaster_g)


def test_a_one_sided_doubt_moves_one_side_only() -> None:
    """An object that may only be smaller never lowers the mix, and the allowance grows by just that much."""
    (hull,) = planning.plan_pours([piece(object_ml=400.0)], Brief(), 0.06, VolumeBand(0.06, 0.0))
    assert hull.mix_low == hull.mix
    assert hull.mix_high.space_ml == pytest.approx(hull.mix.space_ml + 24.0, rel=1e-12)
    (known,) = planning.plan_pours([piece(object_ml=400.0)], Brief(), 0.0)
    assert hull.waste == pytest.approx(known.waste + 24.0 / known.mix.space_ml, rel=1e-12)
    assert "smaller than measured" in hull.waste_reason
    (asked,) = planning.plan_pours([piece(object_ml=400.0)], Brief(waste=0.1), 0.06, VolumeBand(0.06, 0.0))
    assert asked.waste == 0.1


def test_a_spread_is_written_as_it_is_weighed() -> None:
    """Even sides are one plus-minus, uneven ones two, and no bounds are nothing."""
    assert say_spread(1500.0, 1480.0, 1521.0, say_mass) == "± 21 g"
    assert say_spread(1500.0, 1500.0, 1521.0, say_mass) == "+ 21 g, − 0 g"
    assert say_spread(1500.0, None, None, say_mass) == ""


def test_a_small_bucket_names_the_one_that_would_do() -> None:
    """Sixty kilograms in batches of five litres: the batch and the bucket that would do are told."""
    piece = PiecePour("A", 1, 38_700.0, 38_700.0, 200.0, 12.0, 200_000.0)
    (pour,) = planning.plan_pours([piece], Brief(bucket_l=5.0, waste=0.0, lift_kg=100.0), 0.0)
    (found,) = [one for one in pour.findings if one.id == "batches_many"]
    assert found.amount is not None and found.amount.value == 8.0
    assert "batches of 19.4 l, in a bucket of 30 l or more" in found.remedy
    # 60 kg of slurry in two: more than one person should pour.
    half_kg = (pour.mix.water_g + pour.mix.plaster_g) / 2000.0
    assert f"each {half_kg:.0f} kg of slurry: two people" in found.remedy
