"""Every solid's surface lies on that of its neighbours or on the block's outside: no hollow, no wart.

Volumes that add up within a tolerance may hide a pit as large as the tolerance times the surface. Here every
face is laid against what it must touch. Faces that two solids have alike, and those that others cover in
their own plane, lie on one another all over. Of the rest spots are looked at: all corners, both ways, so that
a pit or a wart with a corner of its own is never missed; middles, edges, and spots within.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.closest import nearest_within
from claybed.geometry.covering import laid_on
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, lattice_mm
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.nearness import distances_mm
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.spotting import encloses, shared_faces, spread_spots
from claybed.proof.places import in_words, place_of
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.finding import Check

# Exact solids, and what came back from another program, lie on one another up to rounding.
NEAR_MM = 0.01
# Further pieces are cut by booleans. Films they leave that are thinner than 0.02 mm on the mean are dropped;
# a wedge is twice as thick at its edge, and joints on both sides of it are tidied and rounded by 0.0025 mm.
# Seen of 24 molds with side pieces: 0.03 mm on one, under 0.003 mm on the others.
FILM_MM = 0.05
# Spots on faces lie no further apart than this, as long as there are not too many.
APART_MM = 1.0
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
    # Most faces are cut alike in both, and lie on one another to the last bit.
    free = {
        name: ~(same | on_outside(solid, assembly))
        for (name, solid), same in zip(solids.items(), alike, strict=True)
    }
    laid = laid_on(np.concatenate([solid.points[solid.faces[free[name]]] for name, solid in solids.items()]))
    checks = []
    for name, solid in solids.items():
        others = {other: corners[other] for other in solids if other != name and len(corners[other])}
        likely = np.concatenate([corners[other][free[other]] for other in others] or [corners[name][:0]])
        own = solid.faces[free[name]]
        covered, laid = laid[: len(own)], laid[len(own) :]
        points = lattice_mm(solid.points)
        spots = np.concatenate(
            [points[np.unique(own[covered])], spread_spots(points, own[~covered], APART_MM, MOST_SPOTS)]
        )
        checks.append(_adjoins(name, _lost(spots, likely, limit_mm), others, assembly, limit_mm))
    return checks


def placed(volumes: Check, laid: Sequence[Check]) -> Check:
    """The check on volumes with the place of the worst of `laid`, when neither holds."""
    worst = max(laid, key=lambda check: check.measured)
    return volumes if volumes.ok or worst.ok else replace(volumes, where=worst.where, at_mm=worst.at_mm)


def adjoining_limit_mm(assembly: Assembly) -> float:
    """How far surfaces of a mold may lie apart, mm: more where side pieces were cut."""
    return NEAR_MM if len(assembly.pieces) <= 2 else FILM_MM


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
    around = np.concatenate([*others.values(), np.zeros((0, 3, 3))])
    lost = _lost(spots, around, limit_mm)
    lost = lost[_to_outside_mm(lost, assembly) > limit_mm]
    depth_mm, at, where = 0.0, None, called(name)
    if len(lost):
        lost = lost[:: -(-len(lost) // MOST_MEASURED)]
        far = _to_outside_mm(lost, assembly)
        if len(around):
            faces = np.arange(3 * len(around), dtype=np.int32).reshape(-1, 3)
            surface = Mesh.make(around.reshape(-1, 3), faces, frame=BLOCK_FRAME)
            far = np.minimum(far, distances_mm(lost, surface))
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
        how="faces covered in their own plane, and of all others corners, middles, edges and spots "
        f"{APART_MM:g} mm apart, against the faces of its neighbours and the block's outside",
        remedy="" if ok else "Do not pour from this plan: plan again, and report it if it stays.",
        at_mm=at,
    )


def _lost(spots: Floats, around: Floats, limit_mm: float) -> Floats:
    """Those of some spots (n, 3) mm that no triangle (m, 3, 3) mm lies within a limit of."""
    if not len(spots) or not len(around):
        return spots
    return spots[nearest_within(spots, around, limit_mm)[0] < 0]


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
