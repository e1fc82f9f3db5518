"""Writing an object file."""

from __future__ import annotations

import io
import json
import zipfile
from pathlib import Path
from typing import Any, Final

import numpy as np

from claybed.flow.object_document import object_document
from claybed.geometry.mesh import Mesh
from claybed.records.object_file import DESCRIPTION, MESH, ObjectFile

# The same object gives the same bytes, whenever it is written.
_DATED: Final = (1980, 1, 1, 0, 0, 0)
_ROW: Final = np.dtype([("n", "u1"), ("corners", "<i4", 3)])


def write_object(obj: ObjectFile, path: Path) -> dict[str, Any]:
    """Write `obj` to `path` and return its description as plain values, as object.json holds it.

    `path` is written as it stands: let `jobs.single_file.new_file` hand it out, so that nothing half-written
    is left. Raises ValueError for an object that cannot be described, OSError when the disk refuses.
    """
    document = object_document(obj)
    path.write_bytes(object_bytes(obj, document))
    return document


def object_bytes(obj: ObjectFile, document: dict[str, Any]) -> bytes:
    """The object file as bytes: the description first and uncompressed, then the mesh as binary PLY."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        text = json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
        _add(archive, DESCRIPTION, text.encode("utf-8"), zipfile.ZIP_STORED)
        if obj.mesh is not None:
            _add(archive, MESH, ply_bytes(obj.mesh), zipfile.ZIP_DEFLATED)
    return out.getvalue()


def ply_bytes(mesh: Mesh) -> bytes:
    """A mesh as binary little-endian PLY, its points in double precision, mm."""
    head = (
        "ply\nformat binary_little_endian 1.0\ncomment millimetres, z up\n"
        f"element vertex {len(mesh.vertices_mm)}\n"
        "property double x\nproperty double y\nproperty double z\n"
        f"element face {len(mesh.faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    rows = np.zeros(len(mesh.faces), _ROW)
    rows["n"] = 3
    rows["corners"] = mesh.faces
    return head.encode("ascii") + np.ascontiguousarray(mesh.vertices_mm, "<f8").tobytes() + rows.tobytes()


def _add(archive: zipfile.ZipFile, name: str, data: bytes, packed: int) -> None:
    info = zipfile.ZipInfo(name, _DATED)
    info.compress_type = packed
    info.external_attr = 0o644 << 16
    archive.writestr(info, data)
