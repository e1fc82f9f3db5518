"""How far a shrinking skin is held, on skins whose answer is known in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.holding import Hold, least_hold
from claybed.geometry.mesh import Mesh
from tests.pieces import solids


def held(mesh: Mesh) -> Hold:
    """The whole surface of a mesh as skin."""
    corner = mesh.corners_mm
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    return least_hold(corner.mean(axis=1), normal / np.linalg.norm(normal, axis=1, keepdims=True))


def test_what_is_convex_draws_away() -> None:
    """A convex skin shrinks away from all its plaster, a ball by its whole radius.

    Source: geometry; the centre of a ball lies one radius behind every face.
    """
    assert held(solids.sphere(30.0)).deepest_mm == pytest.approx(-30.0, rel=0.01)
    assert held(solids.box(60.0, 40.0, 20.0)).deepest_mm == pytest.approx(-10.0, abs=1e-6)


def test_a_star_shape_draws_away_too() -> None:
    """A skin need not be convex: it is enough that one point sees all of it, as in a cross of bars."""
    bar = solids.to_manifold(solids.box(80.0, 20.0, 20.0))
    cross = solids.from_manifold(bar + bar.rotate([0.0, 0.0, 90.0]))
    assert held(cross).deepest_mm == pytest.approx(-10.0, abs=1e-6)


@pytest.mark.parametrize(("R_mm", "r_mm"), [(40.0, 10.0), (30.0, 4.0)])
def test_a_ring_holds_by_its_hole(R_mm: float, r_mm: float) -> None:
    """A ring shrinks onto the plaster in its hole, by the radius of the hole times its shrinkage.

    Source: geometry; by symmetry no point does better than the middle, which lies R - r before the inmost
    faces.
    """
    found = held(solids.torus(R_mm, r_mm))
    assert found.deepest_mm == pytest.approx(R_mm - r_mm, rel=0.01)
    assert np.linalg.norm(found.centre_mm) < 0.05 * R_mm


def test_two_knobs_hold_what_is_between_them() -> None:
    """A bar with a plate at each end shrinks onto the plaster between the plates, by half of their distance
    times its shrinkage: it cannot give way to both sides.

    Source: geometry; the best point lies midway, 30 mm before the inner face of either plate.
    """
    bar = solids.to_manifold(solids.box(80.0, 10.0, 10.0))
    plate = solids.to_manifold(solids.box(10.0, 40.0, 40.0))
    spool = solids.from_manifold(bar + plate.translate([35.0, 0.0, 0.0]) + plate.translate([-35.0, 0.0, 0.0]))
    assert held(spool).deepest_mm == pytest.approx(30.0, abs=1e-3)
    with pytest.raises(ValueError, match="faces"):
        least_hold(np.zeros((0, 3)), np.zeros((0, 3)))
