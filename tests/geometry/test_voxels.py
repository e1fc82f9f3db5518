"""Shares of cells inside closed meshes."""

from __future__ import annotations

import math

import numpy as np
import pytest

from claybed.geometry.voxels import solid_fraction
from tests.pieces import solids


def test_a_box_fills_its_cells_exactly() -> None:
    """A box of 10 x 8 x 6.5 mm on cells of 2 mm: whole cells are 1, a cut cell its share."""
    box = solids.box(10.0, 8.0, 6.5)
    share = solid_fraction(box, box.bounds_mm[0] - 2.0, 2.0, (7, 6, 6))
    assert share.sum() * 8.0 == pytest.approx(10.0 * 8.0 * 6.5, rel=1e-12)
    assert share[1:6, 1:5, 1:4] == pytest.approx(np.ones((5, 4, 3)))
    assert share[1:6, 1:5, 4] == pytest.approx(np.full((5, 4), 0.25))
    assert share[0].max() == 0.0


def test_a_ball_keeps_its_volume() -> None:
    """A ball of radius 20 mm on cells of 2 mm holds 4/3 pi r³ to half a percent."""
    ball = solids.sphere(20.0, subdivisions=5)
    share = solid_fraction(ball, np.full(3, -22.0), 2.0, (22, 22, 22))
    assert share.sum() * 8.0 == pytest.approx(4.0 / 3.0 * math.pi * 20.0**3, rel=5e-3)
    assert share.min() == 0.0 and share.max() == 1.0


def test_what_lies_outside_the_grid_is_left_out() -> None:
    """Only the part of a box inside the grid counts, below and above it as well."""
    share = solid_fraction(solids.box(40.0, 40.0, 40.0), np.full(3, -5.0), 2.5, (4, 4, 4))
    assert share == pytest.approx(np.ones((4, 4, 4)))
