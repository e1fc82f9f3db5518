"""Binary STL of lattice solids, without loss: every lattice coordinate is a single-precision number."""

from __future__ import annotations

import numpy as np

from claybed.geometry.lattice import UNITS_PER_MM, Lattice, lattice_mm
from claybed.geometry.mesh import Floats, Origin
from claybed.geometry.slab import LatticeSolid

HEADER_BYTES = 80
_ROW = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def stl_bytes(solid: LatticeSolid, *, title: str = "claybed, millimetres") -> bytes:
    """A solid as binary STL in millimetres; `title` is cut to 80 bytes and may not begin with "solid".

    Raises ValueError for such a title, or when a coordinate is not a single-precision number.
    """
    if title.lower().startswith("solid"):
        raise ValueError('a binary STL may not begin with "solid": readers take it for text')
    corners = lattice_mm(solid.points)[solid.faces]
    rows = np.zeros(len(corners), _ROW)
    rows["corners"] = corners
    if not np.array_equal(rows["corners"].astype(np.float64), corners):
        raise ValueError("a coordinate of the solid does not fit single precision")
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    rows["normal"] = normal / np.where(length > 0.0, length, 1.0)
    head = title.encode("ascii", "replace")[:HEADER_BYTES].ljust(HEADER_BYTES)
    data: bytes = head + np.uint32(len(rows)).astype("<u4").tobytes() + rows.tobytes()
    return data


def read_stl(data: bytes) -> tuple[LatticeSolid, float]:
    """A solid from binary STL in millimetres, and how far (mm) its worst coordinate lies off the lattice.

    Corners at one lattice point become one point; STL holds no origins, so every face is told to be
    `Origin.OBJECT`. Raises ValueError when the bytes are not a whole binary STL or a coordinate is not a
    number within 2 m.
    """
    start = HEADER_BYTES + 4
    if len(data) < start:
        raise ValueError("a binary STL has at least 84 bytes")
    count = int(np.frombuffer(data, "<u4", 1, HEADER_BYTES)[0])
    if len(data) != start + count * _ROW.itemsize:
        raise ValueError(
            f"a binary STL of {count} triangles has {start + count * _ROW.itemsize} bytes, got {len(data)}"
        )
    corners = np.frombuffer(data, _ROW, count, start)["corners"].astype(np.float64).reshape(-1, 3)
    return snapped_solid(corners)


def snapped_solid(corners: Floats) -> tuple[LatticeSolid, float]:
    """A solid from triangle corners (3 m, 3) mm, and how far (mm) the worst coordinate lies off the lattice.

    Faces that lose a corner by snapping are left out when anything had to be snapped. Raises ValueError when
    a coordinate is not a number within 2 m.
    """
    if not np.all(np.abs(corners) < 2000.0):
        raise ValueError("a coordinate is not a number within two metres")
    exact = corners * UNITS_PER_MM
    snapped: Lattice = np.rint(exact).astype(np.int64)
    off_mm = float((np.abs(exact - snapped) / UNITS_PER_MM).max(initial=0.0))
    order = np.lexsort((snapped[:, 2], snapped[:, 1], snapped[:, 0]))
    ordered = snapped[order]
    fresh = np.ones(len(ordered), bool)
    fresh[1:] = (ordered[1:] != ordered[:-1]).any(axis=1)
    index = np.empty(len(ordered), np.int64)
    index[order] = np.cumsum(fresh) - 1
    faces = index.reshape(-1, 3).astype(np.int32)
    if off_mm > 0.0:
        faces = faces[(faces != np.roll(faces, 1, axis=1)).all(axis=1)]
    return LatticeSolid(ordered[fresh], faces, np.full(len(faces), int(Origin.OBJECT), np.uint8)), off_mm
