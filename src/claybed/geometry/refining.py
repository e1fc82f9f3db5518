"""A mesh with shorter edges, the same surface."""

from __future__ import annotations

import numpy as np

from claybed.geometry.mesh import Mesh

# Halving each time, an edge of a metre is below a tenth of a millimetre after this many rounds.
_MOST_ROUNDS = 14


def refined(mesh: Mesh, longest_mm: float) -> Mesh:
    """The mesh with every edge longer than `longest_mm` > 0 halved until none is left.

    Faces that share an edge share its new corner, so a closed mesh stays closed. Corners of the mesh come
    first, in their order; the surface is the same to rounding. Raises ValueError for a length that is not
    positive.
    """
    if not longest_mm > 0.0:
        raise ValueError("longest_mm must be above 0")
    points, origin = mesh.vertices_mm, mesh.origin
    faces = mesh.faces.astype(np.int64)
    whole, whole_origin = [], []
    for _ in range(_MOST_ROUNDS):
        sides = np.stack([faces, faces[:, [1, 2, 0]]], axis=2)
        along = points[sides[..., 1]] - points[sides[..., 0]]
        long = np.einsum("fki,fki->fk", along, along) > longest_mm**2
        # A face without a long side is finished: what its neighbours do leaves it as it is.
        left = long.any(axis=1)
        whole.append(faces[~left])
        whole_origin.append(origin[~left])
        faces, origin, sides, long = faces[left], origin[left], sides[left], long[left]
        if not len(faces):
            break
        ends, which = _each_once(sides[long], len(points))
        middle = np.full(long.shape, -1, np.int64)
        middle[long] = len(points) + which
        points = np.concatenate([points, points[ends].mean(axis=1)])
        faces, parent = _split(faces, middle)
        origin = origin[parent]
    faces, origin = np.concatenate([*whole, faces]), np.concatenate([*whole_origin, origin])
    return Mesh.make(points, faces, frame=mesh.frame, origin=origin)


def _each_once(sides: np.ndarray, points: int) -> tuple[np.ndarray, np.ndarray]:
    """Sides (n, 2) of faces, each edge once (e, 2), and the place (n,) of each side among them."""
    unique, which = np.unique(sides.min(axis=1) * points + sides.max(axis=1), return_inverse=True)
    return np.stack([unique // points, unique % points], axis=1), which.reshape(-1)


def _split(faces: np.ndarray, middle: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Faces cut at the middles (m, 3) of their sides, -1 where a side stays whole; and each one's parent."""
    count = (middle >= 0).sum(axis=1)
    index = np.arange(len(faces))
    parts, parents = [faces[count == 0]], [index[count == 0]]
    one = np.flatnonzero(count == 1)
    turn = (np.argmax(middle[one] >= 0, axis=1)[:, None] + np.arange(3)) % 3
    f, m = np.take_along_axis(faces[one], turn, 1), np.take_along_axis(middle[one], turn, 1)
    parts += [np.stack([f[:, 0], m[:, 0], f[:, 2]], 1), np.stack([m[:, 0], f[:, 1], f[:, 2]], 1)]
    parents += [one, one]
    two = np.flatnonzero(count == 2)
    # Turned so that the side that stays whole comes last.
    turn = (np.argmax(middle[two] < 0, axis=1)[:, None] + 1 + np.arange(3)) % 3
    f, m = np.take_along_axis(faces[two], turn, 1), np.take_along_axis(middle[two], turn, 1)
    parts += [
        np.stack([m[:, 0], f[:, 1], m[:, 1]], 1),
        np.stack([f[:, 0], m[:, 0], m[:, 1]], 1),
        np.stack([f[:, 0], m[:, 1], f[:, 2]], 1),
    ]
    parents += [two, two, two]
    three = np.flatnonzero(count == 3)
    f, m = faces[three], middle[three]
    parts += [
        np.stack([f[:, 0], m[:, 0], m[:, 2]], 1),
        np.stack([m[:, 0], f[:, 1], m[:, 1]], 1),
        np.stack([m[:, 2], m[:, 1], f[:, 2]], 1),
        np.stack([m[:, 0], m[:, 1], m[:, 2]], 1),
    ]
    parents += [three] * 4
    return np.concatenate(parts), np.concatenate(parents)
