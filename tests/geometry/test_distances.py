"""Distances on a raster: the same as a general-purpose library gives, to the last bit."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import distance_transform_edt

from claybed.geometry.distances import away_from


@pytest.mark.parametrize("share", [0.9, 0.3, 0.02, 0.002])
@pytest.mark.parametrize("shape", [(37, 61), (1, 40), (40, 1)])
def test_distances_are_those_of_another_library(share: float, shape: tuple[int, int]) -> None:
    """Scattered marks, many and few, wide rasters and single rows: scipy's transform finds the same."""
    rng = np.random.default_rng(5)
    for _ in range(5):
        marked = rng.random(shape) < share
        marked[rng.integers(shape[0]), rng.integers(shape[1])] = True
        assert np.array_equal(away_from(marked), distance_transform_edt(~marked))


def test_nothing_marked_is_endlessly_far() -> None:
    """Without a marked cell there is no distance; with all marked there is none to go."""
    assert np.isinf(away_from(np.zeros((4, 5), bool))).all()
    assert not away_from(np.ones((4, 5), bool)).any()
