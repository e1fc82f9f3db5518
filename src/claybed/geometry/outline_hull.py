"""The hull of outlines: what is left of space when each view has cut away what it sees past.

A view is a map of signed distances to the outline, in pixels, positive inside, and the 3 x 4 matrix that
takes points to it. Times depth over focal length that distance is in mm, and the least over all views is the
field whose zero is the hull. Blocks that the field at their middle shows to be all inside or all outside are
filled without looking closer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numba import njit, prange
from numpy.typing import NDArray

from claybed.geometry.mesh import Floats, Mesh

BLOCK = 8
BEYOND_MM = 1000.0  # how far outside a place is that lies beyond the picture, which holds the whole object
MOST_VIEWS = 64
# Farthest that a view's distance may change over 1 mm: off the middle of a picture a millimetre is wider.
_STEEPEST = 1.5

Field = NDArray[np.float32]


@dataclass(frozen=True, slots=True, eq=False)
class Views:
    """Signed distance maps of several views, end to end.

    `maps` all pixels row by row; `start` (k,) where each map begins; `size` (k, 2) width and height;
    `matrix` (k, 3, 4) mm to pixels times depth; `focal_px` (k,).
    """

    maps: Field
    start: NDArray[np.int64]
    size: NDArray[np.int64]
    matrix: Floats
    focal_px: Floats

    @staticmethod
    def of(maps: Sequence[Field], matrices: Sequence[Floats], focal_px: Sequence[float]) -> Views:
        """Views from maps (h, w) in pixels, matrices (3, 4) and focal lengths; raises ValueError for none or
        more than 64.
        """
        if not 1 <= len(maps) <= MOST_VIEWS:
            raise ValueError(f"a hull takes 1 to {MOST_VIEWS} views, got {len(maps)}")
        sizes = np.array([(one.shape[1], one.shape[0]) for one in maps], np.int64)
        ends = np.cumsum(sizes[:, 0] * sizes[:, 1])
        flat = np.concatenate([np.ascontiguousarray(one, np.float32).ravel() for one in maps])
        start = np.concatenate([[0], ends[:-1]]).astype(np.int64)
        return Views(flat, start, sizes, np.stack(matrices).astype(np.float64), np.asarray(focal_px, float))

    def only(self, kept: NDArray[np.bool_]) -> Views:
        """The views where `kept` (k,) is True."""
        return Views(self.maps, self.start[kept], self.size[kept], self.matrix[kept], self.focal_px[kept])


@dataclass(frozen=True, slots=True)
class Box:
    """A grid of points: `low_mm` (x, y, z) of the first, `spacing_mm`, and how many along x, y and z."""

    low_mm: tuple[float, float, float]
    spacing_mm: float
    count: tuple[int, int, int]


def hull_field(views: Views, box: Box) -> Field:
    """Distance to the hull at the points of `box` (nz, ny, nx), mm, positive inside.

    Exact to a fraction of the spacing near the hull, only of the right sign away from it.
    """
    nx, ny, nz = box.count
    field = np.empty((nz, ny, nx), np.float32)
    _carve(
        views.maps, views.start, views.size, views.matrix, views.focal_px,
        np.asarray(box.low_mm, float), box.spacing_mm, field,
    )  # fmt: skip
    return field


def dissent(views: Views, box: Box, slack_mm: float) -> NDArray[np.uint64]:
    """Which views see past each point of `box` by more than `slack_mm`: one bit each, (nz, ny, nx)."""
    nx, ny, nz = box.count
    bits = np.zeros((nz, ny, nx), np.uint64)
    _dissent(
        views.maps, views.start, views.size, views.matrix, views.focal_px,
        np.asarray(box.low_mm, float), box.spacing_mm, slack_mm, bits,
    )  # fmt: skip
    return bits


def least_dissent(
    bits: NDArray[np.uint64], box: Box, eye_mm: Floats, rays: Floats, reach_mm: tuple[float, float]
) -> NDArray[np.uint64]:
    """Along each ray (n, 3) from `eye_mm`, the bits of the point that the fewest views see past.

    Points between `reach_mm` from the eye are asked, at half the spacing.
    """
    out = np.zeros(len(rays), np.uint64)
    steps = max(2, int((reach_mm[1] - reach_mm[0]) / (0.5 * box.spacing_mm)))
    _least(
        bits,
        np.asarray(box.low_mm, float),
        box.spacing_mm,
        eye_mm,
        rays,
        reach_mm[0],
        reach_mm[1],
        steps,
        out,
    )
    return out


def carving_cache() -> tuple[str, str]:
    """Where compiled kernels are kept: a folder, and a pattern that the last one compiled matches."""
    return str(_least.stats.cache_path), "outline_hull._least*.nbi"


def compile_carving() -> None:
    """Compile the kernels, by one view of a few points."""
    views = Views.of([np.ones((8, 8), np.float32)], [np.eye(3, 4)], [1.0])
    box = Box((0.0, 0.0, 1.0), 1.0, (4, 4, 4))
    hull_field(views, box)
    least_dissent(dissent(views, box, 1.0), box, np.zeros(3), np.ones((1, 3)), (1.0, 2.0))


def surface_of(field: Field, box: Box) -> Mesh:
    """The closed mesh where `field` is zero, its largest body; raises ValueError when there is none."""
    from skimage.measure import marching_cubes

    walled = np.pad(field, 1, constant_values=-box.spacing_mm)
    # A corner exactly on the surface would leave faces without area.
    small = 1e-4 * box.spacing_mm
    walled[np.abs(walled) < small] = -small
    if not (walled > 0.0).any():
        raise ValueError("the views leave nothing")
    points, faces, _, _ = marching_cubes(walled, 0.0, allow_degenerate=False)
    placed = (points[:, ::-1] - 1.0) * box.spacing_mm + np.asarray(box.low_mm)
    mesh = Mesh.make(placed, _largest(faces, len(points)), frame="object")
    if mesh.volume_mm3 < 0.0:
        mesh = Mesh.make(mesh.vertices_mm, mesh.faces[:, ::-1], frame="object")
    return _only_used(mesh)


def _largest(faces: NDArray[np.integer], count: int) -> NDArray[np.int64]:
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    a = np.concatenate([faces[:, 0], faces[:, 1]])
    b = np.concatenate([faces[:, 1], faces[:, 2]])
    _, label = connected_components(
        coo_matrix((np.ones(len(a), np.int8), (a, b)), shape=(count, count)), False
    )
    of_face = label[faces[:, 0]]
    kept: NDArray[np.int64] = faces[of_face == np.bincount(of_face).argmax()].astype(np.int64)
    return kept


def _only_used(mesh: Mesh) -> Mesh:
    used = np.unique(mesh.faces)
    place = np.zeros(len(mesh.vertices_mm), np.int64)
    place[used] = np.arange(len(used))
    return Mesh.make(mesh.vertices_mm[used], place[mesh.faces], frame=mesh.frame)


@njit(cache=True, inline="always")
def _look(maps, start, width, height, m, focal, x, y, z):  # type: ignore[no-untyped-def]
    """What one view says of a point: its signed distance to the outline's edge, mm."""
    depth = m[2, 0] * x + m[2, 1] * y + m[2, 2] * z + m[2, 3]
    if depth < 1.0:
        return -BEYOND_MM
    u = (m[0, 0] * x + m[0, 1] * y + m[0, 2] * z + m[0, 3]) / depth
    v = (m[1, 0] * x + m[1, 1] * y + m[1, 2] * z + m[1, 3]) / depth
    if u < 0.0 or v < 0.0 or u > width - 1.001 or v > height - 1.001:
        return -BEYOND_MM
    i, j = int(u), int(v)
    a, b = u - i, v - j
    at = start + j * width + i
    top = maps[at] * (1.0 - a) + maps[at + 1] * a
    low = maps[at + width] * (1.0 - a) + maps[at + width + 1] * a
    return (top * (1.0 - b) + low * b) * depth / focal


@njit(cache=True, inline="always")
def _least_look(maps, start, size, matrix, focal, x, y, z):  # type: ignore[no-untyped-def]
    least = BEYOND_MM
    for k in range(start.shape[0]):
        said = _look(maps, start[k], size[k, 0], size[k, 1], matrix[k], focal[k], x, y, z)
        if said < least:
            least = said
    return least


@njit(cache=True, parallel=True)
def _carve(maps, start, size, matrix, focal, low, spacing, field):  # type: ignore[no-untyped-def]
    nz, ny, nx = field.shape
    bz, by, bx = (nz + BLOCK - 1) // BLOCK, (ny + BLOCK - 1) // BLOCK, (nx + BLOCK - 1) // BLOCK
    reach = 0.5 * (BLOCK - 1) * spacing * 1.7320508 * _STEEPEST + 2.0 * spacing
    for block in prange(bz * by * bx):
        z0 = block // (by * bx) * BLOCK
        y0 = block // bx % by * BLOCK
        x0 = block % bx * BLOCK
        z1, y1, x1 = min(z0 + BLOCK, nz), min(y0 + BLOCK, ny), min(x0 + BLOCK, nx)
        half = 0.5 * (BLOCK - 1) * spacing
        middle = _least_look(
            maps, start, size, matrix, focal,
            low[0] + x0 * spacing + half, low[1] + y0 * spacing + half, low[2] + z0 * spacing + half,
        )  # fmt: skip
        near = abs(middle) < reach
        for k in range(z0, z1):
            for j in range(y0, y1):
                for i in range(x0, x1):
                    if near:
                        field[k, j, i] = _least_look(
                            maps, start, size, matrix, focal,
                            low[0] + i * spacing, low[1] + j * spacing, low[2] + k * spacing,
                        )  # fmt: skip
                    else:
                        field[k, j, i] = middle


@njit(cache=True, parallel=True)
def _dissent(maps, start, size, matrix, focal, low, spacing, slack, bits):  # type: ignore[no-untyped-def]
    nz, ny, nx = bits.shape
    for k in prange(nz):
        for j in range(ny):
            for i in range(nx):
                word = np.uint64(0)
                for v in range(start.shape[0]):
                    said = _look(
                        maps, start[v], size[v, 0], size[v, 1], matrix[v], focal[v],
                        low[0] + i * spacing, low[1] + j * spacing, low[2] + k * spacing,
                    )  # fmt: skip
                    if said < -slack:
                        word |= np.uint64(1) << np.uint64(v)
                bits[k, j, i] = word


@njit(cache=True, parallel=True)
def _least(bits, low, spacing, eye, rays, first, last, steps, out):  # type: ignore[no-untyped-def]
    nz, ny, nx = bits.shape
    for r in prange(rays.shape[0]):
        best = 65
        word = ~np.uint64(0)
        for s in range(steps):
            t = first + (last - first) * s / (steps - 1)
            i = int(np.floor((eye[0] + t * rays[r, 0] - low[0]) / spacing + 0.5))
            j = int(np.floor((eye[1] + t * rays[r, 1] - low[1]) / spacing + 0.5))
            k = int(np.floor((eye[2] + t * rays[r, 2] - low[2]) / spacing + 0.5))
            if i < 0 or j < 0 or k < 0 or i >= nx or j >= ny or k >= nz:
                continue
            here = bits[k, j, i]
            count = 0
            rest = here
            while rest != 0:
                rest &= rest - np.uint64(1)
                count += 1
            if count < best:
                best = count
                word = here
                if count == 0:
                    break
        out[r] = word
