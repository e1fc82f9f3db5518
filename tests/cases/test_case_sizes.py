"""Sizes that cases are built to: from the shelf, in steps between its bounds, and fit for one another."""

from __future__ import annotations

import math

import pytest

from claybed.cases import flanges
from claybed.cases.bearing import WALLS_MM
from claybed.cases.sizes import falling_mm, size_mm
from claybed.errors import InputError
from claybed.materials import shelf


def test_steps_fall_evenly_from_the_most_to_the_least() -> None:
    """Bolts come nearer by the same share each time, to half a millimetre, and end at the bounds."""
    spread = shelf.value("cases", "bolts_apart_mm")
    steps = falling_mm("bolts_apart", 4)
    assert (steps[0], steps[-1]) == (spread.high, spread.low)
    share = (spread.low / spread.high) ** (1.0 / 3.0)
    for near, far in zip(steps[1:], steps, strict=False):
        assert near == pytest.approx(far * share, abs=0.5)
    with pytest.raises(InputError, match="bolt_mm"):
        size_mm("bold")


def test_walls_are_whole_lines() -> None:
    """Every wall that is tried is a whole number of lines, thinnest first."""
    lines = [wall / size_mm("print_line") for wall in WALLS_MM]
    assert lines == pytest.approx([round(line) for line in lines])
    assert list(WALLS_MM) == sorted(WALLS_MM)


def test_a_washer_lies_on_its_flange() -> None:
    """Bolt through hole, hole in washer, washer on flange: clear of wall, edge and ridge."""
    assert size_mm("bolt") < size_mm("bolt_hole") < size_mm("washer")
    half = size_mm("washer") / 2.0
    assert size_mm("bolt_in") - half > 0.0
    assert size_mm("bolt_in") + half < size_mm("flange_out")
    ridge = size_mm("ridge_in") + size_mm("ridge_wide")
    assert ridge < size_mm("bolt_in") - size_mm("bolt_hole") / 2.0
    assert math.isclose(flanges.HOLE_MM, size_mm("bolt_hole"))
    assert size_mm("bolt_over_level") + size_mm("bolt_end") <= flanges.UPPER_MM
