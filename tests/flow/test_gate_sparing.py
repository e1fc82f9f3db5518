"""The check of what a bore takes of the object: its limit, and what to type where it takes more."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import numpy as np

from claybed.flow.gate_noticing import gate_narrowed
from claybed.flow.gate_sparing import sparing_checks
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM
from claybed.records.assembly import Assembly, Gate
from claybed.records.brief import Brief
from claybed.records.finding import Check
from claybed.records.gated import GatePlan

GATE = Gate("bore", 20.0, 7.07, 20.0, (0.0, 60.0, 80.0), (0.0, 1.0, 0.0))


def checked(gate: Gate, brief: Brief, *, base: str = "", extent_mm: float = 100.0) -> Check:
    """The check of a gate at the back of a block."""
    corners = np.array([[-100, -60], [100, -60], [100, 60], [-100, 60]]) * XY_PER_MM
    block = SimpleNamespace(
        footprint=corners.astype(np.int64), height=round(160 * Z_PER_MM), gate=gate, pieces=(), base=base
    )
    (check,) = sparing_checks(cast(Assembly, block), brief, extent_mm)
    return check


def test_an_end_that_is_cut_off_flush_passes() -> None:
    """Up to 0.35 of the bore's width (chosen, materials/practice)."""
    assert checked(replace(GATE, taken_mm=7.0), Brief()).ok
    assert not checked(replace(GATE, taken_mm=7.5), Brief()).ok


def test_of_something_small_no_more_than_a_share_may_go() -> None:
    """A bore that laps 7 mm over a vase 20 mm tall takes a third of it; 0.15 may go (chosen,
    materials/practice).
    """
    assert not checked(replace(GATE, taken_mm=7.0), Brief(), extent_mm=20.0).ok
    assert checked(replace(GATE, taken_mm=3.0), Brief(), extent_mm=20.0).ok


def test_a_narrower_bore_is_proposed_with_a_wall_that_leaves_it_open() -> None:
    """A round bore closes at a wall of its width over sqrt(8) (closed form of the casting law)."""
    eaten = replace(GATE, taken_mm=21.0, taken_ml=4.5, sparing_mm=14.0)
    thin = checked(eaten, Brief(ware_wall_mm=3.0)).remedy
    assert "21 mm" in thin and "4.5 ml" in thin
    assert "--gate-bore 14mm." in thin and "--ware-wall" not in thin
    thick = checked(eaten, Brief(ware_wall_mm=6.0)).remedy
    assert "--gate-bore 14mm --ware-wall 4mm" in thick
    assert math.sqrt(8.0) * 4.0 < 14.0


def test_where_no_bore_spares_it_another_place_is_asked_for() -> None:
    """A bore of 5 mm would want a wall under 2 mm, which is not proposed."""
    none = checked(replace(GATE, taken_mm=21.0), Brief()).remedy
    tiny = checked(replace(GATE, taken_mm=21.0, sparing_mm=5.0), Brief(gate=(1.0, 0.0, 0.0))).remedy
    assert "--gate-bore" not in none and "--gate and a direction" in none
    assert "--gate-bore" not in tiny and "--gate auto" in tiny


def test_a_bore_along_the_pull_is_held_to_its_width_at_the_object() -> None:
    """It is wider there than at its end; and such a mold, as one on a base, has no other way out to name."""
    along = replace(GATE, at_object_mm=24.0, taken_mm=8.0)
    assert checked(along, Brief()).ok
    lost = checked(replace(along, taken_mm=9.0), Brief()).remedy
    based = checked(replace(GATE, taken_mm=21.0), Brief(), base="C").remedy
    assert "--gate none" in lost and "--gate none" in based


def test_a_narrowed_bore_is_told_with_what_it_spares_and_what_stays_clear() -> None:
    """A way of sqrt(14^2 - 8 * 4^2) = 8.2 mm stays clear (closed form of the casting law); as wide as the
    rules have it, or as asked for, nothing is said.
    """
    out = (0.0, 1.0, 0.0)
    plan = GatePlan("bore", out, 14.0, False, "a bore at the foot, in the seam")
    cut = replace(GATE, bore_mm=14.0)
    assert gate_narrowed(plan, cut, 4.0) == ()
    spared = replace(plan, usual_bore_mm=20.0, usual_takes_mm=21.0, usual_takes_ml=4.5)
    (told,) = gate_narrowed(spared, cut, 4.0)
    for word in ("14 mm", "20 mm", "4.5 ml", "21 mm"):
        assert word in told.says
    assert "8.2 mm" in told.remedy and "more slowly" in told.remedy
    # Of a bore along the pull the place decides as it is cut.
    (room,) = gate_narrowed(replace(plan, bore_mm=20.0), replace(cut, at_object_mm=17.0), 4.0)
    assert "no room" in room.says and "object's end" not in room.says
