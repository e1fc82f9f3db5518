"""Slip that fills a bore and stays in it: told with place and volume, and which way it runs out."""

from __future__ import annotations

import math
from dataclasses import replace

import manifold3d
import numpy as np
import pytest
from scipy.optimize import brentq

from claybed.flow.flowing import flow_checks
from claybed.gate.draining import Drained, drained
from claybed.gate.flowing import TILTS_DEG, best_way, flow_of, ways_off
from claybed.geometry.growing_wall import liquid_in
from claybed.geometry.mesh import Mesh
from claybed.geometry.pooling import Cavity, cavity_of
from claybed.records.brief import Brief
from tests.mold.molds import mold
from tests.pieces import solids

DOWN = np.array([0.0, 0.0, -1.0])
WALL_MM, BORE_MM = 3.0, 7.0


def hanging_limbs(count: int) -> Mesh:
    """A post 40 mm wide that opens below, and out of its sides up to two limbs of 14 mm that turn down, from
    52 mm above the opening to 20 mm.
    """
    rod = manifold3d.Manifold.cylinder
    body = rod(70.0, 20.0, 20.0, 48)
    across = rod(50.0, BORE_MM, BORE_MM, 48).rotate([0.0, 90.0, 0.0]).translate([0.0, 0.0, 52.0])
    limb = across + rod(39.0, BORE_MM, BORE_MM, 48).translate([50.0, 0.0, 20.0])
    for k in range(count):
        body = body + limb.rotate([0.0, 0.0, 180.0 * k])
    return solids.from_manifold(body)


def run(mesh: Mesh, cells: int) -> Drained:
    """Drain it on a grid with so many cells along its longest side."""
    low, high = np.array([-65.0, -25.0, 0.0]), np.array([65.0, 25.0, 90.0])
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


def limb_ml() -> float:
    """What stays in a limb that hangs down, ml: the bore that the wall leaves, from the limb's end up to the
    bore across (closed form).
    """
    radius_mm = left_bore_mm(BORE_MM)
    length_mm = 52.0 - radius_mm - (20.0 + WALL_MM)
    return math.pi * radius_mm**2 * length_mm / 1000.0


def test_a_limb_that_hangs_down_is_emptied_over_its_root() -> None:
    """It stays full while the gate is down; tipped until the limb is raised, and turned back, it is empty."""
    found = run(hanging_limbs(1), 65)
    assert found.cell_mm == pytest.approx(1.0)
    assert found.slip_ml == pytest.approx(limb_ml(), rel=0.35)
    assert found.slip[0].at_mm[0] == pytest.approx(50.0, abs=1.0)
    assert found.slip[0].at_mm[2] == pytest.approx(20.0 + WALL_MM, abs=1.5)
    assert found.turn is not None and found.turned_ml < 0.1 * found.slip_ml
    assert found.turn[0] < -0.5, "the limb is not raised"
    assert found.slugs == []


def test_what_one_turn_does_not_empty_is_told() -> None:
    """Of two limbs on opposite sides the turn that raises one leaves the other full: it is told with the
    volume of its bore (closed form), to the spread that is told with it, and runs out tipped the other way.
    """
    found = run(hanging_limbs(2), 65)
    assert found.slip_ml == pytest.approx(2.0 * limb_ml(), rel=0.35)
    (slug,) = found.slugs
    assert slug.volume_ml == pytest.approx(limb_ml(), abs=slug.spread_ml)
    assert slug.spread_ml < 0.4 * limb_ml()
    assert slug.wide_mm == pytest.approx(2.0 * left_bore_mm(BORE_MM), abs=1.5)
    side = math.copysign(1.0, slug.at_mm[0])
    assert slug.at_mm[0] == pytest.approx(side * 50.0, abs=1.0)
    assert slug.at_mm[2] == pytest.approx(20.0 + WALL_MM, abs=1.5)
    assert found.turned_ml == pytest.approx(limb_ml(), rel=0.35)
    assert slug.tip is not None and found.turn is not None
    assert side * slug.tip[0] < -0.5, "the limb is not raised"


def test_a_post_without_a_limb_keeps_nothing() -> None:
    """Where all runs out no bore is told, and no finer cells are looked at."""
    found = run(hanging_limbs(0), 65)
    assert found.slugs == [] and found.slip_ml == 0.0
    assert found.cell_mm == pytest.approx(2.0)


@pytest.mark.parametrize("wide_mm", [17.0, 20.0])
def test_where_slip_is_shut_in_walls_are_named_that_let_it_out_or_make_it_solid(wide_mm: float) -> None:
    """A rod behind a neck of 13 mm: a round bore closes at a wall of its width over sqrt(8) (casting law),
    the neck at 4.6 mm, a rod of 17 at 6.0, one of 20 at 7.1. At 5 mm slip is shut in. Both walls that are
    named hold when the mold is measured at them; where all holds none is named.
    """
    half = wide_mm / 2.0
    necked = [(0, 0), (half, 0), (half, 40), (6.5, 46), (6.5, 60), (half, 66), (half, 140), (0, 140)]
    brief = Brief(ware_wall_mm=5.0, keys=False, gate_bore_mm=20.0, gate=(0.0, 0.0, -1.0))
    rod = mold(solids.revolved(np.array(necked, float), sides=48), (0.0, 1.0, 0.0), brief).assembly
    flow = flow_of(rod, brief)
    assert flow is not None and flow.shut_ml > 0.0
    assert flow.thinner_mm is not None and flow.solid_mm is not None
    assert flow.thinner_mm < 13.0 / math.sqrt(8.0)
    assert flow.solid_mm == pytest.approx(wide_mm / math.sqrt(8.0), abs=0.25)
    (check,) = flow_checks(flow, rod)
    assert not check.ok
    for wall_mm in (flow.thinner_mm, flow.solid_mm):
        assert f"--ware-wall {wall_mm:g}mm" in check.remedy
        again = flow_of(rod, replace(brief, ware_wall_mm=wall_mm))
        assert flow_checks(again, rod)[0].ok
        assert again is not None and again.thinner_mm is None and again.solid_mm is None
