"""Slip that fills a bore and stays in it: told with place and volume, and which way it runs out."""

from __future__ import annotations

import math

import manifold3d
import numpy as np
import pytest
from scipy.optimize import brentq

from claybed.gate.draining import Drained, drained
from claybed.gate.flowing import TILTS_DEG, best_way, ways_off
from claybed.geometry.growing_wall import liquid_in
from claybed.geometry.mesh import Mesh
from claybed.geometry.pooling import Cavity, cavity_of
from tests.pieces import solids

DOWN = np.array([0.0, 0.0, -1.0])
WALL_MM, BORE_MM = 3.0, 7.0


def hanging_limb(*, limb: bool = True) -> Mesh:
    """A post 40 mm wide that opens below, and out of its side a limb of 14 mm that turns down, from 52 mm
    above the opening to 20 mm.
    """
    rod = manifold3d.Manifold.cylinder
    post = rod(70.0, 20.0, 20.0, 48)
    across = rod(50.0, BORE_MM, BORE_MM, 48).rotate([0.0, 90.0, 0.0]).translate([0.0, 0.0, 52.0])
    hangs = rod(39.0, BORE_MM, BORE_MM, 48).translate([50.0, 0.0, 20.0])
    return solids.from_manifold(post + across + hangs if limb else post)


def run(mesh: Mesh, cells: int) -> Drained:
    """Drain it on a grid with so many cells along its longest side."""
    low, high = np.array([-25.0, -25.0, 0.0]), np.array([65.0, 25.0, 90.0])
    ways = ways_off(DOWN, TILTS_DEG[:1])

    def hollow(count: int) -> Cavity:
        return liquid_in(cavity_of(mesh, low, high, count), WALL_MM)

    return drained(
        hollow(cells),
        hollow(cells // 2),
        lambda slip: best_way(slip, ways),
        lambda: cavity_of(mesh, low, high, 2 * cells),
        WALL_MM,
        less_than_ml=0.05,
    )


def left_bore_mm(radius_mm: float) -> float:
    """The radius that a wall leaves of a round bore while flat plaster takes `WALL_MM`.

    Source: casting-law, in the form for hollows of any shape: -lap u = 1, u = 0 at the plaster, L²/2 in slip.
    """

    def short(r: float) -> float:
        return (radius_mm**2 - r**2) / 4.0 + r**2 / 2.0 * math.log(r / radius_mm) - WALL_MM**2 / 2.0

    return float(brentq(short, 1e-6, radius_mm - 1e-6))


def test_a_limb_that_hangs_down_stays_full_and_is_told() -> None:
    """What stays is the bore that the wall leaves, from the limb's end up to the bore across (closed form),
    to the spread that is told with it; tipped up, it runs into the post.
    """
    found = run(hanging_limb(), 45)
    assert found.cell_mm == pytest.approx(1.0)
    (slug,) = found.slugs
    radius_mm = left_bore_mm(BORE_MM)
    length_mm = 52.0 - radius_mm - (20.0 + WALL_MM)
    bore_ml = math.pi * radius_mm**2 * length_mm / 1000.0
    assert slug.volume_ml == pytest.approx(bore_ml, abs=slug.spread_ml)
    assert slug.spread_ml < 0.4 * bore_ml
    assert slug.wide_mm == pytest.approx(2.0 * radius_mm, abs=1.5)
    assert slug.at_mm[0] == pytest.approx(50.0, abs=1.0)
    assert slug.at_mm[2] == pytest.approx(20.0 + WALL_MM, abs=1.5)
    assert slug.tip is not None
    assert slug.tip[0] < -0.5, "the limb is not raised"


def test_a_post_without_a_limb_keeps_nothing() -> None:
    """Where all runs out no bore is told, and no finer cells are looked at."""
    found = run(hanging_limb(limb=False), 45)
    assert found.slugs == [] and found.slip_ml == 0.0
    assert found.cell_mm == pytest.approx(2.0)
