"""What others leave bare of triangles in one plane, against a general library for shapes in the plane."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from claybed.geometry.flat_cover import bare_areas
from claybed.geometry.lattice import Lattice

REACH = 4000


def tossed(count: int, size: int, seed: int) -> Lattice:
    """Triangles (count, 3, 2) of about one size, lying as they fell; one has no area."""
    rng = np.random.default_rng(seed)
    corners: Lattice = rng.integers(0, REACH, (count, 1, 2)) + rng.integers(-size, size + 1, (count, 3, 2))
    corners[-1] = corners[-1, 0]
    return corners


@pytest.mark.parametrize(("upper", "lower"), [((40, 900), (40, 900)), ((3, 4000), (600, 250))])
def test_what_is_bare_agrees_with_shapes_of_a_general_library(
    upper: tuple[int, int], lower: tuple[int, int]
) -> None:
    """Triangles that overlap any way leave of one another what Shapely says their union leaves, to rounding;
    where all of that would be little enough, no less is looked for.
    """
    corners = np.concatenate([tossed(*upper, seed=5), tossed(*lower, seed=6)])
    side = np.arange(len(corners)) < upper[0]
    flat = shapely.polygons(corners)
    expected = np.zeros(len(corners))
    for one in (side, ~side):
        expected[one] = shapely.area(shapely.difference(flat[one], shapely.union_all(flat[~one])))
    found = bare_areas(corners, side, np.zeros(len(corners)))
    assert found == pytest.approx(expected, abs=0.1)
    assert (expected < 0.1).sum() > 1 and (expected > 1000.0).sum() > 3
    enough = np.full(len(corners), 1e9)
    assert bare_areas(corners, side, enough) == pytest.approx(shapely.area(flat))
