"""Stretches of upright lines that lie in two solids at once: a second look, apart from release."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, Lattice
from claybed.geometry.mesh import Floats
from claybed.geometry.slab import LatticeSolid

# Lines stand on this part of a lattice step, so that hardly any meets an edge.
FINER = 64
MOST_CROSSINGS = 4096
# A triangle over more cells of lines in a row is looked at row by row.
WIDE_CELLS = 4


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
    if not len(points) or not any(len(solid.faces) for solid in solids):
        return Stack(len(points), 0.0, (0.0, 0.0, 0.0))
    points, bins = _bin_lines(points, footprint.min(axis=0) * FINER, footprint.max(axis=0) * FINER)
    hits = [_hits(solid, points, bins) for solid in solids]
    line, height, step = (np.concatenate(column) for column in zip(*hits, strict=True))
    overlap, z, overfull = _stacked(line, height, step, len(points), MOST_CROSSINGS)
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
    return kept


class _Bins(NamedTuple):
    """Lines in a grid of `gx` by `gy` cells of side 2 ** `bits` from (`x0`, `y0`), in steps of 1 / FINER.

    Cell number c, iy * gx + ix, holds lines starts[c] to starts[c + 1].
    """

    x0: int
    y0: int
    bits: int
    gx: int
    gy: int
    starts: Lattice


def _bin_lines(points: Lattice, lo: Lattice, hi: Lattice) -> tuple[Lattice, _Bins]:
    """Lines at `points` (n, 2), all from `lo` to `hi`, in the order of cells that hold one or two each."""
    bits = (int((hi - lo).max()) // max(int(np.sqrt(len(points))), 1)).bit_length()
    gx, gy = (int(v) + 1 for v in (hi - lo) >> bits)
    starts, order = _fill_bins(points, int(lo[0]), int(lo[1]), bits, gx, gx * gy)
    return points[order], _Bins(int(lo[0]), int(lo[1]), bits, gx, gy, starts)


def _hits(
    solid: LatticeSolid, points: Lattice, bins: _Bins
) -> tuple[NDArray[np.int32], Floats, NDArray[np.int8]]:
    """Where lines pass the surface of a solid: number of the line, height, and 1 going in, -1 going out."""
    room = 4 * len(points)
    while True:
        line, height, step = np.empty(room, np.int32), np.empty(room), np.empty(room, np.int8)
        count = _passed(solid.points, solid.faces, points, *bins, FINER, line, height, step)
        if count <= room:
            return line[:count], height[:count], step[:count]
        room = count


@njit(cache=True, nogil=True)
def _fill_bins(
    points: Lattice, x0: int, y0: int, bits: int, gx: int, cells: int
) -> tuple[Lattice, NDArray[np.int32]]:
    starts = np.zeros(cells + 1, np.int64)
    own = np.empty(points.shape[0], np.int64)
    for q in range(points.shape[0]):
        own[q] = ((points[q, 1] - y0) >> bits) * gx + ((points[q, 0] - x0) >> bits)
        starts[own[q] + 1] += 1
    for c in range(cells):
        starts[c + 1] += starts[c]
    at = starts[:-1].copy()
    items = np.empty(points.shape[0], np.int32)
    for q in range(points.shape[0]):
        items[at[own[q]]] = q
        at[own[q]] += 1
    return starts, items


@njit(cache=True, nogil=True, error_model="numpy")
def _passed(
    corner: Lattice,
    faces: NDArray[np.int32],
    points: Lattice,
    x0: int,
    y0: int,
    bits: int,
    gx: int,
    gy: int,
    starts: Lattice,
    finer: int,
    line: NDArray[np.int32],
    height: Floats,
    step: NDArray[np.int8],
) -> int:
    count = 0
    px, py, pz = np.empty(3, np.int64), np.empty(3, np.int64), np.empty(3, np.int64)
    w = np.empty(3, np.int64)
    for t in range(faces.shape[0]):
        a, b, c = faces[t, 0], faces[t, 1], faces[t, 2]
        area = (corner[b, 0] - corner[a, 0]) * (corner[c, 1] - corner[a, 1]) - (
            corner[b, 1] - corner[a, 1]
        ) * (corner[c, 0] - corner[a, 0])
        if area == 0:
            continue
        for v in range(3):
            # Counter-clockwise in plan, whichever way the face looks.
            p = faces[t, v if area > 0 else 2 - v]
            px[v], py[v], pz[v] = corner[p, 0], corner[p, 1], corner[p, 2]
        west = max((finer * min(px[0], px[1], px[2]) - x0) >> bits, 0)
        east = min((finer * max(px[0], px[1], px[2]) - x0) >> bits, gx - 1)
        for iy in range(
            max((finer * min(py[0], py[1], py[2]) - y0) >> bits, 0),
            min((finer * max(py[0], py[1], py[2]) - y0) >> bits, gy - 1) + 1,
        ):
            left, right = west, east
            if east - west > WIDE_CELLS:
                # Of a wide triangle only what it covers of this row of cells.
                low, high = _reach(px, py, (y0 + (iy << bits)) / finer, (y0 + ((iy + 1) << bits)) / finer)
                left = max(left, (finer * int(np.floor(low)) - finer - x0) >> bits)
                right = min(right, (finer * int(np.ceil(high)) + finer - x0) >> bits)
            for k in range(starts[iy * gx + left], starts[iy * gx + right + 1]):
                x, y = points[k, 0], points[k, 1]
                inside = True
                for e in range(3):
                    f = (e + 1) % 3
                    dx, dy = px[f] - px[e], py[f] - py[e]
                    s = dx * (y - finer * py[e]) - dy * (x - finer * px[e])
                    # A line on an edge belongs to the triangle that has the edge on its left side or below
                    # it.
                    if s < 0 or (s == 0 and not (dy < 0 or (dy == 0 and dx > 0))):
                        inside = False
                        break
                    w[(e + 2) % 3] = s
                if not inside:
                    continue
                if count < line.shape[0]:
                    line[count] = k
                    height[count] = (float(w[0]) * pz[0] + float(w[1]) * pz[1] + float(w[2]) * pz[2]) / (
                        float(w[0]) + float(w[1]) + float(w[2])
                    )
                    step[count] = -1 if area > 0 else 1
                count += 1
    return count


@njit(cache=True, nogil=True, error_model="numpy")
def _reach(px: Lattice, py: Lattice, south: float, north: float) -> tuple[float, float]:
    """Least and largest x of a triangle between two heights of the plan that it reaches."""
    low, high = np.inf, -np.inf
    for e in range(3):
        f = (e + 1) % 3
        if south <= py[e] <= north:
            low, high = min(low, float(px[e])), max(high, float(px[e]))
        for y in (south, north):
            if min(py[e], py[f]) < y < max(py[e], py[f]):
                x = px[e] + (y - py[e]) / (py[f] - py[e]) * (px[f] - px[e])
                low, high = min(low, x), max(high, x)
    return low, high


@njit(cache=True, nogil=True)
def _stacked(
    line: NDArray[np.int32], height: Floats, step: NDArray[np.int8], count: int, most: int
) -> tuple[Floats, Floats, bool]:
    overlap, at = np.zeros(count), np.zeros(count)
    starts = np.zeros(count + 1, np.int64)
    for i in range(line.shape[0]):
        starts[line[i] + 1] += 1
    for q in range(count):
        if starts[q + 1] > most:
            return overlap, at, True
        starts[q + 1] += starts[q]
    end = starts[:-1].copy()
    h, up = np.empty(line.shape[0]), np.empty(line.shape[0], np.int8)
    for i in range(line.shape[0]):
        q = line[i]
        # Kept in order of height; where two are equal, a solid ends before the next begins.
        m = end[q]
        while m > starts[q] and (h[m - 1] > height[i] or (h[m - 1] == height[i] and up[m - 1] > step[i])):
            h[m], up[m] = h[m - 1], up[m - 1]
            m -= 1
        h[m], up[m] = height[i], step[i]
        end[q] += 1
    for q in range(count):
        depth = 0
        run = 0.0
        for m in range(starts[q], starts[q + 1] - 1):
            depth += up[m]
            length = h[m + 1] - h[m]
            run = run + length if depth >= 2 else 0.0
            if run > overlap[q]:
                overlap[q] = run
                at[q] = h[m + 1]
    return overlap, at, False
