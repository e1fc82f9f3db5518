"""One axis judged: fill, what locks and how far sideways, and how far the pull may tilt."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from claybed.geometry.columns import Patch, draft_areas, patches, sharpened
from claybed.geometry.depth import Columns, DepthRaster
from claybed.geometry.directions import around
from claybed.geometry.mesh import Floats, Mesh
from claybed.records.surveyed import AxisScore, DraftBand, FillPlace, Vector
from claybed.survey.limits import LockLimits

DRAFT_EDGES_DEG = (0.0, 1.0, 2.0, 5.0, 15.0, 90.0)
TILTS_DEG = (0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.0, 10.0)
_AZIMUTHS = 8
_TILT_WINDOWS = 6


@dataclass(frozen=True, slots=True)
class Judged:
    """An axis with its columns and patches, as scored on one mesh."""

    score: AxisScore
    places: tuple[FillPlace, ...]
    columns: Columns


def judge(
    raster: DepthRaster,
    axis: Vector,
    why: str,
    limits: LockLimits,
    *,
    windows: int,
    tilt_deg: float | None = None,
) -> Judged:
    """Score `axis` in full; `windows` places at most are looked at closely for their depth."""
    d = np.array(axis)
    columns = raster.columns(d)
    found = sharpened(raster, d, columns, patches(columns), windows=windows)
    places = tuple(place(p, limits) for p in found)
    fill_ml = columns.score.fill_mm3 / 1e3
    needs_fill = sum(p.lock_class == "fill" for p in places)
    score = AxisScore(
        axis=axis,
        fill_ml=fill_ml,
        fill_g=fill_ml * limits.clay_g_per_ml,
        undercut_area_cm2=columns.score.undercut_mm2 / 100.0,
        places=needs_fill,
        deepest_mm=limits.deepest_mm(places),
        castable=needs_fill == 0,
        tilt_deg=tilt_deg,
        why=why,
    )
    return Judged(score, places, columns)


def place(patch: Patch, limits: LockLimits) -> FillPlace:
    """A patch as a place to fill, classed by its depth."""
    return FillPlace(
        volume_ml=patch.volume_mm3 / 1e3,
        depth_mm=patch.depth_mm,
        lock_class=limits.lock_class(patch.depth_mm, patch.volume_mm3),
        at_mm=patch.at_mm,
    )


def lock_mm(raster: DepthRaster, axis: Floats, limits: LockLimits) -> float:
    """Largest sideways depth along `axis` (3,), mm, measured closely only near what is scraped; without what
    is scraped however deep.
    """
    columns = raster.columns(axis)
    if columns.score.gap_columns == 0:
        return 0.0
    found = [p for p in patches(columns) if p.volume_mm3 >= limits.crumb_mm3]
    deepest = max((p.depth_mm for p in found), default=0.0)
    if deepest < limits.scrape_mm or deepest >= 3.0 * columns.grid.spacing_mm:
        return deepest
    return max(p.depth_mm for p in sharpened(raster, axis, columns, found, windows=_TILT_WINDOWS))


def tilt_allowed(
    raster: DepthRaster, axis: Vector, limits: LockLimits, *, upright: bool | None = None
) -> float:
    """Smallest of TILTS_DEG off `axis`, over eight ways to tilt, at which more locks than is scraped.

    0 when that much locks without a tilt; the last of TILTS_DEG also stands for "that much or more".
    `upright` says whether so much locks without a tilt, where that is known.
    """
    return least_tilt(axis, lambda d: lock_mm(raster, d, limits) >= limits.scrape_mm, upright=upright)


def least_tilt(axis: Vector, locks: Callable[[Floats], bool], *, upright: bool | None = None) -> float:
    """Smallest of TILTS_DEG at which `locks` holds for some axis tilted so far; 0 when it holds for `axis`.

    Locks are taken to grow with the tilt. `upright` says whether it holds for `axis`, where that is known.
    """
    d = np.array(axis)
    if locks(d) if upright is None else upright:
        return 0.0
    rings = [around(d, tilt, _AZIMUTHS) for tilt in TILTS_DEG]
    least = len(TILTS_DEG) - 1
    for azimuth in range(_AZIMUTHS):
        # only a lock below the least tilt so far can lower it
        if least == 0 or not locks(rings[least - 1][azimuth]):
            continue
        free, locked = -1, least - 1
        while locked - free > 1:
            middle = (free + locked) // 2
            free, locked = (free, middle) if locks(rings[middle][azimuth]) else (middle, locked)
        least = locked
    return TILTS_DEG[least]


def draft_bands(mesh: Mesh, axis: Vector) -> tuple[DraftBand, ...]:
    """Area by draft off `axis`: exactly vertical, then the bands between DRAFT_EDGES_DEG."""
    areas = draft_areas(mesh, np.array(axis), DRAFT_EDGES_DEG) / 100.0
    edges = ((0.0, 0.0), *pairwise(DRAFT_EDGES_DEG))
    return tuple(DraftBand(lo, hi, float(a)) for (lo, hi), a in zip(edges, areas, strict=True))
