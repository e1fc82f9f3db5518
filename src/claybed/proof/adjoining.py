"""Every solid's surface lies on that of its neighbours or on the block's outside: no hollow, no wart.

Volumes that add up within a tolerance may hide a pit as large as the tolerance times the surface. Here every
face is laid against what it must touch, at its corners, on its edges and within.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.closest import nearest_within
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, lattice_mm
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.nearness import distances_mm
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.spotting import encloses, shared_faces, spread_spots
from claybed.proof.places import in_words, place_of
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.finding import Check

# Spots on faces lie no further apart than this, as long as there are not too many.
APART_MM = 2.0
MOST_SPOTS = 50_000
# Of spots that lie on nothing so many, evenly spread, are measured to the end.
MOST_MEASURED = 4000


def adjoining(solids: Mapping[str, LatticeSolid], assembly: Assembly, *, limit_mm: float) -> list[Check]:
    """Checks `adjoins_<id>`: no spot of a solid's surface lies further than `limit_mm` from all the others
    and the block's outside.

    `solids` holds every piece by its letter and the model as "model". A pit lies on nothing, and so does what
    stands out into a neighbour; each is told with its depth, its place and the solid it is in.
    """
    alike = shared_faces([(solid.points, solid.faces) for solid in solids.values()])
    corners = {name: lattice_mm(solid.points)[solid.faces] for name, solid in solids.items()}
    checks = []
    for (name, solid), same in zip(solids.items(), alike, strict=True):
        others = {other: corners[other] for other in solids if other != name and len(corners[other])}
        # Most faces are cut alike in both, and lie on one another to the last bit.
        left = solid.faces[~(same | on_outside(solid, assembly))]
        spots = spread_spots(lattice_mm(solid.points), left, APART_MM, MOST_SPOTS)
        checks.append(_adjoins(name, spots, others, assembly, limit_mm))
    return checks


def on_outside(solid: LatticeSolid, assembly: Assembly) -> NDArray[np.bool_]:
    """Which faces (m,) lie in an outer plane of the block, within a step of the lattice."""
    z = solid.points[:, 2][solid.faces]
    level = np.stack([np.abs(z) <= 4, np.abs(z - assembly.height) <= 4])
    flags: NDArray[np.bool_] = np.asarray(level.all(axis=2).any(axis=0))
    ring = assembly.footprint
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        along = (b - a) / float(np.hypot(*(b - a)))
        rel = solid.points[:, :2] - a
        off = np.abs(along[0] * rel[:, 1] - along[1] * rel[:, 0])
        flags |= (off[solid.faces] <= 2.0).all(axis=1)
    return flags


def _adjoins(
    name: str, spots: Floats, others: Mapping[str, Floats], assembly: Assembly, limit_mm: float
) -> Check:
    around = np.concatenate(list(others.values()))
    lost = spots[nearest_within(spots, around, limit_mm)[0] < 0] if len(spots) else spots
    lost = lost[_to_outside_mm(lost, assembly) > limit_mm]
    depth_mm, at, where = 0.0, None, called(name)
    if len(lost):
        lost = lost[:: -(-len(lost) // MOST_MEASURED)]
        faces = np.arange(3 * len(around), dtype=np.int32).reshape(-1, 3)
        surface = Mesh.make(around.reshape(-1, 3), faces, frame=BLOCK_FRAME)
        far = np.minimum(distances_mm(lost, surface), _to_outside_mm(lost, assembly))
        deepest = int(np.argmax(far))
        depth_mm, at = float(far[deepest]), place_of(lost[deepest])
        within = [other for other, corners in others.items() if encloses(corners, lost[deepest])]
        fault = f"reaches {depth_mm:.2g} mm into {called(within[0])}" if within else "leaves a hollow"
        where = f"{called(name)}, which {fault}, {in_words(at, assembly)}"
    ok = depth_mm <= limit_mm
    return Check(
        id=f"adjoins_{name}",
        ok=ok,
        measured=depth_mm,
        limit=limit_mm,
        unit="mm",
        sense="most",
        where=where,
        how=f"corners, middles, edges and spots {APART_MM:g} mm apart on all its faces, against the faces of "
        "the others and the block's outside",
        remedy="" if ok else "Put the file back as the plan wrote it, or write the plan again.",
        at_mm=at,
    )


def called(name: str) -> str:
    """A solid in words: "piece A", "the model"."""
    return "the model" if name == "model" else f"piece {name}"


def _to_outside_mm(spots: Floats, assembly: Assembly) -> Floats:
    """How far (n,) mm spots (n, 3) mm lie from the nearest outer plane of the block."""
    far: Floats = np.minimum(np.abs(spots[:, 2]), np.abs(spots[:, 2] - assembly.height / Z_PER_MM))
    ring = assembly.footprint / XY_PER_MM
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        along = (b - a) / float(np.hypot(*(b - a)))
        rel = spots[:, :2] - a
        far = np.minimum(far, np.abs(along[0] * rel[:, 1] - along[1] * rel[:, 0]))
    return far
