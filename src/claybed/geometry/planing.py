"""Laying the seam of a model in one plane across the pull, by filling what stands in the way of it.

Over every plan point the model is grown until it reaches the plane: up to it where the object ends below, and
down to it where the object begins above. Then one piece may end in the plane and the other begin there, all
round the silhouette, and both still leave.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.lattice import Z_PER_MM
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.geometry.sheet import Sheet
from claybed.geometry.sheets import Envelope

# Corners this near to the plane stand in it: what the lattice moves them by is of this order.
IN_PLANE_MM = 0.002
IN_PLANE_UNITS = round(IN_PLANE_MM * Z_PER_MM)


def split_at(mesh: Mesh, height_mm: float) -> Mesh:
    """The mesh with every face divided where it crosses the plane z = `height_mm`; closed as it was.

    Corners within 0.002 mm of the plane count as lying in it and stay where they are.
    """
    off = mesh.vertices_mm[:, 2] - height_mm
    sign = np.where(np.abs(off) <= IN_PLANE_MM, 0, np.sign(off)).astype(np.int64)
    of_face = sign[mesh.faces]
    crossed = (of_face.min(axis=1) < 0) & (of_face.max(axis=1) > 0)
    if not crossed.any():
        return mesh
    number = np.flatnonzero(crossed)
    faces, signs = mesh.faces[number].astype(np.int64), of_face[number]
    through = (signs == 0).any(axis=1)
    # A face's first corner is the one in the plane, else the one alone on its side of it.
    lone = signs * signs.sum(axis=1)[:, None] < 0
    first = np.where(through, np.argmax(signs == 0, axis=1), np.argmax(lone, axis=1))
    a, b, c = (np.take_along_axis(faces, ((first + k) % 3)[:, None], axis=1)[:, 0] for k in range(3))
    one, two = ~through, through
    ends = np.concatenate(
        [np.stack([a, b], axis=1)[one], np.stack([c, a], axis=1)[one], np.stack([b, c], axis=1)[two]]
    )
    ends.sort(axis=1)
    sides, place = np.unique(ends, axis=0, return_inverse=True)
    points = len(mesh.vertices_mm) + place.reshape(-1)
    count = int(one.sum())
    p, q, m = points[:count], points[count : 2 * count], points[2 * count :]
    parts = [
        (np.stack([a[one], p, q], axis=1), number[one]),
        (np.stack([p, b[one], c[one]], axis=1), number[one]),
        (np.stack([p, c[one], q], axis=1), number[one]),
        (np.stack([a[two], b[two], m], axis=1), number[two]),
        (np.stack([a[two], m, c[two]], axis=1), number[two]),
    ]
    return Mesh.make(
        np.concatenate([mesh.vertices_mm, _met(mesh.vertices_mm, sides, height_mm)]),
        np.concatenate([mesh.faces[~crossed], *(part for part, _ in parts)]),
        frame=mesh.frame,
        origin=np.concatenate([mesh.origin[~crossed], *(mesh.origin[own] for _, own in parts)]),
    )


def _met(points_mm: Floats, sides: NDArray[np.int64], height_mm: float) -> Floats:
    """Where sides (k, 2) of faces meet the plane, (k, 3) mm."""
    low, high = points_mm[sides[:, 0]], points_mm[sides[:, 1]]
    share = (height_mm - low[:, 2]) / (high[:, 2] - low[:, 2])
    met: Floats = low + share[:, None] * (high - low)
    met[:, 2] = height_mm
    return met


def planed(sheets: Envelope, height_mm: float) -> Envelope:
    """The sheets of a model that reaches the plane z = `height_mm` (pull frame) over all its silhouette.

    Meant for the sheets of a mesh that was split there: a cell that still crosses the plane is lifted by its
    corners, and lies above the object between them. What is moved is named fill, gate apart.
    """
    level = round(height_mm * Z_PER_MM)
    return replace(
        sheets, top=_clipped(sheets.top, level, np.maximum), bottom=_clipped(sheets.bottom, level, np.minimum)
    )


def _clipped(sheet: Sheet, level: int, take: np.ufunc) -> Sheet:
    heights = take(sheet.heights, level)
    moved = (np.abs(heights - sheet.heights) > IN_PLANE_UNITS).any(axis=1)
    named = moved & (sheet.origin != int(Origin.GATE))
    return replace(
        sheet,
        heights=heights,
        origin=np.where(named, np.uint8(int(Origin.FILL)), sheet.origin).astype(np.uint8),
    )


def least_fill_height_mm(top_mm: Floats, bottom_mm: Floats, barred: list[tuple[float, float]]) -> float:
    """The height of the plane that needs least fill over columns that reach from `bottom_mm` to `top_mm`
    (n,), outside the open intervals `barred`.

    The fill, the sum over the columns of how far the plane misses each, is a convex function of the height,
    least at the median of all ends. Where a stretch of heights is equally good, its middle is taken. Raises
    ValueError without columns, or when the intervals leave no height between the lowest and highest end.
    """
    if not len(top_mm):
        raise ValueError("no column to lay a plane through")
    ends = np.sort(np.concatenate([top_mm, bottom_mm]))
    middle = float(ends[len(ends) // 2 - 1] + ends[len(ends) // 2]) / 2.0
    tried = [middle, *(end for interval in barred for end in interval)]
    free = [
        height
        for height in tried
        if ends[0] <= height <= ends[-1] and not any(low < height < high for low, high in barred)
    ]
    if not free:
        raise ValueError("no height is left for a plane")
    return min(free, key=lambda height: (float(missed_mm(top_mm, bottom_mm, height).sum()), height != middle))


def missed_mm(top_mm: Floats, bottom_mm: Floats, height_mm: float) -> Floats:
    """How far a plane misses columns that reach from `bottom_mm` to `top_mm` (n,), mm; 0 where it meets
    them.
    """
    off: Floats = np.maximum(bottom_mm - height_mm, 0.0) + np.maximum(height_mm - top_mm, 0.0)
    return off
