"""Spots spread over the faces of a surface, and faces that several surfaces have alike."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.lattice import Lattice
from claybed.geometry.mesh import Floats

Flags = NDArray[np.bool_]
# A face smaller than this part of the distance between spots is looked at in its middle and its corners.
SMALL_PART = 0.5
# Spots are put this much further apart until there are few enough.
COARSER = 1.4


def shared_faces(solids: Sequence[tuple[Lattice, NDArray[np.int32]]]) -> list[Flags]:
    """Which faces of each of several surfaces, points (n, 3) and faces (m, 3), another one has too: the same
    three corners, in whatever order.
    """
    points = np.concatenate([points for points, _ in solids])
    points = points - points.min(axis=0)
    _, span_y, span_z = (int(s) + 1 for s in points.max(axis=0))
    _, number = np.unique((points[:, 0] * span_y + points[:, 1]) * span_z + points[:, 2], return_inverse=True)
    starts = np.cumsum([0, *(len(points) for points, _ in solids)])
    faces = np.concatenate([number[f + start] for (_, f), start in zip(solids, starts, strict=False)])
    owner = np.repeat(np.arange(len(solids)), [len(f) for _, f in solids])
    faces.sort(axis=1)
    order = np.lexsort((owner, faces[:, 2], faces[:, 1], faces[:, 0]))
    ranked, whose = faces[order], owner[order]
    fresh = np.ones(len(ranked), bool)
    fresh[1:] = (ranked[1:] != ranked[:-1]).any(axis=1)
    begins = np.flatnonzero(fresh)
    ends = np.append(begins[1:], len(ranked)) - 1
    several = whose[begins] != whose[ends]
    flags = np.zeros(len(faces), bool)
    flags[order] = np.repeat(several, ends - begins + 1)
    return np.split(flags, np.cumsum([len(f) for _, f in solids])[:-1])


def spread_spots(points_mm: Floats, faces: NDArray[np.int32], apart_mm: float, most: int) -> Floats:
    """Spots (k, 3) mm on faces (m, 3) of points (n, 3) mm: every corner, every middle, on all but small faces
    also the middles of edges, and rows of spots about `apart_mm` apart.

    They are put further apart where there would be more than `most`; corners and middles always stay.
    """
    corner = points_mm[faces]
    spots = [points_mm[np.unique(faces)], corner.mean(axis=1)]
    edge = np.roll(corner, -1, axis=1) - corner
    length = np.linalg.norm(edge, axis=2)
    longest = length.argmax(axis=1)
    row = np.arange(len(faces))
    a, b, c = (corner[row, (longest + k) % 3] for k in range(3))
    long_mm = length[row, longest]
    tall_mm = np.linalg.norm(np.cross(edge[:, 0], edge[:, 1]), axis=1) / np.maximum(long_mm, 1e-12)
    large = long_mm > SMALL_PART * apart_mm
    a, b, c, long_mm, tall_mm = a[large], b[large], c[large], long_mm[large], tall_mm[large]
    while True:
        # Even numbers, so that the middle of every edge is among the spots.
        along = (2 * np.ceil(np.maximum(long_mm / apart_mm, 1.0) / 2.0)).astype(np.int64)
        across = (2 * np.ceil(np.maximum(tall_mm / apart_mm, 1.0) / 2.0)).astype(np.int64)
        if int(((along + 1) * across).sum()) <= max(most, 6 * len(a)):
            break
        apart_mm *= COARSER
    kinds, kind = np.unique(np.stack([along, across], axis=1), axis=0, return_inverse=True)
    for k, (n, rows) in enumerate(kinds.tolist()):
        which = np.flatnonzero(kind.ravel() == k)
        u = np.tile(np.arange(n + 1) / n, rows)[None, :, None]
        v = np.repeat(np.arange(rows) / rows, n + 1)[None, :, None]
        base = a[which, None] * (1.0 - u) + b[which, None] * u
        spots.append((base * (1.0 - v) + c[which, None] * v).reshape(-1, 3))
    return np.concatenate(spots)


def encloses(corners: Floats, spot: Floats) -> bool:
    """Whether a closed surface of triangles (m, 3, 3) goes round a spot (3,) that is not on it.

    Source: the solid angle of a triangle (van Oosterom and Strackee 1983; from memory), summed over all.
    """
    a, b, c = (corners[:, k] - spot for k in range(3))
    la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
    above = np.einsum("ij,ij->i", a, np.cross(b, c))
    dots = (np.einsum("ij,ij->i", p, q) for p, q in ((a, b), (b, c), (c, a)))
    ab, bc, ca = dots
    angle = 2.0 * np.arctan2(above, la * lb * lc + ab * lc + bc * la + ca * lb)
    return bool(abs(float(angle.sum())) > 2.0 * np.pi)
