"""Binary STL of lattice solids, without loss: every lattice coordinate is a single-precision number."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.lattice import UNITS_PER_MM, Lattice
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
    rows = np.zeros((len(solid.faces), _ROW.itemsize), np.uint8)
    numbers, fits = _numbers(solid.points, solid.faces, 1.0 / UNITS_PER_MM)
    if not fits:
        raise ValueError("a coordinate of the solid does not fit single precision")
    rows[:, : 4 * numbers.shape[1]] = numbers.astype("<f4", copy=False).view(np.uint8)
    head = title.encode("ascii", "replace")[:HEADER_BYTES].ljust(HEADER_BYTES)
    data: bytes = head + np.uint32(len(rows)).astype("<u4").tobytes() + rows.tobytes()
    return data


@njit(cache=True, nogil=True)
def _numbers(points: Lattice, faces: NDArray[np.int32], step_mm: Floats) -> tuple[NDArray[np.float32], bool]:
    # Unit normal, zero where a triangle has no area, and corners (m, 12); whether all corners are exact. A
    # lattice step is a power of two, so the product is as exact as the quotient.
    numbers = np.zeros((faces.shape[0], 12), np.float32)
    corner = np.empty((3, 3))
    normal = np.empty(3)
    fits = True
    for f in range(faces.shape[0]):
        for v in range(3):
            for k in range(3):
                corner[v, k] = points[faces[f, v], k] * step_mm[k]
                numbers[f, 3 + 3 * v + k] = corner[v, k]
                fits = fits and np.float64(numbers[f, 3 + 3 * v + k]) == corner[v, k]
        a, b, c = corner[0], corner[1], corner[2]
        for k in range(3):
            i, j = (k + 1) % 3, (k + 2) % 3
            normal[k] = (b[i] - a[i]) * (c[j] - a[j]) - (b[j] - a[j]) * (c[i] - a[i])
        length = np.sqrt(normal[0] ** 2 + normal[1] ** 2 + normal[2] ** 2)
        if length > 0.0:
            for k in range(3):
                numbers[f, k] = normal[k] / length
    return numbers, fits


def read_stl(data: bytes) -> tuple[LatticeSolid, float]:
    """A solid from binary STL in millimetres, and how far (mm) its worst coordinate lies off the lattice.

    Corners at one lattice point become one point; STL holds no origins, so every face is told to be
    `Origin.OBJECT`. Raises ValueError when the bytes are not a whole binary STL or a coordinate is not a
    number within 2 m.
    """
    return snapped_solid(read_corners(data))


def read_corners(data: bytes) -> Floats:
    """The triangle corners (3 m, 3) mm that a binary STL holds, in its order.

    Raises ValueError when the bytes are not a whole binary STL.
    """
    start = HEADER_BYTES + 4
    if len(data) < start:
        raise ValueError("a binary STL has at least 84 bytes")
    count = int(np.frombuffer(data, "<u4", 1, HEADER_BYTES)[0])
    if len(data) != start + count * _ROW.itemsize:
        raise ValueError(
            f"a binary STL of {count} triangles has {start + count * _ROW.itemsize} bytes, got {len(data)}"
        )
    corners: Floats = np.frombuffer(data, _ROW, count, start)["corners"].astype(np.float64).reshape(-1, 3)
    return corners


def holds(corners: Floats, solid: LatticeSolid) -> bool:
    """Whether triangle corners (3 m, 3) mm are a solid's own, face by face and to the last bit, and no two of
    its points are one: reading the corners then gives this very surface again.
    """
    if len(corners) != 3 * len(solid.faces):
        return False
    same: bool = _same(corners, UNITS_PER_MM, solid.points, solid.faces)
    return same and bool(_all_apart(solid.points))


@njit(cache=True, nogil=True)
def _same(corners: Floats, units: Floats, points: Lattice, faces: NDArray[np.int32]) -> bool:
    for k in range(faces.shape[0]):
        for v in range(3):
            for axis in range(3):
                if corners[3 * k + v, axis] * units[axis] != points[faces[k, v], axis]:
                    return False
    return True


@njit(cache=True, nogil=True)
def _all_apart(points: Lattice) -> bool:
    size = 16
    while size < 2 * points.shape[0]:
        size *= 2
    table = np.full(size, -1, np.int32)
    for k in range(points.shape[0]):
        x, y, z = points[k, 0], points[k, 1], points[k, 2]
        h = (x * 73856093) ^ (y * 19349663) ^ (z * 83492791)
        s = (h ^ (h >> 15) ^ (h >> 31)) & (size - 1)
        while table[s] >= 0:
            j = table[s]
            if points[j, 0] == x and points[j, 1] == y and points[j, 2] == z:
                return False
            s = (s + 1) & (size - 1)
        table[s] = k
    return True


def snapped_solid(corners: Floats) -> tuple[LatticeSolid, float]:
    """A solid from triangle corners (3 m, 3) mm, and how far (mm) the worst coordinate lies off the lattice.

    Faces that lose a corner by snapping, or that it folds flat onto one another, are left out when anything
    had to be snapped. Raises ValueError when a coordinate is not a number within 2 m.
    """
    if not np.all(np.abs(corners) < 2000.0):
        raise ValueError(
            "coordinates reach beyond two metres or are no numbers (scaled, or in another unit?)"
        )
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
        faces = _unfolded(faces[(faces != np.roll(faces, 1, axis=1)).all(axis=1)])
    return LatticeSolid(ordered[fresh], faces, np.full(len(faces), int(Origin.OBJECT), np.uint8)), off_mm


def _unfolded(faces: NDArray[np.int32]) -> NDArray[np.int32]:
    """Faces (m, 3) without pairs of the same corners that run against each other: nothing lies between them.

    A sliver finer than the lattice, as a program leaves that cuts faces up, snaps to such a pair.
    """
    corners = np.sort(faces, axis=1)
    _, which = np.unique(corners, axis=0, return_inverse=True)
    which = which.reshape(-1)
    # A face and its turns leave their corners in order, or all of them in the other order.
    first = (faces == corners[:, :1]).argmax(axis=1)
    rows = np.arange(len(faces))
    runs = np.where(faces[rows, (first + 1) % 3] == corners[:, 1], 1, -1)
    kept = np.ones(len(faces), bool)
    crowded = np.flatnonzero(np.bincount(which)[which] > 1)
    for one in np.unique(which[crowded]):
        these = crowded[which[crowded] == one]
        over = int(runs[these].sum())
        kept[these] = False
        kept[these[runs[these] == np.sign(over)][: abs(over)]] = True
    return faces[kept]
