"""Air in the horns of a crescent: as many pockets as horns that the gate does not stand on, each with the
volume that geometry gives it, and a vent at its top.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from claybed.flow.flowing import flow_findings
from claybed.gate.flowing import flow_of
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.pooling import caught, cavity_of
from claybed.records.brief import Brief
from tests.mold.molds import mold
from tests.pieces import solids
from tests.pieces.vents import with_vents

R_MM, TUBE_MM, HORN_DEG = 50.0, 14.0, 35.0
UP = np.array([0.0, 0.0, 1.0])
CAP_MM3 = 2.0 / 3.0 * math.pi * TUBE_MM**3


def horns() -> Mesh:
    """A round tube in the plane y = 0, bent along a circle up to `HORN_DEG` over its middle on both sides,
    where it ends in half balls.
    """
    half = math.radians(90.0 + HORN_DEG)

    def centre(t: Floats) -> Floats:
        a = -0.5 * math.pi + half * (2.0 * t - 1.0)
        return R_MM * np.stack([np.cos(a), np.zeros_like(a), np.sin(a)], axis=1)

    bent = solids.tube(centre, TUBE_MM, along=161, sides=64, closed=False)
    ends = centre(np.array([0.0, 1.0]))
    ball = solids.to_manifold(solids.sphere(TUBE_MM))
    whole = solids.to_manifold(bent)
    for end in ends:
        whole = whole + ball.translate(end.tolist())
    return solids.from_manifold(whole)


def above_mm3(level_mm: float) -> float:
    """Volume of a whole ring of this tube, its axis level, above a level under its middle.

    Source: geometry; slices across the axis are rings, of which segments of circles lie above a level.
    """

    def segment(radius_mm: float) -> float:
        if radius_mm <= -level_mm:
            return math.pi * radius_mm**2
        return radius_mm**2 * math.acos(level_mm / radius_mm) - level_mm * math.sqrt(
            radius_mm**2 - level_mm**2
        )

    def slice_mm2(y: float) -> float:
        wide_mm = math.sqrt(TUBE_MM**2 - y**2)
        return segment(R_MM + wide_mm) - segment(R_MM - wide_mm)

    return float(quad(slice_mm2, -TUBE_MM, TUBE_MM)[0])


def horn_mm3(level_mm: float, missing_deg: float) -> float:
    """What one horn holds above a level, when it ends so many degrees short of the ring's highest point.

    Source: geometry; Pappus for what is missing of the ring, and half a ball at the end.
    """
    return 0.5 * above_mm3(level_mm) - math.radians(missing_deg) * R_MM * math.pi * TUBE_MM**2 + CAP_MM3


def test_a_gate_between_two_horns_traps_air_in_both() -> None:
    """Filled by a bore that rises between them, each horn holds what is of it above the bore's edge, where
    the ceiling of the tube meets it; with a vent at the top of each there is no air.
    """
    bore_mm = 6.0
    bore = solids.to_manifold(solids.cylinder(bore_mm, 110.0, sides=48)).translate([0.0, 0.0, 10.0])
    body = solids.from_manifold(solids.to_manifold(horns()) + bore)
    low, high = body.bounds_mm
    cavity = cavity_of(body, low - 8.0, np.array([high[0] + 8.0, high[1] + 8.0, 60.0]), 150)
    pockets = caught(cavity, UP, less_than_ml=0.1)
    level_mm = -math.sqrt((R_MM - TUBE_MM) ** 2 - bore_mm**2)
    exact_ml = horn_mm3(level_mm, 90.0 - HORN_DEG) / 1000.0
    assert [p.volume_ml for p in pockets] == pytest.approx([exact_ml] * 2, rel=0.03)
    tip_mm = R_MM * math.sin(math.radians(HORN_DEG)) + TUBE_MM
    aside_mm = R_MM * math.cos(math.radians(HORN_DEG))
    for pocket, sign in zip(sorted(pockets, key=lambda p: p.at_mm[0]), (-1.0, 1.0), strict=True):
        assert pocket.at_mm == pytest.approx((sign * aside_mm, 0.0, tip_mm), abs=2.0)
    assert caught(with_vents(cavity, [p.at_mm for p in pockets]), UP, less_than_ml=0.1) == []


def test_a_plan_that_is_filled_by_one_horn_vents_the_other() -> None:
    """The mold as it is cut, held as its plan says: the pocket is what is of the other horn above the lowest
    place of the ceiling, and the vent begins at its top; filled through its middle it traps nothing.
    """
    brief = Brief(keys=False, gate=(0.0, 0.0, 1.0), gate_bore_mm=12.0, ware_wall_mm=3.0)
    made = mold(horns(), (0.0, 1.0, 0.0), brief).assembly
    flow = flow_of(made, brief)
    assert flow is not None
    (pocket,) = flow.air
    up = made.to_block.T @ np.array(flow.fill_up)
    assert abs(up[1]) < 1e-3, "held in the plane of the crescent"
    gate = made.to_block.T @ (np.array(made.gate.at_mm) - _middle(made.model.mesh("block").bounds_mm))
    far = -math.copysign(1.0, gate[0])
    end = np.array([far * math.cos(math.radians(HORN_DEG)), 0.0, math.sin(math.radians(HORN_DEG))])
    missing_deg = math.degrees(math.acos(float(end @ up)))
    exact_ml = horn_mm3(-(R_MM - TUBE_MM), missing_deg) / 1000.0
    assert pocket.volume_ml == pytest.approx(exact_ml, rel=0.03)
    (vent,) = [one for one in flow_findings(flow, made) if one.id == "vent_needed"]
    assert vent.at_mm == pocket.at_mm
    middle = mold(horns(), (0.0, 1.0, 0.0), Brief(keys=False, gate=(0.0, 0.0, -1.0)))
    through = flow_of(middle.assembly, Brief())
    assert through is not None and through.air == () and through.left_ml == 0.0


def _middle(bounds_mm: Floats) -> Floats:
    return 0.5 * (bounds_mm[0] + bounds_mm[1])
