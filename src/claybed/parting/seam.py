"""At which height the seam runs round the silhouette.

Where the silhouette is an edge the object decides. Where it is a vertical wall the seam is free between the
wall's top and foot, and is laid level if it can be, at the sharper of both rims, where a crease hides it;
else as straight as the wall allows.

Inner corners stand upright there, since above and below a silhouette the object only recedes. A seam that ran
along one would leave a thin edge of plaster on one side, so it crosses them square wherever the walls beside
them reach far enough: it climbs elsewhere. Where they do not, every seam has to run along the corner.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.flagged import marked_corners
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, Lattice
from claybed.geometry.sheet import Sheet
from claybed.materials import shelf
from claybed.parting.collar import ring_widths_mm
from claybed.records.parted import BarredBall, BarredHeights

SWEEPS = 400
# How far a seam stays off a ball it avoids: more than rounding, less than anyone sees.
BALL_MARGIN_MM = 0.1
# What turns by less is straight, to within the lattice.
FLAT_DEG = 0.5


@dataclass(frozen=True, slots=True, eq=False)
class SeamHeights:
    """Heights of the seam: `points` (s,) plan point numbers, `heights` (s,) lattice units, `level` of the
    flat part.

    `edge_heights` (k, 2) the same at the ends of the directed rim edges: where the seam jumps at a plan
    point, as one contour passes behind another, the edges that meet there keep their own heights.
    """

    points: NDArray[np.int64]
    heights: Lattice
    level: int
    edge_heights: Lattice


def choose_heights(
    top: Sheet,
    bottom: Sheet,
    rim: NDArray[np.int64],
    *,
    freedom: Sequence[BarredHeights | BarredBall] = (),
    level_mm: float | None = None,
) -> SeamHeights:
    """Heights along the directed rim edges (k, 2) of two sheets that share it.

    `freedom` lists height intervals (mm) and balls to keep out of where the wall leaves a choice; `level_mm`
    asks for one level.
    """
    (crest, rise), (foot, fall) = (_rim_heights(sheet, rim) for sheet in (top, bottom))
    points, low, high = _bounds(crest, foot, rim)
    if not len(points):
        level = 0 if level_mm is None else round(level_mm * Z_PER_MM)
        return SeamHeights(points, low, level, np.zeros((0, 2), np.int64))
    stepped = low > high
    low, high = np.where(stepped, high, low), np.where(stepped, high, high)
    for region in freedom:
        low, high = _without(low, high, *_barred(region, points, top.plan, rim))
    length = np.maximum(np.linalg.norm((top.plan[rim[:, 1]] - top.plan[rim[:, 0]]) / XY_PER_MM, axis=1), 1e-3)
    crease_deg = shelf.value("practice", "seam_crease_least_deg").value
    hides = [
        float(length[(z == end).all(axis=1) & (90.0 - np.degrees(np.arctan(slope)) >= crease_deg)].sum())
        for z, end, slope in ((crest, high.min(), rise), (foot, low.max(), -fall))
    ]
    level = _level(low, high, level_mm, at_foot=hides[1] > hides[0])
    at = np.searchsorted(points, rim)
    heights = np.clip(level, low, high).astype(np.float64)
    if bool((heights != level).any()):
        group, low, high = _squared(at, low, high, _inner_corners(top.plan, rim, at, length))
        heights = np.clip(level, low, high).astype(np.float64)
        apart = group[at[:, 0]] != group[at[:, 1]]
        a, b = group[at[apart]].T
        heights = _straighten(heights, low, high, a, b, 1.0 / length[apart])[group]
    settled = np.rint(heights).astype(np.int64)
    return SeamHeights(points, settled, level, np.clip(settled[at], foot, crest))


def _bounds(
    crest: Lattice, foot: Lattice, rim: NDArray[np.int64]
) -> tuple[NDArray[np.int64], Lattice, Lattice]:
    """For every seam point the highest foot and the lowest top (k, 2) of the wall on the rim edges that meet
    there.
    """
    points = np.unique(rim)
    low = np.full(len(points), np.iinfo(np.int64).min)
    high = np.full(len(points), np.iinfo(np.int64).max)
    at = np.searchsorted(points, rim)
    for z, bound, take in ((foot, low, np.maximum), (crest, high, np.minimum)):
        take.at(bound, at, z)
    return points, low, high


def _inner_corners(
    plan: Lattice, rim: NDArray[np.int64], at: NDArray[np.int64], length_mm: NDArray[np.float64]
) -> NDArray[np.int64]:
    """The inner corners of the silhouette as rows (c, 3): seam point before, at and after it.

    Inner is where the silhouette turns outwards by some degrees, or along a curve tighter than the strip
    beside the seam is wide. `at` (k, 2) are the seam points of the directed `rim` edges, of `length_mm` (k,).
    Points where more than two edges meet are left out. Source: materials/practice (inner_corner_least_deg).
    """
    count = int(at.max()) + 1
    meets = np.bincount(at[:, 0], minlength=count)
    into, out = np.full(count, -1), np.full(count, -1)
    into[at[:, 1]], out[at[:, 0]] = np.arange(len(at)), np.arange(len(at))
    here = np.flatnonzero((meets == 1) & (into >= 0) & (out >= 0))
    step = (plan[rim[:, 1]] - plan[rim[:, 0]]).astype(np.float64)
    one, two = step[into[here]], step[out[here]]
    # The silhouette lies on the left: a turn to the right is an inner corner.
    turn = np.arctan2(one[:, 1] * two[:, 0] - one[:, 0] * two[:, 1], (one * two).sum(axis=1))
    tight = turn * ring_widths_mm()[1] > np.minimum(length_mm[into[here]], length_mm[out[here]])
    least_deg = shelf.value("practice", "inner_corner_least_deg").value
    inner = (turn > np.radians(least_deg)) | (tight & (turn > np.radians(FLAT_DEG)))
    chosen = here[inner]
    return np.stack([at[into[chosen], 0], chosen, at[out[chosen], 1]], axis=1)


def _squared(
    at: NDArray[np.int64], low: Lattice, high: Lattice, corners: NDArray[np.int64]
) -> tuple[NDArray[np.int64], Lattice, Lattice]:
    """Seam points that have to share a height so that the seam crosses inner corners square: the group of
    each point, and every group's bounds.

    A corner whose walls reach no common height, even with what they share already, is left as it is.
    """
    joined = np.arange(len(low))
    lowest, highest = low.copy(), high.copy()

    def first(point: int) -> int:
        while joined[point] != point:
            joined[point] = joined[joined[point]]
            point = int(joined[point])
        return point

    for row in corners.tolist():
        roots = {first(point) for point in row}
        floor, ceiling = max(lowest[r] for r in roots), min(highest[r] for r in roots)
        if floor <= ceiling:
            root = min(roots)
            for other in roots:
                joined[other] = root
            lowest[root], highest[root] = floor, ceiling
    roots_of = np.array([first(point) for point in range(len(low))])
    kept, group = np.unique(roots_of, return_inverse=True)
    return group.reshape(-1), lowest[kept], highest[kept]


def _rim_heights(sheet: Sheet, rim: NDArray[np.int64]) -> tuple[Lattice, NDArray[np.float64]]:
    """Heights (k, 2) of a sheet at the ends of directed edges (k, 2) that its triangles have, and how it
    rises from there (k,), mm per mm square to the edge.
    """
    n = len(sheet.plan)
    on_rim = np.zeros(n, bool)
    on_rim[rim] = True
    near = marked_corners(sheet.faces, on_rim) >= 2
    f, z = sheet.faces[near].astype(np.int64), sheet.heights[near]
    a, b = f.T.reshape(-1), np.roll(f, -1, axis=1).T.reshape(-1)
    za, zb = z.T.reshape(-1), np.roll(z, -1, axis=1).T.reshape(-1)
    keys = a * n + b
    order = np.argsort(keys)
    at = order[np.searchsorted(keys[order], rim[:, 0] * n + rim[:, 1])]
    third, zc = np.roll(f, -2, axis=1).T.reshape(-1)[at], np.roll(z, -2, axis=1).T.reshape(-1)[at]
    start = sheet.plan[rim[:, 0]] / XY_PER_MM
    along, to = sheet.plan[rim[:, 1]] / XY_PER_MM - start, sheet.plan[third] / XY_PER_MM - start
    run2 = np.maximum((along**2).sum(axis=1), 1e-12)
    share = (to * along).sum(axis=1) / run2
    away = np.maximum(np.abs(along[:, 0] * to[:, 1] - along[:, 1] * to[:, 0]) / np.sqrt(run2), 1e-9)
    rise = (zc - za[at] - share * (zb[at] - za[at])) / Z_PER_MM / away
    return np.stack([za[at], zb[at]], axis=1), rise


def _barred(
    region: BarredHeights | BarredBall, points: NDArray[np.int64], plan: Lattice, rim: NDArray[np.int64]
) -> tuple[Lattice, Lattice]:
    """Lowest and highest barred height at every seam point, lattice units; an empty span, the lowest above
    the highest, where none is.

    An edge of the seam is straight between its points, so both take what the ball bars anywhere on it.
    """
    reach_mm = 1e6
    if not isinstance(region, BarredBall):
        foot, head = (round(float(np.clip(end, -reach_mm, reach_mm)) * Z_PER_MM) for end in region)
        return np.full(len(points), foot), np.full(len(points), head)
    x, y, z = region.centre_mm
    radius_mm = region.radius_mm + BALL_MARGIN_MM
    start = plan[rim[:, 0]] / XY_PER_MM - np.array([x, y])
    along = plan[rim[:, 1]] / XY_PER_MM - np.array([x, y]) - start
    run = np.maximum(np.einsum("ij,ij->i", along, along), 1e-12)
    share = np.clip(-np.einsum("ij,ij->i", start, along) / run, 0.0, 1.0)
    away = np.linalg.norm(start + share[:, None] * along, axis=1)
    half = np.where(away < radius_mm, np.sqrt(np.maximum(radius_mm**2 - away**2, 0.0)), -1.0)
    most = np.full(len(points), -1.0)
    for k in (0, 1):
        np.maximum.at(most, np.searchsorted(points, rim[:, k]), half)
    lo = np.where(most >= 0.0, np.floor((z - most) * Z_PER_MM), 1.0).astype(np.int64)
    hi = np.where(most >= 0.0, np.ceil((z + most) * Z_PER_MM), 0.0).astype(np.int64)
    return lo, hi


def _without(low: Lattice, high: Lattice, lo: Lattice, hi: Lattice) -> tuple[Lattice, Lattice]:
    """Take the barred heights `lo` to `hi` out of the free range, keeping the larger part that is left."""
    below, above = np.minimum(high, lo - 1) - low, high - np.maximum(low, hi + 1)
    barred = lo <= hi
    use_below = barred & (below >= 0) & (below >= above)
    use_above = barred & (above >= 0) & ~use_below
    return (
        np.where(use_above, np.maximum(low, hi + 1), low),
        np.where(use_below, np.minimum(high, lo - 1), high),
    )


def _level(low: Lattice, high: Lattice, level_mm: float | None, *, at_foot: bool) -> int:
    """One height for the flat part: one that the whole seam can take if there is one, at the upper rim of its
    walls or `at_foot`; else the middle of the seam.
    """
    if level_mm is not None:
        return round(level_mm * Z_PER_MM)
    if low.max() <= high.min():
        return int(low.max() if at_foot else high.min())
    tight = (high - low) < Z_PER_MM // 4
    return int(np.median(((low + high) // 2)[tight] if tight.any() else (low + high) // 2))


def _straighten(
    heights: NDArray[np.float64],
    low: Lattice,
    high: Lattice,
    a: NDArray[np.int64],
    b: NDArray[np.int64],
    weight: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Relax heights along the seam's edges a-b within their bounds (damped Jacobi sweeps)."""
    n = len(heights)
    free = (high - low) > 0
    total = np.bincount(a, weight, n) + np.bincount(b, weight, n)
    for _ in range(SWEEPS if free.any() else 0):
        mean = (np.bincount(a, weight * heights[b], n) + np.bincount(b, weight * heights[a], n)) / np.maximum(
            total, 1e-12
        )
        step = np.where(free, 0.7 * (mean - heights), 0.0)
        heights = np.clip(heights + step, low, high)
        if float(np.abs(step).max()) < 1.0:
            break
    return heights
