"""Thin plates of a solid, on solids whose thickness is known."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.plates import Plate, thinnest_plate
from tests.pieces import solids

AXES = np.eye(3).tolist()


def thinnest(mesh: Mesh, most_mm: float = 10.0) -> Plate:
    """The thinnest plate, all faces counted."""
    return thinnest_plate(mesh, np.ones(len(mesh.faces), bool), AXES, most_mm, slender_ratio=2.0)


def slotted(left_mm: float, deep_mm: float) -> Mesh:
    """A block of 60 x 40 x 40 mm with a slot 12 mm wide and so deep that leaves a wall at the end."""
    block = solids.to_manifold(solids.box(60.0, 40.0, 40.0))
    slot = solids.to_manifold(solids.box(12.0, 50.0, 2.0 * deep_mm)).translate([24.0 - left_mm, 0.0, 20.0])
    return solids.from_manifold(block - slot)


@pytest.mark.parametrize("tilt_deg", [0.0, 25.0])
def test_a_wall_is_as_thick_as_it_was_left(tilt_deg: float) -> None:
    """The wall left beside a deep slot is found at its thickness and place, however the block is turned."""
    mesh = slotted(4.0, 30.0)
    c, s = np.cos(np.radians(tilt_deg)), np.sin(np.radians(tilt_deg))
    turn: Floats = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    found = thinnest(mesh.moved(turn, np.zeros(3), frame="object"))
    assert found.thick_mm == pytest.approx(4.0, abs=1e-6)
    assert found.wide_mm > 8.0
    assert found.at_mm is not None
    assert (np.array(found.at_mm) @ turn)[0] == pytest.approx(28.0, abs=0.01)


def test_a_low_ridge_is_no_plate() -> None:
    """Beside a slot less than twice as deep as the wall is thick nothing is thin, nor in a thick block."""
    assert thinnest(slotted(4.0, 6.0)).at_mm is None
    assert thinnest(solids.box(60.0, 40.0, 40.0)) == Plate(10.0, 0.0, None)


def test_an_edge_is_no_plate() -> None:
    """Where two faces meet at 30 degrees, plaster is thin and yet no plate."""
    assert thinnest(solids.cone(40.0, 40.0 * np.tan(np.radians(30.0)), sides=6)).at_mm is None


def test_only_faces_that_are_asked_for_count() -> None:
    """A wall between faces that are not among the ends is left out."""
    mesh = slotted(4.0, 30.0)
    across = np.abs(np.ptp(mesh.corners_mm[:, :, 0], axis=1)) > 1e-9
    assert thinnest_plate(mesh, across, AXES, 10.0, slender_ratio=2.0).at_mm is None
