"""Stretches of upright lines that lie in two solids at once: a second look, apart from release."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, Lattice
from claybed.geometry.mesh import Floats
from claybed.geometry.plan_bins import bin_triangles
from claybed.geometry.slab import LatticeSolid

# Lines stand on this part of a lattice step, so that hardly any meets an edge.
FINER = 64
MOST_CROSSINGS = 4096


@dataclass(frozen=True, slots=True)
class Stack:
    """What upright lines find: `lines` how many, `overlap_mm` the longest stretch in two solids at once.

    `at_mm` the upper end of that stretch.
    """

    lines: int
    overlap_mm: float
    at_mm: tuple[float, float, float]


def stack(solids: Sequence[LatticeSolid], footprint: Lattice, *, lines: int) -> Stack:
    """Cut solids by about `lines` upright lines, even over a convex plan (k, 2), counter-clockwise.

    Where a line stands is decided in integers, ties included; heights are float64 (1e-9 mm). Raises
    ArithmeticError when one line crosses more than 4096 faces.
    """
    points = _spread(footprint, lines)
    plans, heights, signs = [], [], []
    for solid in solids:
        corner = solid.points[solid.faces]
        u, v = corner[:, 1, :2] - corner[:, 0, :2], corner[:, 2, :2] - corner[:, 0, :2]
        area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
        for side in (1, -1):
            mine = corner[side * area > 0][:, ::side]
            plans.append(mine[:, :, :2].reshape(-1, 6))
            heights.append(mine[:, :, 2])
            signs.append(np.full(len(mine), -side, np.int64))
    plan, height, step = np.concatenate(plans), np.concatenate(heights), np.concatenate(signs)
    if not len(plan) or not len(points):
        return Stack(len(points), 0.0, (0.0, 0.0, 0.0))
    overlap, z, overfull = _stack(plan, height, step, *bin_triangles(plan), points, FINER, MOST_CROSSINGS)
    if overfull:
        raise ArithmeticError(f"an upright line crosses more than {MOST_CROSSINGS} faces")
    worst = int(np.argmax(overlap))
    x, y = points[worst] / FINER / XY_PER_MM
    return Stack(
        len(points),
        float(overlap[worst]) / Z_PER_MM,
        (float(x), float(y), float(z[worst]) / Z_PER_MM),
    )


def _spread(footprint: Lattice, lines: int) -> Lattice:
    """Points (n, 2) in steps of 1 / FINER inside a convex plan: multiples of powers of the plastic number."""
    lo, hi = footprint.min(axis=0), footprint.max(axis=0)
    p, q = footprint, np.roll(footprint, -1, axis=0)
    area = 0.5 * float((p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]).sum())
    share = area / float(np.prod((hi - lo).astype(np.float64)))
    plastic = 1.324717957244746
    k = np.arange(1, round(lines / max(share, 1e-3)) + 1)[:, None]
    unit = np.mod(0.5 + k * np.array([1.0 / plastic, 1.0 / plastic**2]), 1.0)
    points = np.floor((lo + unit * (hi - lo)) * FINER).astype(np.int64)
    inside = np.ones(len(points), bool)
    for a, b in zip(p * FINER, q * FINER, strict=True):
        inside &= (b[0] - a[0]) * (points[:, 1] - a[1]) - (b[1] - a[1]) * (points[:, 0] - a[0]) > 0
    kept: Lattice = points[inside]
    # In the order of the cells they fall into, neighbours are looked at together.
    strip = int((hi - lo).max()) * FINER // 256 + 1
    ordered: Lattice = kept[np.lexsort((kept[:, 0], kept[:, 1] // strip))]
    return ordered


@njit(cache=True, nogil=True, error_model="numpy")
def _stack(
    tri: Lattice,
    z: Lattice,
    sign: Lattice,
    x0: int,
    y0: int,
    cell: int,
    gx: int,
    gy: int,
    starts: Lattice,
    items: NDArray[np.int32],
    points: Lattice,
    finer: int,
    most: int,
) -> tuple[Floats, Floats, bool]:
    count = points.shape[0]
    overlap, at = np.zeros(count), np.zeros(count)
    height = np.empty(most)
    step = np.empty(most, np.int64)
    w = np.empty(3, np.int64)
    for q in range(count):
        x, y = points[q, 0], points[q, 1]
        ix, iy = (x // finer - x0) // cell, (y // finer - y0) // cell
        if ix < 0 or iy < 0 or ix >= gx or iy >= gy:
            continue
        n = 0
        for k in range(starts[iy * gx + ix], starts[iy * gx + ix + 1]):
            t = items[k]
            inside = True
            for e in range(3):
                f = (e + 1) % 3
                dx, dy = tri[t, 2 * f] - tri[t, 2 * e], tri[t, 2 * f + 1] - tri[t, 2 * e + 1]
                s = dx * (y - finer * tri[t, 2 * e + 1]) - dy * (x - finer * tri[t, 2 * e])
                # A line on an edge belongs to the triangle that has the edge on its left side or below
                # it.
                if s < 0 or (s == 0 and not (dy < 0 or (dy == 0 and dx > 0))):
                    inside = False
                    break
                w[(e + 2) % 3] = s
            if not inside:
                continue
            if n == most:
                return overlap, at, True
            h = (float(w[0]) * z[t, 0] + float(w[1]) * z[t, 1] + float(w[2]) * z[t, 2]) / (
                float(w[0]) + float(w[1]) + float(w[2])
            )
            # Kept in order of height; where two are equal, a solid ends before the next begins.
            m = n
            while m > 0 and (height[m - 1] > h or (height[m - 1] == h and step[m - 1] > sign[t])):
                height[m], step[m] = height[m - 1], step[m - 1]
                m -= 1
            height[m], step[m] = h, sign[t]
            n += 1
        depth = 0
        run = 0.0
        for m in range(n - 1):
            depth += step[m]
            length = height[m + 1] - height[m]
            run = run + length if depth >= 2 else 0.0
            if run > overlap[q]:
                overlap[q] = run
                at[q] = height[m + 1]
    return overlap, at, False
