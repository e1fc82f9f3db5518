"""The smallest circle around points holds them all and is hardly larger than it must be."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.encircling import least_circle


def test_a_triangle_is_held_by_its_own_circle() -> None:
    """An acute one by that through its corners, an obtuse one by that on its longest side."""
    turn = np.radians([10.0, 120.0, 250.0])
    acute = 30.0 * np.stack([np.cos(turn), np.sin(turn)], axis=1) + [5.0, -3.0]
    centre, radius = least_circle(acute)
    assert centre == pytest.approx([5.0, -3.0], abs=0.1)
    assert radius == pytest.approx(30.0, rel=2e-3)
    centre, radius = least_circle(np.array([[-20.0, 0.0], [20.0, 0.0], [3.0, 6.0]]))
    assert centre == pytest.approx([0.0, 0.0], abs=0.1)
    assert radius == pytest.approx(20.0, rel=2e-3)


def test_every_point_lies_inside_and_no_circle_is_much_smaller() -> None:
    """Of points at random; half the largest distance between two is the least any circle can have."""
    for seed in range(5):
        points = np.random.default_rng(seed).normal(size=(200, 2)) * [30.0, 12.0]
        centre, radius = least_circle(points)
        assert np.linalg.norm(points - centre, axis=1).max() <= radius
        apart = np.linalg.norm(points[:, None] - points[None], axis=2).max() / 2.0
        assert apart <= radius <= apart * 2.0 / np.sqrt(3.0) * 1.003
