"""A smooth curve through readings that never leaves the span between two of them."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np
from scipy.interpolate import PchipInterpolator

from claybed.geometry.mesh import Floats
from claybed.records.form import Reading

STEPS: Final = 24
THIN_MM: Final = 0.03  # of diameters, so about a third of it off the surface


def table(readings: Sequence[Reading]) -> Floats:
    """Readings as rows (n, 3) of height, width and depth, mm."""
    return np.array([[r.height_mm, r.width_mm, r.depth_mm] for r in readings], np.float64)


def breaks(readings: Sequence[Reading]) -> list[int]:
    """Where the curve may have a corner: at readings marked sharp, and on both sides of a ledge."""
    found = {0, len(readings) - 1}
    for k, reading in enumerate(readings):
        ledge = k > 0 and reading.height_mm == readings[k - 1].height_mm
        if reading.sharp:
            found.add(k)
        if ledge:
            found |= {k - 1, k}
    return sorted(found)


def curve(rows: Floats, corners: Sequence[int], *, steps: int = STEPS) -> Floats:
    """Points (m, 3) on the curve through the rows (n, 3): `steps` to each interval, the readings among them.

    Height, width and depth each run monotonically between neighbouring readings (piecewise cubic Hermite
    over the chord's length), so that nothing bulges past what was read. `corners` are the rows at which the
    curve starts anew. Source: Fritsch and Carlson 1980, as in SciPy.
    """
    parts = [rows[:1]]
    for first, last in pairwise(corners):
        run = rows[first : last + 1]
        chord = np.linalg.norm(np.diff(run, axis=0), axis=1)
        along = np.concatenate([[0.0], np.cumsum(np.maximum(chord, 1e-9))])
        share = np.arange(1, steps + 1) / steps
        at = (along[:-1, None] + share * np.diff(along)[:, None]).ravel()
        smooth = PchipInterpolator(along, run, axis=0)(at) if len(run) > 2 else None
        if smooth is None:
            smooth = run[0] + share[:, None] * (run[1] - run[0])
        smooth[steps - 1 :: steps] = run[1:]
        parts.append(smooth)
    return np.concatenate(parts)


def thinned(points: Floats, *, within_mm: float = THIN_MM) -> Floats:
    """The points (m, 3) without those that lie within a distance of the line through their neighbours kept.

    Ends stay. Source: Douglas and Peucker 1973.
    """
    keep = np.zeros(len(points), bool)
    keep[[0, -1]] = True
    waiting = [(0, len(points) - 1)]
    while waiting:
        a, b = waiting.pop()
        if b - a < 2:
            continue
        line = points[b] - points[a]
        length = float(np.linalg.norm(line))
        away = points[a + 1 : b] - points[a]
        if length > 0.0:
            away = away - np.outer(away @ line / length**2, line)
        off = np.linalg.norm(away, axis=1)
        worst = int(off.argmax())
        if off[worst] > within_mm:
            keep[a + 1 + worst] = True
            waiting += [(a, a + 1 + worst), (a + 1 + worst, b)]
    return points[keep]
