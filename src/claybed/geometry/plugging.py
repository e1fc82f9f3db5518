"""Plugs: the space that locks below a level and is free along a pull, opened out so that plaster leaves it.

Seen along the pull, what is to be freed has a floor. A plug is all that lies over that floor and over the
cone that widens from it, so that its sides are drafted wherever it does not touch the object.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy import ndimage

from claybed.geometry.depth import Columns, DepthRaster, axis_frame
from claybed.geometry.mesh import Floats, Ints, Mesh

Flags = NDArray[np.bool_]
LINES = 192
# Locked space lower than this, and patches of fewer lines, are films between two roundings of one surface.
FILM_MM = 0.1
LEAST_LINES = 6
# The floor goes this far into the object, and this many lines into its walls, so that the object itself cuts
# the plug's end.
SUNK_MM = 1.5
GROWN_LINES = 3
THINNED = 3


@dataclass(frozen=True, slots=True, eq=False)
class Floor:
    """The floor of locked space along a pull.

    `rotation` (3, 3) into the frame where the pull is z; `x_mm` (c,) and `y_mm` (r,) where the lines stand
    there; `height_mm` (r, c) of the floor, sunk into the object where it rests on it, inf where nothing is to
    be freed; `volume_mm3` over it.
    """

    rotation: Floats
    x_mm: Floats
    y_mm: Floats
    height_mm: Floats
    volume_mm3: float


def locked_floor(
    thing: Mesh, filled: Mesh, pull: Floats, *, margin_mm: float, taken: Mesh | None = None
) -> Floor:
    """The floor of what `filled` holds beyond `thing` and what is free of `thing` along `pull` (3,).

    `filled` is the object with all that locks, less what has been freed already, and less all that lies over
    the underside of `taken`; all in one frame. Lines reach `margin_mm` beyond the plan of `filled`.
    """
    rotation = axis_frame(pull)
    plan = filled.vertices_mm @ rotation[:2].T
    lo, hi = plan.min(axis=0) - margin_mm, plan.max(axis=0) + margin_mm
    side_mm = float((hi - lo).max())
    centre = (float(lo[0] + hi[0]) / 2.0, float(lo[1] + hi[1]) / 2.0)

    def looked_at(mesh: Mesh) -> Columns:
        return DepthRaster(mesh, LINES).window(pull, centre, side_mm, side_mm / LINES)

    whole = looked_at(filled)
    top = np.nan_to_num(looked_at(thing).top_mm, nan=-np.inf)
    ceiling = np.full(top.shape, np.inf)
    if taken is not None:
        ceiling = np.nan_to_num(looked_at(taken).bottom_mm, nan=np.inf)
    height, length = _over(
        whole.start, whole.z_mm, whole.side, top.reshape(-1), ceiling.reshape(-1), FILM_MM, SUNK_MM
    )
    grid = whole.grid
    height = height.reshape(grid.rows, grid.columns)
    label, count = ndimage.label(np.isfinite(height), structure=np.ones((3, 3), bool))
    if count:
        size = np.bincount(label.reshape(-1))
        size[0] = 0
        height = np.where(size[label] >= LEAST_LINES, height, np.inf)
    kept = np.isfinite(height)
    volume = float(length.reshape(kept.shape)[kept].sum()) * grid.spacing_mm**2
    x = np.asarray(grid.origin_mm[0] + (np.arange(grid.columns) + 0.5) * grid.spacing_mm, np.float64)
    y = np.asarray(grid.origin_mm[1] + (np.arange(grid.rows) + 0.5) * grid.spacing_mm, np.float64)
    return Floor(grid.rotation, x, y, height, volume)


def opened_out(floor: Floor, *, taper_deg: float) -> Floor:
    """The plug's underside: the floor, and from its rim a cone that widens by `taper_deg` (0 < taper < 90) on
    each side; on every third line.
    """
    if not 0.0 < taper_deg < 90.0:
        raise ValueError(f"a plug tapers by more than 0 and less than 90 degrees, got {taper_deg}")
    spacing_mm = float(floor.x_mm[1] - floor.x_mm[0])
    low = ndimage.minimum_filter(floor.height_mm, size=2 * GROWN_LINES + 1, mode="nearest")
    field: Floats = np.ascontiguousarray(low[1::THINNED, 1::THINNED])
    widen(field, THINNED * spacing_mm / np.tan(np.radians(taper_deg)))
    return replace(floor, x_mm=floor.x_mm[1::THINNED], y_mm=floor.y_mm[1::THINNED], height_mm=field)


def slab_over(floor: Floor, level_mm: float) -> tuple[Floats, NDArray[np.int64]] | None:
    """The closed solid between a floor and a plane `level_mm`, as corners (n, 3) mm in the floor's frame and
    faces (m, 3) outward; None where the floor never comes below the plane.

    It reaches a millimetre over the plane, and is no thicker than that where the floor is not below it.
    """
    field = floor.height_mm
    below = field < level_mm
    if not below.any():
        return None
    rows, columns = (np.flatnonzero(below.any(axis=k)) for k in (1, 0))
    r = slice(max(int(rows[0]) - 2, 0), int(rows[-1]) + 3)
    c = slice(max(int(columns[0]) - 2, 0), int(columns[-1]) + 3)
    low = np.minimum(field[r, c], level_mm)
    x, y = np.meshgrid(floor.x_mm[c], floor.y_mm[r])
    m, n = low.shape
    bottom = np.stack([x, y, low], axis=2).reshape(-1, 3)
    top = np.stack([x, y, np.full_like(low, level_mm + 1.0)], axis=2).reshape(-1, 3)
    number = np.arange(m * n).reshape(m, n)
    a, b, d, e = number[:-1, :-1], number[:-1, 1:], number[1:, :-1], number[1:, 1:]
    up = np.concatenate(
        [np.stack([a, b, e], axis=2).reshape(-1, 3), np.stack([a, e, d], axis=2).reshape(-1, 3)]
    )
    rim = np.concatenate([number[0, :-1], number[:-1, -1], number[-1, :0:-1], number[:0:-1, 0]])
    following = np.roll(rim, -1)
    over = m * n
    walls = np.concatenate(
        [
            np.stack([rim, following, following + over], axis=1),
            np.stack([rim, following + over, rim + over], axis=1),
        ]
    )
    return np.concatenate([bottom, top]), np.concatenate([up[:, ::-1], up + over, walls])


@njit(cache=True, nogil=True)
def _over(
    start: Ints, z: Floats, side: Ints, top: Floats, ceiling: Floats, film: float, sunk: float
) -> tuple[Floats, Floats]:
    # Lowest height over `top` and under `ceiling` of stretches longer than a film, and their length, line by
    # line.
    lines = start.shape[0] - 1
    low, length = np.full(lines, np.inf), np.zeros(lines)
    for k in range(lines):
        depth = 0
        begin = 0.0
        for c in range(start[k], start[k + 1]):
            if side[c] & 1:
                depth -= 1
                if depth == 0:
                    floor, end = max(begin, top[k]), min(z[c], ceiling[k])
                    if end - floor > film:
                        low[k] = min(low[k], floor - sunk if begin <= top[k] + film else floor)
                        length[k] += end - floor
            else:
                if depth == 0:
                    begin = z[c]
                depth += 1
    return low, length


@njit(cache=True, nogil=True)
def widen(field: Floats, rise_mm: float) -> None:
    """Lower a field (r, c) in place to the cones under it that rise by `rise_mm` >= 0 from line to line."""
    # Swept from two corners until it stands; knight's moves keep the cones round.
    rows, columns = field.shape
    straight, slanted, knight = rise_mm, rise_mm * 1.4142135623730951, rise_mm * 2.23606797749979
    steps = ((0, -1, straight), (-1, 0, straight), (-1, -1, slanted), (-1, 1, slanted))
    leaps = ((-1, -2, knight), (-1, 2, knight), (-2, -1, knight), (-2, 1, knight))
    for _ in range(2):
        for turn in range(2):
            sign = 1 - 2 * turn
            for j0 in range(rows):
                j = j0 if turn == 0 else rows - 1 - j0
                for i0 in range(columns):
                    i = i0 if turn == 0 else columns - 1 - i0
                    best = field[j, i]
                    for dj, di, cost in steps:
                        v, u = j + sign * dj, i + sign * di
                        if 0 <= v < rows and 0 <= u < columns and field[v, u] + cost < best:
                            best = field[v, u] + cost
                    for dj, di, cost in leaps:
                        v, u = j + sign * dj, i + sign * di
                        if 0 <= v < rows and 0 <= u < columns and field[v, u] + cost < best:
                            best = field[v, u] + cost
                    field[j, i] = best
