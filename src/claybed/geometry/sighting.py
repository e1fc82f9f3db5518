"""What can be seen of a surface along an axis, face by face: reached from one side, the other, or locked."""

from __future__ import annotations

from enum import IntEnum

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.depth import Columns
from claybed.geometry.mesh import Floats, Ints, Mesh


class Reach(IntEnum):
    """How a face is reached: along the axis, against it, as an upright wall, or not at all."""

    ALONG = 0
    AGAINST = 1
    WALL = 2
    LOCKED = 3
    DEEP = 4


_WALL_SIN = 0.0175  # one degree


class Sighting:
    """A mesh ready to be judged along any axis: unit normals and middles of its faces, worked out once."""

    def __init__(self, mesh: Mesh) -> None:
        corners = mesh.corners_mm
        normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        length = np.linalg.norm(normal, axis=1)
        self._normal = np.ascontiguousarray(normal / np.where(length > 0.0, length, 1.0)[:, None])
        self._middle_mm = np.ascontiguousarray(corners.mean(axis=1))

    def reach(self, columns: Columns, deep_mm: float) -> NDArray[np.uint8]:
        """`Reach` of every face (m,) along the axis of `columns`, the crossings of the same mesh.

        A face is locked when most of what lies on it can be reached from neither side, DEEP when the gap over
        it is longer than `deep_mm` along the axis. A face between the lines is judged by the crossing nearest
        to its middle.
        """
        grid = columns.grid
        gap = _gap_over_faces(
            columns.start, columns.z_mm, columns.side, columns.floor_mm, self._middle_mm, grid.rotation,
            np.array(grid.origin_mm), grid.spacing_mm, grid.columns, grid.rows,
        )  # fmt: skip
        lean = self._normal @ grid.rotation[2]
        wall = np.abs(lean) < _WALL_SIN
        reach = np.where(lean > 0.0, Reach.ALONG, Reach.AGAINST).astype(np.uint8)
        reach[wall] = Reach.WALL
        locked = (gap > 0.0) & ~wall
        reach[locked] = Reach.LOCKED
        reach[locked & (gap > deep_mm)] = Reach.DEEP
        return reach


@njit(cache=True, nogil=True, error_model="numpy")
def _gap_over_faces(
    start: Ints,
    z: Floats,
    side: Ints,
    floor_mm: float,
    middle: Floats,
    rotation: Floats,
    origin: Floats,
    spacing: float,
    columns: int,
    rows: int,
) -> Floats:
    """Longest gap over each face where most of its crossings are hidden, else 0."""
    faces = len(middle)
    hidden = np.zeros(faces, np.int32)
    seen = np.zeros(faces, np.int32)
    longest = np.zeros(faces)
    over = np.zeros(len(z))
    for p in range(len(start) - 1):
        first, last = start[p], start[p + 1] - 1
        for k in range(first, last + 1):
            gap = 0.0
            if first < k < last:
                gap = z[k + 1] - z[k] if side[k] & 1 else z[k] - z[k - 1]
            face = side[k] >> 1
            if gap > floor_mm:
                over[k] = gap
                hidden[face] += 1
                longest[face] = max(longest[face], gap)
            else:
                seen[face] += 1
    out = np.zeros(faces)
    for f in range(faces):
        if hidden[f] + seen[f] > 0:
            if hidden[f] > seen[f]:
                out[f] = longest[f]
            continue
        at = np.zeros(3)
        for k in range(3):
            for n in range(3):
                at[k] += rotation[k, n] * middle[f, n]
        i = int(np.floor((at[0] - origin[0]) / spacing))
        j = int(np.floor((at[1] - origin[1]) / spacing))
        if 0 <= i < columns and 0 <= j < rows:
            p = j * columns + i
            nearest, best = -1, np.inf
            for k in range(start[p], start[p + 1]):
                away = abs(z[k] - at[2])
                if away < best:
                    nearest, best = k, away
            if nearest >= 0:
                out[f] = over[nearest]
    return out


def edge_faces(mesh: Mesh) -> tuple[NDArray[np.uint32], Ints]:
    """Edges (e, 2) that two faces share, and those faces (e, 2)."""
    faces = mesh.faces
    ends = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]).astype(np.int64)
    owner = np.tile(np.arange(len(faces), dtype=np.int64), 3)
    code = np.minimum(ends[:, 0], ends[:, 1]) * len(mesh.vertices_mm) + np.maximum(ends[:, 0], ends[:, 1])
    order = np.argsort(code, kind="stable")
    code, ends, owner = code[order], ends[order], owner[order]
    pair = np.flatnonzero(code[1:] == code[:-1])
    return ends[pair].astype(np.uint32), np.stack([owner[pair], owner[pair + 1]], axis=1)


def outline_edges(reach: NDArray[np.uint8], edges: NDArray[np.uint32], faces: Ints) -> NDArray[np.uint32]:
    """Those of `edges` (e, 2) where what is reached along the axis meets what is not."""
    along = reach[faces] == Reach.ALONG
    against = (reach[faces] == Reach.AGAINST) | (reach[faces] == Reach.WALL)
    found: NDArray[np.uint32] = edges[(along[:, 0] & against[:, 1]) | (along[:, 1] & against[:, 0])]
    return found
