"""A pull that is almost exact is straightened; one that is not is left as it is."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from claybed.geometry.tidying import NEARLY_DEG, tidy_pull
from tests.pieces import solids

Vector = tuple[float, float, float]


def tilted(deg: float, azimuth_deg: float = 30.0) -> Vector:
    """A direction off z."""
    a, b = math.radians(deg), math.radians(azimuth_deg)
    return (math.sin(a) * math.cos(b), math.sin(a) * math.sin(b), math.cos(a))


@pytest.mark.parametrize("seed", range(4))
def test_a_pull_near_a_flat_face_becomes_its_normal(seed: int) -> None:
    """A turned cylinder, asked a tenth of a degree off, is pulled exactly along itself, either way."""
    turn = Rotation.random(random_state=seed).as_matrix()
    solid = solids.cylinder(22.0, 50.0, sides=48).moved(turn, np.zeros(3), frame="object")
    for sign in (1.0, -1.0):
        asked = turn @ np.array(tilted(0.1)) * sign
        got = np.array(tidy_pull(solid, tuple(asked)))
        assert np.linalg.norm(got) == pytest.approx(1.0, abs=1e-12)
        assert np.abs(got - sign * turn[:, 2]).max() < 1e-9


def test_a_pull_along_flat_walls_is_laid_into_them() -> None:
    """A prism without a flat end across: the pull ends up exactly along its walls."""
    turn = Rotation.from_euler("xyz", [20.0, 35.0, 50.0], degrees=True).as_matrix()
    walls = solids.box(40.0, 30.0, 25.0).moved(turn, np.zeros(3), frame="object")
    asked = turn @ np.array([math.cos(0.6), math.sin(0.6), 0.003])
    got = np.array(tidy_pull(walls, tuple(asked)))
    assert abs(got @ turn[:, 2]) < 1e-9
    assert math.degrees(math.acos(min(1.0, got @ asked / np.linalg.norm(asked)))) < NEARLY_DEG


def test_without_flat_faces_a_near_axis_is_taken() -> None:
    """A ball asked a tenth of a degree off z is pulled along z; off by half a degree it is not."""
    ball = solids.sphere(30.0, subdivisions=3)
    assert tidy_pull(ball, tilted(0.1)) == (0.0, 0.0, 1.0)
    far = tilted(0.5)
    assert tidy_pull(ball, far) == pytest.approx(far, abs=1e-12)


def test_a_pull_off_every_face_stays() -> None:
    """Ten degrees off is meant."""
    asked = tilted(10.0)
    assert tidy_pull(solids.box(40.0, 30.0, 25.0), asked) == pytest.approx(asked, abs=1e-12)


@pytest.mark.parametrize("pull", [(0.0, 0.0, 0.0), (math.nan, 0.0, 1.0)])
def test_no_direction_is_refused(pull: Vector) -> None:
    """Zero and what is not a number are no pulls."""
    with pytest.raises(ValueError, match="pull"):
        tidy_pull(solids.box(10.0, 10.0, 10.0), pull)
