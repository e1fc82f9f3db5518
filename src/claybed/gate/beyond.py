"""What a bore adds on the far side of an object that is thinner than the bore reaches into it."""

from __future__ import annotations

import numpy as np

from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.voxels import solid_fraction

CELL_MM = 0.5
# A wide bore takes wider cells.
MOST_ACROSS = 80.0
HALF = 0.5


def beyond_ml(
    placed: Mesh, at_mm: Floats, out: Floats, radius_mm: float, depth_mm: float, flare_ratio: float
) -> float:
    """How much of a bore stands on the far side of what it goes through, ml: in a hole of the object, in its
    inside, or behind a thin wall. What laps over the object's edge, with nothing of it further out, is none.

    The bore begins `depth_mm` inside `at_mm` (3,), where it is `radius_mm` wide at its narrowest, and widens
    by `flare_ratio` along `out` (3,), unit; it is measured up to `at_mm`, on cells of half a millimetre.
    """
    if depth_mm <= 0.0:
        return 0.0
    aside = np.cross(np.eye(3)[int(np.argmin(np.abs(out)))], out)
    aside /= np.linalg.norm(aside)
    turn = np.stack([aside, np.cross(out, aside), out])
    turned = placed.moved(turn, np.zeros(3), frame="bore")
    wide_mm = radius_mm + depth_mm * flare_ratio
    cell_mm = max(CELL_MM, 2.0 * wide_mm / MOST_ACROSS)
    across = int(np.ceil(2.0 * wide_mm / cell_mm))
    along = max(int(np.ceil(depth_mm / cell_mm)), 1)
    low = turn @ at_mm - np.array([0.5 * across * cell_mm, 0.5 * across * cell_mm, along * cell_mm])
    inside = solid_fraction(turned, low, cell_mm, (across, across, along), lines=2) >= HALF
    covered = np.maximum.accumulate(inside[:, :, ::-1], axis=2)[:, :, ::-1]
    middle = (np.arange(across) + 0.5 - 0.5 * across) * cell_mm
    off = np.hypot(middle[:, None], middle[None, :])[:, :, None]
    within = depth_mm - (along - np.arange(along) - 0.5) * cell_mm
    bore = (off <= radius_mm + within * flare_ratio) & (within > 0.0)
    return float((bore & covered & ~inside).sum()) * cell_mm**3 / 1000.0
