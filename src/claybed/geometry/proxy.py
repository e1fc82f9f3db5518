"""A lighter stand-in of a mesh, for looking at many axes."""

from __future__ import annotations

import fast_simplification
import numpy as np

from claybed.geometry.mesh import Mesh, Origin

_WORTH_IT = 2  # a mesh less than this many times the wanted faces is left as it is


def proxy(mesh: Mesh, faces: int = 20_000) -> Mesh:
    """The mesh with about `faces` faces, or the mesh itself when it is not much larger.

    Edges are collapsed by least quadric error, so a closed mesh stays closed; the stand-in may cut through
    itself here and there and serves for ranking only. Raises ValueError for under 100 faces.
    """
    if faces < 100:
        raise ValueError(f"a stand-in needs at least 100 faces, got {faces}")
    if len(mesh.faces) <= _WORTH_IT * faces:
        return mesh
    vertices, light = fast_simplification.simplify(
        np.array(mesh.vertices_mm), np.array(mesh.faces), target_count=faces
    )
    if len(light) < 4:
        return mesh
    return Mesh.make(vertices, light, frame=mesh.frame, origin=Origin.OBJECT)
