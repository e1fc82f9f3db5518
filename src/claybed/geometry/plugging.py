"""Plugs: the space that locks below a level and is free along a pull, opened out so that plaster leaves it.

Seen along the pull, what is to be freed has a floor. A plug is all that lies over that floor and over the
cone that widens from it, so that its sides are drafted wherever it does not touch the object.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy import ndimage

from claybed.geometry.depth import DepthRaster, axis_frame
from claybed.geometry.mesh import Floats, Ints, Mesh

Flags = NDArray[np.bool_]
LINES = 192
# Looked at again, lines stand so close or closer, but no more of them than so many: walls that a plug passes
# are a few millimetres thick.
CLOSE_MM = 0.4
MOST_LINES = 640
# Locked space lower than this, and patches of fewer lines, are films between two roundings of one surface.
FILM_MM = 0.1
LEAST_LINES = 6
# The floor goes this far into the object, and this many lines into its walls, so that the object itself cuts
# the plug's end.
SUNK_MM = 1.5
GROWN_LINES = 3
# A wall that falls by this beyond its crest is the other side of it.
FALLS_MM = 0.5
THINNED = 3


@dataclass(frozen=True, slots=True, eq=False)
class Floor:
    """The floor of locked space along a pull.

    `rotation` (3, 3) into the frame where the pull is z; `x_mm` (c,) and `y_mm` (r,) where the lines stand
    there; `height_mm` (r, c) of the floor, sunk into the object where it rests on it, inf where nothing is to
    be freed; `volume_mm3` over it; `top_mm` (r, c) how high the object stands, None where that is not known.
    """

    rotation: Floats
    x_mm: Floats
    y_mm: Floats
    height_mm: Floats
    volume_mm3: float
    top_mm: Floats | None = None


def locked_floor(
    thing: Mesh,
    filled: Mesh,
    pull: Floats,
    *,
    margin_mm: float,
    taken: Mesh | None = None,
    closely: bool = False,
) -> Floor:
    """The floor of what `filled` holds beyond `thing` and what is free of `thing` along `pull` (3,).

    `filled` is the object with all that locks, less what has been freed already, and less all that lies over
    the underside of `taken`; all in one frame. Lines reach `margin_mm` beyond the plan of `filled`.
    Looked at `closely`, once more over what was found, the walls round it are known as well.
    """
    plan = filled.vertices_mm @ axis_frame(pull)[:2].T
    rasters = [None if mesh is None else DepthRaster(mesh, LINES) for mesh in (thing, filled, taken)]
    whole = _floor(rasters, pull, plan.min(axis=0) - margin_mm, plan.max(axis=0) + margin_mm, LINES)
    rows, columns = np.nonzero(np.isfinite(whole.height_mm))
    if not closely or not len(rows):
        return replace(whole, top_mm=None)
    low = np.array([whole.x_mm[columns.min()], whole.y_mm[rows.min()]]) - margin_mm
    high = np.array([whole.x_mm[columns.max()], whole.y_mm[rows.max()]]) + margin_mm
    lines = int(np.clip(np.ceil((high - low).max() / CLOSE_MM), LINES, MOST_LINES))
    closer = _floor(rasters, pull, low, high, lines)
    return closer if np.isfinite(closer.height_mm).any() else whole


def _floor(
    rasters: Sequence[DepthRaster | None], pull: Floats, low: Floats, high: Floats, lines: int
) -> Floor:
    """The floor in a square over a rectangle of the plan, corners (2,) mm, on so many lines; `rasters` of
    object, object with fill, and what is taken already.
    """
    side_mm = float((high - low).max())
    centre = (float(low[0] + high[0]) / 2.0, float(low[1] + high[1]) / 2.0)
    thing, filled, taken = (
        None if one is None else one.window(pull, centre, side_mm, side_mm / lines) for one in rasters
    )
    assert thing is not None and filled is not None
    whole = filled
    top = np.nan_to_num(thing.top_mm, nan=-np.inf)
    ceiling = np.full(top.shape, np.inf)
    if taken is not None:
        ceiling = np.nan_to_num(taken.bottom_mm, nan=np.inf)
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
    return Floor(grid.rotation, x, y, height, volume, top)


def opened_out(floor: Floor, *, taper_deg: float) -> Floor:
    """The plug's underside: the floor, and from its rim a cone that widens by `taper_deg` (0 < taper < 90) on
    each side; on every third line.
    """
    if not 0.0 < taper_deg < 90.0:
        raise ValueError(f"a plug tapers by more than 0 and less than 90 degrees, got {taper_deg}")
    spacing_mm = float(floor.x_mm[1] - floor.x_mm[0])
    low = _grown(floor.height_mm, floor.top_mm)
    field: Floats = np.ascontiguousarray(low[1::THINNED, 1::THINNED])
    widen(field, THINNED * spacing_mm / np.tan(np.radians(taper_deg)))
    return replace(
        floor, x_mm=floor.x_mm[1::THINNED], y_mm=floor.y_mm[1::THINNED], height_mm=field, top_mm=None
    )


def _grown(height_mm: Floats, top_mm: Floats | None) -> Floats:
    """A floor (r, c) grown by a few lines into the walls round it, as far as these do not fall again: beyond
    the crest of a thin wall it would leave sharp plaster on the other side.
    """
    if top_mm is None:
        low: Floats = ndimage.minimum_filter(height_mm, size=2 * GROWN_LINES + 1, mode="nearest")
        return low
    low, crest = height_mm, top_mm
    beyond = np.zeros(low.shape, bool)
    for _ in range(GROWN_LINES):
        known = np.isfinite(low)
        reached = ndimage.minimum_filter(np.where(known, crest, np.inf), size=3, mode="nearest")
        beyond |= np.isfinite(reached) & ~known & (reached > top_mm + FALLS_MM)
        wider = ndimage.minimum_filter(low, size=3, mode="nearest")
        low = np.where(beyond, np.inf, wider)
        crest = np.where(known, crest, np.maximum(top_mm, reached))
    # Its wall stands up to a thinned line further out.
    near = ndimage.maximum_filter(beyond, size=2 * THINNED + 1, mode="nearest")
    return np.where(near & ~np.isfinite(height_mm), np.inf, low)


def slab_over(
    floor: Floor, level_mm: float, *, spare_mm: float = 0.0
) -> tuple[Floats, NDArray[np.int64]] | None:
    """The closed solid between a floor and a plane `level_mm`, as corners (n, 3) mm in the floor's frame and
    faces (m, 3) outward; None where the floor never comes below the plane.

    It reaches a millimetre over the plane, and is no thicker than that where the floor is not below it. With
    `spare_mm` it reaches so much higher and follows the floor so far, so that steep sides meet the plane
    where they are, not at the next line.
    """
    field = floor.height_mm
    below = field < level_mm
    if not below.any():
        return None
    rows, columns = (np.flatnonzero(below.any(axis=k)) for k in (1, 0))
    r = slice(max(int(rows[0]) - 2, 0), int(rows[-1]) + 3)
    c = slice(max(int(columns[0]) - 2, 0), int(columns[-1]) + 3)
    top_mm = level_mm + spare_mm
    low = np.minimum(field[r, c], top_mm)
    x, y = np.meshgrid(floor.x_mm[c], floor.y_mm[r])
    m, n = low.shape
    bottom = np.stack([x, y, low], axis=2).reshape(-1, 3)
    top = np.stack([x, y, np.full_like(low, top_mm + 1.0)], axis=2).reshape(-1, 3)
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
