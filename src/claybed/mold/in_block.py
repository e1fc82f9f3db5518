"""The whole block of a mold as one solid, and how much of an object lies in it."""

from __future__ import annotations

import numpy as np

from claybed.geometry.carving import Solid, Workbench, polygon, prism
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, LatticeMesh, pull_rotation
from claybed.geometry.levels import volume_above_mm3
from claybed.geometry.mesh import Mesh, Origin
from claybed.records.assembly import BLOCK_FRAME, Assembly


def block_of(bench: Workbench, assembly: Assembly) -> Solid:
    """The block of a mold, pieces and model and all, in its own frame."""
    whole = prism(polygon(assembly.footprint / XY_PER_MM), 0.0, assembly.height / Z_PER_MM)
    return bench.marked(whole, Origin.OUTSIDE)


def inside_mm3(bench: Workbench, thing: Mesh, source: LatticeMesh, block: Solid, assembly: Assembly) -> float:
    """Volume of the object and its gate within the block, mm³. Mostly only the gate reaches out of it, and
    through one side.
    """
    corners = assembly.footprint / XY_PER_MM
    sides = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        out = np.array([b[1] - a[1], a[0] - b[0], 0.0]) / float(np.linalg.norm(b - a))
        sides.append((out, float(out[:2] @ a)))
    sides += [(np.array([0.0, 0.0, 1.0]), assembly.height / Z_PER_MM), (np.array([0.0, 0.0, -1.0]), 0.0)]
    crossed = [(out, off) for out, off in sides if float((thing.vertices_mm @ out).max()) > off]
    if not crossed:
        return thing.volume_mm3
    if len(crossed) == 1:
        out, off_mm = crossed[0]
        upright = thing.moved(pull_rotation(out), np.zeros(3), frame=BLOCK_FRAME)
        return thing.volume_mm3 - volume_above_mm3(upright, off_mm)
    return float((bench.lay(thing.vertices_mm, source.faces, source.origin) ^ block).volume())
