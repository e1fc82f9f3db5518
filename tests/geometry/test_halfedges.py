"""Sides of triangles are matched as a search through all of them would match them."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.halfedges import match_sides, side_ends


@pytest.mark.parametrize("seed", range(20))
def test_sides_meet_as_a_search_finds_them(seed: int) -> None:
    """On random triangles: a side is lone when none runs back, twice when another runs along it."""
    rng = np.random.default_rng(seed)
    faces = np.array([rng.choice(9, 3, replace=False) for _ in range(14)])
    every = [(int(f[k]), int(f[(k + 1) % 3])) for f in faces for k in range(3)]
    got = match_sides(faces, 9)
    assert got.lone.tolist() == [i for i, (u, v) in enumerate(every) if (v, u) not in every]
    assert got.twice.tolist() == [i for i, e in enumerate(every) if every.count(e) > 1]
    mated = np.flatnonzero(got.mate >= 0)
    assert all(every[got.mate[i]] == every[i][::-1] for i in mated.tolist())
    assert np.array_equal(side_ends(faces, np.arange(len(every))), np.array(every))


def test_no_triangles_have_no_sides() -> None:
    """An empty list of triangles is matched to nothing."""
    got = match_sides(np.zeros((0, 3), np.int32), 5)
    assert (len(got.mate), len(got.lone), len(got.twice)) == (0, 0, 0)
