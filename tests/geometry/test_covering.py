"""Faces that lie on one another all over, and faces that only seem to."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.covering import laid_on
from claybed.geometry.lattice import Lattice

SIDE = 40960
SQUARE = np.array([[0, 0, 0], [SIDE, 0, 0], [SIDE, SIDE, 0], [0, SIDE, 0]])
ONE_WAY = SQUARE[np.array([[0, 1, 2], [0, 2, 3]])]
OTHER_WAY = SQUARE[np.array([[0, 1, 3], [1, 2, 3]])]
# Upright and slanting planes as well: whole-numbered axes (u, v) of a square.
PLANES = [((1, 0, 0), (0, 1, 0)), ((0, 1, 0), (0, 0, 1)), ((1, 2, 0), (0, 0, 1)), ((1, 0, 1), (-1, 2, 1))]


def laid_in(faces: Lattice, plane: tuple[tuple[int, ...], tuple[int, ...]]) -> Lattice:
    """Faces (m, 3, 3) of the plane z = 0 in another one, along its two axes."""
    placed: Lattice = faces[:, :, :1] * np.array(plane[0]) + faces[:, :, 1:2] * np.array(plane[1])
    return placed


@pytest.mark.parametrize("plane", PLANES)
def test_a_square_covers_itself_however_it_is_cut(plane: tuple[tuple[int, ...], tuple[int, ...]]) -> None:
    """Both sides of one square, each cut along its own diagonal, are covered; looking the same way they are
    not, nor one step apart.
    """
    upper, lower = laid_in(ONE_WAY, plane), laid_in(OTHER_WAY[:, ::-1], plane)
    assert laid_on(np.concatenate([upper, lower])).all()
    assert not laid_on(np.concatenate([upper, lower[:, ::-1]])).any()
    across = np.cross(*plane)
    off = across // np.gcd.reduce(across)
    assert not laid_on(np.concatenate([upper, lower + off])).any()


def test_a_hole_is_not_made_up_for_by_what_lies_twice() -> None:
    """A square that lacks a quarter and has another quarter twice leaves open what it lacks: as much area is
    not enough. Faces whole over what is there count as covered.
    """
    half = SIDE // 2
    quarter = np.stack([ONE_WAY[:, :, 0] // 2, ONE_WAY[:, :, 1] // 2, ONE_WAY[:, :, 2]], axis=2)
    quarters = [quarter + np.array([x, y, 0]) for x in (0, half) for y in (0, half)]
    lower = np.concatenate([q[:, ::-1] for q in (*quarters[:3], quarters[0])])
    flags = laid_on(np.concatenate([*quarters, lower]))
    assert flags.tolist() == [True] * 6 + [False] * 2 + [True] * 8


@pytest.mark.parametrize(("steps", "ok"), [(1, True), (64, False)])
def test_rounding_along_an_edge_is_no_hole(steps: int, ok: bool) -> None:
    """A cover that ends one step of the lattice short is one; a sixteenth of a millimetre short it is not."""
    short = OTHER_WAY[:, ::-1].copy()
    short[short[:, :, 0] == SIDE] -= np.array([steps, 0, 0])
    flags = laid_on(np.concatenate([ONE_WAY, short]))
    assert flags[0] == ok
    assert flags[2:].all()


def test_nothing_lies_on_nothing() -> None:
    """Without faces there is nothing to cover, and one alone is bare."""
    assert laid_on(np.zeros((0, 3, 3), np.int64)).shape == (0,)
    assert not laid_on(ONE_WAY).any()
