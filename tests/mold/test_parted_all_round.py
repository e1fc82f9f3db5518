"""A mold whose two main pieces do not meet: side pieces stand between them all round."""

from __future__ import annotations

import math
from dataclasses import replace

import manifold3d
import numpy as np
import pytest

from claybed.flow.molding import Molded
from claybed.flow.searching import make_mold
from claybed.geometry.lattice import lattice_mm, pull_rotation
from claybed.geometry.slab import LatticeSolid
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


def of(solid: LatticeSolid) -> manifold3d.Manifold:
    """A solid as manifold3d has it, mm."""
    return manifold3d.Manifold(
        manifold3d.Mesh64(
            vert_properties=lattice_mm(solid.points), tri_verts=np.array(solid.faces).astype(np.uint64)
        )
    )


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


def test_no_piece_turned_or_shifted_goes_in(molded: Molded) -> None:
    """Each piece, turned by quarters in its own place or shifted by 2 mm along its sides, reaches into the
    others by more than half of a key, where rightly closed they share nothing but rounding.

    Compared with manifold3d, which knows nothing of keys.
    """
    assembly = molded.assembly
    body = {p.id: of(p.solid) for p in assembly.pieces}
    key = min(assembly.keys, key=lambda one: one.diameter_mm)
    least_mm3 = 0.5 * math.pi / 4.0 * key.diameter_mm**2 * key.depth_mm * 0.6
    for piece in assembly.pieces:
        others = manifold3d.Manifold.batch_boolean(
            [solid for name, solid in body.items() if name != piece.id], manifold3d.OpType.Add
        )
        assert (body[piece.id] ^ others).volume() < 0.01
        rotation = pull_rotation(piece.pull)
        plan = body[piece.id].transform(np.column_stack([rotation, np.zeros(3)]))
        x0, y0, _, x1, y1, _ = plan.bounding_box()
        middle = np.array([x0 + x1, y0 + y1, 0.0]) / 2.0
        wrong = {
            f"turned by {deg} degrees": plan.translate(-middle).rotate([0.0, 0.0, deg]).translate(middle)
            for deg in (90.0, 180.0, 270.0)
        }
        wrong |= {f"shifted by {way}": plan.translate([*way, 0.0]) for way in ((2.0, 0.0), (0.0, -2.0))}
        for how, solid in wrong.items():
            back = solid.transform(np.column_stack([rotation.T, np.zeros(3)]))
            assert (back ^ others).volume() > least_mm3, (piece.id, how)


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
