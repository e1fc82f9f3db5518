"""A plug that goes all round what only a main piece can leave: a trough round a lid with a knob on it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from claybed.flow.molding import Molded
from claybed.flow.searching import make_mold
from claybed.flow.sideways import aside
from claybed.geometry.mesh import Mesh
from claybed.mold.side_level import practice
from claybed.proof.adjoining import adjoining, adjoining_limit_mm
from claybed.proof.leaving import sides_leave
from claybed.proof.solidity import solidity
from claybed.records.surveyed import MoldOption
from tests.mold.molds import BARE, along
from tests.pieces import solids
from tests.survey.objects import measured

ACROSS = (0.0, 1.0, 0.0)
UP = (0.0, 0.0, 1.0)
TROUGH_MM, DEEP_MM = (24.0, 30.0), 6.0
NECK_MM, KNOB_MM, NECK_HIGH_MM = 6.0, 13.0, 10.0


def lidded() -> Mesh:
    """A drum with a trough round the middle of its top, and within it a knob on a neck."""
    inner, outer = TROUGH_MM
    profile = [(0.0, -30.0), (36.0, -30.0), (36.0, 0.0), (outer, 0.0), (outer, -DEEP_MM), (inner, -DEEP_MM)]
    profile += [(inner, 0.0), (NECK_MM, 0.0), (NECK_MM, NECK_HIGH_MM), (KNOB_MM, NECK_HIGH_MM)]
    return solids.revolved(np.array([*profile, (KNOB_MM, 18.0), (0.0, 18.0)]), sides=48)


@pytest.fixture(scope="module")
def molded() -> Molded:
    """Its mold in two main pieces that leave sideways, and one that leaves upwards out of the trough."""
    option = MoldOption("several", ACROSS, 0.0, 0.0, "as asked", sides=(UP,))
    brief = replace(BARE, axis=ACROSS, pieces=3, max_fill_ml=3.0)
    found = replace(along(ACROSS), options=(option,))
    return make_mold(measured(lidded()), found, brief, progress=lambda step, part: None)


def test_only_the_trough_under_two_walls_is_filled(molded: Molded) -> None:
    """Without walls across the trough the space under the knob would be filled, pi (13² - 6²) x 10 mm³. With
    them it is the trough under both, each between its width at the top and what it has widened to below.
    """
    inner, outer = TROUGH_MM
    under_knob_ml = np.pi * (KNOB_MM**2 - NECK_MM**2) * NECK_HIGH_MM / 1000.0
    top_mm = practice("bridge_least_mm")
    foot_mm = top_mm + 2.0 * np.tan(np.radians(practice("plug_taper_deg"))) * (
        practice("bridge_rise_mm") + DEEP_MM + 1.0
    )
    section_mm2 = (outer - inner) * DEEP_MM
    fill_ml = molded.option.fill_ml
    assert 2.0 * top_mm * section_mm2 < 1000.0 * fill_ml < 2.2 * foot_mm * section_mm2
    assert fill_ml < under_knob_ml / 3.0


def test_where_the_fill_lies_is_told(molded: Molded) -> None:
    """All that is filled lies in the trough, on both sides across the pull of the main pieces."""
    inner, outer = TROUGH_MM
    assert sum(place.volume_ml for place in molded.option.places) == pytest.approx(molded.option.fill_ml)
    for place in molded.option.places:
        assert -DEEP_MM <= place.at_mm[2] <= 0.0
        assert np.hypot(*place.at_mm[:2]) <= outer
    assert molded.option.deepest_mm <= outer - inner + 1.0


def test_the_pieces_are_whole_and_leave(molded: Molded) -> None:
    """Every piece is one closed solid against its neighbours, the side piece leaves first, and the plaster
    under the knob hangs on main pieces.
    """
    made = molded.assembly
    parts = {**{piece.id: piece.solid for piece in made.pieces}, "model": made.model}
    assert all(check.ok for check in solidity(parts, made))
    assert all(check.ok for check in adjoining(parts, made, limit_mm=adjoining_limit_mm(made)))
    assert sides_leave(made)
    (side,) = (piece for piece in made.pieces if aside(piece))
    assert side.bridges == 2
    assert side.opens == 1
    # Half way up the neck, beside it: main pieces, none of it the model's.
    spot = np.array([0.0, (NECK_MM + KNOB_MM) / 2.0, NECK_HIGH_MM / 2.0])
    at = made.to_block @ spot + made.shift_mm
    holds = [p.id for p in made.pieces if not aside(p) and _inside(p.solid.mesh("block"), at)]
    assert len(holds) == 1
    assert not _inside(made.model.mesh("block"), at)


def _inside(mesh: Mesh, at_mm: np.ndarray) -> bool:
    """Whether a point lies inside, by the solid angles of all faces."""
    a, b, c = (mesh.corners_mm[:, k] - at_mm for k in range(3))
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    over = np.einsum("ij,ij->i", a, np.cross(b, c))
    under = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
    return bool(abs(np.arctan2(over, under).sum()) > np.pi)
