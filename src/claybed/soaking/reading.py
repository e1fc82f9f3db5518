"""What a cast map says: values at the corners of the wall, and what stands out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix

from claybed.geometry.mesh import Floats
from claybed.records.soaked import PlasterGrid

# Passes over the neighbours that even out the stairs of the cells; each reaches one edge.
SMOOTHING = 2
# A spare widens by no more than this, mm a mm.
FUNNEL = 0.6
THIN_SHARE, THICK_SHARE = 0.01, 0.99


@dataclass(frozen=True, slots=True)
class Spread:
    """A length over an area: least and most with their places, and what 1, 50 and 99 % of the area lie below.

    Places in mm of the grid's frame.
    """

    least_mm: float
    thin_mm: float
    median_mm: float
    thick_mm: float
    most_mm: float
    least_at_mm: tuple[float, float, float]
    most_at_mm: tuple[float, float, float]


def at_corners(grid: PlasterGrid, patch_values: Floats) -> Floats:
    """Values (patches,) carried to the corners of the wall mesh (n,), by area and evened out a little.

    Corners with no plaster near take the value of the nearest corners that have one; nan if there is none.
    """
    wall = grid.wall
    known = grid.patch_of >= 0
    corners = wall.corners_mm
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.where(known, np.linalg.norm(cross, axis=1) / 2.0, 0.0)
    value = np.where(known, patch_values[np.maximum(grid.patch_of, 0)], 0.0)
    n = len(wall.vertices_mm)
    weight, total = np.zeros(n), np.zeros(n)
    np.add.at(weight, wall.faces, area[:, None])
    np.add.at(total, wall.faces, (area * value)[:, None])
    with np.errstate(invalid="ignore"):
        found = total / weight
    sides = np.concatenate([wall.faces[:, [0, 1]], wall.faces[:, [1, 2]], wall.faces[:, [2, 0]]])
    sides = np.concatenate([sides, sides[:, ::-1]])
    near = coo_matrix((np.ones(len(sides)), (sides[:, 0], sides[:, 1])), shape=(n, n)).tocsr()
    for _ in range(40):
        missing = np.isnan(found)
        if not missing.any():
            break
        count = near @ (~missing).astype(np.float64)
        with np.errstate(invalid="ignore", divide="ignore"):
            spread = (near @ np.where(missing, 0.0, found)) / count
        if not np.isfinite(spread[missing]).any():
            break
        found = np.where(missing, spread, found)
    for _ in range(SMOOTHING):
        good = np.isfinite(found).astype(np.float64)
        around: Floats = np.asarray(near @ np.where(good > 0.0, found, 0.0))
        count = np.asarray(near @ good)
        found = np.where(good > 0.0, (found + around) / (1.0 + count), np.nan)
    return np.asarray(found)


def corner_areas(grid: PlasterGrid) -> Floats:
    """A third of the area of the faces round each corner of the wall mesh, mm²."""
    corners = grid.wall.corners_mm
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area: Floats = np.zeros(len(grid.wall.vertices_mm))
    np.add.at(area, grid.wall.faces, np.linalg.norm(cross, axis=1)[:, None] / 6.0)
    return area


def spread_over(grid: PlasterGrid, value: Floats, area_mm2: Floats, here: NDArray[np.bool_]) -> Spread:
    """How a length at the corners (n,) is spread over the area of those that are `here`.

    Raises ValueError when none of them has a value.
    """
    use = np.flatnonzero(here & np.isfinite(value))
    if not len(use):
        raise ValueError("no corner has a value")
    order = use[np.argsort(value[use], kind="stable")]
    share = np.cumsum(area_mm2[order])
    share = (share - 0.5 * area_mm2[order]) / share[-1]
    thin, median, thick = (float(np.interp(s, share, value[order])) for s in (THIN_SHARE, 0.5, THICK_SHARE))
    low, high = (grid.wall.vertices_mm[order[k]] for k in (0, -1))
    return Spread(
        least_mm=float(value[order[0]]),
        thin_mm=thin,
        median_mm=median,
        thick_mm=thick,
        most_mm=float(value[order[-1]]),
        least_at_mm=(float(low[0]), float(low[1]), float(low[2])),
        most_at_mm=(float(high[0]), float(high[1]), float(high[2])),
    )


def beside_gate(grid: PlasterGrid, gate_at_mm: Floats, bore_mm: float | None) -> NDArray[np.bool_]:
    """Which corners of the wall (n,) belong to the gate, whose clay is trimmed off.

    What lies beyond the place where the gate meets the object, towards the opening; with a round bore only
    what is near its axis, wider towards the opening as a funnel is.
    """
    away = grid.wall.vertices_mm - gate_at_mm
    along = away @ grid.up
    beyond = along > -1e-6
    if bore_mm is None:
        return np.asarray(beyond)
    aside = np.linalg.norm(away - along[:, None] * grid.up, axis=1)
    return np.asarray(beyond & (aside < 0.5 * bore_mm + grid.cell_mm + FUNNEL * along))
