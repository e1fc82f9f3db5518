"""Spots no two of which can leave along one pull: so many pieces a mold needs at least.

They are sought by rays, and then each pair is put to the proof for all directions there are; a pair that the
proof leaves open does not count.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.cover import sharing_none
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
# A spot with so many times the ways out of the narrowest of its hollow may still stand for it.
WIDER_TIMES = 2.0
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
    first = narrow[sharing_none(rough[narrow], None, MOST_WITNESSES)]
    dense = fibonacci_axes(DENSE_AXES)
    directions = np.concatenate([coarse, dense, -dense])
    best: Witness | None = None
    tried: set[tuple[int, ...]] = set()
    for chosen in (_middling(sought, first), first):
        if tuple(chosen.tolist()) in tried:
            continue
        tried.add(tuple(chosen.tolist()))
        fine = np.stack([open_directions(light, spots[k], directions) for k in chosen])
        kept = sharing_none(fine, None, MOST_WITNESSES)
        if best is not None and len(kept) <= len(best.spots_mm):
            continue
        found = _proved(mesh, spots[chosen[kept]], [directions[fine[k]] for k in kept], sought.off_mm)
        if found is not None and (best is None or len(found.spots_mm) > len(best.spots_mm)):
            best = found
        if best is not None and len(best.spots_mm) == len(first):
            break
    return best


def _middling(sought: Sought, first: NDArray[np.intp]) -> NDArray[np.intp]:
    """For each of some spots that share no direction looked along, the one in the same hollow that leaves
    most nearly as its hollow does on the whole: from the middle of a hole one leans least towards another's
    way.
    """
    open_to = sought.open_to
    mean = open_to.astype(np.float64) @ sought.directions
    mean /= np.maximum(np.linalg.norm(mean, axis=1, keepdims=True), 1e-12)
    count = open_to.sum(axis=1)
    met = np.stack([(open_to & open_to[spot]).any(axis=1) for spot in first], axis=1)
    chosen = first.copy()
    for k, spot in enumerate(first.tolist()):
        own = np.flatnonzero((met.sum(axis=1) == 1) & met[:, k] & (count <= WIDER_TIMES * count[spot]))
        way = mean[own].sum(axis=0)
        if len(own):
            chosen[k] = own[int(np.argmax(mean[own] @ way))]
    return chosen


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
