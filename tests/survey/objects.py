"""Measured objects for the survey's tests, from generated solids and from files."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import trimesh

from claybed.geometry.mesh import Mesh
from claybed.records.measured import MeasuredObject, MendSummary, MouthReading, UnitReading


def measured(mesh: Mesh, *, name: str = "piece", mouth: MouthReading | None = None) -> MeasuredObject:
    """A mesh taken at its word, in millimetres."""
    extent = np.ptp(mesh.bounds_mm, axis=0)
    return MeasuredObject(
        name=name,
        mesh=mesh,
        unit=UnitReading("mm", 1.0, "asked", "The file is in millimetres."),
        solid_ml=mesh.volume_mm3 / 1e3,
        area_cm2=mesh.area_mm2 / 100.0,
        extent_mm=(float(extent[0]), float(extent[1]), float(extent[2])),
        repairs=(),
        mend=MendSummary(0.0, 0.0),
        mouth=mouth,
        mass_g=None,
        volume_rel_95=0.0,
        findings=(),
    )


def from_data(file: str, *, longest_mm: float | None = None) -> Mesh | None:
    """A closed mesh of the test data, longest side scaled to `longest_mm`; None when the data is absent."""
    root = os.environ.get("CLAYBED_DATA", "")
    path = Path(root) / file
    if not root or not path.is_file():
        return None
    loaded = trimesh.load(path, force="mesh", process=False)
    vertices, back = np.unique(np.asarray(loaded.vertices, dtype=np.float64), axis=0, return_inverse=True)
    faces = back.reshape(-1)[np.asarray(loaded.faces)]
    kept = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    if longest_mm is not None:
        vertices = vertices * (longest_mm / float(np.ptp(vertices, axis=0).max()))
    mesh = Mesh.make(vertices, faces[kept], frame="object")
    return mesh if mesh.volume_mm3 > 0 else Mesh.make(vertices, faces[kept][:, ::-1], frame="object")
