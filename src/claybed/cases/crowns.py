"""A model that rises above a level cut: where a cut leaves none of it thin, and pegs for what stands free."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
import shapely
from scipy import ndimage

from claybed.cases.sizes import falling_mm, size_mm
from claybed.geometry.carving import Solid
from claybed.geometry.depth import DepthRaster
from claybed.geometry.forming import bounds_mm, rod, section, volume_mm3
from claybed.geometry.mesh import Floats
from claybed.materials import shelf
from claybed.records.cases import CASE_FRAME, Poured

PEG_MM = size_mm("peg")
PEGS_DEEP_MM = falling_mm("peg_deep", 4)
_LINES = 200
_SECOND_TRIED = 60
_LEAST_TALL_MM = size_mm("crown_least_tall")  # a cap lower than this is a flake, with no room for pegs
_CROWN_THICK_MM = size_mm("crown_least_thick")  # on the whole, or it is a sheet that warps
_LYING_THICK_MM = size_mm("lying_least_thick")  # with the rim of a printed piece on it, which is wide
_LEAST_MM2 = shelf.value("cases", "crown_least_mm2").value
_SKIN_MM = size_mm("peg_skin")  # of plastic left around a peg
_MOST_APART_MM = size_mm("pegs_apart")


def flakes(poured: Poured, floor_mm: float) -> Callable[[float], int]:
    """How many parts of the model a level cut of a case leaves above it that are too low or small to hold."""
    bottom, step_mm = _underside(poured)
    return _flakes_above(np.where(np.isfinite(bottom), bottom + floor_mm, -np.inf), step_mm, _CROWN_THICK_MM)


def flakes_lying(poured: Poured) -> Callable[[float], int]:
    """The same of a printed piece that lies on its back, cut at a height over it."""
    bottom, step_mm = _underside(poured)
    return _flakes_above(
        np.where(np.isfinite(bottom), poured.top_mm - bottom, -np.inf), step_mm, _LYING_THICK_MM
    )


def _underside(poured: Poured) -> tuple[Floats, float]:
    """Heights (rows, columns) of a piece's parting side, nan beside it, and how far apart they are."""
    columns = DepthRaster(poured.solid.mesh(CASE_FRAME), resolution=_LINES).columns(np.array([0.0, 0.0, 1.0]))
    return columns.bottom_mm, float(columns.grid.spacing_mm)


def _flakes_above(rises_mm: Floats, step_mm: float, thick_mm: float) -> Callable[[float], int]:
    def counted(level_mm: float) -> int:
        above = rises_mm > level_mm
        label, count = ndimage.label(above)
        if not count:
            return 0
        numbers = np.arange(1, count + 1)
        tall = ndimage.maximum(rises_mm, label, numbers) - level_mm
        thick = ndimage.mean(rises_mm, label, numbers) - level_mm
        wide = np.bincount(label.ravel(), minlength=count + 1)[1:] * step_mm**2
        return int(((tall < _LEAST_TALL_MM) | (thick < thick_mm) | (wide < _LEAST_MM2)).sum())

    return counted


def stands_free(solid: Solid, outline_mm: Floats, level_mm: float, wall_mm: float) -> bool:
    """Whether a part above a level cut is model alone, without wall: `outline_mm` (k, 2) of the outside."""
    foot = section(solid, level_mm + 0.05)
    if foot.is_empty:
        return False
    ring = shapely.Polygon(outline_mm).exterior
    return bool(shapely.distance(foot, ring) > wall_mm / 2.0)


def peg_holes(upper: Solid, lower: Sequence[Solid], level_mm: float, clearance_mm: float) -> list[Solid]:
    """Holes for up to two pegs between a part and what it stands on, far apart, nowhere through a surface."""
    foot = section(upper, level_mm + 0.05)
    under = [one for one in lower if _meets(one, upper)]
    reach = PEG_MM / 2.0 + _SKIN_MM
    room = shapely.buffer(foot, -reach)
    if room.is_empty:
        return []
    low, high = np.array(room.bounds[:2]), np.array(room.bounds[2:])
    axes = np.meshgrid(*(np.linspace(a, b, 13) for a, b in zip(low, high, strict=True)))
    tried = np.stack([axis.ravel() for axis in axes], axis=1)
    tried = tried[shapely.contains_xy(room, tried[:, 0], tried[:, 1])]
    middle = shapely.point_on_surface(room)
    tried = np.concatenate([tried, [[middle.x, middle.y]]])
    centre = tried.mean(axis=0)
    # From a pair as far apart as it may be inwards: the first that fits on each side of the middle.
    spread = tried[np.argsort(-np.linalg.norm(tried - centre, axis=1))]
    spread = np.array([p for p in spread if math.dist(p, centre) <= _MOST_APART_MM / 2.0])

    def hole(place: Floats) -> Solid | None:
        depths = (_depth(upper, place, level_mm, 1.0), *(_depth(one, place, level_mm, -1.0) for one in under))
        up, down = depths[0], max(depths[1:], default=0.0)
        if not up or not down:
            return None
        return rod((*place, level_mm - down), (*place, level_mm + up), PEG_MM / 2.0 + clearance_mm / 2.0)

    holes: list[Solid] = []
    first: Floats | None = None
    for place in spread:
        if first is not None and float(np.linalg.norm(place - first)) < 2.0 * PEG_MM:
            continue
        if first is not None and float((place - centre) @ (first - centre)) > 0.0:
            continue
        found = hole(place)
        if found is None:
            continue
        holes.append(found)
        if first is not None:
            return holes
        first = place
    if first is None:
        return holes
    # On one peg it would turn: the second stands wherever there is plastic between both.
    apart = np.linalg.norm(tried - first, axis=1)
    for k in np.argsort(-apart)[:_SECOND_TRIED].tolist():
        found = hole(tried[k]) if PEG_MM + 2.0 * _SKIN_MM <= apart[k] <= _MOST_APART_MM else None
        if found is not None:
            return [*holes, found]
    return holes


def _meets(one: Solid, other: Solid) -> bool:
    low_a, high_a = bounds_mm(one)
    low_b, high_b = bounds_mm(other)
    return bool((low_a[:2] < high_b[:2]).all() and (low_b[:2] < high_a[:2]).all())


def _depth(solid: Solid, place: Floats, level_mm: float, way: float) -> float:
    """How deep a peg may go into a solid from a level, up or down; 0 for nowhere near deep enough."""
    for deep in PEGS_DEEP_MM:
        near, far = level_mm + way * 0.05, level_mm + way * (deep + _SKIN_MM)
        around = rod((*place, near), (*place, far), PEG_MM / 2.0 + _SKIN_MM)
        if volume_mm3(around - solid) < 1e-3 * volume_mm3(around):
            return deep
    return 0.0
