"""Ways with one main piece over a flat face, found from the space that the object holds over that face."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.gate.choosing import choose_gate
from claybed.geometry.depth import DepthRaster
from claybed.geometry.directions import fibonacci_axes
from claybed.geometry.mesh import Mesh
from claybed.geometry.reach import Skyline
from claybed.records.brief import Brief
from claybed.records.surveyed import MoldOption, Trade
from claybed.survey import standing
from claybed.survey.standing import standing_trades
from tests.pieces import solids
from tests.survey.objects import measured

PULLS = np.concatenate([np.eye(3), -np.eye(3), fibonacci_axes(10)])


def found(mesh: Mesh) -> list[Trade]:
    """The ways of an object."""
    raster = DepthRaster(mesh, 160)
    skylines = [Skyline(raster, pull) for pull in PULLS]
    liked = np.where(np.arange(len(PULLS)) < 6, 1.0, 0.0)
    return standing_trades(mesh, raster, raster, PULLS, skylines, liked, most_sides=4, crumb_mm3=20.0)


def test_three_holes_take_three_pieces_over_any_face_without_one() -> None:
    """Over each of the three faces without a hole, one piece leaves along the hole opposite and the others
    along theirs; over faces with a hole it does not stand flat enough.

    Source: geometry; the pulls of three holes at right angles free all space beside and over the face.
    """
    trades = found(solids.cube_with_blind_holes(corners=24))
    assert {trade.pull for trade in trades} == {tuple(row) for row in np.eye(3)}
    for trade in trades:
        assert (trade.pieces, trade.fill_ml, trade.base_mm) == (3, 0.0, pytest.approx(-30.0))
        assert sorted((trade.pull, *trade.sides)) == sorted(tuple(row) for row in np.eye(3))


@pytest.mark.parametrize(
    "mesh",
    [
        solids.sphere(30.0, subdivisions=2),
        solids.cube_with_blind_holes(("+x", "-x", "+y", "-y", "+z", "-z"), corners=24),
    ],
    ids=["nothing flat", "a hole in every face"],
)
def test_none_where_it_does_not_stand(mesh: Mesh) -> None:
    """What has no flat face, or a hole in each of them, has no such way."""
    assert found(mesh) == []


def test_what_an_overhang_holds_counts_down_to_the_face() -> None:
    """Under the cap of a square mushroom lies the cap's plan less the stem's, as high as the stem.

    Source: geometry.
    """
    cap = solids.to_manifold(solids.box(60.0, 60.0, 20.0)).translate([0.0, 0.0, 20.0])
    stem = solids.to_manifold(solids.box(20.0, 20.0, 40.0))
    raster = DepthRaster(solids.from_manifold(cap + stem), 240)
    points, volume = standing._held(raster.columns(np.array([0.0, 0.0, 1.0])), -20.0)
    assert volume.sum() == pytest.approx((60.0**2 - 20.0**2) * 30.0, rel=0.01)
    assert points[:, 2].min() > -20.0
    assert points[:, 2].max() < 10.0


def test_the_last_side_piece_has_none_opposite() -> None:
    """A gate in the seam comes out opposite to the last pull, so no other piece may leave there if it can be
    helped.
    """
    x, y, back = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (-1.0, 0.0, 0.0)
    assert standing._last_alone([x, y]) == (x, y)
    assert standing._last_alone([y, x, back]) == (x, back, y)
    assert standing._last_alone([x, back]) == (x, back)


def test_recesses_at_equal_angles_take_one_side_piece_each() -> None:
    """A drum with three tapered recesses stands on either end: its side pieces leave the way the floors of
    the recesses look, none of which was among the pulls, and slip comes in through the main piece.

    Source: geometry; a recess that widens outwards by 6 degrees leaves along its own axis.
    """
    drum = solids.drum(3)
    trades = found(drum)
    assert {trade.pull for trade in trades} == {(0.0, 0.0, 1.0), (0.0, 0.0, -1.0)}
    turns = 2.0 * np.pi * np.arange(3) / 3.0
    floors = np.stack([np.cos(turns), np.sin(turns), np.zeros(3)], axis=1)
    for trade in trades:
        assert (trade.pieces, trade.fill_ml) == (4, 0.0)
        assert sorted((floors @ np.array(trade.sides).T).max(axis=1)) == pytest.approx([1.0, 1.0, 1.0])
    option = MoldOption("several", trades[0].pull, 0.0, 0.0, "", sides=trades[0].sides, base_mm=0.0)
    gate = choose_gate(measured(drum), option, Brief())
    assert (gate.along_pull, gate.out) == (True, trades[0].pull)
