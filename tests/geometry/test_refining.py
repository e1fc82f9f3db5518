"""Shorter edges on the same surface."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from claybed.geometry.mesh import Mesh
from claybed.geometry.refining import refined
from tests.pieces import solids


def edges_mm(mesh: Mesh) -> np.ndarray:
    """Lengths of all sides of all faces."""
    c = mesh.corners_mm
    return np.linalg.norm(c - np.roll(c, -1, axis=1), axis=2)


@pytest.mark.parametrize("mesh", [solids.box(30.0, 20.0, 0.5), solids.frustum(5.0, 12.0, 40.0)])
def test_edges_become_short_and_the_solid_stays(mesh: Mesh) -> None:
    """No edge is longer than asked, every edge keeps its mate, and area and volume stay."""
    fine = refined(mesh, 3.0)
    assert edges_mm(fine).max() <= 3.0 + 1e-9
    assert fine.volume_mm3 == pytest.approx(mesh.volume_mm3, rel=1e-12)
    assert fine.area_mm2 == pytest.approx(mesh.area_mm2, rel=1e-12)
    sides = [tuple(s) for f in fine.faces.tolist() for s in zip(f, f[1:] + f[:1], strict=True)]
    count = Counter(sides)
    assert all(count[b, a] == n == 1 for (a, b), n in count.items())
    assert np.array_equal(fine.vertices_mm[: len(mesh.vertices_mm)], mesh.vertices_mm)


def test_a_mesh_that_is_fine_enough_stays_itself() -> None:
    """Nothing is cut when no edge is too long; a length of nothing is refused."""
    ball = solids.sphere(10.0)
    assert np.array_equal(refined(ball, 5.0).faces, ball.faces)
    with pytest.raises(ValueError, match="above 0"):
        refined(ball, 0.0)
