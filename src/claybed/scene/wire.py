"""Meshes packed small enough to stand inside a page, and unpacked there by a few lines of script.

One box holds everything that is shown, and a vertex is three 16-bit steps in it (6 µm over 400 mm): enough
to look at, never to make anything from. Beside the triangles go the origin of each face, which colours it,
and the edges where the surface bends sharply.
"""

from __future__ import annotations

import base64
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import fast_simplification
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from claybed.geometry.mesh import Floats, Mesh
from claybed.scene.smoothing import crease_edges

MOST_TRIANGLES = 300_000


@dataclass(frozen=True, slots=True)
class Box:
    """The box that 16-bit steps are counted in: `low_mm` (3,) and `size_mm`, the same along all three
    axes."""

    low_mm: Floats
    size_mm: float

    @staticmethod
    def around(meshes: Sequence[Mesh]) -> Box:
        """The smallest cube-edged box from the common low corner that holds all `meshes`."""
        low = np.min([m.bounds_mm[0] for m in meshes], axis=0)
        high = np.max([m.bounds_mm[1] for m in meshes], axis=0)
        return Box(low, max(float((high - low).max()), 1e-9))

    def steps(self, points_mm: Floats) -> NDArray[np.uint16]:
        """Points (n, 3) mm as 16-bit steps, rounded to the nearest."""
        part = (points_mm - self.low_mm) / self.size_mm * 65535.0
        return np.asarray(np.clip(np.rint(part), 0, 65535), dtype="<u2")


def packed(mesh: Mesh, box: Box) -> dict[str, Any]:
    """The mesh as base64: `p` positions (uint16, 3 each), `f` faces (uint32, 3 each), `o` origins (uint8),
    `e` sharp edges (uint32, 2 each); all little-endian."""
    return {
        "p": _base64(box.steps(mesh.vertices_mm)),
        "f": _base64(mesh.faces.astype("<u4")),
        "o": _base64(mesh.origin),
        "e": _base64(crease_edges(mesh).astype("<u4")),
    }


def thinned(meshes: Sequence[Mesh], most: int = MOST_TRIANGLES) -> tuple[list[Mesh], bool]:
    """The meshes with at most about `most` triangles together, and whether anything was left out.

    Below the limit they are handed back untouched. Above it each is reduced in the same proportion by
    collapsing edges with the least error, and each new face takes the origin of the old face nearest to its
    middle.
    """
    total = sum(len(m.faces) for m in meshes)
    if total <= most:
        return list(meshes), False
    reduction = 1.0 - most / total
    return [_reduced(m, reduction) for m in meshes], True


def _reduced(mesh: Mesh, reduction: float) -> Mesh:
    # The library refuses arrays that are frozen, so it gets copies.
    points, faces = fast_simplification.simplify(
        mesh.vertices_mm.copy(), mesh.faces.copy(), target_reduction=reduction
    )
    points, faces = np.asarray(points, dtype=np.float64), np.asarray(faces, dtype=np.int32)
    if not len(faces):
        return mesh
    _, nearest = cKDTree(mesh.corners_mm.mean(axis=1)).query(points[faces].mean(axis=1))
    return Mesh.make(points, faces, frame=mesh.frame, origin=mesh.origin[nearest])


def _base64(array: NDArray[Any]) -> str:
    return base64.b64encode(np.ascontiguousarray(array).tobytes()).decode("ascii")
