"""Exact plane sections of triangles, and what is lowest or highest along them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.mesh import Floats

# A cut exactly through vertices would meet triangles in single points; a hair to the side it never does.
NUDGE_MM = 1.37e-5


def cut_segments(points_mm: Floats, faces: NDArray[np.integer], through_mm: Floats, normal: Floats) -> Floats:
    """Where triangles cross a plane: segments (k, 2, 3) mm, none for a plane that misses them.

    `points_mm` (n, 3), `faces` (m, 3), the plane through `through_mm` (3,) square to the unit `normal` (3,),
    moved by a hair so that it meets no corner.
    """
    side = (points_mm - through_mm) @ normal - NUDGE_MM
    above = side > 0.0
    of_face = above[faces]
    crossed = faces[of_face.any(axis=1) & ~of_face.all(axis=1)]
    if not len(crossed):
        return np.zeros((0, 2, 3))
    # Turn each crossed face so that its first corner is the one alone on its side.
    lone = np.where(
        above[crossed[:, 0]] == above[crossed[:, 1]],
        2,
        np.where(above[crossed[:, 0]] == above[crossed[:, 2]], 1, 0),
    )
    turned = np.take_along_axis(crossed, (lone[:, None] + np.arange(3)) % 3, axis=1)
    ends = []
    for k in (1, 2):
        a, b = turned[:, 0], turned[:, k]
        t = side[a] / (side[a] - side[b])
        ends.append(points_mm[a] + (points_mm[b] - points_mm[a]) * t[:, None])
    return np.stack(ends, axis=1)


def in_plane(segments_mm: Floats, origin_mm: Floats, along: Floats) -> Floats:
    """Segments (k, 2, 3) of an upright cut in its own coordinates (k, 2, 2): run along the unit `along` from
    `origin_mm`, and height above it, mm.
    """
    moved = segments_mm - origin_mm
    flat: Floats = np.stack([moved @ along, moved[:, :, 2]], axis=2)
    return flat


def lowest(segments: Floats, at: Floats) -> Floats:
    """The least height (m,) of upright-cut segments (k, 2, 2) over each place `at` (m,), inf where none
    passes.
    """
    best = np.full(len(at), np.inf)
    if not len(segments):
        return best
    left, right = segments[:, :, 0].min(axis=1), segments[:, :, 0].max(axis=1)
    order = np.argsort(at, kind="stable")
    ranked = at[order]
    first, last = np.searchsorted(ranked, left, "left"), np.searchsorted(ranked, right, "right")
    count = np.maximum(last - first, 0)
    which = np.repeat(np.arange(len(segments)), count)
    place = np.arange(int(count.sum())) - np.repeat(np.cumsum(count) - count, count) + first[which]
    u0, z0 = segments[which, 0].T
    u1, z1 = segments[which, 1].T
    run = u1 - u0
    steep = np.abs(run) < 1e-9
    share = np.clip((ranked[place] - u0) / np.where(steep, 1.0, run), 0.0, 1.0)
    height = np.where(steep, np.minimum(z0, z1), z0 + share * (z1 - z0))
    np.minimum.at(best, order[place], height)
    return best


def thinned(line: Floats, within_mm: float) -> Floats:
    """A polyline (n, 2) with corners left out that lie within `within_mm` of what is kept; ends stay.

    Source: Douglas and Peucker's method.
    """
    keep = np.zeros(len(line), bool)
    keep[[0, -1]] = True
    waiting = [(0, len(line) - 1)]
    while waiting:
        a, b = waiting.pop()
        if b - a < 2:
            continue
        chord, away = line[b] - line[a], line[a + 1 : b] - line[a]
        length2 = float(chord @ chord)
        share = np.clip(away @ chord / length2, 0.0, 1.0) if length2 > 0.0 else np.zeros(len(away))
        off = np.linalg.norm(away - share[:, None] * chord, axis=1)
        worst = int(np.argmax(off))
        if off[worst] > within_mm:
            keep[a + 1 + worst] = True
            waiting += [(a, a + 1 + worst), (a + 1 + worst, b)]
    kept: Floats = line[keep]
    return kept
