"""Telling fill from object on a finished model, by distance."""

from __future__ import annotations

import igl
import numpy as np

from claybed.geometry.lattice import LatticeMesh, lattice_mm
from claybed.geometry.mesh import Origin
from claybed.geometry.slab import LatticeSolid

# A wall of the model further than this from the object is clay, not object: more than snapping can move it.
APART_MM = 0.005


def mark_fill(model: LatticeSolid, source: LatticeMesh) -> LatticeSolid:
    """The model with its fill faces named: walls whose middle lies off the object's surface.

    Only vertical faces can be fill, since a cell takes either sheet from a face of the object.
    """
    f, p = model.faces, model.points
    a, b, c = (p[f[:, k], :2] for k in range(3))
    upright = (b[:, 0] - a[:, 0]) * (c[:, 1] - a[:, 1]) == (b[:, 1] - a[:, 1]) * (c[:, 0] - a[:, 0])
    number = np.flatnonzero(upright)
    if not len(number):
        return model
    middle = lattice_mm(p[f[number]]).mean(axis=1)
    squared, nearest, _ = igl.point_mesh_squared_distance(
        np.ascontiguousarray(middle), lattice_mm(source.points), source.faces.astype(np.int64)
    )
    origin = model.origin.copy()
    origin[number] = np.where(squared > APART_MM**2, int(Origin.FILL), source.origin[nearest])
    return LatticeSolid(p, f, origin)
