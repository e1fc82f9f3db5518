"""When nothing else closes it: a new surface between inside and outside, by winding number."""

from __future__ import annotations

import igl
import numpy as np
from scipy import ndimage
from skimage.measure import marching_cubes

from claybed.geometry.mesh import Origin
from claybed.intake.skin import Flags, Skin, edges_of, used_points
from claybed.intake.soup import Points, Triples
from claybed.intake.weld import weld_equal
from claybed.records.measured import Repair

MOST_POINTS = 2_500_000
FINEST = 160  # cells along the longest side
_SLAB = 500_000
_STRIDE = 3


def remesh(skin: Skin) -> tuple[Skin, Repair, float] | None:
    """A closed surface about the space that `skin` (oriented as well as may be) winds around.

    On the old surface where there is one, smooth across its holes; sharp edges are rounded by about a cell.
    Faces farther than a cell from the old surface, or off it beside a hole, carry Origin.MEND. Returns the
    skin, the repair and the largest distance, in mm, of the other new faces from the old one; None when it
    winds around nothing.
    """
    drawn = drawn_anew(skin)
    if drawn is None:
        return None
    new, cell = drawn
    squared, nearest, _ = igl.point_mesh_squared_distance(
        new.vertices[new.faces].mean(axis=1), skin.vertices, skin.faces
    )
    off = np.sqrt(squared)
    edges = edges_of(skin.faces, len(skin.vertices))
    beside: Flags = np.asarray(edges.open[edges.of_side].any(axis=1))
    by_a_hole = beside[nearest]
    bridged = (off > cell) | (by_a_hole & (off > 0.1 * cell))
    origin = np.where(bridged, int(Origin.MEND), skin.origin[nearest]).astype(np.uint8)
    shift = float(off[~bridged].max()) if (~bridged).any() else 0.0
    says = f"Drew a new surface on a grid of {cell:.2g} mm, because the old one cannot be closed as it is."
    return Skin(new.vertices, new.faces, origin), Repair("remesh", 1, cell, "mm", says), shift


def drawn_anew(skin: Skin, finest: int = FINEST) -> tuple[Skin, float] | None:
    """The surface of `remesh` without origins, and its cell in mm, `finest` along the longest side."""
    used = skin.vertices[used_points(skin.faces, len(skin.vertices))]
    low, extent = used.min(axis=0), np.ptp(used, axis=0)
    cell = float(
        max(
            extent.max() / finest, (np.prod(np.maximum(extent, extent.max() * 0.02)) / MOST_POINTS) ** (1 / 3)
        )
    )
    shape = tuple(int(n) for n in np.ceil(extent / cell).astype(int) + 5)
    corner = low - 2 * cell
    # Long slivers defeat the far field of the winding number: the even pieces below answer several times
    # faster.
    even = _evened(skin.vertices[skin.faces], 6 * cell)
    winding = _winding(even, corner, cell, shape)
    inside = winding > 0.5
    if not inside.any():
        return None
    field = np.where(inside, -2.0 * cell, 2.0 * cell).ravel()
    near = np.flatnonzero(_next_to_a_change(inside).ravel())
    points = _points(near, corner, cell, shape)
    squared, _, _ = igl.point_mesh_squared_distance(points, skin.vertices, skin.faces)
    value = (0.5 - winding.ravel()[near]) * 2.0 * np.sqrt(squared)
    # A value of exactly zero would put several new points in one place.
    least = 1e-3 * cell
    field[near] = np.where(np.abs(value) < least, np.where(inside.ravel()[near], -least, least), value)
    vertices, faces, _, _ = marching_cubes(field.reshape(shape), 0.0)
    vertices, faces = weld_equal(vertices.astype(np.float64) * cell + corner, faces.astype(np.int64))
    new = Skin.of(vertices, faces)
    if new.mesh().volume_mm3 < 0:
        new = new.flipped(np.ones(len(faces), bool))
    return new, cell


def _evened(corners: Points, longest: float) -> Points:
    """Triangles (m, 3, 3) halved across their longest side until none exceeds `longest`, 18 times at most."""
    for _ in range(18):
        sides = np.linalg.norm(np.roll(corners, -1, axis=1) - corners, axis=2)
        long = sides.max(axis=1) > longest
        if not long.any() or len(corners) > 2_000_000:
            break
        at = sides[long].argmax(axis=1)
        a, b, c = (corners[long][np.arange(len(at)), (at + k) % 3] for k in range(3))
        middle = 0.5 * (a + b)
        halves = [np.stack([a, middle, c], axis=1), np.stack([middle, b, c], axis=1)]
        corners = np.concatenate([corners[~long], *halves])
    return corners


def _winding(corners: Points, corner: Points, cell: float, shape: tuple[int, ...]) -> Points:
    """Winding number on the grid: asked at every third point, and at all near the surface or a hole."""
    vertices = np.ascontiguousarray(corners.reshape(-1, 3))
    faces = np.arange(len(vertices), dtype=np.int64).reshape(-1, 3)
    coarse_shape = tuple(-(-n // _STRIDE) + 1 for n in shape)
    coarse = _asked(
        vertices, faces, np.arange(int(np.prod(coarse_shape))), corner, _STRIDE * cell, coarse_shape
    )
    coarse = coarse.reshape(coarse_shape)
    if (coarse < -0.5).sum() > (coarse > 0.5).sum():
        faces, coarse = np.ascontiguousarray(faces[:, ::-1]), -coarse
    low = ndimage.minimum_filter(coarse, size=2, origin=-1)
    high = ndimage.maximum_filter(coarse, size=2, origin=-1)
    unsure = (
        (np.floor(low + 0.5) != np.floor(high + 0.5)) | (np.abs(low - 0.5) < 0.3) | (np.abs(high - 0.5) < 0.3)
    )
    unsure |= _touched(vertices, faces, corner, _STRIDE * cell, coarse_shape)
    spread = tuple(np.arange(n) // _STRIDE for n in shape)
    out = coarse[np.ix_(*spread)].ravel()
    ask = np.flatnonzero(unsure[np.ix_(*spread)].ravel())
    for first in range(0, len(ask), _SLAB):
        part = ask[first : first + _SLAB]
        out[part] = _asked(vertices, faces, part, corner, cell, shape)
    return out.reshape(shape)


def _touched(vertices: Points, faces: Triples, corner: Points, cell: float, shape: tuple[int, ...]) -> Flags:
    """Cells near a corner, a side's middle or the middle of a face of the evened surface."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    marks = np.concatenate([a, b, c, (a + b) / 2, (b + c) / 2, (c + a) / 2, (a + b + c) / 3])
    cells = np.zeros(shape, bool)
    # Marks of a fine scan share their half cells a hundred times over, so those are counted once.
    fine = np.zeros(tuple(2 * n for n in shape), bool)
    halves = np.floor((marks - corner) * (2.0 / cell)).astype(np.int64)
    fine[tuple(np.clip(halves, 0, np.array(fine.shape) - 1).T)] = True
    halves = np.argwhere(fine)
    # Half a cell each way, for cells the surface enters between two marks.
    for axis, way in ((0, 0), (0, 1), (0, -1), (1, 1), (1, -1), (2, 1), (2, -1)):
        shifted = halves.copy()
        shifted[:, axis] += way
        cells[tuple(np.clip(shifted // 2, 0, np.array(shape) - 1).T)] = True
    return cells


def _asked(
    vertices: Points, faces: Triples, index: Triples, corner: Points, cell: float, shape: tuple[int, ...]
) -> Points:
    answer: Points = igl.fast_winding_number(vertices, faces, _points(index, corner, cell, shape))
    return answer


def _points(index: Triples, corner: Points, cell: float, shape: tuple[int, ...]) -> Points:
    return np.ascontiguousarray(
        np.stack(np.unravel_index(index.astype(np.int64), shape), axis=1) * cell + corner
    )


def _next_to_a_change(inside: Flags) -> Flags:
    """Grid points with a neighbour on the other side, corners of every crossed cell included."""
    near = np.zeros(inside.shape, bool)
    for axis in range(3):
        change = np.diff(inside, axis=axis)
        head = [slice(None)] * 3
        tail = [slice(None)] * 3
        head[axis], tail[axis] = slice(None, -1), slice(1, None)
        near[tuple(head)] |= change
        near[tuple(tail)] |= change
    return near
