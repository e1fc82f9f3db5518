"""How deep one triangle lies under another where they overlap in plan, in floating point: size and place of
what was decided in integers.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from claybed.geometry.lattice import Lattice
from claybed.geometry.mesh import Floats


@njit(cache=True, nogil=True, error_model="numpy")
def _height(t: Floats, z: Floats, k: int, x: float, y: float) -> float:
    ux, uy = t[k, 2] - t[k, 0], t[k, 3] - t[k, 1]
    vx, vy = t[k, 4] - t[k, 0], t[k, 5] - t[k, 1]
    wx, wy = x - t[k, 0], y - t[k, 1]
    area = ux * vy - uy * vx
    rise = (wx * vy - wy * vx) * (z[k, 1] - z[k, 0]) + (ux * wy - uy * wx) * (z[k, 2] - z[k, 0])
    height: float = z[k, 0] + rise / area
    return height


@njit(cache=True, nogil=True, error_model="numpy")
def _clip(ring: Floats, n: int, value: Floats, out: Floats) -> int:
    # Keep the part of a convex ring where the linear `value` at its corners is not below zero.
    m = 0
    for k in range(n):
        j = (k + 1) % n
        if value[k] >= 0.0:
            out[m, 0], out[m, 1] = ring[k, 0], ring[k, 1]
            m += 1
        if (value[k] > 0.0 and value[j] < 0.0) or (value[k] < 0.0 and value[j] > 0.0):
            s = value[k] / (value[k] - value[j])
            out[m, 0] = ring[k, 0] + s * (ring[j, 0] - ring[k, 0])
            out[m, 1] = ring[k, 1] + s * (ring[j, 1] - ring[k, 1])
            m += 1
    for k in range(m):
        ring[k, 0], ring[k, 1] = out[k, 0], out[k, 1]
    return m


@njit(cache=True, nogil=True, error_model="numpy")
def clip_pairs(a: Floats, za: Floats, b: Floats, zb: Floats) -> tuple[Floats, Lattice, Floats, Floats]:
    """Of each pair of triangles, `a` and `b` (k, 6) with their plan corners counter-clockwise, and heights of
    the corners `za` and `zb` (k, 3), the part of their overlap in plan in which `a` lies below `b`: its
    corners (k, 12, 2), how many of those hold (k,), the largest depth (k,), 0 for none, and its place on `a`
    (k, 3). In the units of what comes in.
    """
    count = a.shape[0]
    rings = np.zeros((count, 12, 2))
    sizes = np.zeros(count, np.int64)
    depth = np.zeros(count)
    place = np.zeros((count, 3))
    value = np.empty(12)
    out = np.empty((12, 2))
    for k in range(count):
        ring = rings[k]
        for v in range(3):
            ring[v, 0], ring[v, 1] = a[k, 2 * v], a[k, 2 * v + 1]
        place[k, 0], place[k, 1], place[k, 2] = a[k, 0], a[k, 1], za[k, 0]
        n = 3
        for e in range(3):
            f = (e + 1) % 3
            dx, dy = b[k, 2 * f] - b[k, 2 * e], b[k, 2 * f + 1] - b[k, 2 * e + 1]
            for v in range(n):
                value[v] = dx * (ring[v, 1] - b[k, 2 * e + 1]) - dy * (ring[v, 0] - b[k, 2 * e])
            n = _clip(ring, n, value, out)
        for v in range(n):
            own = _height(a, za, k, ring[v, 0], ring[v, 1])
            value[v] = _height(b, zb, k, ring[v, 0], ring[v, 1]) - own
            if value[v] > depth[k]:
                depth[k] = value[v]
                place[k, 0], place[k, 1], place[k, 2] = ring[v, 0], ring[v, 1], own
        sizes[k] = _clip(ring, n, value, out)
    return rings, sizes, depth, place
