"""Ways with one main piece over a flat face, found from the space that the object holds over that face."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.depth import DepthRaster
from claybed.geometry.directions import fibonacci_axes
from claybed.geometry.mesh import Mesh
from claybed.geometry.reach import Skyline
from claybed.records.surveyed import Trade
from claybed.survey import standing
from claybed.survey.standing import standing_trades
from tests.pieces import solids

PULLS = np.concatenate([np.eye(3), -np.eye(3), fibonacci_axes(10)])


def found(mesh: Mesh) -> list[Trade]:
    """The ways of an object."""
    raster = DepthRaster(mesh, 160)
    skylines = [Skyline(raster, pull) for pull in PULLS]
    liked = np.where(np.arange(len(PULLS)) < 6, 1.0, 0.0)
    return standing_trades(mesh, raster, PULLS, skylines, liked, most_sides=4, crumb_mm3=20.0)


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
    """The gate comes out opposite to the last pull, so no other piece may leave there."""
    x, y, back = (1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (-1.0, 0.0, 0.0)
    assert standing._last_alone([x, y]) == (x, y)
    assert standing._last_alone([y, x, back]) == (x, back, y)
    assert standing._last_alone([x, back]) == ()
