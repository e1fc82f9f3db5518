"""`claybed mix`: water and plaster for a space."""

from __future__ import annotations

import json
import math
import shlex
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from claybed.actions.mixing import Space, mix_document
from claybed.cli.mixing import sides_mm
from claybed.errors import InputError

Run = Callable[..., Any]
KEYS = {"space_ml", "slurry_ml", "water_g", "plaster_g", "batches", "common_rule", "findings", "figures"}


def asked(run: Run, *words: str) -> dict[str, Any]:
    """Return the JSON of one mix."""
    outcome = run("mix", *words, "--json")
    assert outcome.code == 0, outcome.err
    return dict(json.loads(outcome.out))


def numbers(value: object, pointer: str = "") -> Iterator[tuple[str, float]]:
    """Yield every number of a document with its JSON pointer."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from numbers(inner, f"{pointer}/{key}")
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from numbers(inner, f"{pointer}/{index}")
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield pointer, float(value)


def test_ten_litres_at_the_usual_ratio(run: Run) -> None:
    """10 l at 1 : 1.3 without allowance take 6741 g of water and 8763 g of plaster, unrounded in the JSON."""
    document = asked(run, "--space", "10L", "--ratio", "1:1.3", "--waste", "0")
    assert set(document) == KEYS
    assert (round(document["water_g"]), round(document["plaster_g"])) == (6741, 8763)
    assert document["water_g"] != round(document["water_g"])
    # By hand: a gram of plaster with 1/1.3 g of water fills 1/1.3/0.998 + 1/2.70 ml.
    assert document["plaster_g"] == pytest.approx(10000 / (1 / 1.3 / 0.998 + 1 / 2.70), rel=1e-12)
    assert document["common_rule"]["plaster_g"] / document["plaster_g"] == pytest.approx(1.48, abs=0.005)


def test_every_number_has_its_working(run: Run) -> None:
    """Each number of the document, and no other, has a figure with formula, source and bounds around it."""
    document = asked(run, "--box", "400x300x200mm", "--displaced", "750g")
    figures = document.pop("figures")
    found = dict(numbers(document))
    assert set(figures) == set(found)
    for pointer, value in found.items():
        figure = figures[pointer]
        assert figure["formula"]
        assert figure["source"]
        if figure["low"] is not None:
            assert figure["low"] <= value <= figure["high"], pointer


def test_batches_fit_the_bucket_and_add_up(run: Run) -> None:
    """No batch exceeds the bucket, one batch fewer would, and together they are the mix."""
    document = asked(run, "--space", "10L", "--waste", "0", "--bucket", "3L")
    batches = document["batches"]
    assert len(batches) == 4
    assert all(batch["slurry_ml"] <= 3000 for batch in batches)
    for key in ("water_g", "plaster_g", "slurry_ml"):
        assert math.fsum(batch[key] for batch in batches) == pytest.approx(document[key], rel=1e-12)


@pytest.mark.parametrize(
    ("words", "space_ml"),
    [
        (("--box", "200x150x90mm"), 2700.0),
        (("--box", "20cm x 15cm x 9cm"), 2700.0),
        (("--box", "20x15x9cm"), 2700.0),
        (("--round", "180mm x 120mm"), math.pi / 4 * 180**2 * 120 / 1000),
        (("--round", "8x5in"), math.pi / 4 * 8**2 * 5 * 16.387064),
        (("--space", "2 qt"), 2 * 946.352946),
        (("--box", "200x150x90mm", "--object-volume", "750ml"), 1950.0),
        (("--box", "200x150x90mm", "--displaced", "750g"), 2700 - 750 / 0.998),
    ],
)
def test_space_is_what_is_left_beside_the_object(run: Run, words: tuple[str, ...], space_ml: float) -> None:
    """Boards, band and volume give the same space however they are typed, less the object."""
    assert asked(run, *words)["space_ml"] == pytest.approx(space_ml, rel=1e-9)


def test_allowance_follows_the_form_unless_given(run: Run) -> None:
    """A form built by hand takes more allowance than boards, and a given one wins."""
    by_hand, boards, given_one = (
        asked(run, "--space", "1L", *words)["slurry_ml"]
        for words in ((), ("--form", "boards"), ("--form", "boards", "--waste", "20%"))
    )
    assert by_hand == pytest.approx(1100)
    assert boards == pytest.approx(1050)
    assert given_one == pytest.approx(1200)


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("--space", "1L", "--box", "1x1x1cm"),
        ("--space", "0L"),
        ("--space", "ten"),
        ("--box", "200x150mm"),
        ("--box", "200x150x0mm"),
        ("--round", "180mm"),
        ("--box", "100x100x50mm", "--object-volume", "600ml"),
        ("--space", "1L", "--object-volume", "1ml", "--displaced", "1g"),
        ("--space", "1L", "--ratio", "1.3"),
        ("--space", "1L", "--waste", "10"),
        ("--space", "1L", "--form", "tin"),
        ("--space", "1L", "--bucket", "0L"),
        ("--space", "1L", "--units", "imperial"),
    ],
)
def test_what_cannot_be_read_is_one_line(run: Run, words: tuple[str, ...]) -> None:
    """Bad input ends with 2 and one line on standard error, nothing on standard output."""
    outcome = run("mix", *words)
    assert (outcome.code, outcome.out) == (2, "")
    assert outcome.err.startswith("claybed: ")
    assert outcome.err.count("\n") == 1


def test_text_shows_batches_rule_and_next_command(run: Run) -> None:
    """The text gives a row for each batch, the common rule beside it, and a next command that works."""
    outcome = run("mix", "--space", "10L", "--ratio", "1:1.3", "--waste", "0")
    assert "6.740 kg of water, 8.765 kg of plaster" in outcome.out
    assert sum(line.lstrip()[:1].isdigit() and " kg " in line for line in outcome.out.splitlines()) == 3
    assert "1.48 times as much" in outcome.out
    last = outcome.out.splitlines()[-1]
    assert last == "Next: claybed mix --space 10L --ratio 1:1.3 --waste 0 --why"
    again = run(*shlex.split(last.removeprefix("Next: claybed ")))
    assert again.code == 0
    assert (
        "plaster_g [g]: slurry_ml / (consistency / 100 / water density + 1 / plaster density) with"
        in again.out
    )
    assert "Source: " in again.out


def test_too_small_a_bucket_is_told_what_would_do(run: Run) -> None:
    """Sixty kilograms from a bucket of five litres: buckets, people and the batch that would do are told."""
    words = ("mix", "--space", "38.7L", "--waste", "0", "--bucket", "5L")
    outcome = run(*words)
    assert outcome.code == 0
    told = " ".join(outcome.out.split())
    assert "This mix takes 8 buckets" in told
    assert "Plan 4 mixers, or batches of 19.4 l, in a bucket of 30 l or more" in told
    (found,) = asked(run, *words[1:])["findings"]
    assert (found["id"], found["severity"], found["amount"]["value"]) == ("batches_many", "look", 8.0)
    assert asked(run, "--space", "38.7L", "--waste", "0", "--bucket", "45L")["findings"] == []


def test_no_space_at_all_is_told_what_to_give(run: Run) -> None:
    """claybed cannot choose the space to fill, so the message does not offer to."""
    outcome = run("mix", "--space", "0L")
    assert outcome.code == 2
    assert outcome.err == "claybed: --space: “0L” must be above 0. Give the space to fill: 10L.\n"


def test_it_says_why_more_is_mixed_and_in_how_many_batches(run: Run) -> None:
    """The allowance and the number of batches are explained on the plain screen; --why counts from one."""
    plain = run("mix", "--space", "10L").out
    assert (
        "10 % more is mixed than the space (10 % for a form built by hand, common practice), in two batches: "
        "a bucket takes 8.00 l at most.\n"
    ) in plain
    assert (
        "Nothing is mixed beyond the space (as asked), in two batches"
        in run("mix", "--space", "10L", "--waste", "0").out
    )
    working = run("mix", "--space", "10L", "--why").out
    assert "batches 2 water_g" in working
    assert "batches 0" not in working


def test_us_units_are_kept_for_the_next_command(run: Run) -> None:
    """US units show pounds and stay on for the next command."""
    outcome = run("mix", "--space", "2 qt", "--units", "us")
    assert " lb " in outcome.out
    assert " kg" not in outcome.out
    assert outcome.out.splitlines()[-1] == "Next: claybed mix --space '2 qt' --units us --why"


@settings(max_examples=60)
@given(
    space_ml=st.floats(1.0, 1e5),
    consistency=st.floats(30.0, 120.0),
    waste=st.floats(0.0, 0.5),
    times=st.floats(1.5, 4.0),
)
def test_a_larger_space_takes_as_much_more(
    space_ml: float, consistency: float, waste: float, times: float
) -> None:
    """Water and plaster are in proportion to the space, and their masses to each other as the ratio says."""
    one, more = (
        mix_document(Space(space_ml=size), consistency=consistency, waste=waste, form="hand", bucket_l=1000.0)
        for size in (space_ml, space_ml * times)
    )
    for key in ("water_g", "plaster_g"):
        assert more[key] == pytest.approx(one[key] * times, rel=1e-9)
    assert one["water_g"] * 100 == pytest.approx(one["plaster_g"] * consistency, rel=1e-9)


@pytest.mark.parametrize("text", ["200x150", "200xx90", "200x150x-90", "axbxc", ""])
def test_sides_that_are_not_lengths_are_refused(text: str) -> None:
    """A side that is missing, negative or no number is an input error."""
    with pytest.raises(InputError):
        sides_mm(text, 3, where="--box")


@pytest.mark.parametrize("text", ["7 5/16x9 5/8in", "7 5/16 x 9 5/8 in", "7-5/16x9-5/8 in", "7.3125x9.625in"])
def test_sides_share_the_unit_of_the_last(text: str) -> None:
    """A form of 7 5/16 by 9 5/8 inches is that in every way of writing it."""
    assert sides_mm(text, 2, where="--inside") == pytest.approx((7.3125 * 25.4, 9.625 * 25.4))
