"""STL files read back with a general mesh library that had no part in writing them."""

from __future__ import annotations

from dataclasses import dataclass
from io import BytesIO

import trimesh


@dataclass(frozen=True, slots=True)
class Reread:
    """What a mesh library says of a file: `closed` with faces wound alike, `bodies`, `volume_mm3`."""

    closed: bool
    bodies: int
    volume_mm3: float


def reread(data: bytes) -> Reread:
    """Read a binary STL in millimetres. Raises ValueError when it holds no triangles."""
    mesh = trimesh.load(BytesIO(data), file_type="stl", process=True)
    if not isinstance(mesh, trimesh.Trimesh) or not len(mesh.faces):
        raise ValueError("the file holds no triangles")
    closed = bool(mesh.is_watertight and mesh.is_winding_consistent)
    return Reread(closed, int(mesh.body_count), float(mesh.volume))
