"""Which share of each cell of a regular grid a closed mesh fills."""

from __future__ import annotations

import numpy as np
from numba import njit

from claybed.geometry.mesh import Floats, Mesh

# Lines through cells are shifted by a hair, so that none runs exactly through a corner or along an edge.
_OFF_LINE = 1.3717e-5


def solid_fraction(
    mesh: Mesh, low_mm: Floats, cell_mm: float, shape: tuple[int, int, int], *, lines: int = 3
) -> Floats:
    """Share of each cell inside a closed mesh, (x, y, z) of `shape`, 0 to 1.

    `low_mm` (3,) is the grid's lowest corner, `cell_mm` > 0 the side of a cell. Exact along z on `lines` x
    `lines` upright lines in each cell; parts outside the grid are left out. Each face adds what lies below
    it, upward faces with plus and downward faces with minus, so no sorting is needed and closed shells may
    touch.
    """
    below = np.zeros(shape)
    whole = np.zeros((shape[0], shape[1], shape[2] + 1))
    local = (mesh.corners_mm - np.asarray(low_mm, dtype=np.float64)) / cell_mm
    _drop_lines(np.ascontiguousarray(local), lines, below, whole)
    under = np.cumsum(whole[:, :, ::-1], axis=2)[:, :, ::-1][:, :, 1:]
    filled: Floats = np.clip((below + under) / lines**2, 0.0, 1.0)
    return filled


@njit(cache=True, nogil=True, error_model="numpy")
def _drop_lines(corners: Floats, lines: int, below: Floats, whole: Floats) -> None:
    nx, ny, nz = below.shape
    for k in range(corners.shape[0]):
        ax, ay, az = corners[k, 0]
        bx, by, bz = corners[k, 1]
        cx, cy, cz = corners[k, 2]
        area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if area == 0.0:
            continue
        sign = 1.0 if area > 0.0 else -1.0
        i0 = max(int(np.floor((min(ax, bx, cx) - _OFF_LINE) * lines - 0.5)), 0)
        i1 = min(int(np.ceil((max(ax, bx, cx) - _OFF_LINE) * lines - 0.5)), nx * lines - 1)
        j0 = max(int(np.floor((min(ay, by, cy) + 0.7 * _OFF_LINE) * lines - 0.5)), 0)
        j1 = min(int(np.ceil((max(ay, by, cy) + 0.7 * _OFF_LINE) * lines - 0.5)), ny * lines - 1)
        for i in range(i0, i1 + 1):
            x = (i + 0.5) / lines + _OFF_LINE
            for j in range(j0, j1 + 1):
                y = (j + 0.5) / lines - 0.7 * _OFF_LINE
                s = ((x - ax) * (cy - ay) - (y - ay) * (cx - ax)) / area
                t = ((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / area
                if s < 0.0 or t < 0.0 or s + t > 1.0:
                    continue
                z = az + s * (bz - az) + t * (cz - az)
                if z <= 0.0:
                    continue
                cell = int(z)
                if cell >= nz:
                    whole[i // lines, j // lines, nz] += sign
                else:
                    below[i // lines, j // lines, cell] += sign * (z - cell)
                    whole[i // lines, j // lines, cell] += sign
