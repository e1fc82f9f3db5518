"""Which points of the space outside an object can be withdrawn along which pulls.

A point is free along a pull when the ray from it along the pull meets nothing of the object. A set of pulls
makes a mold exactly when every point outside is free along one of them (moldability, decomposition theorem);
that every face can be seen along one is not enough.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy import ndimage

from claybed.geometry.columns import gaps
from claybed.geometry.depth import Columns, DepthRaster
from claybed.geometry.mesh import Floats, Ints, Mesh

Flags = NDArray[np.bool_]
MOST_POINTS = 60_000
PER_GAP = 6
# Share by which the cone round a triangle is taken wider than it is: more than rounding, next to nothing.
CONE_ROOM = 1e-6


class Skyline:
    """How far up an object reaches along one pull, line by line: what lies higher is free.

    A point counts as free when a neighbouring line is free there: walls parallel to the pull do not block it.
    """

    def __init__(self, raster: DepthRaster, pull: Floats) -> None:
        columns = raster.columns(pull)
        self._grid = columns.grid
        top = np.nan_to_num(columns.top_mm, nan=-np.inf)
        self._lowest: Floats = ndimage.minimum_filter(top, size=3, mode="constant", cval=-np.inf)

    def free(self, points_mm: Floats) -> Flags:
        """Which points (n, 3) mm of the object's frame are free, to within one line of the raster."""
        grid = self._grid
        free: Flags = _above(
            points_mm @ grid.rotation.T,
            self._lowest,
            float(grid.origin_mm[0]),
            float(grid.origin_mm[1]),
            grid.spacing_mm,
        )
        return free


def free_along(raster: DepthRaster, points_mm: Floats, pull: Floats) -> Flags:
    """Which points (n, 3) mm of the object's frame are free along `pull` (3,); see `Skyline`."""
    return Skyline(raster, pull).free(points_mm)


def locked_points(columns: Columns) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Points of the space that locks along an axis: places (n, 3) mm, volume (n,) mm³ each stands for, and
    the patch (n,) each is in, numbered from 0 in no order.
    """
    found = gaps(columns)
    grid = columns.grid
    if not len(found.pixel):
        return np.zeros((0, 3)), np.zeros(0), np.zeros(0, np.int64)
    length = found.hi_mm - found.lo_mm
    count = np.clip(np.ceil(length / (2.0 * grid.spacing_mm)), 1, PER_GAP).astype(np.int64)
    gap = np.repeat(np.arange(len(length)), count)
    step = np.arange(len(gap)) - np.repeat(np.cumsum(count) - count, count)
    z = found.lo_mm[gap] + (step + 0.5) / count[gap] * length[gap]
    volume = length[gap] / count[gap] * grid.spacing_mm**2
    locked = np.zeros((grid.rows, grid.columns), bool)
    locked.flat[found.pixel] = True
    label, _ = ndimage.label(locked, structure=np.ones((3, 3), bool))
    patch = label.flat[found.pixel[gap]].astype(np.int64) - 1
    pixel = found.pixel[gap]
    stride = -(-len(gap) // MOST_POINTS)
    keep = slice(stride // 2, None, stride)
    scale = float(volume.sum()) / float(volume[keep].sum())
    points: Floats = grid.object_mm(pixel[keep], z[keep])
    return points, volume[keep] * scale, patch[keep]


def outside_points(mesh: Mesh, raster: DepthRaster, *, spacing_mm: float, margin_mm: float) -> Floats:
    """Points (n, 3) mm on a cubic grid outside an object, up to `margin_mm` beyond its box."""
    lo, hi = mesh.bounds_mm
    sides = [np.arange(lo[k] - margin_mm, hi[k] + margin_mm, spacing_mm) for k in range(3)]
    grid = np.stack(np.meshgrid(*sides, indexing="ij"), axis=-1).reshape(-1, 3)
    inside = inside_points(raster.columns(np.array([0.0, 0.0, 1.0])), grid)
    outside: Floats = grid[~inside]
    return outside


def inside_points(columns: Columns, points_mm: Floats) -> Flags:
    """Which points (n, 3) mm lie inside an object, to within one of its lines."""
    frame = columns.grid
    placed = points_mm @ frame.rotation.T
    at = np.floor((placed[:, :2] - np.array(frame.origin_mm)) / frame.spacing_mm).astype(np.int64)
    on_plan = (at >= 0).all(axis=1) & (at[:, 0] < frame.columns) & (at[:, 1] < frame.rows)
    pixel = np.where(on_plan, at[:, 1] * frame.columns + at[:, 0], 0)
    inside: Flags = _inside(columns.start, columns.z_mm, columns.side, pixel, placed[:, 2]) & on_plan
    return inside


def open_directions(mesh: Mesh, spot_mm: Floats, directions: Floats) -> Flags:
    """Along which of `directions` (m, 3) a ray from a point (3,) mm meets no face of a mesh."""
    corner = mesh.corners_mm - spot_mm
    free: Flags = _open(np.ascontiguousarray(corner), np.ascontiguousarray(directions))
    return free


@njit(cache=True, nogil=True)
def _above(placed: Floats, lowest: Floats, x_mm: float, y_mm: float, spacing_mm: float) -> Flags:
    free = np.ones(len(placed), np.bool_)
    rows, columns = lowest.shape
    for k in range(len(placed)):
        column = int(np.floor((placed[k, 0] - x_mm) / spacing_mm))
        row = int(np.floor((placed[k, 1] - y_mm) / spacing_mm))
        if 0 <= column < columns and 0 <= row < rows:
            free[k] = placed[k, 2] > lowest[row, column] - 1e-9
    return free


@njit(cache=True, nogil=True)
def _inside(start: Ints, z: Floats, side: Ints, pixel: NDArray[np.int64], height: Floats) -> Flags:
    out = np.zeros(len(pixel), np.bool_)
    for k in range(len(pixel)):
        depth = 0
        for c in range(start[pixel[k]], start[pixel[k] + 1]):
            if z[c] > height[k]:
                break
            depth += 1 - 2 * (side[c] & 1)
        out[k] = depth > 0
    return out


@njit(cache=True, nogil=True, error_model="numpy")
def _toward(corner: Floats, x: float, y: float, z: float) -> float:
    # How far (x, y, z) goes along the way to a corner; any way for one at the origin itself.
    length = np.sqrt(corner[0] ** 2 + corner[1] ** 2 + corner[2] ** 2)
    if length == 0.0:
        return 0.0
    along: float = (corner[0] * x + corner[1] * y + corner[2] * z) / length
    return along


@njit(cache=True, nogil=True)
def _open(corner: Floats, directions: Floats) -> Flags:
    m = len(directions)
    out = np.ones(m, np.bool_)
    for t in range(len(corner)):
        a, b, c = corner[t, 0], corner[t, 1], corner[t, 2]
        # A ray from the origin meets the triangle when it lies on one side of all three of its planes.
        n0x, n0y, n0z = a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]
        n1x, n1y, n1z = b[1] * c[2] - b[2] * c[1], b[2] * c[0] - b[0] * c[2], b[0] * c[1] - b[1] * c[0]
        n2x, n2y, n2z = c[1] * a[2] - c[2] * a[1], c[2] * a[0] - c[0] * a[2], c[0] * a[1] - c[1] * a[0]
        s = n0x * c[0] + n0y * c[1] + n0z * c[2]
        mx, my, mz = a[0] + b[0] + c[0], a[1] + b[1] + c[1], a[2] + b[2] + c[2]
        # And within the cone round its middle that holds its corners; most rays are out of that.
        least = _toward(a, mx, my, mz)
        least = min(least, _toward(b, mx, my, mz))
        least = max(min(least, _toward(c, mx, my, mz)) * (1.0 - CONE_ROOM), 0.0)
        for k in range(m):
            if not out[k]:
                continue
            x, y, w = directions[k, 0], directions[k, 1], directions[k, 2]
            if x * mx + y * my + w * mz <= least:
                continue
            p = n0x * x + n0y * y + n0z * w
            if (p < 0.0 and s > 0.0) or (p > 0.0 and s < 0.0):
                continue
            q = n1x * x + n1y * y + n1z * w
            r = n2x * x + n2y * y + n2z * w
            if (s >= 0.0 and p >= 0.0 and q >= 0.0 and r >= 0.0) or (
                s <= 0.0 and p <= 0.0 and q <= 0.0 and r <= 0.0
            ):
                out[k] = False
    return out
