"""Spots that bear witness for a least number of pieces, and what is claimed of them."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from claybed.flow.fewest import fewest_findings
from claybed.geometry.directions import fibonacci_axes
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.reach import open_directions
from claybed.geometry.sharing import Shared
from claybed.records.surveyed import AxisScore, MoldOption, Survey, Trade, Witness
from claybed.survey import witnessing
from claybed.survey.witnessing import look_about, witness
from tests.pieces import solids

PULLS = np.concatenate([np.eye(3), fibonacci_axes(40)])
SCORE = AxisScore((0.0, 0.0, 1.0), 0.0, 0.0, 0.0, 0, 0.0, True, 10.0, "asked")
SEVERAL = MoldOption("several", SCORE.axis, 0.0, 0.0, "Leaves.", sides=((1.0, 0.0, 0.0),))
SEEN = Witness(((0.0, 0.0, 1.0),) * 3, ((0.0, 0.0, 1.0),) * 3, 2.5, 0.0, 24, 16.0)


def drilled() -> Mesh:
    """A cube with straight blind holes in three faces, of few triangles."""
    return solids.cube_with_blind_holes(("+x", "+y", "+z"))


def test_three_holes_bear_witness_for_three_pieces() -> None:
    """One spot in each hole, each with a way out, and dense rays find nothing that two of them share.

    Source: geometry; deep straight holes at right angles see cones that do not meet.
    """
    mesh = drilled()
    found = witness(mesh, look_about(mesh, PULLS))
    assert found is not None
    assert len(found.spots_mm) == 3
    assert {int(np.argmax(np.abs(pull))) for pull in found.pulls} == {0, 1, 2}
    dense = np.concatenate([fibonacci_axes(900), -fibonacci_axes(900)])
    seen = [open_directions(mesh, np.array(spot), dense) for spot in found.spots_mm]
    for one, two in itertools.combinations(seen, 2):
        assert not (one & two).any()
    for spot, pull in zip(found.spots_mm, found.pulls, strict=True):
        assert open_directions(mesh, np.array(spot), np.array([pull]))[0]


def test_six_holes_bear_witness_for_six_from_their_middles() -> None:
    """One spot in each hole, whichever way the faces are numbered, mostly nearer to its middle than to its
    wall: there it sees as little as can be of the other holes' ways out.

    Source: geometry; from its middle a hole as deep as wide sees 27 degrees to each side, from its wall 45.
    """
    mesh = solids.cube_with_blind_holes(("+x", "-x", "+y", "-y", "+z", "-z"), corners=32)
    order = np.random.default_rng(7).permutation(len(mesh.faces))
    shuffled = Mesh.make(mesh.vertices_mm, mesh.faces[order], frame="object")
    sought = look_about(shuffled, PULLS)
    found = witness(shuffled, sought)
    assert found is not None
    assert len(found.spots_mm) == 6
    spots = np.array(found.spots_mm)
    deep = np.argmax(np.abs(spots), axis=1)
    off_mm = np.array([np.linalg.norm(np.delete(spot, axis)) for axis, spot in zip(deep, spots, strict=True)])
    assert float(np.median(off_mm)) < 4.0
    assert len({(axis, spot[axis] > 0.0) for axis, spot in zip(deep.tolist(), spots, strict=True)}) == 6


def test_a_ball_has_no_witness() -> None:
    """No two spots on a convex solid are claimed to need two pieces: what is opposite leaves sideways."""
    ball = solids.sphere(30.0, subdivisions=2)
    assert witness(ball, look_about(ball, PULLS)) is None


def test_a_pair_that_cannot_be_told_is_not_claimed(monkeypatch: pytest.MonkeyPatch) -> None:
    """With the pairs of two of the holes left open by the proof, one of their spots is dropped, whichever
    spots are tried.
    """
    mesh = drilled()
    known, see, ask = {}, witnessing.outlook, witnessing.shared

    def remembered(of: Mesh, spot: Floats) -> witnessing.Outlook:
        seen = see(of, spot)
        known[id(seen)] = seen, int(np.argmax(spot))
        return seen

    def open_between(*spots: witnessing.Outlook) -> Shared:
        holes = {known[id(seen)][1] for seen in spots}
        return Shared("undecided", 1, 0.002) if holes == {0, 2} else ask(*spots)

    monkeypatch.setattr(witnessing, "outlook", remembered)
    monkeypatch.setattr(witnessing, "shared", open_between)
    found = witness(mesh, look_about(mesh, PULLS))
    assert found is not None
    assert len(found.spots_mm) == 2


def test_a_spot_inside_the_object_is_not_taken() -> None:
    """A spot with no way out at all would share a pull with none; it proves nothing and is left out."""
    mesh = drilled()
    inner: Floats = np.array([[0.0, 0.0, 0.0], [0.0, 0.0, 29.0]])
    ways = [np.eye(3), np.eye(3)]
    assert (
        witnessing._proved(Mesh.make(mesh.vertices_mm, mesh.faces[:, ::-1], frame="object"), inner, ways, 0.1)
        is None
    )


@pytest.mark.parametrize(
    ("seen", "fills", "words"),
    [
        (SEEN, {2: 5.0, 3: 0.0}, ["three pieces are the fewest without fill"]),
        (SEEN, {2: 5.0, 3: 2.0, 4: 0.0}, ["three pieces or more", "has three", "four were found"]),
        (SEEN, {2: 5.0, 3: 2.0}, ["three pieces or more"]),
        (None, {2: 5.0, 3: 0.0}, ["first found with three", "has not been shown"]),
        (None, {2: 0.0, 3: 0.0}, ["has three pieces", "one of two pieces", "--pieces 2"]),
        (None, {2: 5.0, 3: 2.0}, ["has three pieces", "no number was found"]),
    ],
    ids=["shown", "one more found", "with fill", "no witness", "more than it takes", "neither"],
)
def test_what_is_claimed(seen: Witness | None, fills: dict[int, float], words: list[str]) -> None:
    """Fewest is said only of a number that as many spots bear witness for; any other was found."""
    front = tuple(Trade(k, ml, SCORE.axis, ()) for k, ml in fills.items())
    base = Survey((SEVERAL,), SCORE, (), (), (SCORE,), False, 0.2)
    (finding,) = fewest_findings(
        replace(base, front=front, witness=seen), lambda at: "near the top", made=True
    )
    said = f"{finding.says} {finding.remedy}"
    assert all(word in said for word in words), said
    assert ("the fewest without" in said) == (words == ["three pieces are the fewest without fill"])
    assert ("I, II and III in the picture" in said) == (seen is not None)
    assert fewest_findings(base, lambda at: "", made=True) == ()
