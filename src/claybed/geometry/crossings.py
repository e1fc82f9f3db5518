"""The loops behind the depth raster, compiled: turn, cross, order by line, settle.

Vertices are turned into the axis frame and their plan coordinates rounded once to an integer lattice about
2**30 units wide. From there on coverage is decided in int64 alone: a row of pixel centres meets an edge when
one end is at or below it and the other above, and the edge lands on the first centre at or right of the
exact rational crossing. Both triangles of an edge therefore agree on every pixel, so a closed mesh is crossed
as often upwards as downwards in every column, without a tolerance.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.mesh import Floats, Ints
from claybed.geometry.plan_bins import sort_into_cells

ROUNDED_TILES = 1e-6  # more than rounding can move a corner against the border of a tile
STEEPEST = 1000.0  # largest face area one crossing may stand for, in pixels


@njit(cache=True, nogil=True, error_model="numpy")
def bounds(vertices: Floats, rotation: Floats) -> tuple[Floats, Floats]:
    """Lowest and highest corner, each (3,), of `vertices` (n, 3) turned by `rotation` (3, 3)."""
    lo = np.full(3, np.inf)
    hi = np.full(3, -np.inf)
    for i in range(len(vertices)):
        a, b, c = vertices[i, 0], vertices[i, 1], vertices[i, 2]
        for k in range(3):
            x = rotation[k, 0] * a + rotation[k, 1] * b + rotation[k, 2] * c
            lo[k], hi[k] = min(lo[k], x), max(hi[k], x)
    return lo, hi


@njit(cache=True, nogil=True, error_model="numpy")
def place(
    vertices: Floats,
    some: Ints,
    rotation: Floats,
    x0: float,
    y0: float,
    units_per_mm: float,
    plan: Ints,
    height: Floats,
) -> None:
    """Turn `some` (k,) of `vertices` (n, 3) and write out their `plan` (n, 2), lattice units from (x0, y0),
    and `height` (n,).
    """
    for i in some:
        a, b, c = vertices[i, 0], vertices[i, 1], vertices[i, 2]
        x = rotation[0, 0] * a + rotation[0, 1] * b + rotation[0, 2] * c
        y = rotation[1, 0] * a + rotation[1, 1] * b + rotation[1, 2] * c
        plan[i, 0] = np.int32(np.floor((x - x0) * units_per_mm + 0.5))
        plan[i, 1] = np.int32(np.floor((y - y0) * units_per_mm + 0.5))
        height[i] = rotation[2, 0] * a + rotation[2, 1] * b + rotation[2, 2] * c


@njit(cache=True, nogil=True, error_model="numpy")
def tiled(
    vertices: Floats, faces: Ints, rotation: Floats, x0: float, y0: float, side_mm: float, nx: int, ny: int
) -> tuple[NDArray[np.int64], Ints]:
    """The faces over each of `nx` by `ny` square tiles of the plan from (x0, y0), as rows in one list.

    Tile iy * nx + ix has faces items[starts[c]:starts[c + 1]], ascending: all whose plan bounds may touch it,
    those beyond the outermost tiles counted to these.
    """
    at = np.empty((len(vertices), 2))
    for i in range(len(vertices)):
        a, b, c = vertices[i, 0], vertices[i, 1], vertices[i, 2]
        at[i, 0] = (rotation[0, 0] * a + rotation[0, 1] * b + rotation[0, 2] * c - x0) / side_mm
        at[i, 1] = (rotation[1, 0] * a + rotation[1, 1] * b + rotation[1, 2] * c - y0) / side_mm
    span = np.empty((len(faces), 4), np.int32)
    for f in range(len(faces)):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        for k in range(2):
            most = (nx if k == 0 else ny) - 1
            low = min(at[a, k], at[b, k], at[c, k]) - ROUNDED_TILES
            high = max(at[a, k], at[b, k], at[c, k]) + ROUNDED_TILES
            span[f, 2 * k] = min(max(int(np.floor(low)), 0), most)
            span[f, 2 * k + 1] = min(max(int(np.floor(high)), 0), most)
    found: tuple[NDArray[np.int64], Ints] = sort_into_cells(span, nx, nx * ny)
    return found


@njit(cache=True, nogil=True, inline="always", error_model="numpy")
def landing(xa: int, ya: int, xb: int, yb: int, yc: int, near: int, shift: int) -> int:
    """First column whose centre lies at or right of the edge's crossing with row height yc, exactly."""
    if ya > yb:
        xa, ya, xb, yb = xb, yb, xa, ya
    ceiled = -((-(yc - ya) * (xb - xa)) // (yb - ya))
    return (xa + ceiled + near) >> shift


@njit(cache=True, nogil=True, error_model="numpy")
def cross(
    plan: Ints,
    height: Floats,
    faces: Ints,
    some: Ints,
    columns: int,
    rows: int,
    shift: int,
    count: Ints,
    hit_pixel: Ints,
    hit_side: Ints,
    hit_z: Floats,
) -> int:
    """Write all crossings of `some` (k,) of the faces, in this order, raise `count` by one per line, return
    how many there are.

    Counts on past the room in the `hit_` arrays, without writing.
    """
    room = len(hit_pixel)
    half = 1 << (shift - 1)
    near = half - 1  # turns a shift into "first centre at or beyond"
    k = 0
    for f in some:
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        ay, by, cy = int(plan[a, 1]), int(plan[b, 1]), int(plan[c, 1])
        j0 = max((min(ay, by, cy) + near) >> shift, 0)
        j1 = min((max(ay, by, cy) + near) >> shift, rows)
        if j0 >= j1:
            continue
        ax, bx, cx = int(plan[a, 0]), int(plan[b, 0]), int(plan[c, 0])
        if max((min(ax, bx, cx) + near) >> shift, 0) >= min((max(ax, bx, cx) + near) >> shift, columns):
            continue
        ux, uy, vx, vy = bx - ax, by - ay, cx - ax, cy - ay
        double_area = ux * vy - uy * vx
        if double_area == 0:
            continue
        side = np.int32(2 * int(f) + (1 if double_area > 0 else 0))
        za = height[a]
        zb, zc = (height[b] - za) / double_area, (height[c] - za) / double_area
        for j in range(j0, j1):
            yc = (j << shift) + half
            first = last = 0
            found = False
            if (ay <= yc) != (by <= yc):
                first = landing(ax, ay, bx, by, yc, near, shift)
                found = True
            if (by <= yc) != (cy <= yc):
                at = landing(bx, by, cx, cy, yc, near, shift)
                if found:
                    last = at
                else:
                    first = at
            if (cy <= yc) != (ay <= yc):
                last = landing(cx, cy, ax, ay, yc, near, shift)
            if first > last:
                first, last = last, first
            py = yc - ay
            for i in range(max(first, 0), min(last, columns)):
                px = (i << shift) + half - ax
                if k < room:
                    pixel = j * columns + i
                    hit_pixel[k] = pixel
                    hit_side[k] = side
                    hit_z[k] = za + (px * vy - py * vx) * zb + (ux * py - uy * px) * zc
                    count[pixel] += 1
                k += 1
    return k


@njit(cache=True, nogil=True, error_model="numpy")
def spread(
    used: int, hit_pixel: Ints, hit_side: Ints, hit_z: Floats, start: Ints, z: Floats, side: Ints
) -> None:
    """Counting sort of the crossings by line: `start` comes in as counts and leaves as first places."""
    pixels = len(start) - 1
    total = 0
    for p in range(pixels):
        total += start[p]
        start[p] = total  # the place after the line's last; filling backwards brings it to the first
    start[pixels] = total
    for k in range(used - 1, -1, -1):
        to = start[hit_pixel[k]] - 1
        start[hit_pixel[k]] = to
        z[to] = hit_z[k]
        side[to] = hit_side[k]


@njit(cache=True, nogil=True, error_model="numpy")
def settle(
    start: Ints,
    z: Floats,
    side: Ints,
    plan: Ints,
    height: Floats,
    faces: Ints,
    units_per_mm: float,
    floor_mm: float,
) -> tuple[float, float, float, float, int, int, int]:
    """Sort every line by height and add up what it shows; volumes and areas in pixels."""
    fill = volume = undercut = longest = 0.0
    covered = gapped = odd = 0
    for p in range(len(start) - 1):
        lo, hi = start[p], start[p + 1]
        if lo == hi:
            continue
        covered += 1
        odd += (hi - lo) & 1
        for k in range(lo + 1, hi):
            zk, sk = z[k], side[k]
            m = k - 1
            while m >= lo and z[m] > zk:
                z[m + 1], side[m + 1] = z[m], side[m]
                m -= 1
            z[m + 1], side[m + 1] = zk, sk
        inside = 0
        gap = False
        for k in range(lo, hi - 1):
            inside += 1 - 2 * (side[k] & 1)
            length = z[k + 1] - z[k]
            if inside > 0:
                volume += length
            elif length > floor_mm:
                fill += length
                longest = max(longest, length)
                gap = True
        if gap:
            gapped += 1
            for k in range(lo + 1, hi - 1):
                undercut += stretch(plan, height, faces, side[k] >> 1, units_per_mm)
    return fill, volume, undercut, longest, covered, gapped, odd


@njit(cache=True, nogil=True, error_model="numpy")
def stretch(plan: Ints, height: Floats, faces: Ints, f: int, units_per_mm: float) -> float:
    """Area of a face over the area of its plan, at most STEEPEST."""
    a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
    ux, uy = (plan[b, 0] - plan[a, 0]) / units_per_mm, (plan[b, 1] - plan[a, 1]) / units_per_mm
    vx, vy = (plan[c, 0] - plan[a, 0]) / units_per_mm, (plan[c, 1] - plan[a, 1]) / units_per_mm
    uz, vz = height[b] - height[a], height[c] - height[a]
    nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
    if nz == 0.0:
        return STEEPEST
    stretched: float = np.sqrt(nx * nx + ny * ny + nz * nz) / abs(nz)
    return min(stretched, STEEPEST)
