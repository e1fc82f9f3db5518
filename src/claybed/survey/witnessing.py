"""Spots no two of which can leave along one pull: so many pieces a mold needs at least.

They are sought by rays, and then each pair is put to the proof for all directions there are; a pair that the
proof leaves open does not count.
"""

from __future__ import annotations

import numpy as np

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


def witness(mesh: Mesh, pulls: Floats) -> Witness | None:
    """Spots outside a closed mesh no two of which share a pull, or None when no two are found.

    `pulls` (n, 3) are tried first; the spots are sought on a lighter mesh and proved on `mesh` itself.
    """
    light = proxy(mesh, SOUGHT_FACES)
    off_mm = OFF_SHARE * float(np.ptp(mesh.vertices_mm, axis=0).max())
    corner = light.corners_mm
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    length = np.linalg.norm(normal, axis=1)
    sound = np.flatnonzero(length > 0.0)
    chosen = sound[:: -(-len(sound) // MOST_SPOTS)]
    spots = corner[chosen].mean(axis=1) + off_mm * normal[chosen] / length[chosen, None]
    coarse = np.concatenate([pulls, -pulls])
    rough = np.stack([open_directions(light, spot, coarse) for spot in spots])
    narrow = np.argsort(rough.sum(axis=1), kind="stable")
    narrow = narrow[rough[narrow].any(axis=1)][:MOST_SPOTS]
    if not len(narrow):
        return None
    first = narrow[strangers(rough[narrow], np.eye(len(coarse), dtype=bool), MOST_WITNESSES)]
    dense = fibonacci_axes(DENSE_AXES)
    directions = np.concatenate([coarse, dense, -dense])
    fine = np.stack([open_directions(light, spots[k], directions) for k in first])
    kept = strangers(fine, np.eye(len(directions), dtype=bool), MOST_WITNESSES)
    return _proved(mesh, spots[first[kept]], [directions[fine[k]] for k in kept], off_mm)


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
