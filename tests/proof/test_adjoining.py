"""Surfaces that lie on one another: films that cuts leave, and hollows that have no corner of their own."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from claybed.geometry.carving import DUST_MM, TIDY_MM
from claybed.geometry.lattice import UNITS_PER_MM, Z_PER_MM
from claybed.geometry.slab import LatticeSolid
from claybed.proof.adjoining import FILM_MM, NEAR_MM, adjoining, adjoining_limit_mm
from claybed.records.assembly import Assembly, Piece
from claybed.records.finding import Check


def laid(mold: Assembly, limit_mm: float, **instead: LatticeSolid) -> dict[str, Check]:
    """The checks of a mold some of whose solids are exchanged."""
    solids = {**{piece.id: piece.solid for piece in mold.pieces}, "model": mold.model, **instead}
    return {check.id: check for check in adjoining(solids, mold, limit_mm=limit_mm)}


def with_apex_raised(solid: LatticeSolid, model: LatticeSolid, steps: int) -> LatticeSolid:
    """Piece A with the corner over the model's highest point drawn up, which leaves a hollow so deep."""
    points = solid.points.copy()
    hit = (points == model.points[int(np.argmax(model.points[:, 2]))]).all(axis=1)
    assert hit.sum() == 1
    points[hit, 2] += steps
    return replace(solid, points=points)


@pytest.mark.parametrize("depth_mm", [0.9 * FILM_MM, 1.1 * FILM_MM])
def test_a_pit_passes_for_a_film_and_no_further(mold: Assembly, depth_mm: float) -> None:
    """With side pieces a hollow of less than the film holds, and one just over it fails with its place and
    its depth; without them both fail.
    """
    steps = round(depth_mm * Z_PER_MM)
    pitted = with_apex_raised(mold.pieces[0].solid, mold.model, steps)
    found = laid(mold, FILM_MM, A=pitted)["adjoins_A"]
    assert found.ok == (depth_mm < FILM_MM)
    if not found.ok:
        assert found.measured == pytest.approx(steps / Z_PER_MM, abs=1e-6)
        assert "piece A, which leaves a hollow" in found.where
        assert found.at_mm == pytest.approx((0.0, 0.0, 60.0 + depth_mm), abs=0.01)
    assert not laid(mold, NEAR_MM, A=pitted)["adjoins_A"].ok


def test_films_are_allowed_for_only_where_side_pieces_were_cut(mold: Assembly) -> None:
    """What cutting may leave open is less than what is let pass: a dropped film, a wedge at its thickest, and
    joints on both sides that were tidied and rounded; two pieces are exact.
    """
    rounded_mm = 0.5 * float(np.linalg.norm(1.0 / UNITS_PER_MM))
    assert 2.0 * DUST_MM + 2.0 * (TIDY_MM + rounded_mm) <= FILM_MM
    assert adjoining_limit_mm(mold) == NEAR_MM
    third = Piece("C", 3, (1.0, 0.0, 0.0), mold.pieces[0].solid)
    assert adjoining_limit_mm(replace(mold, pieces=(*mold.pieces, third))) == FILM_MM


def test_a_hollow_without_a_corner_of_its_own_is_found(mold: Assembly) -> None:
    """Two faces of piece A over the model are cut along their other diagonal: all corners still lie on the
    model, and between them there is a hollow or a wart.
    """
    solid = mold.pieces[0].solid
    at = solid.points[solid.faces]
    apex = mold.model.points[int(np.argmax(mold.model.points[:, 2]))]
    fan = np.flatnonzero((at == apex).all(axis=2).any(axis=1))
    one = solid.faces[fan[0]]
    top = next(k for k in one if (solid.points[k] == apex).all())
    two = next(f for f in solid.faces[fan[1:]] if len(np.intersect1d(f, one)) == 2)
    edge = next(k for k in np.intersect1d(one, two) if k != top)
    p = next(k for k in one if k not in two)
    q = next(k for k in two if k not in one)
    # Of the kite (top, p, edge, q) the diagonal from p to q instead.
    turned = [p, edge, q] if list(np.roll(one, -list(one).index(p)))[1] == edge else [q, edge, p]
    kept = [f for f in solid.faces if not (np.array_equal(f, one) or np.array_equal(f, two))]
    faces = np.array([*kept, turned, [turned[2], top, turned[0]]], np.int32)
    flipped = LatticeSolid(solid.points, faces, np.zeros(len(faces), np.uint8))
    assert len(flipped.faces) == len(solid.faces)
    assert not laid(mold, FILM_MM, A=flipped)["adjoins_A"].ok
    assert laid(mold, FILM_MM)["adjoins_A"].measured == 0.0
