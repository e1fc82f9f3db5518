"""How a closed mold fills and drains: measured on molds whose answer is known."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from claybed.actions import proving
from claybed.geometry.mesh import Mesh
from claybed.records.brief import Brief
from tests.actions.planned import make_plan, write_stl
from tests.pieces import solids


def planned_flow(mesh: Mesh, brief: Brief, folder: Path) -> dict:
    """The document of a plan, and its flow."""
    return make_plan(write_stl(mesh, folder / "thing.stl"), folder / "out", brief).document


def test_a_ball_fills_and_drains_through_its_bore(tmp_path: Path) -> None:
    """Nothing is caught, nothing closes off, and the cavity is the ball and its gate."""
    document = planned_flow(solids.sphere(30.0), Brief(unit="mm"), tmp_path)
    flow = document["flow"]
    assert flow["air"] == flow["slip"] == flow["closed"] == flow["solid"] == []
    assert flow["fill_up"] == pytest.approx(flow["drain_down"])
    assert flow["cavity_ml"] == pytest.approx(document["model"]["volume_ml"], rel=0.03)
    assert next(c for c in document["checks"] if c["id"] == "slip_drains")["measured"] == 0.0
    assert document["mold"]["gate"]["beyond_ml"] == 0.0
    assert "slip_drains" in proving.not_repeated(document, ()), "a check that is not made again is not named"


def test_two_balls_on_a_thin_neck_close_off(tmp_path: Path) -> None:
    """A neck of 6 mm closes at a wall of 4 mm: the ball behind it stays full, and the plan is not ready.

    Source: casting-law; a round bore closes at sqrt(8) walls.
    """
    low = solids.to_manifold(solids.sphere(22.0)).translate([0.0, 0.0, -32.0])
    high = solids.to_manifold(solids.sphere(22.0)).translate([0.0, 0.0, 32.0])
    neck = solids.to_manifold(solids.cylinder(3.0, 40.0))
    lo, hi = solids.cylinder(3.0, 40.0).bounds_mm
    neck = neck.translate([0.0, 0.0, -float(lo[2] + hi[2]) / 2.0])
    mesh = solids.from_manifold(low + high + neck)
    document = planned_flow(mesh, Brief(unit="mm", axis=(0.0, 1.0, 0.0), ware_wall_mm=4.0), tmp_path)
    closed = document["flow"]["closed"]
    assert len(closed) == 1 and document["flow"]["solid"] == []
    inner_ml = 4.0 / 3.0 * np.pi * 18.0**3 / 1000.0
    assert closed[0]["volume_ml"] == pytest.approx(inner_ml, rel=0.1)
    assert closed[0]["neck_mm"] == pytest.approx(6.0, abs=0.7)
    assert closed[0]["closes_at_wall_mm"] == pytest.approx(6.0 / np.sqrt(8.0), rel=0.15)
    check = next(c for c in document["checks"] if c["id"] == "slip_drains")
    shut_percent = 100.0 * closed[0]["volume_ml"] / document["flow"]["cavity_ml"]
    assert check["measured"] == pytest.approx(shut_percent)
    assert not check["ok"] and not document["ready"]
    again = proving.run({"path": tmp_path / "out"}, lambda step, part: None)
    assert [c["id"] for c in again["checks"] if not c["ok"]] == ["slip_drains"] and not again["ready"]
    drains = next(c["measured"] for c in again["checks"] if c["id"] == "slip_drains")
    assert drains == pytest.approx(shut_percent, rel=1e-6)
    assert "neck of about" in check["remedy"] and "--ware-wall" not in check["remedy"]
    assert any(f["id"] == "closes_off" for f in document["findings"])


def test_a_press_mold_has_no_flow(tmp_path: Path) -> None:
    """Clay that is pressed in neither fills nor drains."""
    document = planned_flow(solids.sphere(25.0, subdivisions=3), Brief(unit="mm", use="press"), tmp_path)
    assert document["flow"] is None
    assert not any(c["id"] == "slip_drains" for c in document["checks"])
