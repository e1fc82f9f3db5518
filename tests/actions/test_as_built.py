"""The weights of a pour for the form as it really stands."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from claybed.actions.as_built import as_built
from claybed.errors import InputError
from claybed.flow.ledger import numbers_at
from claybed.pours.mixing import mix_for_space
from tests.bench.standings import PLAN_MM2, SPACE_ML

W = 100.0 / 1.3


def plan(**form: Any) -> dict[str, Any]:
    """As much of a plan as is needed: the first half of a ball of 100 mm in 170 x 170."""
    mix = mix_for_space(SPACE_ML, consistency=W, waste=0.05, bucket_l=8.0)
    stood = {
        "inside_mm": [170.0, 170.0], "object_mm": [100.0, 100.0], "footprint_mm2": PLAN_MM2,
        "bed_level_mm": 55.0, "fill_from_board_mm": 140.0, "fill_from_rim_mm": 12.0,
    } | form  # fmt: skip
    # Of a form without fillers a millimetre of one side adds the other side times the height above the bed.
    stood.setdefault("per_mm_wider_ml", [side * 85.0 / 1000.0 for side in stood["inside_mm"][::-1]])
    pour = {
        "piece": "A", "space_ml": SPACE_ML, "water_g": mix.water_g, "plaster_g": mix.plaster_g, "waste": 0.05,
        "consistency": W, "form": stood,
    }  # fmt: skip
    second = {**pour, "piece": "B"}
    return {"pours": [pour, second], "mold": {"wall_mm": 35.0}, "made": {"brief": {"bucket_l": 8.0}}}


def test_a_loose_form_by_hand() -> None:
    """174 x 173 mm filled 3 mm over takes 8.8 % more, so that an allowance of 5 % falls short."""
    found = as_built(plan(), "A", (174.0, 173.0), 143.0)
    assert found["space_ml"] == pytest.approx(
        174.0 * 173.0 * 88.0 / 1000.0 - (PLAN_MM2 * 85.0 / 1000.0 - SPACE_ML)
    )
    assert found["more_fraction"] == pytest.approx(0.088, abs=5e-4)
    assert [one["id"] for one in found["findings"]] == ["short_pour_avoided", "freeboard_low"][::-1]


def test_as_planned_changes_nothing() -> None:
    """A form that stands as planned takes the planned weights."""
    for inside, line in ((None, None), ((170.0, 170.0), 140.0)):
        found = as_built(plan(), "a", inside, line)
        assert found["water_g"] == pytest.approx(plan()["pours"][0]["water_g"])
        assert found["more_fraction"] == pytest.approx(0.0, abs=1e-12)
        assert found["findings"] == []


def test_grams_for_each_millimetre() -> None:
    """170 x 170 mm is 19.5 g of water and 25.3 g of plaster a millimetre (practice, worked)."""
    grams = as_built(plan(), "A", None, None)["grams_per_mm"]
    assert grams["water"] == pytest.approx(19.5, abs=0.05)
    assert grams["plaster"] == pytest.approx(25.3, abs=0.05)


@given(st.floats(-8.0, 8.0), st.floats(-8.0, 8.0), st.floats(-6.0, 11.0))
def test_weights_follow_the_form(dx_mm: float, dy_mm: float, dz_mm: float) -> None:
    """Whatever the form, its space is its plan times its height above the bed, less what stands in it."""
    x_mm, y_mm, line_mm = 170.0 + dx_mm, 170.0 + dy_mm, 140.0 + dz_mm
    found = as_built(plan(), "A", (x_mm, y_mm), line_mm)
    stands_ml = PLAN_MM2 * 85.0 / 1000.0 - SPACE_ML
    assert found["space_ml"] == pytest.approx(x_mm * y_mm * (line_mm - 55.0) / 1000.0 - stands_ml)
    assert found["water_g"] / found["plaster_g"] == pytest.approx(W / 100.0)


@given(st.floats(-8.0, 8.0), st.floats(-8.0, 8.0))
def test_fillers_stay_as_thick_as_they_are(dx_mm: float, dy_mm: float) -> None:
    """With a filler of 38 mm in front and one of 35 mm at the right, (x - 35)(y - 38) is filled."""
    left_mm = (170.0 - 35.0, 170.0 - 38.0)
    wider_ml = [side * 85.0 / 1000.0 for side in left_mm[::-1]]
    kept = plan(footprint_mm2=left_mm[0] * left_mm[1], per_mm_wider_ml=wider_ml)
    found = as_built(kept, "A", (170.0 + dx_mm, 170.0 + dy_mm), None)
    more_mm2 = (left_mm[0] + dx_mm) * (left_mm[1] + dy_mm) - left_mm[0] * left_mm[1]
    assert found["space_ml"] - SPACE_ML == pytest.approx(more_mm2 * 85.0 / 1000.0)


def test_sides_measured_the_other_way_round() -> None:
    """Whoever measures width before length gets the same weights."""
    long = plan(inside_mm=[170.0, 235.0], object_mm=[100.0, 165.0], footprint_mm2=170.0 * 235.0)
    there, back = (as_built(long, "A", sides, None) for sides in ((172.0, 236.0), (236.0, 172.0)))
    assert there["water_g"] == pytest.approx(back["water_g"])


def test_a_round_form_goes_with_the_square() -> None:
    """A band two per cent wider takes four per cent more plan."""
    area_mm2 = 22_700.0
    round_ = plan(inside_mm=[170.0], footprint_mm2=area_mm2)
    found = as_built(round_, "A", (173.4,), None)
    assert found["space_ml"] - SPACE_ML == pytest.approx(area_mm2 * (1.02**2 - 1.0) * 85.0 / 1000.0)


def test_every_number_has_its_working() -> None:
    """Numbers and figures of the document are one to one."""
    found = as_built(plan(), "A", (174.0, 173.0), 143.0)
    bare = {key: value for key, value in found.items() if key != "figures"}
    assert set(numbers_at(bare)) == set(found["figures"])


@pytest.mark.parametrize(
    ("inside", "line", "says"),
    [
        ((90.0, 170.0), None, "140 × 140 mm is the least"),
        (None, 153.0, "boards of 165 mm or more"),
        (None, 50.0, "lies under what the plaster stands on"),
        ((17.0, 17.3), None, "smaller than the object"),
        ((240.0, 170.0), None, "far from the planned 170 mm"),
        ((170.0,), None, "is boxed"),
        ((170.0, 170.0, 90.0), None, "is boxed"),
    ],
)
def test_a_form_that_cannot_be_is_refused(
    inside: tuple[float, ...] | None, line: float | None, says: str
) -> None:
    """A form smaller than the object, a line above boards or under the bed: a sentence with what works."""
    with pytest.raises(InputError) as refused:
        as_built(plan(), "A", inside, line)
    assert says in str(refused.value)


@pytest.mark.parametrize(("inside", "line"), [((138.0, 170.0), None), (None, 124.0)])
def test_thin_plaster_stops(inside: tuple[float, ...] | None, line: float | None) -> None:
    """A form or line that leaves less than 20 mm of plaster is a stop."""
    found = as_built(plan(), "A", inside, line)["findings"]
    assert ("wall_thin_as_built", "stop") in [(one["id"], one["severity"]) for one in found]


@pytest.mark.parametrize("piece", [None, "C"])
def test_the_piece_must_be_said(piece: str | None) -> None:
    """With two pours the letter is needed, and it must be one of them."""
    with pytest.raises(InputError, match="--piece"):
        as_built(plan(), piece, None, None)


def test_an_older_plan_is_refused() -> None:
    """A plan that says nothing of the form is answered with what to do."""
    older = plan()
    del older["pours"][0]["form"]
    with pytest.raises(InputError, match="Plan it again"):
        as_built(older, "A", None, None)


def test_what_is_open_of_the_object_stays_open_in_any_form() -> None:
    """An object known to 30 ml less and 40 ml more leaves the space open by as much, however the form stands;
    the batches share the ends of the whole."""
    known = plan()
    ends = {"low": SPACE_ML - 40.0, "high": SPACE_ML + 30.0}
    known["figures"] = {"/pours/0/space_ml": ends, "/pours/1/space_ml": {"low": None, "high": None}}
    found = as_built(known, "A", (174.0, 173.0), 143.0)
    space = found["figures"]["/space_ml"]
    assert found["space_ml"] - space["low"] == pytest.approx(40.0)
    assert space["high"] - found["space_ml"] == pytest.approx(30.0)
    for key in ("water_g", "plaster_g"):
        whole = found["figures"][f"/{key}"]
        assert whole["low"] < found[key] < whole["high"]
        parts = [found["figures"][f"/batches/{k}/{key}"] for k in range(len(found["batches"]))]
        assert sum(part["low"] for part in parts) == pytest.approx(whole["low"])
        assert sum(part["high"] for part in parts) == pytest.approx(whole["high"])
    assert as_built(known, "B", None, None)["figures"]["/space_ml"]["low"] is None
