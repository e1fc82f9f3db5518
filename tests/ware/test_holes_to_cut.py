"""Holes to cut in wet ware: wide enough that they fire to what was drawn."""

from __future__ import annotations

import math
from dataclasses import asdict

import pytest

from claybed.hole_words import cut_words
from claybed.materials.bodies import body
from claybed.records.measured import WallHole
from claybed.records.ware import HoleCut
from claybed.ware.holes import plan_holes
from claybed.ware.reckoning import asked
from claybed.ware.sizing import shrinkage_of


def hole(mark: str = "a", turned: str = "", *, width_mm: float = 10.0, length_mm: float = 10.0) -> WallHole:
    """A hole in a wall of 4 mm."""
    area = math.pi * width_mm**2 / 4.0
    place = ((40.0, 0.0, 45.0), (1.0, 0.0, 0.0))
    where = "in the wall, 45 mm above the foot"
    return WallHole(*place, width_mm, length_mm, area, 4.0, area * 0.004, (), mark, where, turned)


STONEWARE = shrinkage_of(body=body("stoneware", ""))


def test_a_hole_is_cut_larger_by_what_the_clay_shrinks() -> None:
    """By ASTM C326 a fired length is the wet one times 1 - S; clay cut out is a disc of the wet wall."""
    (cut,) = plan_holes((hole(),), STONEWARE, asked(4.0), scaled=False)
    share = STONEWARE.total_percent.value / 100.0
    assert cut.fired_width_mm is not None and cut.fired_width_mm.value == 10.0
    assert cut.width_mm.value * (1.0 - share) == pytest.approx(10.0)
    assert cut.width_mm.low < cut.width_mm.value < cut.width_mm.high
    assert cut.clay_ml.value == pytest.approx(math.pi * (cut.width_mm.value / 2) ** 2 * 4.0 / 1000.0)


def test_a_model_scaled_for_firing_has_its_holes_scaled_with_it() -> None:
    """They are cut as the model has them and fire to what was drawn before it was scaled."""
    (cut,) = plan_holes((hole(),), STONEWARE, asked(4.0), scaled=True)
    assert cut.width_mm.value == pytest.approx(10.0)
    assert cut.fired_width_mm is not None
    assert cut.fired_width_mm.value == pytest.approx(10.0 / STONEWARE.oversize_ratio.value)


def test_plaster_that_grew_makes_the_cast_larger_and_not_the_fired_hole() -> None:
    """With growth in two castings a hole still fires to the size it was drawn at."""
    grown = shrinkage_of(body=body("stoneware", ""), growth_fraction=0.002, castings=2)
    (cut,) = plan_holes((hole(),), grown, asked(4.0), scaled=False)
    assert cut.width_mm.value * (1.0 - grown.total_percent.value / 100.0) == pytest.approx(10.0)


def said(cuts: tuple[HoleCut, ...], *, us: bool = False) -> list[str]:
    """What a plan with these cuts says."""
    rows = [{key: getattr(value, "value", value) for key, value in vars_of(cut).items()} for cut in cuts]
    return cut_words({"ware": {"holes": rows}}, us=us)


def vars_of(cut: HoleCut) -> dict[str, object]:
    """The fields of a cut by name."""
    return {name: getattr(cut, name) for name in asdict(cut)}


def test_like_holes_at_one_level_are_one_sentence() -> None:
    """Four side holes are told together, each by how far round it is; another size stands alone."""
    turns = ("towards +x", "90° round from a", "180° round from a", "270° round from a")
    four = tuple(hole(mark, turn) for mark, turn in zip("abcd", turns, strict=True))
    large = hole("e", "45° round from a", width_mm=20.0, length_mm=30.0)
    first, second = said(plan_holes((*four, large), STONEWARE, asked(4.0), scaled=False))
    assert first.startswith(
        "Holes a to d, in the wall, 45 mm above the foot, a towards +x; the others 90°, 180° and 270° round "
        "from a: cut each 11 mm wide, which fires to 10 mm wide;"
    )
    assert second.startswith(
        "Hole e, in the wall, 45 mm above the foot, 45° round from a: cut 23 mm × 34 mm,"
    )


def test_without_a_clay_the_drawn_size_is_told_as_such() -> None:
    """No shrinkage is made up: the sentence says that the hole is drawn so wide, and how to be told more."""
    (cut,) = plan_holes((hole(),), None, asked(4.0), scaled=False)
    assert cut.fired_width_mm is None and cut.width_mm.value == 10.0
    (words,) = said((cut,))
    assert "drawn 10 mm wide; cut it larger by what the clay shrinks" in words and "--clay" in words
    assert "13/32 in wide" in said((cut,), us=True)[0]
