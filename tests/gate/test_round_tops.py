"""A vessel drawn without its inside: the gate at its foot leaves it closed on top, which is told."""

from __future__ import annotations

from claybed.flow.gate_noticing import closed_on_top
from claybed.gate.choosing import choose_gate
from claybed.gate.searching import searched
from claybed.geometry.mesh import Mesh
from claybed.records.brief import Brief
from claybed.records.finding import Finding
from claybed.records.surveyed import MoldOption
from tests.pieces import solids
from tests.survey.objects import measured


def told(mesh: Mesh, brief: Brief) -> tuple[Finding, ...]:
    """What is said of an object that leaves along y, with the gate that a search settles on."""
    obj, option = measured(mesh), MoldOption("two_piece", (0.0, 1.0, 0.0), 0.0, 0.0, "as asked")
    return closed_on_top(searched(choose_gate(obj, option, brief), obj, option, brief), mesh, brief)


def test_a_vessel_drawn_closed_is_told_to_be_closed_on_top() -> None:
    """A beaker of 50 mm, filled in, is cast through its foot: its flat top is told with its width and with
    what to type for a mouth. A ball, a block and a gate that was asked for are told nothing.
    """
    beaker = solids.frustum(18.0, 25.0, 70.0)
    (found,) = told(beaker, Brief())
    assert "50 mm" in found.says and "--mouth" in found.remedy and "--gate z" in found.remedy
    assert told(solids.sphere(25.0), Brief()) == ()
    assert told(solids.box(50.0, 50.0, 70.0), Brief()) == ()
    assert told(beaker, Brief(gate=(0.0, 0.0, -1.0))) == ()
