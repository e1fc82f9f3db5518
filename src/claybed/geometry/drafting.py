"""Upright bodies over an outline, their sides leaning in by a draft."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import mapbox_earcut
import numpy as np
from numpy.typing import NDArray
from shapely import LinearRing, Polygon

from claybed.geometry.mesh import Floats, Mesh


class NarrowError(ValueError):
    """Sides that lean in meet before the top; `at_mm` is where, `most_deg` the draft that just fits."""

    def __init__(self, at_mm: tuple[float, float], most_deg: float) -> None:
        super().__init__("the sides meet below the top")
        self.at_mm = at_mm
        self.most_deg = most_deg


def drafted(contours_mm: Sequence[Floats], height_mm: float, draft_deg: float, *, frame: str) -> Mesh:
    """A body from z = 0 to `height_mm` (above 0) over closed outlines, each (n, 2) mm without repeated ends.

    The first is the outside, the others holes in it, in either sense. Every side leans towards the body by
    `draft_deg` (0 to under 90) and stays flat, so the body is a prismatoid. Raises NarrowError when a side
    would vanish below the top, ValueError for outlines that cross.
    """
    inward_mm = height_mm * math.tan(math.radians(draft_deg))
    low = [_turning(c, hole=k > 0) for k, c in enumerate(contours_mm)]
    if not Polygon(low[0], low[1:]).is_valid:
        raise ValueError("the outlines cross themselves or one another")
    high = [moved_in(c, inward_mm) for c in low]
    _still_whole(low, high, height_mm, inward_mm)
    start = np.cumsum([0] + [len(c) for c in low])
    count = int(start[-1])
    ends = start[1:].astype(np.uint32)
    base = mapbox_earcut.triangulate_float64(np.concatenate(low), ends).astype(np.int64).reshape(-1, 3)
    flat = np.concatenate(low)
    a, b, c = (flat[base[:, k]] for k in range(3))
    way = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) - (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    base = np.where((way < 0)[:, None], base[:, ::-1], base)
    sides = []
    for first, last in pairwise(start.tolist()):
        i = np.arange(first, last)
        j = np.concatenate([i[1:], i[:1]])
        sides += [np.stack([i, j, j + count], axis=1), np.stack([i, j + count, i + count], axis=1)]
    points = np.concatenate(
        [
            np.column_stack([flat, np.zeros(count)]),
            np.column_stack([np.concatenate(high), np.full(count, height_mm)]),
        ]
    )
    faces: NDArray[np.int64] = np.concatenate([base[:, ::-1], base + count, *sides])
    return Mesh.make(points, faces, frame=frame)


def moved_in(contour_mm: Floats, inward_mm: float) -> Floats:
    """An outline (n, 2) with every side moved to its left by `inward_mm`, corners mitred."""
    ahead = np.roll(contour_mm, -1, axis=0) - contour_mm
    ahead /= np.linalg.norm(ahead, axis=1)[:, None]
    normal = np.stack([-ahead[:, 1], ahead[:, 0]], axis=1)
    before = np.roll(normal, 1, axis=0)
    open_ = 1.0 + (normal * before).sum(axis=1)
    moved: Floats = contour_mm + inward_mm * (normal + before) / np.maximum(open_, 1e-6)[:, None]
    return moved


def _turning(contour_mm: Floats, *, hole: bool) -> Floats:
    """The outline with the body on its left."""
    if LinearRing(contour_mm).is_ccw == hole:
        return contour_mm[::-1].copy()
    return np.array(contour_mm, np.float64)


def _still_whole(low: list[Floats], high: list[Floats], height_mm: float, inward_mm: float) -> None:
    share, at = 1.0, low[0][0]
    for before, after in zip(low, high, strict=True):
        side = np.roll(before, -1, axis=0) - before
        length = np.linalg.norm(side, axis=1)
        left = ((np.roll(after, -1, axis=0) - after) * side).sum(axis=1) / length
        worst = int((left / length).argmin())
        if left[worst] <= 0.0:
            here = float(length[worst] / (length[worst] - left[worst]))
            if here < share:
                share, at = here, before[worst]
    whole = share == 1.0 and Polygon(high[0], high[1:]).is_valid
    if inward_mm > 0.0 and not whole:
        if share == 1.0:  # no side vanishes, but two that are not neighbours meet
            share, at = _meeting_share(low, inward_mm), low[0].mean(axis=0)
        most_deg = math.degrees(math.atan(share * inward_mm / height_mm))
        raise NarrowError((float(at[0]), float(at[1])), most_deg)


def _meeting_share(low: list[Floats], inward_mm: float) -> float:
    """The share of the way in at which outlines begin to cross, found by halving."""
    fits, fails = 0.0, 1.0
    for _ in range(24):
        middle = 0.5 * (fits + fails)
        moved = [moved_in(c, middle * inward_mm) for c in low]
        if Polygon(moved[0], moved[1:]).is_valid:
            fits = middle
        else:
            fails = middle
    return fits
