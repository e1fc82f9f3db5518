"""Normals for shading that round what is round and keep what is sharp, and the sharp edges themselves."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from claybed.geometry.halfedges import match_sides
from claybed.geometry.mesh import Floats, Mesh, Origin

# A scan's facets meet at less than this, a rim, a key or a block's edge at more.
CREASE_DEG = 38.0
# A line shorter than this share of the object's diagonal is noise.
LEAST_LINE = 0.03
LEAST_STEP = 0.15
# Faces lower than this only join the sides of others: their own slope is rounding.
SLIVER_MM = 0.02
MOST_SLIVERS = 3


def face_normals(mesh: Mesh) -> Floats:
    """Unit normal of each face, (m, 3); zero for a face without area."""
    c = mesh.corners_mm
    n = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])
    length = np.linalg.norm(n, axis=1, keepdims=True)
    return np.asarray(np.divide(n, length, out=np.zeros_like(n), where=length > 0))


def _steady_normals(mesh: Mesh) -> Floats:
    """As `face_normals`, with slivers turned as the face along their longest side is."""
    n = face_normals(mesh)
    side = np.roll(mesh.corners_mm, -1, axis=1) - mesh.corners_mm
    length = np.linalg.norm(side, axis=2)
    longest = np.argmax(length, axis=1)
    low = np.linalg.norm(np.cross(side[:, 0], side[:, 1]), axis=1) < SLIVER_MM * length.max(axis=1)
    thin = np.flatnonzero(low)
    beside = match_sides(mesh.faces, len(mesh.vertices_mm)).mate[3 * thin + longest[thin]]
    thin, beside = thin[beside >= 0], beside[beside >= 0] // 3
    for _ in range(MOST_SLIVERS):  # one may lie along another
        n[thin] = n[beside]
    return n


def corner_normals(mesh: Mesh, crease_deg: float = CREASE_DEG) -> NDArray[np.float32]:
    """Normal at each corner of each face, (m, 3, 3): the mean of the faces round the vertex that bend less
    than `crease_deg` (0 to 180) away from this one, weighted by area."""
    c = mesh.corners_mm
    weighted = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])
    unit = face_normals(mesh)
    flat = mesh.faces.ravel()
    order = np.argsort(flat, kind="stable")
    starts = np.searchsorted(flat[order], np.arange(len(mesh.vertices_mm) + 1))
    out = np.empty((len(mesh.faces), 3, 3), np.float32)
    _gather(mesh.faces, unit, weighted, order // 3, starts, float(np.cos(np.radians(crease_deg))), out)
    return out


def crease_segments_mm(mesh: Mesh, crease_deg: float = CREASE_DEG) -> Floats:
    """The edges of `crease_edges` as (k, 2, 3) mm."""
    return np.asarray(mesh.vertices_mm[crease_edges(mesh, crease_deg)])


def crease_edges(mesh: Mesh, crease_deg: float = CREASE_DEG) -> NDArray[np.int32]:
    """Edges (k, 2) where the surface bends by more than `crease_deg`, or where fill begins.

    Lines shorter than 3 % of the mesh's diagonal are left out.
    """
    f = mesh.faces
    edges = np.concatenate([f[:, [0, 1]], f[:, [1, 2]], f[:, [2, 0]]])
    owner = np.tile(np.arange(len(f)), 3)
    low, high = edges.min(axis=1).astype(np.int64), edges.max(axis=1)
    key = low * (len(mesh.vertices_mm) + 1) + high
    order = np.argsort(key, kind="stable")
    key, owner = key[order], owner[order]
    pair = np.flatnonzero(key[1:] == key[:-1])
    a, b = owner[pair], owner[pair + 1]
    n = _steady_normals(mesh)
    sloped = np.linalg.norm(n, axis=1) > 0.0
    bent = np.einsum("ij,ij->i", n[a], n[b]) < np.cos(np.radians(crease_deg))
    bent &= sloped[a] & sloped[b]
    fill = (mesh.origin[a] == int(Origin.FILL)) != (mesh.origin[b] == int(Origin.FILL))
    same = mesh.origin[a] == mesh.origin[b]
    ground = same & (mesh.origin[a] == int(Origin.PARTING))
    # Rims, edges within a face of the same origin, and steps of the parting surface are lines of their own:
    # a hair on the parting surface does not count as part of the rim it touches.
    kinds = (
        (fill, LEAST_LINE),
        (bent & ~fill & ~same, LEAST_LINE),
        (bent & same & ~ground, LEAST_LINE),
        (bent & ground, LEAST_STEP),
    )
    lines = []
    for kind, share in kinds:
        chosen = order[pair[kind]]
        found = np.asarray(np.stack([low[chosen], high[chosen]], axis=1), dtype=np.int32)
        lines.append(found[_long_enough(mesh, found, share)])
    return np.concatenate(lines)


def _long_enough(mesh: Mesh, edges: NDArray[np.int32], least_share: float) -> NDArray[np.bool_]:
    """Which edges belong to a line of some length: single bent edges are noise of a scan, not a shape."""
    if not len(edges):
        return np.zeros(0, dtype=bool)
    count = len(mesh.vertices_mm)
    graph = coo_matrix((np.ones(len(edges), np.int8), (edges[:, 0], edges[:, 1])), shape=(count, count))
    _, line_of_vertex = connected_components(graph, directed=False)
    line = line_of_vertex[edges[:, 0]]
    ends = mesh.vertices_mm[edges]
    total = np.bincount(line, weights=np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1))
    size = float(np.linalg.norm(np.ptp(mesh.vertices_mm, axis=0)))
    return np.asarray(total[line] > least_share * size)


def _gather_loop(faces, unit, weighted, around, starts, limit, out):  # type: ignore[no-untyped-def]
    for f in range(faces.shape[0]):
        for k in range(3):
            v = faces[f, k]
            sx, sy, sz = 0.0, 0.0, 0.0
            for j in range(starts[v], starts[v + 1]):
                g = around[j]
                bend = unit[f, 0] * unit[g, 0] + unit[f, 1] * unit[g, 1] + unit[f, 2] * unit[g, 2]
                if bend > limit or g == f:
                    sx += weighted[g, 0]
                    sy += weighted[g, 1]
                    sz += weighted[g, 2]
            length = np.sqrt(sx * sx + sy * sy + sz * sz)
            if length > 0.0:
                out[f, k, 0], out[f, k, 1], out[f, k, 2] = sx / length, sy / length, sz / length
            else:
                out[f, k, 0], out[f, k, 1], out[f, k, 2] = unit[f, 0], unit[f, 1], unit[f, 2]


_gather = njit(cache=True, nogil=True)(_gather_loop)
