"""Spots no two of which can leave along one pull: so many pieces a mold needs at least.

They are sought by rays, and then each pair is put to the proof for all directions there are; a pair that the
proof leaves open does not count.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.cover import strangers
from claybed.geometry.directions import fibonacci_axes
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.nearness import nearest_mm
from claybed.geometry.proxy import proxy
from claybed.geometry.reach import open_directions
from claybed.geometry.sharing import Outlook, free, outlook, shared
from claybed.records.surveyed import Vector, Witness

DENSE_AXES = 1600
DENSE_DEG = 2.5
# Rays are not taken for their neighbours: what lies between them is left to the proof.
WIDENED_DEG = 0.0
MOST_SPOTS = 400
MOST_WITNESSES = 8
SOUGHT_FACES = 6000
# A spot stands off the surface by this share of the object.
OFF_SHARE = 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class Sought:
    """Spots just off the walls of a mesh, and which pulls free each.

    `light` the lighter mesh looked at; `spots_mm` (s, 3) `off_mm` off its walls, whose unit normals are
    `normals` (s, 3); `open_to` (s, d) which of `directions` (d, 3) meet nothing from there.
    """

    light: Mesh
    spots_mm: Floats
    normals: Floats
    off_mm: float
    directions: Floats
    open_to: NDArray[np.bool_]


def look_about(mesh: Mesh, pulls: Floats) -> Sought:
    """Spots spread over the walls of a closed mesh, looked at along `pulls` (n, 3) and their opposites."""
    light = proxy(mesh, SOUGHT_FACES)
    off_mm = OFF_SHARE * float(np.ptp(mesh.vertices_mm, axis=0).max())
    corner = light.corners_mm
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    length = np.linalg.norm(normal, axis=1)
    sound = np.flatnonzero(length > 0.0)
    chosen = sound[:: -(-len(sound) // MOST_SPOTS)]
    normals = normal[chosen] / length[chosen, None]
    spots = corner[chosen].mean(axis=1) + off_mm * normals
    coarse = np.concatenate([pulls, -pulls])
    rough = np.stack([open_directions(light, spot, coarse) for spot in spots])
    return Sought(light, spots, normals, off_mm, coarse, rough)


def witness(mesh: Mesh, sought: Sought) -> Witness | None:
    """Spots outside a closed mesh no two of which share a pull, or None when no two are found.

    They are sought among those of `sought`, on its lighter mesh, and proved on `mesh` itself.
    """
    light, spots, coarse, rough = sought.light, sought.spots_mm, sought.directions, sought.open_to
    narrow = np.argsort(rough.sum(axis=1), kind="stable")
    narrow = narrow[rough[narrow].any(axis=1)][:MOST_SPOTS]
    if not len(narrow):
        return None
    first = narrow[strangers(rough[narrow], np.eye(len(coarse), dtype=bool), MOST_WITNESSES)]
    dense = fibonacci_axes(DENSE_AXES)
    directions = np.concatenate([coarse, dense, -dense])
    fine = np.stack([open_directions(light, spots[k], directions) for k in first])
    kept = strangers(fine, np.eye(len(directions), dtype=bool), MOST_WITNESSES)
    return _proved(mesh, spots[first[kept]], [directions[fine[k]] for k in kept], sought.off_mm)


def _proved(mesh: Mesh, spots: Floats, ways: list[Floats], off_mm: float) -> Witness | None:
    """The spots that are outside the mesh itself and share no direction with one taken before them.

    `ways` are directions free for each spot on the lighter mesh: one that is free on the mesh itself shows
    that the spot is outside.
    """
    if len(spots) < 2:
        return None
    foot, face = nearest_mm(spots, mesh)
    corner = mesh.corners_mm[face]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    length = np.linalg.norm(normal, axis=1)
    taken: list[tuple[Floats, Floats, Outlook]] = []
    bundles, finest_deg = 0, 180.0
    for k in np.flatnonzero(length > 0.0).tolist():
        spot = foot[k] + off_mm * normal[k] / length[k]
        seen = outlook(mesh, spot)
        leaves = np.flatnonzero(free(seen, ways[k]))
        if not len(leaves):
            continue
        against = [shared(seen, other) for _, _, other in taken]
        if any(one.verdict != "none" for one in against):
            continue
        bundles += sum(one.bundles for one in against)
        finest_deg = min([finest_deg, *(one.finest_deg for one in against)])
        taken.append((spot, ways[k][leaves[len(leaves) // 2]], seen))
    if len(taken) < 2:
        return None
    return Witness(
        spots_mm=tuple(_vector(spot) for spot, _, _ in taken),
        pulls=tuple(_vector(way) for _, way, _ in taken),
        sampled_deg=DENSE_DEG,
        widened_deg=WIDENED_DEG,
        bundles=bundles,
        finest_deg=finest_deg,
    )


def _vector(v: Floats) -> Vector:
    x, y, z = (float(c) + 0.0 for c in v)
    return x, y, z
