"""Marked corners and marked triangles, counted as by hand."""

from __future__ import annotations

import numpy as np

from claybed.geometry.flagged import corners_of, marked_corners


def test_corners_are_counted_and_found() -> None:
    """What numpy's own indexing says, for random triangles, of both kinds of whole numbers."""
    rng = np.random.default_rng(3)
    for kind in (np.int32, np.int64):
        faces = rng.integers(0, 40, (60, 3)).astype(kind)
        marked, which = rng.random(40) < 0.4, rng.random(60) < 0.3
        assert np.array_equal(marked_corners(faces, marked), marked[faces].sum(axis=1))
        wanted = np.zeros(40, bool)
        wanted[faces[which]] = True
        assert np.array_equal(corners_of(faces, which, 40), wanted)
        assert len(marked_corners(faces[:0], marked)) == 0
