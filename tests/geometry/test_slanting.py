"""Release along slanted pulls is the same question as along z, asked of a turned solid."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.lattice import UNITS_PER_MM, pull_rotation
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.slanting import lock_toward, nearest_whole_pull, whole_pull
from claybed.geometry.stl import snapped_solid

CUBE_FACES = np.array(
    [
        [0, 2, 1], [0, 3, 2], [4, 5, 6], [4, 6, 7], [0, 1, 5], [0, 5, 4],
        [1, 2, 6], [1, 6, 5], [2, 3, 7], [2, 7, 6], [3, 0, 4], [3, 4, 7],
    ]
)  # fmt: skip
CUBE = np.array([[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0], [0, 0, 1], [1, 0, 1], [1, 1, 1], [0, 1, 1]])
S2, S3 = np.sqrt(0.5), np.sqrt(1.0 / 3.0)
PULLS = [(1.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, -1.0, 0.0), (0.0, 0.0, -1.0),
         (S2, 0.0, S2), (S3, -S3, S3), (-S3, -S3, -S3)]  # fmt: skip


def box(low: tuple[float, float, float], size: tuple[float, float, float], turn: np.ndarray) -> LatticeSolid:
    """A box in a frame turned by `turn`, on the lattice."""
    corners = (np.array(low) + CUBE * np.array(size)) @ turn
    return snapped_solid(corners[CUBE_FACES].reshape(-1, 3))[0]


@pytest.mark.parametrize("pull", PULLS)
def test_a_box_over_a_box_leaves_and_one_under_it_does_not(pull: tuple[float, float, float]) -> None:
    """With the pull for up, the upper of two boxes leaves; the lower one meets the upper one's overlap."""
    turn = pull_rotation(pull)
    low = box((-20.0, -15.0, 0.0), (40.0, 30.0, 10.0), turn)
    high = box((5.0, 5.0, 12.0), (50.0, 50.0, 7.0), turn)
    assert lock_toward(high, [low], pull).pairs == 0
    lock = lock_toward(low, [high], pull)
    assert lock.pairs > 0
    # The plan overlap is 15 x 10 mm, in which the widest disk is 10 mm; a slanted pull may tell more.
    square = sorted(np.abs(pull)) == [0.0, 0.0, 1.0]
    assert lock.lateral_mm == pytest.approx(10.0, abs=0.01) if square else lock.lateral_mm >= 9.99
    # From the lower box's bottom to the upper box's top.
    assert lock.height_mm == pytest.approx(19.0, abs=0.05)
    at = turn @ np.array(lock.at_mm)
    assert 4.9 <= at[0] <= 20.1
    assert 4.9 <= at[1] <= 15.1


def test_along_x_it_is_the_same_as_along_z_after_a_turn() -> None:
    """Lateral measure and place agree with the same two solids turned so that the pull is z."""
    rng = np.random.default_rng(5)
    spikes = [
        snapped_solid((rng.uniform(-9, 9, (1, 3)) + rng.uniform(-4, 4, (4, 3)))[f].reshape(-1, 3))[0]
        for f in [np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [0, 3, 2]])] * 12
    ]

    def outward(solid: LatticeSolid) -> LatticeSolid:
        return (
            solid
            if solid.six_volumes > 0
            else LatticeSolid(solid.points, solid.faces[:, ::-1].copy(), solid.origin)
        )

    spikes = [outward(s) for s in spikes]
    locked = 0
    for one, two in zip(spikes[::2], spikes[1::2], strict=True):
        along_x = lock_toward(one, [two], (1.0, 0.0, 0.0))

        def turned(s: LatticeSolid) -> LatticeSolid:
            p = (s.points / UNITS_PER_MM)[:, [1, 2, 0]]
            return LatticeSolid(np.rint(p * UNITS_PER_MM).astype(np.int64), s.faces, s.origin)

        along_z = lock_toward(turned(one), [turned(two)], (0.0, 0.0, 1.0))
        assert (along_x.pairs > 0) == (along_z.pairs > 0)
        locked += along_x.pairs > 0
        assert along_x.lateral_mm == pytest.approx(along_z.lateral_mm, abs=0.01)
        assert along_x.height_mm == pytest.approx(along_z.height_mm, abs=0.02)
    assert locked > 0


def test_faces_a_hair_into_one_another_are_rounding() -> None:
    """A box that stands 0.004 mm into another leaves within 0.01 mm of slack, and not without."""
    low = box((0.0, 0.0, 0.0), (10.0, 10.0, 10.0), np.eye(3))
    high = box((2.0, 2.0, 9.996), (30.0, 30.0, 5.0), np.eye(3))
    assert lock_toward(high, [low], (0.0, 0.0, 1.0)).lateral_mm == pytest.approx(8.0, abs=0.01)
    assert lock_toward(high, [low], (0.0, 0.0, 1.0), slack_mm=0.01).pairs == 0
    assert lock_toward(high, [low], (0.0, 0.0, 1.0), slack_mm=0.002).pairs > 0
    assert lock_toward(low, [high], (0.0, 0.0, 1.0), slack_mm=0.01).pairs > 0


def test_whole_pulls_are_found_and_others_refused() -> None:
    """Directions of small whole numbers are read exactly; the nearest one is offered for others."""
    assert whole_pull((0.6, 0.0, 0.8)) == (3, 0, 4)
    assert whole_pull((0.0, 0.0, -1.0)) == (0, 0, -1)
    with pytest.raises(ValueError, match="small whole numbers"):
        whole_pull((0.12345, 0.54321, 0.83))
    near = nearest_whole_pull((0.12345, 0.54321, 0.83))
    assert whole_pull(near)
    assert (
        np.degrees(
            np.arccos(
                np.dot(near, np.array([0.12345, 0.54321, 0.83]) / np.linalg.norm([0.12345, 0.54321, 0.83]))
            )
        )
        < 5.0
    )
