"""How a mold that leans is told: by its sides, in degrees, with a ruler; and where its vents go."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from claybed.flow.flowing import flow_checks, flow_findings
from claybed.flow.holding import holdings, side_words, vent_mm, vent_words
from claybed.flow.starved_noticing import starved_findings
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM
from claybed.records.assembly import Assembly
from claybed.records.flowed import Flow, Hold, Shut, Solid, SolidEnd, Starved
from claybed.records.ware import Ware
from claybed.sheets.ware_page import _casting

BACK = (0.0, 1.0, 0.0)


def block() -> Assembly:
    """A block of 200 x 120 x 160 mm in two pieces whose gate opens at its back."""
    corners = np.array([[-100, -60], [100, -60], [100, 60], [-100, 60]]) * XY_PER_MM
    pieces = (SimpleNamespace(id="A", pull=(0.0, 0.0, 1.0)), SimpleNamespace(id="B", pull=(0.0, 0.0, -1.0)))
    return cast(
        Assembly,
        SimpleNamespace(
            footprint=corners.astype(np.int64),
            height=round(160 * Z_PER_MM),
            outer_mm=(200.0, 120.0, 160.0),
            pieces=pieces,
            gate=SimpleNamespace(out=BACK),
        ),
    )


def flow(**more: object) -> Flow:
    """A flow that needs nothing, but for what is given."""
    known = {
        "cell_mm": 2.0, "wall_mm": 4.0, "cavity_ml": 400.0, "fill_up": BACK, "air": (), "drain_down": BACK,
        "slip_ml": 0.0, "slip": (), "turn_down": None, "turned_ml": 0.0, "closed": (),
    }  # fmt: skip
    return Flow(**(known | more))  # type: ignore[arg-type]


def leaning(deg: float, x: float, z: float) -> tuple[float, float, float]:
    """A way that leans off the gate's towards x and z."""
    t = math.radians(deg)
    return math.sin(t) * x, math.cos(t), math.sin(t) * z


def test_a_mold_that_stands_straight_needs_no_words() -> None:
    """Gate up to fill and gate down to drain is what everyone does."""
    assert holdings(flow(), block()) == ()


def test_a_mold_that_leans_is_wedged_under_the_side_that_is_higher() -> None:
    """15 degrees of a block 200 mm wide are 52 mm under its right side. Source: geometry, 200 sin 15."""
    (fill,) = holdings(flow(fill_up=leaning(15.0, 1.0, 0.0)), block())
    assert (fill.higher, fill.lower) == ("its right side", "its left side")
    assert fill.lift_mm == pytest.approx(200.0 * math.sin(math.radians(15.0)))
    assert "15 degrees, its right side higher" in fill.says and "52 mm under it" in fill.says


def test_draining_in_two_turns_is_told_turn_by_turn() -> None:
    """First gate down, then over towards piece B, each with the side that is lower."""
    drain, turn = holdings(flow(turn_down=leaning(60.0, 0.0, -1.0), slip_ml=9.0, turned_ml=1.0), block())
    assert drain.says == "To drain, turn the mold gate down over the bucket."
    assert turn.lower == "the side of piece B"
    assert turn.lift_mm is None
    assert "60 degrees from gate down, the side of piece B lower" in turn.says
    steps = _casting({"flow": {"held": [{"act": h.act, "says": h.says} for h in (drain, turn)]}}, us=False)
    assert steps.index(drain.says) + 1 == steps.index(turn.says)
    assert not any("at a slant" in step for step in steps)


def test_a_turn_past_level_runs_out_once_turned_back() -> None:
    """Tipped over by more than a right angle nothing drips from the gate: it runs out on the way back."""
    _, turn = holdings(flow(turn_down=leaning(105.0, 0.0, -1.0), slip_ml=9.0, turned_ml=1.0), block())
    assert "105 degrees from gate down, the side of piece B lower; the gate then looks upwards" in turn.says
    assert "turn it slowly back the way it came: there it runs out" in turn.says
    assert "drips" not in turn.says and turn.lift_mm is None


def test_between_two_sides_both_are_named() -> None:
    """A lean at 45 degrees between two sides goes over the corner between them."""
    half = math.sqrt(0.5)
    assert (
        side_words(np.array([half, 0.0, half]), block())
        == "the corner between its right side and the side of piece A"
    )


def test_a_vent_goes_up_to_the_side_of_the_gate() -> None:
    """From a pocket 20 mm before the middle it is 80 mm to the back. Source: geometry."""
    pocket = Hold(2.0, (50.0, -20.0, 80.0))
    assert vent_mm(pocket, block()) == pytest.approx(80.0)
    says = vent_words(flow(air=(pocket,)), block())
    assert "a vent of 2 to 3 mm" in says and "80 mm long" in says and "out at its back side" in says
    steps = _casting({"flow": {"held": [], "vents": says}}, us=True)
    assert steps[0].startswith("Before the first cast") and "3 1/8 in long" in steps[0]


def test_slip_that_is_shut_in_fails_with_its_neck() -> None:
    """35 ml of 400 behind a neck of 18 mm that is shut at 6.4 mm: the share counts; walls that would do are
    named, and none where none was found.
    """
    shut = Shut(35.0, (0.0, -30.0, 80.0), (0.0, 0.0, 80.0), 18.0, 6.4)
    (unhelped,) = flow_checks(flow(wall_mm=10.0, closed=(shut,)), block())
    assert "--ware-wall" not in unhelped.remedy and "widen" in unhelped.remedy.lower()
    (check,) = flow_checks(flow(wall_mm=10.0, closed=(shut,), thinner_mm=5.0), block())
    assert not check.ok
    assert check.measured == pytest.approx(100.0 * 35.0 / 400.0)
    assert check.at_mm == shut.neck_at_mm
    assert "18 mm" in check.remedy and "6.4 mm" in check.remedy and "--ware-wall 5mm" in check.remedy
    # With nearly all shut in it is the gate that stands wrong, not the ware that is too thick.
    placed = cast(Assembly, SimpleNamespace(**vars(block()) | {"to_block": np.eye(3)}))
    placed.gate.kind = "bore"  # type: ignore[misc]
    (most,) = flow_checks(flow(closed=(replace(shut, volume_ml=280.0),)), placed)
    assert "--gate -y" in most.remedy and "--ware-wall" not in most.remedy
    filled = flow(closed=(replace(shut, volume_ml=280.0),), solid_mm=10.5)
    (anyway,) = flow_checks(filled, placed, searched=True)
    assert (
        not anyway.ok
        and "--gate" not in anyway.remedy
        and "solid there with --ware-wall 10.5mm" in anyway.remedy
    )
    (either,) = flow_checks(filled, placed)
    assert "--gate -y" in either.remedy and "--ware-wall 10.5mm" in either.remedy
    (none,) = flow_checks(flow(), block())
    assert none.ok and none.measured == 0.0


def test_a_neck_that_casts_solid_is_told_with_what_keeps_it_open() -> None:
    """Solid clay may be meant, so it is told and no check fails: 18 mm is 5 mm at 2.83 walls and a clear way.

    Source: casting-law, a round bore closes at sqrt(8) walls.
    """
    neck = Solid(6.0, (0.0, 30.0, 80.0), 12.0, 4.24)
    (told,) = flow_findings(flow(wall_mm=5.0, solid=(neck,)), block())
    assert told.id == "casts_solid" and told.severity == "look" and told.at_mm == neck.at_mm
    assert "12 mm" in told.says and "4.2 mm" in told.says and "at least 6.0 ml" in told.says
    assert "--ware-wall 3.5mm" in told.remedy and "widen its neck to 18 mm" in told.remedy
    (check,) = flow_checks(flow(wall_mm=5.0, solid=(neck,)), block())
    assert check.ok


def test_thin_ends_that_cast_solid_are_told_once() -> None:
    """Of 400 ml 12 in two places are a note, 3 are not worth a word, and 300 are worth a look. No check
    fails: solid clay may be meant.
    """
    ends = (SolidEnd(9.0, (0.0, 30.0, 80.0), 7.0), SolidEnd(3.0, (0.0, -30.0, 80.0), 6.0))
    (told,) = flow_findings(flow(ends=ends), block())
    assert (told.id, told.severity) == ("ends_solid", "note")
    assert "12 ml in two places" in told.says and "7.0 mm thick" in told.says
    assert told.at_mm == ends[0].at_mm
    assert flow_findings(flow(ends=ends[1:]), block()) == ()
    (most,) = flow_findings(flow(ends=(replace(ends[0], volume_ml=300.0),)), block())
    assert most.severity == "look" and "300 ml of 400 ml" in most.says
    (check,) = flow_checks(flow(ends=ends), block())
    assert check.ok


def test_what_is_cut_off_in_solid_clay_leaves_a_hollow() -> None:
    """Slip of 1.75 that turns to clay of 22 % water gives 0.2308 of the clay's volume to the plaster: of
    24 ml that nothing feeds 24 x 0.2308 / 1.2308 = 4.5 ml are missing in the end; 2 ml need no word.

    Source: mass balance of the solids (slip 0.4688 of them by volume, clay 0.5769).
    """
    sent = 0.57692 / 0.46875 - 1.0
    per_cast = SimpleNamespace(
        top_up_ml=SimpleNamespace(value=sent), slip_ml=SimpleNamespace(value=1.0 + sent)
    )
    ware = cast(Ware, SimpleNamespace(cast=SimpleNamespace(per_cast=per_cast)))
    late = Starved(24.0, (0.0, 0.0, 80.0), 4.2)
    (told,) = starved_findings(flow(wall_mm=10.0, starved=(late,)), ware, block())
    assert told.amount is not None and told.amount.value == pytest.approx(4.5, abs=0.01)
    assert told.id == "shrinks_hollow" and told.at_mm == late.at_mm
    assert "24 ml" in told.says and "4.2 mm" in told.says and "4.5 ml" in told.says
    assert "steam" in told.remedy
    assert starved_findings(flow(starved=(replace(late, slip_ml=2.0),)), ware, block()) == ()
    assert starved_findings(flow(), ware, block()) == ()
