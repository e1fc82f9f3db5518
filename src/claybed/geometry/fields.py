"""A surface with values at its corners, as PLY and as VTK's XML: for any program that shows such files."""

from __future__ import annotations

import base64
from collections.abc import Mapping

import numpy as np

from claybed.geometry.mesh import Floats, Mesh


def ply_bytes(mesh: Mesh, values: Mapping[str, Floats], *, comment: str) -> bytes:
    """Binary PLY, little endian: x, y, z in mm and one float property for each of `values` (n,).

    `comment` is one line. Raises ValueError for values of another length or a name that is not one word.
    """
    _fit(mesh, values)
    rows = np.empty(len(mesh.vertices_mm), [(name, "<f4") for name in ("x", "y", "z", *values)])
    for k, name in enumerate("xyz"):
        rows[name] = mesh.vertices_mm[:, k]
    for name, value in values.items():
        rows[name] = value
    faces = np.empty(len(mesh.faces), [("count", "u1"), ("corners", "<i4", 3)])
    faces["count"], faces["corners"] = 3, mesh.faces
    head = ["ply", "format binary_little_endian 1.0", f"comment {' '.join(comment.split())}"]
    head += [f"element vertex {len(rows)}", *(f"property float {name}" for name in rows.dtype.names or ())]
    head += [f"element face {len(faces)}", "property list uchar int vertex_indices", "end_header", ""]
    return "\n".join(head).encode("ascii", "replace") + rows.tobytes() + faces.tobytes()


def vtu_bytes(mesh: Mesh, values: Mapping[str, Floats]) -> bytes:
    """An unstructured grid of triangles in VTK's XML, points in mm, one array at the points for each value.

    Raises ValueError as ply_bytes does.
    """
    _fit(mesh, values)
    count = len(mesh.faces)
    arrays = "".join(_array(value.astype("<f4"), "Float32", name) for name, value in values.items())
    cells = (
        _array(mesh.faces.reshape(-1).astype("<i4"), "Int32", "connectivity"),
        _array(3 * np.arange(1, count + 1, dtype="<i4"), "Int32", "offsets"),
        _array(np.full(count, 5, "u1"), "UInt8", "types"),
    )
    points = _array(mesh.vertices_mm.astype("<f8"), "Float64", "points", parts=3)
    text = (
        '<?xml version="1.0"?>\n'
        '<VTKFile type="UnstructuredGrid" version="1.0" byte_order="LittleEndian" header_type="UInt64">\n'
        f'<UnstructuredGrid>\n<Piece NumberOfPoints="{len(mesh.vertices_mm)}" NumberOfCells="{count}">\n'
        f"<PointData>\n{arrays}</PointData>\n<Points>\n{points}</Points>\n<Cells>\n{''.join(cells)}</Cells>\n"
        "</Piece>\n</UnstructuredGrid>\n</VTKFile>\n"
    )
    return text.encode("ascii")


def _array(data: np.ndarray, kind: str, name: str, *, parts: int = 1) -> str:
    raw = data.tobytes()
    text = base64.b64encode(np.uint64(len(raw)).tobytes() + raw).decode("ascii")
    width = f' NumberOfComponents="{parts}"' if parts > 1 else ""
    return f'<DataArray type="{kind}" Name="{name}"{width} format="binary">{text}</DataArray>\n'


def _fit(mesh: Mesh, values: Mapping[str, Floats]) -> None:
    for name, value in values.items():
        if value.shape != (len(mesh.vertices_mm),):
            raise ValueError(f"{name} must hold one value for each of the {len(mesh.vertices_mm)} corners")
        if not name.isidentifier():
            raise ValueError(f"“{name}” is not one word")
