"""What further pieces leave locked along a main axis, patch by patch."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.columns import patches
from claybed.geometry.depth import Columns
from claybed.geometry.mesh import Floats
from claybed.records.surveyed import FillPlace
from claybed.survey.limits import LockLimits

# What is left of a patch below these is the raster's doing.
CRUMB_SHARE = 0.03
CRUMB_ML = 0.02


def places_left(
    columns: Columns,
    points: Floats,
    volume: Floats,
    patch: NDArray[np.int64],
    free: NDArray[np.bool_],
    limits: LockLimits,
) -> tuple[FillPlace, ...]:
    """The patches of which some stays locked, the largest before anything was freed first.

    `points` (n, 3) mm, `volume` (n,) mm³ and `patch` (n,) of the space that locks, as
    `geometry.reach.locked_points` gives them of `columns`; `free` (n,) which of it further pieces take.
    """
    whole = np.bincount(patch, volume)
    left = np.bincount(patch[~free], volume[~free], len(whole))
    # `patches` is ordered by volume; so are these.
    known = sorted(patches(columns), key=lambda p: -p.volume_mm3)
    places = []
    for rank, k in enumerate(np.argsort(-whole, kind="stable").tolist()):
        left_ml = float(left[k]) / 1000.0
        crumb = left_ml <= CRUMB_ML or (left[k] <= CRUMB_SHARE * whole[k] and left_ml <= 5.0 * CRUMB_ML)
        if crumb or rank >= len(known):
            continue
        own = ~free & (patch == k)
        x, y, z = (float(v) + 0.0 for v in np.average(points[own], axis=0, weights=volume[own]))
        # Like shapes lock as deep as the square root of what is left of their volume.
        depth_mm = known[rank].depth_mm * float(np.sqrt(left[k] / whole[k]))
        places.append(FillPlace(left_ml, depth_mm, limits.lock_class(depth_mm, float(left[k])), (x, y, z)))
    return tuple(places)
