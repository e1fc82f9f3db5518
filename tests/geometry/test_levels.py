"""The part of a solid above a level."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.levels import column_above_mm3, volume_above_mm3
from tests.pieces import solids


@pytest.mark.parametrize("level_mm", [-25.0, -20.0, -3.7, 0.0, 11.0, 20.0, 30.0])
def test_cone_above_a_level(level_mm: float) -> None:
    """The tip of a cone above a level scales with the cube of its height."""
    cone = solids.cone(30.0, 40.0)
    share = np.clip((40.0 - level_mm) / 40.0, 0.0, 1.0) ** 3
    assert volume_above_mm3(cone, level_mm) == pytest.approx(share * cone.volume_mm3, rel=1e-12, abs=1e-9)


def test_above_and_below_make_the_whole() -> None:
    """A solid with a handle, turned at random, keeps its volume when it is told apart at any level."""
    solid = solids.cup_with_handle()
    turn = np.linalg.qr(np.random.default_rng(5).normal(size=(3, 3)))[0]
    turn[0] *= np.sign(np.linalg.det(turn))
    up = solid.moved(turn, np.zeros(3), frame="object")
    down = solid.moved(np.diag([1.0, -1.0, -1.0]) @ turn, np.zeros(3), frame="object")
    middle_mm = float(up.vertices_mm[:, 2].mean())
    for level_mm in (middle_mm - 20.0, middle_mm, middle_mm + 12.5):
        above = volume_above_mm3(up, level_mm)
        assert above + volume_above_mm3(down, -level_mm) == pytest.approx(solid.volume_mm3, rel=1e-9)
        assert 0.0 < above < solid.volume_mm3


def test_above_agrees_with_a_cut() -> None:
    """The volume above a level is that of the solid cut there."""
    solid = solids.cup_with_handle()
    cut = solids.to_manifold(solid).trim_by_plane([0.0, 0.0, 1.0], 31.0)
    assert volume_above_mm3(solid, 31.0) == pytest.approx(cut.volume(), rel=1e-9)


def test_columns_above_a_ball_and_a_box() -> None:
    """Above a ball stands a cylinder less half the ball; above a box what is left to the level."""
    ball = solids.sphere(30.0, subdivisions=5)
    cylinder = np.pi * 30.0**2 * 40.0
    half = 2.0 / 3.0 * np.pi * 30.0**3
    assert column_above_mm3(ball, 40.0) == pytest.approx(cylinder - half, rel=2e-3)
    box = solids.box(50.0, 40.0, 30.0)
    top = float(box.bounds_mm[1, 2])
    assert column_above_mm3(box, top + 7.0) == pytest.approx(50.0 * 40.0 * 7.0)
    assert column_above_mm3(box, top) == pytest.approx(0.0, abs=1e-9)
    assert column_above_mm3(box, top - 5.0) == 0.0
