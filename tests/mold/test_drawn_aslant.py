"""A mold whose last piece leaves aslant, so that every wall has draft; a gate through its first piece."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from claybed.flow.molding import Molded
from claybed.flow.searching import make_mold
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.mesh import Origin
from claybed.proof.drafts import walls_have_draft
from claybed.proof.evidence import prove
from claybed.proof.leaving import leaving
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief
from claybed.records.surveyed import MoldOption
from tests.mold.molds import along
from tests.pieces import solids
from tests.survey.objects import measured

UP = (0.0, 0.0, 1.0)
SIDE_MM, ASKED_DEG = 60.0, 2.0
FAR_CORNER = -np.ones(3) / np.sqrt(3.0)
THING = solids.cube_with_blind_holes(
    side_mm=SIDE_MM, hole_mm=8.0, deep_mm=12.0, corners=24, taper_deg=ASKED_DEG
)
OPTION = MoldOption(
    "several",
    UP,
    0.0,
    0.0,
    "as asked",
    sides=((1.0, 0.0, 0.0), (0.0, 1.0, 0.0)),
    leans=tuple(FAR_CORNER.tolist()),
    crown_mm=SIDE_MM / 2.0,
    draft_deg=ASKED_DEG,
)


def made(gate: str) -> Molded:
    """Three tapered holes in a cube, in four pieces."""
    found = replace(along(UP), options=(OPTION,))
    brief = Brief(pieces=4, wall_mm=35.0, gate="auto" if gate == "auto" else "none")
    return make_mold(measured(THING), found, brief, progress=lambda step, part: None)


@pytest.fixture(scope="module")
def molded() -> Molded:
    """That mold with its gate."""
    return made("auto")


def last_of(assembly: Assembly) -> str:
    """The letter of the piece that opens last."""
    return max(assembly.pieces, key=lambda piece: piece.opens or 0).id


def test_four_pieces_hold_every_check(molded: Molded) -> None:
    """All leave in order, the last one along the far corner, with draft on every wall but for low strips.

    Source: geometry; with draft three tapered holes at right angles take exactly four pieces, the fourth
    along the far corner. A strip that a side piece has beyond its hole, 0.31 mm high, scrapes by 0.31 tan 2°.
    """
    assembly = molded.assembly
    brief = Brief(pieces=4, wall_mm=35.0)
    checks = prove(assembly, THING, brief, dict.fromkeys("ABCD", 1.0), progress=lambda step, part: None)
    assert [(c.id, c.measured, c.where) for c in checks if not c.ok] == []
    last = next(p for p in assembly.pieces if p.id == last_of(assembly))
    assert assembly.to_block.T @ np.array(last.way) == pytest.approx(FAR_CORNER, abs=1e-9)
    assert sum(p.leans is not None for p in assembly.pieces) == 1
    draft = next(c for c in checks if c.id == "walls_have_draft")
    assert draft.measured == pytest.approx(0.31 * np.tan(np.radians(ASKED_DEG)), abs=1e-3)
    parts = sum(p.solid.volume_mm3 for p in assembly.pieces) + assembly.model.volume_mm3
    assert parts == pytest.approx(float(np.prod(assembly.outer_mm)), rel=1e-6)
    assert not (assembly.model.origin == int(Origin.FILL)).any()


def test_straight_the_last_piece_has_walls_without_draft(molded: Molded) -> None:
    """Drawn straight it still leaves, but scrapes along two sides of the cube over their whole height.

    Source: geometry; those walls stand upright, 60 mm high.
    """
    assembly = molded.assembly
    straight = replace(assembly, pieces=tuple(replace(p, leans=None) for p in assembly.pieces))
    parts = {**{p.id: p.solid for p in assembly.pieces}, "model": assembly.model}
    assert all(c.ok for c in leaving(parts, straight, lateral_mm=0.01))
    (check,) = walls_have_draft(straight)
    assert not check.ok
    assert check.measured == pytest.approx(SIDE_MM * np.tan(np.radians(ASKED_DEG)), rel=0.02)
    assert f"piece {last_of(assembly)}" in check.where
    (more,) = walls_have_draft(replace(assembly, draft_deg=2.0 * ASKED_DEG))
    assert not more.ok, "the holes are tapered by half of that"
    assert walls_have_draft(replace(assembly, draft_deg=0.0)) == []


def test_drawn_too_soon_it_locks(molded: Molded) -> None:
    """Aslant the last piece does not get past a side piece that is still there."""
    assembly = molded.assembly
    last = last_of(assembly)
    pieces = tuple(replace(p, opens=0 if p.id == last else p.opens) for p in assembly.pieces)
    first = [replace(p, opens=(p.opens or 0) + 1) for p in pieces]
    parts = {**{p.id: p.solid for p in assembly.pieces}, "model": assembly.model}
    checks = {c.id: c.ok for c in leaving(parts, replace(assembly, pieces=tuple(first)), lateral_mm=0.01)}
    assert not checks[f"release_{last}"]


def test_the_gate_runs_through_the_first_piece(molded: Molded) -> None:
    """The bore stands on the flat face, clear of its hole and of the side pieces, narrows outwards, and comes
    out of the block's top; slip of the usual wall does not close it.

    Source: geometry; a bore D narrows to sqrt(D² - 8 L²) while a wall L builds up.
    """
    assembly, gate = molded.assembly, molded.assembly.gate
    assert gate.kind == "bore"
    assert gate.out == pytest.approx(UP)
    model = assembly.model
    own = lattice_mm(model.points[np.unique(model.faces[model.origin == int(Origin.GATE)])])
    assert float(own[:, 2].max()) == assembly.outer_mm[2]
    foot_mm = float(own[:, 2].min())
    assert foot_mm == pytest.approx(gate.at_mm[2], abs=1e-3)
    wide_mm = np.hypot(*(own[:, :2] - np.array(gate.at_mm[:2])).T) * 2.0
    ends = [float(wide_mm[own[:, 2] == level].max()) for level in (foot_mm, assembly.outer_mm[2])]
    assert ends == pytest.approx([gate.at_object_mm, gate.bore_mm], abs=0.02)
    assert ends[0] > ends[1] > np.sqrt(10.0**2 + 8.0 * Brief().ware_wall_mm ** 2)
    at = assembly.to_block.T @ (np.array(gate.at_mm) - assembly.shift_mm)
    assert float(np.hypot(*at[:2])) - ends[0] / 2.0 > 8.2, "off the hole's edge"
    assert (at[:2] + ends[0] / 2.0 < SIDE_MM / 2.0 - 5.0).all(), "off the side pieces by a plate"


def test_without_a_gate_it_holds_as_well() -> None:
    """The block may then be poured turned over, and the first piece is the one that leaves last."""
    assembly = made("none").assembly
    assert last_of(assembly) == "A"
    last = assembly.pieces[0]
    assert assembly.to_block.T @ np.array(last.way) == pytest.approx(FAR_CORNER, abs=1e-9)
    parts = {**{p.id: p.solid for p in assembly.pieces}, "model": assembly.model}
    assert all(c.ok for c in leaving(parts, assembly, lateral_mm=0.01))
    assert all(c.ok for c in walls_have_draft(assembly))
