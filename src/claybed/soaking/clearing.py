"""The cavity's own space: how far to the other wall, and what does not run out of it."""

from __future__ import annotations

import numpy as np
from numba import njit
from scipy.ndimage import distance_transform_edt, label
from scipy.spatial import cKDTree
from skimage.morphology import reconstruction

from claybed.geometry.mesh import Floats
from claybed.records.soaked import Cast, PlasterGrid, Pocket

# Smaller pockets than this are the stairs of the cells.
LEAST_POCKET_ML = 0.2


def half_way_mm(at_mm: Floats, normal: Floats, cavity: Floats, low_mm: Floats, cell_mm: float) -> Floats:
    """Half the distance (n,) mm straight across the cavity from points (n, 3) on its wall.

    `normal` (n, 3) points into the plaster, `cavity` is the share of each cell that is cavity. What leads
    out of the grid is open: half the grid's diagonal.
    """
    local = (at_mm - low_mm) / cell_mm
    return 0.5 * cell_mm * np.asarray(_across(local, -normal, cavity))


@njit(cache=True, nogil=True, error_model="numpy")
def _across(points: Floats, ways: Floats, cavity: Floats) -> Floats:
    nx, ny, nz = cavity.shape
    most = np.sqrt(float(nx * nx + ny * ny + nz * nz))
    out = np.full(points.shape[0], most)
    for p in range(points.shape[0]):
        length, before, entered = 0.5, 1.0, False
        while length < most:
            x = points[p, 0] + ways[p, 0] * length
            y = points[p, 1] + ways[p, 1] * length
            z = points[p, 2] + ways[p, 2] * length
            if x < 0.0 or y < 0.0 or z < 0.0 or x >= nx or y >= ny or z >= nz:
                break
            share = cavity[int(x), int(y), int(z)]
            entered = entered or share >= 0.5
            if share < 0.5 and (entered or length > 2.5):
                # Between the last sample inside and the first outside the share falls through one half.
                back = 0.25 * (0.5 - share) / (before - share) if before > share else 0.0
                out[p] = max(length - back, 0.5)
                break
            before = share
            length += 0.25
    return out


def pockets(grid: PlasterGrid, cast: Cast) -> tuple[float, tuple[Pocket, ...]]:
    """Slip that stays in the mold turned upside down to drain, ml, and its pockets, largest first.

    The cake takes its wall's thickness from the space; slip leaves where a way leads to the opening that
    never climbs. Pockets shallower than a cell or under LEAST_POCKET_ML are stairs of the grid and left out;
    the film that clings to the cake is not counted.
    """
    inside = grid.cavity >= 0.5
    from_wall, nearest = distance_transform_edt(np.pad(inside, 1, constant_values=True), return_indices=True)
    from_wall, nearest = from_wall[1:-1, 1:-1, 1:-1], nearest[:, 1:-1, 1:-1, 1:-1]
    _, patch = cKDTree(grid.at_mm).query(
        grid.low_mm + (np.moveaxis(nearest - 1, 0, -1)[inside] + 0.5) * grid.cell_mm
    )
    free = inside.copy()
    free[inside] = (from_wall[inside] - 0.5) * grid.cell_mm >= cast.wall_mm[patch]
    # Height above the lowest corner as the mold stands for draining: the opening looks down.
    index = np.indices(inside.shape)
    height = -np.tensordot(grid.up, index, axes=1) * grid.cell_mm
    high = float(height.max()) + 1.0
    top_mm = float((grid.at_mm @ grid.up).max())
    along = np.tensordot(grid.up, (index + 0.5), axes=1) * grid.cell_mm + float(grid.low_mm @ grid.up)
    outlet = free & (along >= top_mm - 1.5 * grid.cell_mm)
    ground = np.where(free, height, high)
    seed = np.where(outlet, ground, high)
    spill = reconstruction(seed, ground, method="erosion")
    stays = free & (spill - height > 0.1 * grid.cell_mm)
    labels, count = label(stays, structure=np.ones((3, 3, 3), int))
    found = []
    sizes = np.bincount(labels.ravel(), minlength=count + 1) * grid.cell_mm**3 / 1000.0
    for part in 1 + np.flatnonzero(sizes[1:] >= LEAST_POCKET_ML):
        mine = labels == part
        slip_ml = float(mine.sum()) * grid.cell_mm**3 / 1000.0
        deep_mm = float((spill - height)[mine].max())
        if deep_mm < 1.5 * grid.cell_mm:
            continue
        middle = grid.low_mm + (np.argwhere(mine).mean(axis=0) + 0.5) * grid.cell_mm
        found.append(Pocket(slip_ml, (float(middle[0]), float(middle[1]), float(middle[2])), deep_mm))
    found.sort(key=lambda one: -one.slip_ml)
    return sum(one.slip_ml for one in found), tuple(found)
