"""OBJ text: points and polygons; materials, textures and lines are left aside."""

from __future__ import annotations

import re

import mapbox_earcut
import numpy as np

from claybed.errors import InputError
from claybed.intake.guard import LONGEST_LINE, Sniffed, lines_within, read_bytes
from claybed.intake.soup import Points, Soup, Triples, triangle_limit
from claybed.intake.stl import numbers

_POINT = re.compile(rb"^[ \t]*v[ \t]+([^\r\n#]*)", re.MULTILINE)
_FACE = re.compile(rb"^[ \t]*f[ \t]+([^\r\n#]*)", re.MULTILINE)
_POINT_OR_FACE = re.compile(rb"^[ \t]*([vf])[ \t]+([^\r\n#]*)", re.MULTILINE)
_REST_OF_CORNER = re.compile(rb"/[^\s]*")


def read_obj(file: Sniffed, most: int) -> Soup:
    """Read an OBJ file. Polygons are split into triangles; colours behind a point are ignored.

    Raises InputError for overlong lines, faces that name no point, or anything that is not a number.
    """
    data = read_bytes(file)
    lines_within(data, LONGEST_LINE * 4, file.where)
    if b"\n" not in data:
        data = data.replace(b"\r", b"\n")
    data = data.replace(b"\\\r\n", b" ").replace(b"\\\n", b" ")
    faces_text = _FACE.findall(data)
    triangle_limit(len(faces_text), most, file.where)
    points_text = _POINT.findall(data)
    if not faces_text or not points_text:
        raise InputError(
            "is an OBJ file without faces.", where=file.where, remedy="Export the object as a surface mesh."
        )
    points = _points(points_text, file.where)
    corners, sizes = _corners(faces_text, file.where)
    corners = _from_the_end(data, corners, sizes) if (corners < 0).any() else corners - 1
    if int(corners.min()) < 0 or int(corners.max()) >= len(points):
        raise InputError(
            f"a face names a point that is not among the {len(points):,} points; the file is damaged.",
            where=file.where,
            remedy="Export it again.",
        )
    return Soup(points, triangles_of(points, corners, sizes), "OBJ")


def triangles_of(points: Points, corners: Triples, sizes: Triples) -> Triples:
    """Split polygons into triangles: `corners` (k,) all polygons one after the other, `sizes` (p,) corners of
    each.

    Quadrilaterals are split along the diagonal that keeps both halves facing one way; larger polygons by ear
    clipping in their own plane. Polygons of fewer than three corners are dropped.
    """
    starts = np.concatenate([[0], np.cumsum(sizes)[:-1]])
    three = corners[starts[sizes == 3][:, None] + np.arange(3)]
    quads = corners[starts[sizes == 4][:, None] + np.arange(4)]
    parts = [three.reshape(-1, 3), _halves(points, quads.reshape(-1, 4))]
    for start, size in zip(starts[sizes > 4], sizes[sizes > 4], strict=True):
        parts.append(_clipped(points, corners[start : start + size]))
    return np.concatenate(parts).astype(np.int64)


def _halves(points: Points, quads: Triples) -> Triples:
    first, second = quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]
    with np.errstate(all="ignore"):
        folded = (_normals(points, first) * _normals(points, second)).sum(axis=1) < 0
    first = np.where(folded[:, None], quads[:, [0, 1, 3]], first)
    second = np.where(folded[:, None], quads[:, [1, 2, 3]], second)
    return np.concatenate([first, second])


def _normals(points: Points, faces: Triples) -> Points:
    a, b, c = (points[faces[:, k]] for k in range(3))
    return np.cross(b - a, c - a)


def _clipped(points: Points, polygon: Triples) -> Triples:
    ring = points[polygon]
    after = np.roll(ring, -1, axis=0)
    with np.errstate(all="ignore"):
        normal = np.cross(ring - ring[0], after - ring[0]).sum(axis=0)
    fan = np.stack([np.full(len(ring) - 2, 0), np.arange(1, len(ring) - 1), np.arange(2, len(ring))], axis=1)
    fanned: Triples = polygon[fan]
    if not np.isfinite(normal).all() or not normal.any():
        return fanned
    # Dropping the largest axis keeps the polygon's order apart from a known change of turning sense.
    axis = int(np.abs(normal).argmax())
    flat = ring[:, [(axis + 1) % 3, (axis + 2) % 3]]
    cut = (
        mapbox_earcut.triangulate_float64(flat, np.array([len(ring)], np.uint32))
        .astype(np.int64)
        .reshape(-1, 3)
    )
    if len(cut) != len(ring) - 2:
        return fanned
    across, along = (flat[cut[:, k]] - flat[cut[:, 0]] for k in (1, 2))
    sense = float((across[:, 0] * along[:, 1] - across[:, 1] * along[:, 0]).sum())
    if (sense > 0) != (normal[axis] > 0):
        cut = cut[:, ::-1]
    clipped: Triples = polygon[cut]
    return clipped


def _points(rows: list[bytes], where: str) -> Points:
    width = len(rows[0].split())
    if width < 3 or width > 8:
        raise InputError("has a point that is not three numbers.", where=where, remedy="Export it again.")
    if width == 3:
        return numbers(rows, 3, where)
    return np.ascontiguousarray(numbers(rows, width, where)[:, :3])


def _corners(rows: list[bytes], where: str) -> tuple[Triples, Triples]:
    sizes = np.fromiter((len(row.split()) for row in rows), np.int64, len(rows))
    text = _REST_OF_CORNER.sub(b"", b" ".join(rows))
    try:
        corners = np.loadtxt(text.split(), dtype=np.int64, comments=None, ndmin=1)
    except (ValueError, OverflowError) as reason:
        raise InputError(
            "has a face that does not name points by number.", where=where, remedy="Export it again."
        ) from reason
    if len(corners) != int(sizes.sum()) or (corners == 0).any():
        raise InputError("has a face that names no point.", where=where, remedy="Export it again.")
    return corners, sizes


def _from_the_end(data: bytes, corners: Triples, sizes: Triples) -> Triples:
    """Turn counts from the end (-1 is the newest point so far) into plain indices."""
    kinds = np.array([kind == b"v" for kind, _ in _POINT_OR_FACE.findall(data)])
    known = np.cumsum(kinds)[~kinds]
    so_far = np.repeat(known, sizes)
    return np.where(corners < 0, so_far + corners, corners - 1)
