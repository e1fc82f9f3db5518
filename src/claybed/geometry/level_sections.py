"""The plan section of a closed surface at a level, followed round face by face."""

from __future__ import annotations

import manifold3d
import numpy as np

from claybed.geometry.carving import Section
from claybed.geometry.lattice import LatticeMesh, lattice_mm
from claybed.geometry.mesh import Floats
from claybed.geometry.slab import LatticeSolid


def section_at(source: LatticeMesh | LatticeSolid, rotation: Floats, level_mm: float) -> Section:
    """What a closed surface encloses at a level along a pull, in the plan of that pull; empty where the level
    misses it.

    `rotation` (3, 3) into the frame where the pull is z. Corners on the level count as over it. Raises
    ArithmeticError when the surface is open there.
    """
    points = lattice_mm(source.points)
    over = points @ rotation[2] >= level_mm
    of_face = over[source.faces]
    crossed = source.faces[of_face.any(axis=1) & ~of_face.all(axis=1)].astype(np.int64)
    if not len(crossed):
        return Section()
    here = over[crossed]
    after = np.roll(crossed, -1, axis=1)
    # Of a face's sides one climbs through the level and one sinks: the line runs from this to that, and on
    # into the face that sinks where this one climbs.
    climbs, sinks = ~here & over[after], here & ~over[after]
    up = np.stack([crossed[climbs], after[climbs]], axis=1)
    down = np.stack([after[sinks], crossed[sinks]], axis=1)
    codes = up[:, 0] * len(points) + up[:, 1], down[:, 0] * len(points) + down[:, 1]
    leaves, enters = (np.argsort(code, kind="stable") for code in codes)
    if not np.array_equal(codes[0][leaves], codes[1][enters]):
        raise ArithmeticError("a surface that is levelled has to be closed")
    following = np.empty(len(crossed), np.int64)
    following[leaves] = enters
    low, high = (points[up[:, k]] @ rotation.T for k in (0, 1))
    share = (level_mm - low[:, 2]) / (high[:, 2] - low[:, 2])
    at = low[:, :2] + share[:, None] * (high - low)[:, :2]
    rings, ahead = [], following.tolist()
    for start in range(len(ahead)):
        face, ring = start, []
        while ahead[face] >= 0:
            ring.append(face)
            ahead[face], face = -1, ahead[face]
        if len(ring) > 2:
            rings.append(at[ring])
    return manifold3d.CrossSection(rings, manifold3d.FillRule.Positive)
