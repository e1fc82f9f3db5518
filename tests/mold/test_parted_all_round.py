"""A mold whose two main pieces do not meet: side pieces stand between them all round."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from claybed.flow.molding import Molded, make_mold
from claybed.proof.closings import mains_apart
from claybed.proof.evidence import prove
from claybed.proof.misplacing import none_goes_elsewhere
from claybed.records.brief import Brief
from claybed.records.surveyed import MoldOption
from tests.mold.molds import along
from tests.pieces import solids
from tests.survey.objects import measured

ALL_SIX = ("+x", "-x", "+y", "-y", "+z", "-z")
X = (1.0, 0.0, 0.0)
RING = ((0.0, 0.0, -1.0), (0.0, -1.0, 0.0), (0.0, 0.0, 1.0), (0.0, 1.0, 0.0))
THING = solids.cube_with_blind_holes(ALL_SIX, side_mm=60.0, hole_mm=8.0, deep_mm=12.0, corners=12)
BRIEF = Brief(pieces=6, wall_mm=40.0, gate="none")


@pytest.fixture(scope="module")
def molded() -> Molded:
    """A cube with a straight hole in every face, a piece for each."""
    option = MoldOption("several", X, 0.0, 0.0, "as asked", sides=RING)
    found = replace(along(X), options=(option,))
    return make_mold(measured(THING), found, BRIEF, progress=lambda step, part: None)


def test_six_pieces_hold_every_check(molded: Molded) -> None:
    """A piece for each hole leaves, every side piece closes one way, and none goes in another's place, main
    pieces among them, which have no keys of each other.

    Source: geometry; straight holes in all six faces take six pieces, and no fewer.
    """
    assembly = molded.assembly
    pulls = np.array([p.pull for p in assembly.pieces])
    assert sorted(map(tuple, np.rint(pulls).tolist())) == sorted(
        tuple(sign * row) for row in np.eye(3) for sign in (1.0, -1.0)
    )
    checks = prove(assembly, THING, BRIEF, dict.fromkeys("ABCDEF", 1.0), progress=lambda step, part: None)
    assert [(c.id, c.measured, c.where) for c in checks if not c.ok] == []
    judged = {c.id for c in checks}
    assert "keys_close_one_way" not in judged
    assert {f"keys_close_one_way_{letter}" for letter in "CDEF"} | {"none_goes_elsewhere"} <= judged
    parts = sum(p.solid.volume_mm3 for p in assembly.pieces) + assembly.model.volume_mm3
    assert parts == pytest.approx(float(np.prod(assembly.outer_mm)), rel=1e-6)
    assert assembly.model.volume_mm3 == pytest.approx(THING.volume_mm3, rel=1e-4)


def test_every_pair_that_meets_is_keyed(molded: Molded) -> None:
    """Each piece meets the four beside it, and none the one opposite; each pair has a key of its own."""
    assembly = molded.assembly
    pull = {p.id: np.array(p.pull) for p in assembly.pieces}
    beside = {(one, two) for one in pull for two in pull if one < two and abs(pull[one] @ pull[two]) < 0.5}
    assert mains_apart(assembly)
    assert set(assembly.contacts) == beside
    assert {tuple(sorted((k.bump_on, k.socket_in))) for k in assembly.keys} == beside


def test_main_pieces_alike_are_told(molded: Molded) -> None:
    """Were the second main piece the first one turned over, it would go in its place, and the check says
    so.
    """
    assembly = molded.assembly
    first, second, *rest = assembly.pieces
    over = first.solid.points * np.array([1, -1, -1]) + np.array([0, 0, assembly.height])
    twin = replace(second, solid=replace(first.solid, points=over))
    (check,) = none_goes_elsewhere(replace(assembly, pieces=(first, twin, *rest), keys=()))
    assert not check.ok
    assert check.measured < 0.01
    assert {"A", "B"} <= set(check.where.replace(",", "").split())
