"""Where a closed surface crosses itself: space that it winds around otherwise than once."""

from __future__ import annotations

import numpy as np

from claybed.geometry.depth import DepthRaster
from claybed.geometry.mesh import Floats, Mesh

LINES = 256
# Space wound otherwise than once, as a share of the object, that cuts do not notice.
FOLDED_SHARE = 1e-5


def folded(mesh: Mesh) -> tuple[float, Floats]:
    """Space that a closed mesh encloses twice or inside out, mm³, and where most of it lies (3,) mm.

    Counted along lines through the shortest side; what lies between two lines is missed.
    """
    axis = np.zeros(3)
    axis[int(np.argmin(np.ptp(mesh.vertices_mm, axis=0)))] = 1.0
    columns = DepthRaster(mesh, LINES).columns(axis)
    grid = columns.grid
    start = columns.start.astype(np.int64)
    line = np.repeat(np.arange(len(start) - 1), np.diff(start))
    if len(line) < 2:
        return 0.0, np.zeros(3)
    depth = np.cumsum(np.where(columns.side % 2 == 0, 1, -1))
    depth -= np.concatenate([[0], depth])[start[line]]
    run = np.where(line[1:] == line[:-1], np.diff(columns.z_mm), 0.0)
    run = np.where((depth[:-1] > 1) | (depth[:-1] < 0), run, 0.0)
    worst = int(np.argmax(run))
    row, column = divmod(int(line[worst]), grid.columns)
    x, y = (np.array(grid.origin_mm[:2]) + (np.array([column, row]) + 0.5) * grid.spacing_mm).tolist()
    z = float(columns.z_mm[worst]) + float(run[worst]) / 2.0
    return float(run.sum()) * grid.spacing_mm**2, np.array([x, y, z]) @ grid.rotation
