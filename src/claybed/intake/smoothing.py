"""Noise taken off a closed surface within a stated distance, and triangles it can do without."""

from __future__ import annotations

from typing import Final

import fast_simplification
import igl
import numpy as np
from scipy.sparse import coo_matrix, csr_matrix, diags

from claybed.geometry.mesh import Origin
from claybed.intake.skin import Skin, is_closed
from claybed.intake.solidity import judge, kernel, skin_of
from claybed.intake.soup import Points

ROUNDS: Final = 12
TOLERANCES: Final = (3e-5, 1e-4, 2e-4, 4e-4)  # of the size
_IN: Final = 0.5
_OUT: Final = -0.53  # a little more than is taken, so that the whole does not shrink


def smoothed(skin: Skin, within_mm: float) -> tuple[Skin, float]:
    """A closed skin with its noise averaged out, no point moved by more than `within_mm`; and the most that
    one was.

    Rounds of averaging over neighbours, inward and out again (Taubin 1995), then held within the distance.
    """
    neighbours = _averaging(skin)
    points = skin.vertices
    for _ in range(ROUNDS):
        for share in (_IN, _OUT):
            points = points + share * (neighbours @ points - points)
    moved = points - skin.vertices
    length = np.linalg.norm(moved, axis=1)
    held = np.minimum(1.0, within_mm / np.maximum(length, 1e-12))
    new = Skin(skin.vertices + moved * held[:, None], skin.faces, skin.origin)
    return new, float(np.minimum(length, within_mm).max())


def thinned_out(skin: Skin, most_faces: int) -> tuple[Skin, float] | None:
    """A closed skin with about `most_faces` triangles, and how far old and new points lie off each other's
    surface at most, mm.

    None when it has no more than that, or when what is left would be no solid.
    """
    if len(skin.faces) <= most_faces:
        return None
    vertices, faces = fast_simplification.simplify(
        np.ascontiguousarray(skin.vertices), np.ascontiguousarray(skin.faces), target_count=most_faces
    )
    new = Skin.of(np.asarray(vertices, np.float64), np.asarray(faces, np.int64)).trimmed()
    if not _solid(new):
        found = _by_tolerance(skin, most_faces)
        if found is None:
            return None
        new = found
    off, _ = distances_mm(new, skin)
    back, _ = distances_mm(skin, new)
    origin = np.full(len(new.faces), int(Origin.OBJECT), np.uint8)
    mends = skin.origin == int(Origin.MEND)
    if mends.any():
        _, at, _ = igl.point_mesh_squared_distance(
            new.vertices[new.faces].mean(axis=1), skin.vertices, skin.faces
        )
        origin = skin.origin[at]
    return Skin(new.vertices, new.faces, origin), float(max(off.max(), back.max()))


def _solid(skin: Skin) -> bool:
    return is_closed(skin.faces, len(skin.vertices)) and judge(skin, known_closed=True).ok


def _by_tolerance(skin: Skin, most_faces: int) -> Skin | None:
    """The solid kernel's own simplifying, which keeps a solid one, at the least tolerance that suffices; the
    lightest it found that is a solid when none does.
    """
    solid = kernel(skin)
    found: list[Skin] = []
    for part in TOLERANCES:
        # Each from the one before: the tolerances add up to less than twice the last.
        solid = solid.simplify(part * skin.size_mm)
        vertices, faces = skin_of(solid)
        found.append(Skin.of(vertices, faces).trimmed())
        if len(found[-1].faces) <= most_faces:
            break
    lighter = (new for new in reversed(found) if 4 <= len(new.faces) < len(skin.faces))
    return next((new for new in lighter if _solid(new)), None)


def distances_mm(skin: Skin, other: Skin) -> tuple[Points, Points]:
    """Distance of each point (n,) of a skin from another's surface, mm, and the nearest face there."""
    squared, nearest, _ = igl.point_mesh_squared_distance(skin.vertices, other.vertices, other.faces)
    return np.sqrt(squared), nearest


def _averaging(skin: Skin) -> csr_matrix:
    a, b = skin.faces.ravel(), np.roll(skin.faces, -1, axis=1).ravel()
    n = len(skin.vertices)
    joined = coo_matrix((np.ones(len(a)), (a, b)), shape=(n, n)).tocsr()
    joined = joined + joined.T
    joined.data[:] = 1.0
    count = np.asarray(joined.sum(axis=1)).ravel()
    return (diags(1.0 / np.maximum(count, 1.0)) @ joined).tocsr()
