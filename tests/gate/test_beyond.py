"""A bore that comes out again on the far side of what it goes through: how much of it stands there."""

from __future__ import annotations

import math
from dataclasses import replace

import manifold3d
import numpy as np
import pytest

from claybed.flow.gate_noticing import gate_breaks_through
from claybed.gate.beyond import beyond_ml
from claybed.geometry.mesh import Mesh
from claybed.records.assembly import Gate
from tests.pieces import solids

OUT = np.array([0.6, 0.8, 0.0])
RADIUS_MM, DEPTH_MM = 10.0, 12.0
FLARE = math.tan(math.radians(8.0))


def walls(*spans_mm: tuple[float, float]) -> Mesh:
    """Plates 60 mm square across x, between two places along it each; x is turned to lie on OUT."""
    plates = [
        manifold3d.Manifold.cube([high - low, 60.0, 60.0]).translate([low, -30.0, -30.0])
        for low, high in spans_mm
    ]
    turn_deg = math.degrees(math.atan2(OUT[1], OUT[0]))
    whole = manifold3d.Manifold.batch_boolean(plates, manifold3d.OpType.Add)
    return solids.from_manifold(whole.rotate([0.0, 0.0, turn_deg]))


def frustum_ml(low_mm: float, high_mm: float) -> float:
    """Volume of the bore between two places along it, from its inner end, by its closed form."""
    a, b = RADIUS_MM + low_mm * FLARE, RADIUS_MM + high_mm * FLARE
    return math.pi * (high_mm - low_mm) * (a * a + a * b + b * b) / 3000.0


def test_what_stands_behind_a_wall_and_in_a_hole_is_the_bore_there() -> None:
    """Behind a wall of 5 mm stands the rest of the bore; between two, what fills the gap (closed form)."""
    single = beyond_ml(walls((-5.0, 0.0)), np.zeros(3), OUT, RADIUS_MM, DEPTH_MM, FLARE)
    assert single == pytest.approx(frustum_ml(0.0, 7.0), rel=0.02)
    double = beyond_ml(walls((-5.0, 0.0), (-14.0, -8.0)), np.zeros(3), OUT, RADIUS_MM, DEPTH_MM, FLARE)
    assert double == pytest.approx(frustum_ml(4.0, 7.0), rel=0.02)


def test_a_bore_that_only_laps_over_adds_nothing_beyond() -> None:
    """On a ball, however deep, and on a wall thicker than the bore is deep, nothing stands on a far side."""
    ball = solids.sphere(12.0)
    assert beyond_ml(ball, 12.0 * OUT, OUT, RADIUS_MM, DEPTH_MM, FLARE) == 0.0
    assert beyond_ml(walls((-30.0, 0.0)), np.zeros(3), OUT, RADIUS_MM, DEPTH_MM, FLARE) == 0.0


def test_a_gate_that_breaks_through_is_told_with_what_it_adds() -> None:
    """From a fifth of a millilitre on."""
    gate = Gate("bore", 20.0, 7.07, 20.0, (0.0, 0.0, 0.0), (0.0, 1.0, 0.0))
    assert gate_breaks_through(gate) == ()
    (told,) = gate_breaks_through(replace(gate, beyond_ml=2.3))
    assert "2.3 ml" in told.says and "--gate" in told.remedy
    assert told.amount is not None and told.amount.value == 2.3
