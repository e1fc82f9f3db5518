"""Air that is caught and slip that stays, on cavities whose answer is known."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.growing_wall import liquid_in
from claybed.geometry.mesh import Mesh
from claybed.geometry.pooling import (
    Cavity,
    caught,
    caught_ml,
    caught_twice_ml,
    cavity_of,
)
from tests.pieces import solids
from tests.pieces.vents import with_vents

UP = np.array([0.0, 0.0, 1.0])


def gated(mesh: Mesh, at: tuple[float, float, float], radius_mm: float, length_mm: float) -> Mesh:
    """A solid with an upright bore of a radius that starts at a point and goes up."""
    bore = solids.to_manifold(solids.cylinder(radius_mm, length_mm, sides=32))
    low = solids.cylinder(radius_mm, length_mm, sides=32).bounds_mm[0][2]
    return solids.from_manifold(solids.to_manifold(mesh) + bore.translate([at[0], at[1], at[2] - low]))


def cavity(mesh: Mesh, top_mm: float, cells: int = 96) -> Cavity:
    """The cavity of a gated solid in a block that ends at a height, 20 mm around it elsewhere."""
    lo, hi = mesh.bounds_mm
    return cavity_of(mesh, lo - 20.0, np.array([hi[0] + 20.0, hi[1] + 20.0, top_mm]), cells)


def box_cavity(inside: np.ndarray) -> Cavity:
    """Cells of 1 mm, open where they meet the grid's border."""
    rim = np.ones(inside.shape, bool)
    rim[1:-1, 1:-1, 1:-1] = False
    return Cavity(inside, inside & rim, np.zeros(3), 1.0)


def test_a_ring_on_edge_fills_and_drains_through_its_top() -> None:
    """A torus with its axis level and the gate on top catches no air; gate down, it keeps no slip either.

    Source: geometry; the height has one highest point, two saddles and one lowest point. Slip that falls
    towards the gate asks the same of the cavity as air that rises to it.
    """
    ring = solids.from_manifold(solids.to_manifold(solids.torus(40.0, 10.0)).rotate([90.0, 0.0, 0.0]))
    hollow = cavity(gated(ring, (0.0, 0.0, 45.0), 7.0, 30.0), 65.0)
    assert hollow.opening.any()
    whole_ml = hollow.inside.sum() * hollow.cell_ml
    assert whole_ml == pytest.approx(2.0 * np.pi**2 * 40.0 * 100.0 / 1000.0, rel=0.08)
    assert caught_ml(hollow, UP) <= 0.005 * whole_ml
    assert caught_ml(liquid_in(hollow, 2.0), UP) <= 0.005 * whole_ml
    # Gate up, slip cannot fall out: all but the gate's own cells stays.
    assert caught_ml(hollow, -UP) > 0.98 * whole_ml


def test_a_crescent_with_horns_up_needs_one_vent() -> None:
    """Gated at one horn it catches air in the other, at its tip; with a vent there it catches none.

    Source: geometry; two highest points, one lowest.
    """
    horned = solids.crescent(40.0, 10.0, arc_deg=200.0)
    v = horned.vertices_mm
    tip = v[np.argmax(np.where(v[:, 0] < 0.0, v[:, 2], -np.inf))]
    body = gated(horned, (float(tip[0]) + 1.0, 0.0, float(tip[2]) - 6.0), 4.0, 40.0)
    hollow = cavity(body, float(horned.bounds_mm[1][2]) + 20.0, cells=128)
    pockets = caught(hollow, UP, less_than_ml=0.02)
    assert len(pockets) == 1
    assert pockets[0].at_mm[0] > 20.0
    assert pockets[0].at_mm[2] == pytest.approx(v[v[:, 0] > 0.0, 2].max(), abs=3.0)
    vented = with_vents(hollow, [pockets[0].at_mm])
    assert caught(vented, UP, less_than_ml=0.02) == []


def test_what_a_step_holds_is_counted_to_the_cell() -> None:
    """A dead end above a passage holds its own volume of air, and is named at its top."""
    inside = np.zeros((12, 5, 12), bool)
    inside[1:11, 1:4, 2:5] = True  # a level passage
    inside[1:4, 1:4, 5:9] = True  # a dead end above it: 3 x 3 x 4 cells
    inside[8:11, 1:4, 5:12] = True  # the way out
    pocket = caught(box_cavity(inside), UP)
    assert [round(p.volume_ml * 1000.0) for p in pocket] == [36]
    assert pocket[0].at_mm == pytest.approx((2.5, 2.5, 8.5))
    # Tipped towards the way out by more than 45 degrees, the dead end empties over its edge.
    assert caught_ml(box_cavity(inside), np.array([1.0, 0.0, 0.2])) < 36.0 / 1000.0


def test_a_second_turn_empties_what_the_first_leaves() -> None:
    """Slip in a hollow beside the opening runs out once the hollow is tipped over its lip, and not before."""
    inside = np.zeros((14, 5, 14), bool)
    inside[1:13, 1:4, 6:9] = True
    inside[1:4, 1:4, 2:9] = True  # a well below the passage
    inside[13, 1:4, 6:9] = True  # open to the side
    slip = box_cavity(inside)
    # Slip falls: what falls along -z rises along +z for `caught`.
    down = np.array([0.0, 0.0, -1.0])
    assert caught_ml(slip, down) == pytest.approx(3 * 3 * 4 / 1000.0)
    sideways = np.array([0.7, 0.0, 0.7])
    assert caught_twice_ml(slip, down, sideways) == 0.0
    assert caught_twice_ml(slip, down, down) == pytest.approx(caught_ml(slip, down))
