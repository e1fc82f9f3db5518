"""What people type is read as they meant it, or refused with what to type instead."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from claybed import units
from claybed.errors import InputError

LENGTHS = {
    "18cm": 180.0,
    "180": 180.0,
    "7 1/2 in": 190.5,
    "7½in": 190.5,
    '7-1/2"': 190.5,
    "1ft 3in": 381.0,
    "5'3\"": 1600.2,
    "3,5 cm": 35.0,
    " 3.5 CM ": 35.0,
    "0.18 m": 180.0,
    "1 m 20 cm": 1200.0,
    "3 in.": 76.2,
    "½ in": 12.7,
    ".5 in": 12.7,
    "12\u202fmm": 12.0,
}
VOLUMES = {
    "10L": 10_000.0,
    "350ml": 350.0,
    "350 cc": 350.0,
    "0,75 l": 750.0,
    "2 qt": 1892.705892,
    "1.5 gal": 5678.117676,
    "2 gal 1 qt": 8517.176514,
    "3 fl oz": 88.7205886875,
    "100 cm³": 100.0,
    "81 in3": 1327.352184,
    "5 dl": 500.0,
    "1 cu ft": 28_316.846592,
    "3 cups": 709.7647095,
    "1 pt": 473.176473,
    "75 cl": 750.0,
    "0.01 m3": 10_000.0,
}
MASSES = {
    "310g": 310.0,
    "2.4 kg": 2400.0,
    "2.75 lb": 1247.3790175,
    "4 lb 3 oz": 1899.418049375,
    "4lb3oz": 1899.418049375,
    "8 oz": 226.796185,
}
REFUSED: list[tuple[Callable[[str], float], str]] = [
    *(
        (units.length_mm, text)
        for text in (
            "", "cm", "18 cm tall", "18cmx", "18 kg", "3 4", "1,000 mm", "1.000,5 mm", "-3",
            "3in 1ft", "1 in 1 in", "1 cm 1 in", "1/0 in",
            "nan", "inf", "1e3", "1.5.2", "²", "٣ cm", "18 cm -", "9" * 400,
        )
    ),
    *((units.volume_ml, text) for text in ("12 oz", "10 g", "1 l 1 qt", "-1 l", "ten l")),
    *((units.mass_g, text) for text in ("4 ml", "3 oz 4 lb", "1 stone", "1,250 kg")),
    *(
        (units.ratio_consistency, text)
        for text in (
            "", ":", "1:2:3", "abc", "0:1", "1:0", "1.47:1", "1.3", "0.77", "300", "1:10", "1:1.3x", "-77",
        )
    ),
    *((units.fraction, text) for text in ("10", "150%", "x", "-5%", "")),
]  # fmt: skip


@pytest.mark.parametrize(
    ("read", "text", "amount"),
    [
        *((units.length_mm, text, amount) for text, amount in LENGTHS.items()),
        *((units.volume_ml, text, amount) for text, amount in VOLUMES.items()),
        *((units.mass_g, text, amount) for text, amount in MASSES.items()),
    ],
)
def test_amounts_are_read(read: Callable[[str], float], text: str, amount: float) -> None:
    """Each way of writing an amount must give it, by the exact factors."""
    assert math.isclose(read(text), amount, rel_tol=1e-12)


@pytest.mark.parametrize(("read", "text"), REFUSED)
def test_what_is_not_an_amount_is_refused(read: Callable[[str], float], text: str) -> None:
    """Anything left over, unknown or two-faced must be refused in one line that says what to write."""
    with pytest.raises(InputError) as caught:
        read(text, where="--amount")  # type: ignore[call-arg]
    assert str(caught.value).startswith("--amount: ")
    assert caught.value.remedy
    assert "\n" not in str(caught.value)


def test_two_faced_numbers_name_both_readings() -> None:
    """A comma before three digits must be asked about, with both readings."""
    with pytest.raises(InputError, match=r"Write 1250 or 1\.25\."):
        units.mass_g("1,250 kg")
    assert units.mass_g("0,125 kg") == 125.0


def test_bare_numbers_take_the_default_unit() -> None:
    """A bare number must take the unit the field is in."""
    assert units.length_mm("18", default_unit="cm") == 180.0
    assert units.volume_ml("10", default_unit="l") == 10_000.0
    assert units.mass_g("2", default_unit="lb") == 907.18474


def test_signs_only_where_they_mean_something() -> None:
    """A place may lie below zero; a size may not."""
    assert units.length_mm("-20mm", signed=True) == -20.0
    assert units.length_mm("−2 cm", signed=True) == -20.0
    assert units.length_mm("+20mm", signed=True) == 20.0
    with pytest.raises(InputError, match="negative"):
        units.length_mm("-20mm")


@pytest.mark.parametrize(
    ("text", "consistency"), [("1:1.3", 100 / 1.3), ("1 : 1,3", 100 / 1.3), ("77", 77.0), ("70:100", 70.0)]
)
def test_ratios_are_water_first(text: str, consistency: float) -> None:
    """A ratio is water : plaster, a bare number water per 100 of plaster."""
    assert units.ratio_consistency(text) == pytest.approx(consistency, rel=1e-15)


@pytest.mark.parametrize(
    ("text", "share"), [("10%", 0.1), ("5 %", 0.05), ("0.1", 0.1), ("0", 0.0), ("100%", 1.0)]
)
def test_shares(text: str, share: float) -> None:
    """A share is a percentage or a fraction."""
    assert units.fraction(text) == pytest.approx(share, rel=1e-15)


@given(st.text(max_size=60))
def test_any_text_is_read_or_refused(text: str) -> None:
    """No text may crash a reader, and what is read must be finite and not negative."""
    for read in (units.length_mm, units.volume_ml, units.mass_g, units.ratio_consistency, units.fraction):
        try:
            amount = read(text)
        except InputError:
            continue
        assert math.isfinite(amount) and amount >= 0


@given(
    st.floats(1e-3, 1e6),
    st.sampled_from(["mm", "cm", "m", "in", "ft", "'"]),
    st.sampled_from(["", " ", "\u00a0"]),
    st.booleans(),
)
def test_lengths_round_trip(amount: float, unit: str, gap: str, comma: bool) -> None:
    """A length written with any unit, space and decimal sign must be read back."""
    written = f"{amount:.4f}"
    mm_per = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "in": 25.4, "ft": 304.8, "'": 304.8}[unit]
    text = (written.replace(".", ",") if comma else written) + gap + unit
    assert math.isclose(units.length_mm(text), float(written) * mm_per, rel_tol=1e-12)


@given(st.integers(0, 400), st.integers(1, 63), st.sampled_from([2, 4, 8, 16, 32, 64]), st.sampled_from(" -"))
def test_fractions_of_an_inch_round_trip(whole: int, top: int, bottom: int, joint: str) -> None:
    """A mixed fraction must be read exactly."""
    assume(top < bottom)
    assert units.length_mm(f"{whole}{joint}{top}/{bottom} in") == pytest.approx((whole + top / bottom) * 25.4)


@given(st.integers(0, 500), st.floats(0.0, 15.99))
def test_pounds_and_ounces_round_trip(pounds: int, ounces: float) -> None:
    """Pounds and ounces must add up."""
    written = f"{ounces:.2f}"
    grams = units.mass_g(f"{pounds} lb {written} oz")
    assert math.isclose(
        grams, pounds * 453.59237 + float(written) * 28.349523125, rel_tol=1e-12, abs_tol=1e-9
    )


@given(st.floats(1.0, 1e6), st.booleans())
@example(999.5, False)
@example(999.49, False)
@example(453.0, True)
@example(1000.0, False)
def test_written_masses_are_near_and_can_be_read(grams: float, us: bool) -> None:
    """A written mass must be the mass to what a scale shows, and be readable again."""
    written = units.say_mass(grams, us=us)
    ounces, grams_step = 0.1 if "lb" in written else 0.05, 5.0 if "kg" in written else 1.0
    step_g = ounces * 28.349523125 if us else grams_step
    back = units.mass_g(written)
    assert abs(back - grams) <= step_g / 2 * (1 + 1e-9)
    assert us or math.isclose(back / step_g, round(back / step_g), rel_tol=1e-9)


@given(st.floats(0.1, 1e5), st.booleans())
def test_written_lengths_are_near_and_can_be_read(mm: float, us: bool) -> None:
    """A written length must be the length to what a ruler shows, and be readable again."""
    written = units.say_length(mm, us=us)
    inches = 1 / 16 if mm >= 12.7 else 1 / 1000 if "." in written else 1 / 32
    mm_step = 0.1 if "." in written else 1.0
    step_mm = inches * 25.4 if us else mm_step
    assert abs(units.length_mm(written) - mm) <= step_mm / 2 * (1 + 1e-9)


@given(st.floats(5.0, 1e6), st.booleans())
def test_written_volumes_are_near_and_can_be_read(ml: float, us: bool) -> None:
    """A written volume must be the volume to two figures, and be readable again."""
    assert math.isclose(units.volume_ml(units.say_volume(ml, us=us)), ml, rel_tol=0.051)


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        (units.say_mass(6740.88), "6.740 kg"),
        (units.say_mass(8763.1), "8.765 kg"),
        (units.say_mass(310.4), "310 g"),
        (units.say_mass(0.3), "under 1 g"),
        (units.say_mass(0.0), "0 g"),
        (units.say_mass(-20.0), "-20 g"),
        (units.say_mass(6740.88, us=True), "14 lb 13.8 oz"),
        (units.say_mass(100.0, us=True), "3.55 oz"),
        (units.say_mass(0.1, us=True), "under 0.05 oz"),
        (units.say_length(170.2), "170 mm"),
        (units.say_length(9.94), "9.9 mm"),
        (units.say_length(9.96), "10 mm"),
        (units.say_length(170.0, us=True), "6 11/16 in"),
        (units.say_length(25.4, us=True), "1 in"),
        (units.say_length(14.0, us=True), "9/16 in"),
        (units.say_length(2.0, us=True), "3/32 in"),
        (units.say_length(11.0, us=True), "7/16 in"),
        (units.say_length(12.6, us=True), "1/2 in"),
        (units.say_length(25.2, us=True), "1 in"),
        (units.say_length(-3.2, us=True), "-1/8 in"),
        (units.say_length(1.5, us=True), "0.059 in"),
        (units.say_length(0.0, us=True), "0 in"),
        (units.say_gauged(4.0), "4.0 mm"),
        (units.say_gauged(4.0, us=True), "0.157 in"),
        (units.say_volume(10_000.0), "10.00 l"),
        (units.say_volume(750.4), "750 ml"),
        (units.say_volume(1.24), "1.2 ml"),
        (units.say_volume(0.02), "under 0.1 ml"),
        (units.say_volume(0.0), "0.0 ml"),
        (units.say_volume(10_000.0, us=True), "2.64 gal"),
        (units.say_volume(1000.0, us=True), "1.06 qt"),
        (units.say_volume(100.0, us=True), "3.4 fl oz"),
        (units.say_volume(10.0, us=True), "0.34 fl oz"),
        (units.say_volume(0.1, us=True), "under 0.01 fl oz"),
        (units.say_ratio(100 / 1.3), "1 : 1.3 (77 per 100)"),
        (units.say_ratio(100.0), "1 : 1 (100 per 100)"),
    ],
)
def test_figures_are_written_for_the_bench(written: str, expected: str) -> None:
    """A figure must be written as someone weighs or measures it."""
    assert written == expected


def test_a_figure_must_be_finite() -> None:
    """A figure that is no number must not reach paper."""
    for say in (units.say_mass, units.say_length, units.say_volume):
        with pytest.raises(ValueError, match="finite"):
            say(math.nan)
