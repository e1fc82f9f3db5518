"""The surface while it is being mended, and which triangles share its edges."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from claybed.geometry.mesh import Bytes, Mesh, Origin
from claybed.intake.soup import Points, Triples

Parts = tuple[int, Triples]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, eq=False)
class Skin:
    """`vertices` (n, 3) mm, `faces` (m, 3) int64, `origin` (m,) of `Origin`. Never changed in place."""

    vertices: Points
    faces: Triples
    origin: Bytes

    @staticmethod
    def of(vertices: Points, faces: Triples) -> Skin:
        """All faces from the object itself."""
        return Skin(vertices, faces, np.full(len(faces), int(Origin.OBJECT), np.uint8))

    def kept(self, keep: Flags) -> Skin:
        """Only the faces flagged in `keep` (m,); vertices stay as they are."""
        return replace(self, faces=self.faces[keep], origin=self.origin[keep])

    def trimmed(self) -> Skin:
        """Without vertices that no face uses; the others keep their order and coordinates."""
        used = used_points(self.faces, len(self.vertices))
        if used.all():
            return self
        number = np.cumsum(used) - 1
        return Skin(self.vertices[used], number[self.faces], self.origin)

    def with_faces(self, faces: Triples, origin: Origin, vertices: Points | None = None) -> Skin:
        """With more faces, and more vertices behind the present ones."""
        points = self.vertices if vertices is None else np.concatenate([self.vertices, vertices])
        marks = np.concatenate([self.origin, np.full(len(faces), int(origin), np.uint8)])
        return Skin(points, np.concatenate([self.faces, faces]), marks)

    def flipped(self, flip: Flags) -> Skin:
        """With the faces flagged in `flip` (m,) turned over."""
        return replace(self, faces=np.where(flip[:, None], self.faces[:, ::-1], self.faces))

    def mesh(self) -> Mesh:
        """As a `Mesh` in the frame "object"."""
        return Mesh.make(self.vertices, self.faces, frame="object", origin=self.origin)

    @property
    def size_mm(self) -> float:
        """Diagonal of the bounding box."""
        return float(
            np.linalg.norm(np.ptp(self.vertices[used_points(self.faces, len(self.vertices))], axis=0))
        )


@dataclass(frozen=True, slots=True, eq=False)
class Edges:
    """Every undirected edge once: `ends` (k, 2) lower vertex first, `count` faces on it, `forward` of them
    from the lower to the higher vertex; `of_side` (m, 3) the edge of each face's side from corner j to corner
    j + 1.
    """

    ends: Triples
    count: Triples
    forward: Triples
    of_side: Triples

    @property
    def open(self) -> Flags:
        """Edges with one face."""
        alone: Flags = self.count == 1
        return alone

    @property
    def sound(self) -> Flags:
        """Edges with exactly two faces that run along it in opposite ways."""
        sound: Flags = (self.count == 2) & (self.forward == 1)
        return sound


def used_points(faces: Triples, vertex_count: int) -> Flags:
    """Which points (vertex_count,) any face names."""
    used = np.zeros(vertex_count, bool)
    used[faces] = True
    return used


def edges_of(faces: Triples, vertex_count: int) -> Edges:
    """The edge table of faces (m, 3)."""
    start, end = faces, np.roll(faces, -1, axis=1)
    low, high = np.minimum(start, end).ravel(), np.maximum(start, end).ravel()
    keys, inverse = np.unique(low * vertex_count + high, return_inverse=True)
    count = np.bincount(inverse, minlength=len(keys))
    forward = np.bincount(inverse, weights=(start < end).ravel(), minlength=len(keys)).astype(np.int64)
    return Edges(np.stack(np.divmod(keys, vertex_count), axis=1), count, forward, inverse.reshape(-1, 3))


def is_closed(faces: Triples, vertex_count: int) -> bool:
    """Whether every edge has exactly two faces that agree on which side is out."""
    if len(faces) == 0 or faces.size % 2:
        return False
    start, end = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    keys = (np.minimum(start, end) * vertex_count + np.maximum(start, end)) * 2 + (start < end)
    keys.sort()
    pairs = keys.reshape(-1, 2)
    opposed = (pairs[:, 0] + 1 == pairs[:, 1]) & (pairs[:, 0] % 2 == 0)
    return bool(opposed.all() and (np.diff(pairs[:, 0]) > 1).all())


def parts_of(faces: Triples, vertex_count: int) -> Parts:
    """Connected parts: how many, and the number of each face's part (m,). One vertex is enough to connect."""
    a = np.concatenate([faces[:, 0], faces[:, 1]])
    b = np.concatenate([faces[:, 1], faces[:, 2]])
    graph = coo_matrix((np.ones(len(a), np.int8), (a, b)), shape=(vertex_count, vertex_count))
    count, label = connected_components(graph, directed=False)
    if count == 1:
        return 1, np.zeros(len(faces), np.int64)
    _, per_face = np.unique(label[faces[:, 0]], return_inverse=True)
    return int(per_face.max()) + 1, per_face.astype(np.int64)


def volumes_of(vertices: Points, faces: Triples, part: Triples, count: int) -> Points:
    """Signed volume of each part (count,), mm³, taken from the part's own middle."""
    corners = vertices[faces]
    centres = corners.mean(axis=1)
    sums = [np.bincount(part, weights=centres[:, k], minlength=count) for k in range(3)]
    middle = np.stack(sums, axis=1) / np.maximum(np.bincount(part, minlength=count), 1)[:, None]
    c = corners - middle[part][:, None, :]
    wedges: Points = np.einsum("ij,ij->i", c[:, 0], np.cross(c[:, 1], c[:, 2])) / 6.0
    signed: Points = np.asarray(np.bincount(part, weights=wedges, minlength=count), np.float64)
    return signed


def areas_of(vertices: Points, faces: Triples) -> Points:
    """Area of each face (m,), mm²."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    area: Points = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    return area
