"""Meshes the intake tests read: arrays in, files out, with volumes known in closed form."""

from __future__ import annotations

import struct
import zipfile
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from claybed.intake.reading import read_object
from claybed.records.brief import Brief
from claybed.records.measured import MeasuredObject

Arrays = tuple[NDArray[np.float64], NDArray[np.int64]]
Profile = list[tuple[float, float]]

TUMBLER: Profile = [(0, 0), (30, 0), (38, 100), (35, 100), (27, 5), (0, 5)]
BOTTLE: Profile = [
    (0, 0),
    (40, 0),
    (40, 90),
    (12, 120),
    (12, 150),
    (9, 150),
    (9, 120.5),
    (37, 89),
    (37, 4),
    (0, 4),
]


def bowl_profile() -> Profile:
    """A bowl with a lip rounded to a radius of 5 mm, its crest at r = 67, z = 55."""
    outside = [(25 + 45 * t, 2 + 48 * t * t) for t in np.linspace(0.05, 0.95, 19)]
    lip = [(67 + 5 * np.cos(a), 50 + 5 * np.sin(a)) for a in np.linspace(-0.2, np.pi + 0.2, 13)]
    inside = [(62 - 60 * t, 50 - 43 * (1 - (1 - t) ** 2)) for t in np.linspace(0.05, 0.95, 19)]
    return [(0, 0), (25, 0), *outside, *lip, *inside, (0, 7)]


def revolved(profile: Profile, sides: int = 96) -> Arrays:
    """A body of revolution about z; the profile runs from the axis outward, up, inward and back."""
    angles = np.arange(sides) * 2 * np.pi / sides
    points: list[list[float]] = []
    rings: list[list[int]] = []
    for r, z in profile:
        first = len(points)
        if r == 0:
            rings.append([first] * sides)
            points.append([0.0, 0.0, z])
        else:
            rings.append(list(range(first, first + sides)))
            points += [[r * np.cos(a), r * np.sin(a), z] for a in angles]
    faces = []
    for a, b in pairwise(rings):
        for k in range(sides):
            n = (k + 1) % sides
            if a[k] != a[n]:
                faces.append([a[k], a[n], b[n]])
            if b[k] != b[n]:
                faces.append([a[k], b[n], b[k]])
    return np.array(points), np.array(faces)


def frustums_ml(profile: Profile, sides: int) -> float:
    """What a stack of frustums with `sides` flat sides holds, ml; the profile goes up along the wall."""
    area = 0.5 * sides * np.sin(2 * np.pi / sides)
    parts = [(z2 - z1) * (r1 * r1 + r1 * r2 + r2 * r2) / 3.0 for (r1, z1), (r2, z2) in pairwise(profile)]
    return float(area * sum(parts) / 1000.0)


def box(size: tuple[float, float, float], at: tuple[float, float, float] = (0, 0, 0)) -> Arrays:
    """A box of 12 triangles with its lowest corner at `at`."""
    corners = np.array([[i >> 2 & 1, i >> 1 & 1, i & 1] for i in range(8)], float) * size + at
    faces = [
        [0, 1, 3], [0, 3, 2], [4, 6, 7], [4, 7, 5], [0, 4, 5], [0, 5, 1],
        [2, 3, 7], [2, 7, 6], [0, 2, 6], [0, 6, 4], [1, 5, 7], [1, 7, 3],
    ]  # fmt: skip
    return corners, np.array(faces)


def lumpy(count: int = 24, size_mm: float = 50.0) -> Arrays:
    """A lumpy stone with a flat base at its lowest points: a cube's grid blown up, 12 x count² triangles."""
    grid = np.linspace(-1, 1, count + 1)
    points: list[NDArray[np.float64]] = []
    faces: list[NDArray[np.int64]] = []
    a, b = (m.ravel() for m in np.meshgrid(grid, grid, indexing="ij"))
    at = np.arange((count + 1) ** 2).reshape(count + 1, count + 1)
    p, q, r, s = at[:-1, :-1].ravel(), at[1:, :-1].ravel(), at[1:, 1:].ravel(), at[:-1, 1:].ravel()
    cell = np.concatenate([np.stack([p, q, r], axis=1), np.stack([p, r, s], axis=1)])
    for axis in range(3):
        for sign in (-1.0, 1.0):
            side = np.empty((len(a), 3))
            side[:, axis], side[:, (axis + 1) % 3], side[:, (axis + 2) % 3] = sign, a, b
            faces.append((cell if sign > 0 else cell[:, ::-1]) + sum(len(x) for x in points))
            points.append(side)
    v = np.concatenate(points)
    v, inverse = np.unique(np.round(v, 9), axis=0, return_inverse=True)
    f = inverse.reshape(-1)[np.concatenate(faces)]
    v = v / np.linalg.norm(v, axis=1)[:, None]
    lumps = (
        1 + 0.12 * np.sin(3 * v[:, 0] + 1) * np.cos(4 * v[:, 1]) + 0.08 * np.sin(5 * v[:, 2] + 2 * v[:, 0])
    )
    v = v * lumps[:, None] * size_mm
    v[:, 2] = np.maximum(v[:, 2], -0.6 * size_mm)
    return v, f


def volume_ml(arrays: Arrays) -> float:
    """Signed volume by the divergence theorem, ml."""
    c = arrays[0][arrays[1]]
    return float(np.einsum("ij,ij->i", c[:, 0], np.cross(c[:, 1], c[:, 2])).sum() / 6000.0)


def together(*parts: Arrays) -> Arrays:
    """Several meshes as one, nothing joined."""
    shift = np.cumsum([0] + [len(v) for v, _ in parts])
    faces = np.concatenate([f + k for (_, f), k in zip(parts, shift, strict=False)])
    return np.concatenate([v for v, _ in parts]), faces


def write_stl(path: Path, arrays: Arrays, header: bytes = b"made for a test") -> Path:
    """A binary STL, single precision."""
    v, f = arrays
    rows = np.zeros(len(f), np.dtype([("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")]))
    rows["c"] = v[f]
    path.write_bytes(header.ljust(80)[:80] + struct.pack("<I", len(f)) + rows.tobytes())
    return path


def write_obj(path: Path, arrays: Arrays) -> Path:
    """An OBJ text in full precision."""
    v, f = arrays
    lines = [f"v {x!r} {y!r} {z!r}" for x, y, z in v.tolist()]
    lines += [f"f {a} {b} {c}" for a, b, c in (f + 1).tolist()]
    path.write_text("\n".join(lines) + "\n", "ascii")
    return path


def model_xml(arrays: Arrays, unit: str = "millimeter", number: int = 1, rest: str = "") -> str:
    """The XML of a 3MF model with one mesh object; `rest` replaces the build."""
    v, f = arrays
    points = "".join(f'<vertex x="{x!r}" y="{y!r}" z="{z!r}"/>' for x, y, z in v.tolist())
    faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in f.tolist())
    build = rest or f'</resources><build><item objectid="{number}"/></build>'
    return (
        f'<?xml version="1.0"?><model unit="{unit}" '
        'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources>'
        f'<object id="{number}" type="model"><mesh><vertices>{points}</vertices>'
        f"<triangles>{faces}</triangles></mesh></object>{build}</model>"
    )


def write_3mf(path: Path, xml: str) -> Path:
    """A 3MF archive around one model."""
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("3D/3dmodel.model", xml)
    return path


def read(path: Path, **asked: object) -> MeasuredObject:
    """Read with a brief of the given fields; inputs are in mm unless said otherwise."""
    fields = {"unit": "mm", **asked}
    return read_object(path, Brief(**fields), progress=lambda step, part: None)  # type: ignore[arg-type]
