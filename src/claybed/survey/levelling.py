"""A seam in one plane: at which height it needs least fill, and where that fill goes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy import ndimage

from claybed.geometry.columns import gaps
from claybed.geometry.depth import Columns, DepthRaster
from claybed.geometry.mesh import Floats
from claybed.geometry.planing import least_fill_height_mm, missed_mm
from claybed.records.surveyed import FillPlace, MoldOption
from claybed.survey.limits import LockLimits
from claybed.units import say_volume

_EIGHT = np.ones((3, 3), bool)


def levelled(
    raster: DepthRaster, option: MoldOption, limits: LockLimits, barred: Sequence[tuple[float, float]] = ()
) -> MoldOption:
    """The two-piece `option` with its seam in the plane across the pull that needs least fill.

    What is filled is all that locks along the pull and all that lies beyond the plane: what overhangs above
    it on the lower half, and the reverse. The plane stands at `plane_mm` along the pull, object frame,
    outside the open intervals `barred`; `places` are all that is filled, for the plane or without it.
    Raises ValueError when the intervals leave no height.
    """
    columns = raster.columns(np.array(option.pull))
    pixel = np.flatnonzero(columns.covered)
    top, bottom = columns.top_mm.flat[pixel], columns.bottom_mm.flat[pixel]
    plane_mm = least_fill_height_mm(top, bottom, list(barred))
    missed = missed_mm(top, bottom, plane_mm)
    pixel_ml = columns.grid.spacing_mm**2 / 1000.0
    middle = np.where(bottom > plane_mm, bottom + plane_mm, top + plane_mm) / 2.0
    found = gaps(columns)
    places = _places(
        columns,
        np.concatenate([pixel, found.pixel]),
        np.concatenate([missed, found.hi_mm - found.lo_mm]),
        np.concatenate([middle, (found.hi_mm + found.lo_mm) / 2.0]),
        limits,
    )
    plane_ml = float(missed.sum()) * pixel_ml
    total_ml = option.fill_ml + plane_ml
    return replace(
        option,
        fill_ml=total_ml,
        deepest_mm=limits.deepest_mm(places),
        says=f"Leaves in two pieces with its seam in one plane once {say_volume(total_ml)} of oil clay is "
        f"added, {say_volume(plane_ml)} of it for the plane.",
        places=places,
        plane_mm=plane_mm,
        plane_fill_ml=plane_ml,
    )


def _places(
    columns: Columns, pixel: np.ndarray, length_mm: Floats, middle_mm: Floats, limits: LockLimits
) -> tuple[FillPlace, ...]:
    """Fill that hangs together in plan, largest first: lengths along the lines `pixel` (n,), and their
    middles.
    """
    grid = columns.grid
    kept = length_mm > columns.floor_mm
    pixel, length_mm, middle_mm = pixel[kept], length_mm[kept], middle_mm[kept]
    if not len(pixel):
        return ()
    filled = np.zeros((grid.rows + 2, grid.columns + 2), bool)
    row, column = np.divmod(pixel, grid.columns)
    filled[row + 1, column + 1] = True
    label, count = ndimage.label(filled, structure=_EIGHT)
    inwards = ndimage.distance_transform_edt(filled) * grid.spacing_mm
    patch = label[row + 1, column + 1] - 1
    whole = np.bincount(patch, length_mm, count)
    at = grid.object_mm(pixel, middle_mm)
    centre = np.stack([np.bincount(patch, length_mm * at[:, k], count) / whole for k in range(3)], axis=1)
    depth = ndimage.maximum(inwards, label, np.arange(1, count + 1))
    places = []
    for k in np.argsort(-whole, kind="stable").tolist():
        volume_mm3 = float(whole[k]) * grid.spacing_mm**2
        x, y, z = (float(v) for v in centre[k])
        lock_class = limits.lock_class(float(depth[k]), volume_mm3)
        places.append(FillPlace(volume_mm3 / 1000.0, float(depth[k]), lock_class, (x, y, z)))
    return tuple(places)
