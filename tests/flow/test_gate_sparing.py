"""The check of what a bore takes of the object: its limit, and what to type where it takes more."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import numpy as np

from claybed.flow.gate_sparing import sparing_checks
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM
from claybed.records.assembly import Assembly, Gate
from claybed.records.brief import Brief
from claybed.records.finding import Check

GATE = Gate("bore", 20.0, 7.07, 20.0, (0.0, 60.0, 80.0), (0.0, 1.0, 0.0))


def checked(gate: Gate, brief: Brief) -> Check:
    """The check of a gate at the back of a block."""
    corners = np.array([[-100, -60], [100, -60], [100, 60], [-100, 60]]) * XY_PER_MM
    block = SimpleNamespace(
        footprint=corners.astype(np.int64), height=round(160 * Z_PER_MM), gate=gate, pieces=()
    )
    (check,) = sparing_checks(cast(Assembly, block), brief)
    return check


def test_an_end_that_is_cut_off_flush_passes() -> None:
    """Up to 0.35 of the bore's width (chosen, materials/practice)."""
    assert checked(replace(GATE, taken_mm=7.0), Brief()).ok
    assert not checked(replace(GATE, taken_mm=7.5), Brief()).ok


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
