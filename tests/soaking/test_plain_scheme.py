"""The kernels against the same scheme written a second time in plain numpy and scipy."""

from __future__ import annotations

import numpy as np

from benchmarks.local_wall import PlainSoaking
from claybed.soaking.simulate import Soaking
from tests.soaking.columns import deep_block, plain_soil


def test_kernels_and_plain_arrays_agree() -> None:
    """Two casts in a block, through curved walls and a damp mold: walls and water are the same both ways."""
    grid, soil = deep_block(3.0), plain_soil(rate_mm2_per_min=2.0, wet_share=0.2)
    fast, plain = Soaking(grid, soil), PlainSoaking(grid, soil)
    for _ in range(2):
        ours, theirs = fast.cast(20.0, 0.0, steps=30), plain.cast(20.0, 0.0, steps=30)
        assert np.abs(ours.wall_mm - theirs.wall_mm).max() < 1e-4
        assert abs(ours.given_ml / theirs.given_ml - 1.0) < 1e-5
    assert fast.full.any() and np.array_equal(fast.full, plain.full)
    assert abs(plain.total_mm3 / fast.total_mm3 - 1.0) < 1e-6
