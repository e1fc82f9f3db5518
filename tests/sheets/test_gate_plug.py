"""A gate that stands upright on the object: what is said of its plug, on paper and on screen."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from claybed.cli.plan_lines import gate_line
from claybed.records.assembly import Assembly, Gate
from claybed.sheets.bench_words import front_words, plug_words
from claybed.sheets.between_pours import _taken
from claybed.sheets.gate_plug import gate_words
from claybed.sheets.gate_template import gate_plug_template

GATE: dict[str, Any] = {
    "kind": "bore",
    "reason": "a bore through the first piece, along its pull: side pieces stand all round",
    "bore_mm": 20.0,
    "at_object_mm": 23.7,
    "at_mm": [15.7, -15.9, 95.0],
    "out": [0.0, 0.0, 1.0],
}
PLAN: dict[str, Any] = {
    "mold": {"gate": GATE, "outer_mm": [130.0, 130.0, 130.0]},
    "made": {"brief": {"gate": "auto"}},
}


def test_its_plug_narrows_upwards() -> None:
    """Both widths, its length up to the block's top, the reason for its shape, and the template."""
    (says,) = gate_words(PLAN, us=False)
    assert "24 mm across at the foot that stands on the object" in says
    assert "20 mm at its other end and 35 mm long" in says
    assert "lifts off" in says
    assert "on its template" in says


def test_its_template_has_both_widths_and_its_length() -> None:
    """From the side at 1:1: as wide at the foot as on the object, as long as up to the block's top."""
    gate = Gate("bore", 20.0, 7.07, 12.0, (15.7, -15.9, 95.0), (0.0, 0.0, 1.0), at_object_mm=23.7)
    closed = cast(Assembly, SimpleNamespace(gate=gate, height=130 * 4096))
    plug = gate_plug_template(closed, us=False)
    assert plug is not None and plug.id == "gate-plug"
    outline = plug.lines[0].points
    foot, end = (outline[outline[:, 1] == level] for level in (0.0, 35.0))
    assert np.ptp(foot[:, 0]) == pytest.approx(23.7)
    assert np.ptp(end[:, 0]) == pytest.approx(20.0)
    assert "35 mm long" in plug.says and "24 mm across at the object" in plug.says


def test_it_is_set_from_the_middle_of_the_block() -> None:
    """How far to the side and to the front, wide end down, level with the top of the pour."""
    says = plug_words(PLAN, us=False)
    assert "16 mm to the right of the block's middle and 16 mm to the front of it" in says
    assert "its wide end down" in says
    assert "do not pour over it" in says
    central = {**PLAN, "mold": {**PLAN["mold"], "gate": GATE | {"at_mm": [0.0, -0.2, 95.0]}}}
    assert "its middle in the middle of the block." in plug_words(central, us=False)
    assert front_words(PLAN) == "The gate, the way in for slip, is on top, towards the front right."


def test_an_object_leaves_a_leaning_piece_aslant() -> None:
    """Of the last piece it is drawn away from all walls; of one that opens straight, straight."""
    pieces = [{"id": letter} for letter in "ABCD"]
    straight = {**PLAN, "pieces": pieces}
    assert _taken(straight, 3).startswith("Take the object straight out")
    leaning = {**PLAN, "pieces": [pieces[0], {"id": "B", "leaves": [-0.6, 0.0, -0.8]}, *pieces[2:]]}
    assert _taken(leaning, 3).startswith("Draw the object out of piece B aslant")


def test_no_other_place_is_offered_on_screen() -> None:
    """A bore through a piece is where it is because no other way is open, and that is told; elsewhere a way
    is offered where one is known to be open.
    """
    says = gate_line(PLAN, us=False)
    assert "comes out along z of the file" in says
    assert says.endswith("It runs through the first piece: side pieces stand all round.")
    gate = {k: v for k, v in GATE.items() if k != "at_object_mm"}
    beside = {**PLAN, "mold": {"gate": gate | {"another": "-z"}}}
    assert "--gate -z" in gate_line(beside, us=False)
    assert "--gate" not in gate_line({**PLAN, "mold": {"gate": gate}}, us=False)
