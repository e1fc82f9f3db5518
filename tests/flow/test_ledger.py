"""A document and the working of its figures grow together."""

from __future__ import annotations

import json
import math

import pytest

from claybed.flow.ledger import finished, new_document, numbers_at
from claybed.records.figure import Figure


def test_a_number_brings_its_working() -> None:
    """Every number, plain or in a list or a row, has a figure at its pointer, and nothing else has."""
    document = new_document()
    document.say(name="jug", ready=True, nothing=None)
    document.number("height_mm", 120.0, "mm", "measured with a ruler", "measured")
    row = document.row("rows")
    row.number("pull", (0.0, 0.0, 1.0), "-", "straight up", "geometry")
    inner = row.part("inner")
    inner.number("count", 3, "-", "counted", "measured")
    whole = finished(document)
    assert set(whole["figures"]) == {"/height_mm", "/rows/0/pull", "/rows/0/inner/count"}
    assert set(numbers_at({k: v for k, v in whole.items() if k != "figures"})) == set(whole["figures"])
    assert whole["rows"] == [{"pull": [0.0, 0.0, 1.0], "inner": {"count": 3}}]


@pytest.mark.parametrize("value", [3.5, 0, [1.0, 2.0], {"deep": [{"wall_mm": 3.0}]}])
def test_a_number_without_working_is_refused(value: object) -> None:
    """Numbers cannot slip in as words, however deep they lie."""
    with pytest.raises(ValueError, match="needs its working"):
        new_document().say(value=value)


def test_entries_from_elsewhere_need_all_their_figures() -> None:
    """An entry worked out elsewhere is refused when one of its numbers has no figure."""
    worked = {"/a": Figure("ml", "given", "asked")}
    document = new_document()
    document.take({"a": 1.0}, worked)
    with pytest.raises(ValueError, match="/b"):
        document.take({"a": 1.0, "b": 2.0}, worked)


@pytest.mark.parametrize("value", [math.inf, -math.inf, math.nan])
def test_what_is_not_finite_is_left_out(value: float) -> None:
    """A number that is not finite becomes null, without a figure, and never reaches JSON."""
    document = new_document()
    document.number("bore_mm", value, "mm", "measured", "measured", {"bore_mm": value})
    document.number("spare_ml", 3.0, "ml", "measured", "measured", {"bore_mm": value})
    whole = finished(document)
    assert whole["bore_mm"] is None
    assert set(whole["figures"]) == {"/spare_ml"}
    assert whole["figures"]["/spare_ml"]["inputs"] == {}
    json.dumps(whole, allow_nan=False)
