"""Plan triangles sorted into a grid of square cells, so that only neighbours need be compared."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.lattice import Lattice

MOST_CELLS_A_SIDE = 700
TRIANGLES_A_CELL = 4.0


class Bins(NamedTuple):
    """A grid of `gx` by `gy` cells of side `cell` from (`x0`, `y0`), lattice units.

    Cell number iy * gx + ix holds triangles items[starts[c]:starts[c + 1]]: all whose plan bounds touch it.
    """

    x0: int
    y0: int
    cell: int
    gx: int
    gy: int
    starts: NDArray[np.int64]
    items: NDArray[np.int32]


def bin_triangles(plan: Lattice) -> Bins:
    """Sort plan triangles (m, 6) x0 y0 x1 y1 x2 y2 into cells; m at least 1, else ValueError."""
    if not len(plan):
        raise ValueError("there are no triangles to sort")
    plan = np.ascontiguousarray(plan)
    x0, y0, x1, y1 = plan_reach(plan)
    wide, deep = x1 - x0, y1 - y0
    side = int(np.clip(np.sqrt(len(plan) / TRIANGLES_A_CELL), 1, MOST_CELLS_A_SIDE))
    cell = max(wide, deep, 1) // side + 1
    gx, gy = wide // cell + 1, deep // cell + 1
    starts, items = _fill(plan, x0, y0, cell, gx, gy)
    return Bins(x0, y0, cell, gx, gy, starts, items)


@njit(cache=True, nogil=True)
def plan_reach(tri: Lattice) -> tuple[int, int, int, int]:
    """Least x, least y, largest x and largest y of plan triangles (m, 6), m at least 1."""
    x0, y0, x1, y1 = tri[0, 0], tri[0, 1], tri[0, 0], tri[0, 1]
    for k in range(tri.shape[0]):
        for v in range(0, 6, 2):
            x0, x1 = min(x0, tri[k, v]), max(x1, tri[k, v])
            y0, y1 = min(y0, tri[k, v + 1]), max(y1, tri[k, v + 1])
    return x0, y0, x1, y1


@njit(cache=True, nogil=True, error_model="numpy")
def _fill(
    tri: Lattice, x0: int, y0: int, cell: int, gx: int, gy: int
) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    span = np.empty((tri.shape[0], 4), np.int32)
    for k in range(tri.shape[0]):
        span[k, 0] = (min(tri[k, 0], tri[k, 2], tri[k, 4]) - x0) // cell
        span[k, 1] = (max(tri[k, 0], tri[k, 2], tri[k, 4]) - x0) // cell
        span[k, 2] = (min(tri[k, 1], tri[k, 3], tri[k, 5]) - y0) // cell
        span[k, 3] = (max(tri[k, 1], tri[k, 3], tri[k, 5]) - y0) // cell
    found: tuple[NDArray[np.int64], NDArray[np.int32]] = sort_into_cells(span, gx, gx * gy)
    return found


@njit(cache=True, nogil=True, error_model="numpy")
def sort_into_cells(
    span: NDArray[np.int32], gx: int, cells: int
) -> tuple[NDArray[np.int64], NDArray[np.int32]]:
    """Rows of `span` (m, 4), first and last column and first and last row of cells, sorted by cell.

    Cell number row * `gx` + column, below `cells`, has items[starts[c]:starts[c + 1]], ascending.
    """
    starts = np.zeros(cells + 1, np.int64)
    for k in range(span.shape[0]):
        for iy in range(span[k, 2], span[k, 3] + 1):
            for ix in range(span[k, 0], span[k, 1] + 1):
                starts[iy * gx + ix + 1] += 1
    for c in range(cells):
        starts[c + 1] += starts[c]
    items = np.empty(starts[cells], np.int32)
    at = starts[:-1].copy()
    for k in range(span.shape[0]):
        for iy in range(span[k, 2], span[k, 3] + 1):
            for ix in range(span[k, 0], span[k, 1] + 1):
                c = iy * gx + ix
                items[at[c]] = k
                at[c] += 1
    return starts, items


def near_any(plan: Lattice, bins: Bins, reach: int) -> NDArray[np.bool_]:
    """Which plan triangles (m, 6) may lie within `reach` lattice units of one in `bins`; misses none that
    does.
    """
    flags: NDArray[np.bool_] = _near(np.ascontiguousarray(plan), *bins[:6], reach)
    return flags


@njit(cache=True, nogil=True)
def _near(
    tri: Lattice, x0: int, y0: int, cell: int, gx: int, gy: int, starts: NDArray[np.int64], reach: int
) -> NDArray[np.bool_]:
    flags = np.zeros(tri.shape[0], np.bool_)
    for k in range(tri.shape[0]):
        ax = (min(tri[k, 0], tri[k, 2], tri[k, 4]) - reach - x0) // cell
        bx = (max(tri[k, 0], tri[k, 2], tri[k, 4]) + reach - x0) // cell
        ay = (min(tri[k, 1], tri[k, 3], tri[k, 5]) - reach - y0) // cell
        by = (max(tri[k, 1], tri[k, 3], tri[k, 5]) + reach - y0) // cell
        for iy in range(max(ay, 0), min(by, gy - 1) + 1):
            for ix in range(max(ax, 0), min(bx, gx - 1) + 1):
                if starts[iy * gx + ix + 1] > starts[iy * gx + ix]:
                    flags[k] = True
                    break
            if flags[k]:
                break
    return flags
