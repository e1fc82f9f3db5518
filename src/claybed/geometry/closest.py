"""Distances of points from a few triangles, and the nearest of many within a short reach."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.lattice import XY_PER_MM, Lattice
from claybed.geometry.mesh import Floats
from claybed.geometry.plan_bins import bin_triangles

# Squares of distances nearer than this are one: a spot on the edge between two faces.
TIE_MM2 = 1e-10


def distances_from(points: Floats, corners: Floats) -> Floats:
    """Distance (n,) of points (n, 3) from the nearest of triangles (m, 3, 3), m at least 1, in their unit.

    Every pair is measured, so this is for a few triangles. Source: point-to-triangle distance, by the region
    of the triangle's plane that the point lies over.
    """
    square: Floats = _least_squares(np.ascontiguousarray(points), np.ascontiguousarray(corners))
    return np.sqrt(square)


def nearest_within(spots: Floats, corners: Floats, reach_mm: float) -> tuple[NDArray[np.int64], Floats]:
    """The nearest of triangles (m, 3, 3) mm, m at least 1, to each spot (n, 3) mm that one lies within
    `reach_mm` of, and how far it is: numbers (n,), -1 where none does, and distances (n,) mm, inf there.

    Of triangles as near as one another, such as those that meet in an edge, it is the first.
    """
    plan = np.rint(corners[:, :, :2] * XY_PER_MM).astype(np.int64).reshape(-1, 6)
    found, square = _nearest(
        np.ascontiguousarray(spots), corners, *bin_triangles(plan), float(XY_PER_MM), reach_mm, TIE_MM2
    )
    return found, np.sqrt(square)


def lying_on(faces: Floats, corners: Floats, reach_mm: float) -> NDArray[np.bool_]:
    """Which of some faces (n, 3, 3) mm lie all over within `reach_mm` of one of triangles (m, 3, 3) mm, m at
    least 1: the one nearest to the middle of the face.

    The distance from a triangle is convex, so where a face's three corners are near enough every point of it
    is; nothing between them is left to chance. A face that reaches over several triangles may lie on them all
    the same. Source: convexity of the distance from a convex set.
    """
    found, _ = nearest_within(faces.mean(axis=1), corners, reach_mm)
    lying: NDArray[np.bool_] = _all_within(np.ascontiguousarray(faces), corners, found, reach_mm * reach_mm)
    return lying


@njit(cache=True, nogil=True)
def _dot(u: Floats, v: Floats) -> float:
    total: float = u[0] * v[0] + u[1] * v[1] + u[2] * v[2]
    return total


@njit(cache=True, nogil=True, error_model="numpy")
def _square(p: Floats, triangle: Floats) -> float:
    # Over a side the plane counts; else the nearest of the three sides does.
    least = np.inf
    u, v, w = np.empty(3), np.empty(3), np.empty(3)
    for k in range(3):
        for axis in range(3):
            u[axis] = triangle[(k + 1) % 3, axis] - triangle[k, axis]
            v[axis] = p[axis] - triangle[k, axis]
        length = _dot(u, u)
        t = min(max(_dot(u, v) / length, 0.0), 1.0) if length > 0.0 else 0.0
        for axis in range(3):
            w[axis] = v[axis] - t * u[axis]
        least = min(least, _dot(w, w))
    for axis in range(3):
        u[axis] = triangle[1, axis] - triangle[0, axis]
        v[axis] = triangle[2, axis] - triangle[0, axis]
        w[axis] = p[axis] - triangle[0, axis]
    uu, uv, vv, wu, wv = _dot(u, u), _dot(u, v), _dot(v, v), _dot(w, u), _dot(w, v)
    whole = uu * vv - uv * uv
    if whole > 0.0:
        s, t = (vv * wu - uv * wv) / whole, (uu * wv - uv * wu) / whole
        if s >= 0.0 and t >= 0.0 and s + t <= 1.0:
            for axis in range(3):
                w[axis] -= s * u[axis] + t * v[axis]
            least = min(least, _dot(w, w))
    return least


@njit(cache=True, nogil=True)
def _least_squares(points: Floats, corners: Floats) -> Floats:
    least = np.full(points.shape[0], np.inf)
    for q in range(points.shape[0]):
        for k in range(corners.shape[0]):
            least[q] = min(least[q], _square(points[q], corners[k]))
    return least


@njit(cache=True, nogil=True)
def _nearest(
    spots: Floats,
    corners: Floats,
    x0: int,
    y0: int,
    cell: int,
    gx: int,
    gy: int,
    starts: Lattice,
    items: NDArray[np.int32],
    per_mm: float,
    reach: float,
    tie: float,
) -> tuple[NDArray[np.int64], Floats]:
    found, least = np.full(spots.shape[0], -1, np.int64), np.full(spots.shape[0], np.inf)
    for q in range(spots.shape[0]):
        p = spots[q]
        best = reach * reach
        left = max(int(np.floor((p[0] - reach) * per_mm - x0 - 1.0)) // cell, 0)
        right = min(int(np.ceil((p[0] + reach) * per_mm - x0 + 1.0)) // cell, gx - 1)
        if right < left:  # beside all cells: there is nothing to read
            continue
        for iy in range(
            max(int(np.floor((p[1] - reach) * per_mm - y0 - 1.0)) // cell, 0),
            min(int(np.ceil((p[1] + reach) * per_mm - y0 + 1.0)) // cell, gy - 1) + 1,
        ):
            for i in range(starts[iy * gx + left], starts[iy * gx + right + 1]):
                k = items[i]
                off = False
                for axis in range(3):
                    a, b, c = corners[k, 0, axis], corners[k, 1, axis], corners[k, 2, axis]
                    off = off or min(a, b, c) > p[axis] + reach or max(a, b, c) < p[axis] - reach
                if off:
                    continue
                square = _square(p, corners[k])
                if square > best + tie:
                    continue
                if square < best - tie or found[q] < 0 or k < found[q]:
                    found[q] = k
                best = min(best, square)
        if found[q] >= 0:
            least[q] = best
    return found, least


@njit(cache=True, nogil=True)
def _all_within(faces: Floats, corners: Floats, found: NDArray[np.int64], square: float) -> NDArray[np.bool_]:
    within = found >= 0
    for k in range(faces.shape[0]):
        for v in range(3):
            within[k] = within[k] and _square(faces[k, v], corners[found[k]]) <= square
    return within
