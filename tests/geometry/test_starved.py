"""What casts solid behind a neck that is clay before it: how much slip is cut off, and when."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest
from scipy.optimize import brentq

from claybed.geometry.cast_solid import Starved, starved_parts
from claybed.geometry.growing_wall import grown_in
from claybed.geometry.pooling import cavity_of
from tests.pieces import solids

BALL_MM, WALL_MM = 20.0, 16.0


def parts(neck_mm: float) -> list[Starved]:
    """Two balls of `BALL_MM` on a neck of a radius, the first with a bore of 24 mm to the outside, in a wall
    that leaves no slip in either.
    """
    ball = manifold3d.Manifold.sphere(BALL_MM, 96)
    rod = manifold3d.Manifold.cylinder
    body = ball + ball.translate([0.0, 0.0, -60.0]) + rod(60.0, neck_mm, neck_mm, 64).translate([0, 0, -60.0])
    body = body + rod(60.0, 24.0, 24.0, 64)
    cavity = cavity_of(
        solids.from_manifold(body), np.array([-30.0, -30.0, -90.0]), np.array([30.0, 30.0, 40.0]), 130
    )
    hollow, turns_mm = grown_in(cavity, WALL_MM)
    return starved_parts(cavity, hollow, turns_mm, WALL_MM, less_than_ml=0.5, later_ratio=1.15)


def left_in_ball_mm(wall_mm: float) -> float:
    """The radius of the slip in a ball while flat plaster takes a wall.

    Source: casting-law in the form for hollows of any shape: -lap u = 1, u = 0 at the plaster, u = L²/2 and
    level at the slip; in a ball u = (R² - r²)/6 + r³/(3 R) - r²/3 there.
    """

    def short(r: float) -> float:
        u = (BALL_MM**2 - r**2) / 6.0 + r**3 / (3.0 * BALL_MM) - r**2 / 3.0
        return u - wall_mm**2 / 2.0

    return float(brentq(short, 0.0, BALL_MM - 1e-6))


def test_a_ball_behind_a_neck_is_cut_off_with_what_is_slip_then() -> None:
    """A neck of 12 mm is clay at 12 / sqrt 8 = 4.24 mm of wall; the ball behind it then holds the slip that a
    ball of its size does (closed form), and is clay last in its middle. The ball at the bore is fed.
    """
    (part,) = parts(6.0)
    closes_mm = 12.0 / math.sqrt(8.0)
    assert part.closes_mm == pytest.approx(closes_mm, rel=0.1)
    slip_ml = 4.0 / 3.0 * math.pi * left_in_ball_mm(closes_mm) ** 3 / 1000.0
    assert part.slip_ml == pytest.approx(slip_ml, rel=0.12)
    assert part.at_mm == pytest.approx((0.0, 0.0, -60.0), abs=1.0)


def test_what_is_fed_to_the_last_is_not_told() -> None:
    """On a neck as wide as itself a ball turns to clay no later than its way out."""
    assert parts(BALL_MM) == []
