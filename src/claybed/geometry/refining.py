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
    points, faces, origin = mesh.vertices_mm, mesh.faces.astype(np.int64), mesh.origin
    for _ in range(_MOST_ROUNDS):
        sides = np.stack([faces, np.roll(faces, -1, axis=1)], axis=2)
        length = np.linalg.norm(points[sides[..., 1]] - points[sides[..., 0]], axis=2)
        # Judged on the edge in one direction, so that both its faces agree to the last digit.
        ordered = np.sort(sides, axis=2)
        code = ordered[..., 0] * len(points) + ordered[..., 1]
        unique, first, which = np.unique(code, return_index=True, return_inverse=True)
        long = length.reshape(-1)[first] > longest_mm
        if not long.any():
            break
        number = np.full(len(unique), -1, np.int64)
        number[long] = len(points) + np.arange(int(long.sum()))
        ends = np.stack([unique[long] // len(points), unique[long] % len(points)], axis=1)
        points = np.concatenate([points, points[ends].mean(axis=1)])
        faces, parent = _split(faces, number[which.reshape(-1, 3)])
        origin = origin[parent]
    return Mesh.make(points, faces, frame=mesh.frame, origin=origin)


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
