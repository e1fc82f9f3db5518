"""Heights at the corners of plan cells, on the faces that cover them."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.lattice import Lattice
from claybed.geometry.mesh import Bytes

# A corner this near to a face's edge takes the edge's height, so that faces that meet in an edge agree;
# further outside, the cell is a sliver that reaches over to other faces.
ON_EDGE_UNITS = 1.0
# A cell this thin is rounding: it makes no step of its own as small as this.
THIN_UNITS = 2
THIN_STEP_UNITS = 64


def cell_heights(cells: Lattice, corners: NDArray[np.int64], faces: Lattice, origin: Bytes) -> Lattice:
    """Heights (m, 3) at the corners of plan cells (m, 3, 2) on the faces `faces` (m, 3, 3) that cover them.

    A corner at a face's corner or on its edge takes the height there; any other takes the plane's, held
    between the face's lowest and highest corner. `corners` (m, 3) are plan point numbers, `origin` (m,) the
    faces'. A sliver that reaches off its face takes what cells of the same origin have at that point, the
    nearest; no sliver makes a small step of its own.
    """
    z: Lattice
    z, off, thin = _heights(np.ascontiguousarray(cells), np.ascontiguousarray(faces))
    unsure = off | thin[:, None]
    if not unsure.any():
        return z
    _settle(z, np.ascontiguousarray(corners), origin, off, unsure)
    return z


@njit(cache=True, nogil=True)
def _settle(
    z: Lattice,
    corners: NDArray[np.int64],
    origin: Bytes,
    off: NDArray[np.bool_],
    unsure: NDArray[np.bool_],
) -> None:
    # All corners at a plan point where one is unsure stand in one list, in order of their cells.
    count = corners.max() + 1
    asked = np.zeros(count, np.bool_)
    for k in range(corners.shape[0]):
        for v in range(3):
            asked[corners[k, v]] |= unsure[k, v]
    starts = np.zeros(count + 1, np.int64)
    for k in range(corners.shape[0]):
        for v in range(3):
            starts[corners[k, v] + 1] += asked[corners[k, v]]
    for p in range(count):
        starts[p + 1] += starts[p]
    items = np.empty(starts[count], np.int64)
    at = starts[:-1].copy()
    for k in range(corners.shape[0]):
        for v in range(3):
            p = corners[k, v]
            if asked[p]:
                items[at[p]] = 3 * k + v
                at[p] += 1
    given = z.copy()
    for k in range(corners.shape[0]):
        for v in range(3):
            if not unsure[k, v]:
                continue
            p, guess = corners[k, v], given[k, v]
            if off[k, v]:
                found, least = guess, np.iinfo(np.int64).max
                for i in items[starts[p] : starts[p + 1]]:
                    row, column = i // 3, i % 3
                    away = abs(given[row, column] - guess)
                    if origin[row] == origin[k] and not off[row, column] and away < least:
                        found, least = given[row, column], away
                guess = found
            level, least = guess, np.iinfo(np.int64).max
            for i in items[starts[p] : starts[p + 1]]:
                row, column = i // 3, i % 3
                away = abs(given[row, column] - guess)
                if not unsure[row, column] and away < least:
                    level, least = given[row, column], away
            z[k, v] = level if abs(level - guess) <= THIN_STEP_UNITS else guess


@njit(cache=True, nogil=True, error_model="numpy")
def _heights(cells: Lattice, faces: Lattice) -> tuple[Lattice, NDArray[np.bool_], NDArray[np.bool_]]:
    z = np.empty(cells.shape[:2], np.int64)
    off = np.zeros(cells.shape[:2], np.bool_)
    thin = np.zeros(cells.shape[0], np.bool_)
    for k in range(cells.shape[0]):
        f = faces[k]
        ux, uy = cells[k, 1, 0] - cells[k, 0, 0], cells[k, 1, 1] - cells[k, 0, 1]
        vx, vy = cells[k, 2, 0] - cells[k, 0, 0], cells[k, 2, 1] - cells[k, 0, 1]
        reach = max(abs(ux), abs(uy), abs(vx), abs(vy), abs(vx - ux), abs(vy - uy))
        thin[k] = ux * vy - uy * vx <= THIN_UNITS * reach
        for v in range(3):
            x, y = float(cells[k, v, 0]), float(cells[k, v, 1])
            best, height = np.inf, 0.0
            inside = True
            for e in range(3):
                g = (e + 1) % 3
                # Both faces at an edge walk it the same way, and so round alike.
                if f[e, 0] < f[g, 0] or (f[e, 0] == f[g, 0] and f[e, 1] < f[g, 1]):
                    i, j = e, g
                else:
                    i, j = g, e
                dx, dy = float(f[j, 0] - f[i, 0]), float(f[j, 1] - f[i, 1])
                rx, ry = x - f[i, 0], y - f[i, 1]
                t = min(max((rx * dx + ry * dy) / max(dx * dx + dy * dy, 1.0), 0.0), 1.0)
                gap = max(abs(t * dx - rx), abs(t * dy - ry))
                if gap < best:
                    best, height = gap, f[i, 2] + t * (f[j, 2] - f[i, 2])
                inside = inside and (dx * ry - dy * rx >= 0.0) == (i == e)
            if best > ON_EDGE_UNITS:
                off[k, v] = not inside
                ux, uy = f[1, 0] - f[0, 0], f[1, 1] - f[0, 1]
                vx, vy = f[2, 0] - f[0, 0], f[2, 1] - f[0, 1]
                wx, wy = x - f[0, 0], y - f[0, 1]
                area = float(ux * vy - uy * vx)
                s, t = (wx * vy - wy * vx) / area, (ux * wy - uy * wx) / area
                height = f[0, 2] + s * (f[1, 2] - f[0, 2]) + t * (f[2, 2] - f[0, 2])
                low, high = min(f[0, 2], f[1, 2], f[2, 2]), max(f[0, 2], f[1, 2], f[2, 2])
                height = min(max(height, float(low)), float(high))
            z[k, v] = int(np.rint(height))
    return z, off, thin
