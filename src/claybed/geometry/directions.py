"""Axes worth trying: spread evenly over the half-sphere, and those the geometry itself suggests.

A sampled axis misses with certainty the one that makes a straight wall exactly vertical, so axes that walls,
flats and symmetry suggest are always generated beside the even ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.mesh import Floats, Mesh

_GOLDEN_TURN = np.pi * (3.0 - np.sqrt(5.0))
_SAME_COSINE = np.cos(np.radians(0.05))
_FLAT_DEG = 1.0
# A way that has this much of its length across a pull can have a side of the block square to it.
LEVEL = 0.9


@dataclass(frozen=True, slots=True)
class Candidate:
    """An axis (3,), unit, object frame, and `why` it came up: see `AxisScore.why`."""

    axis: tuple[float, float, float]
    why: str


@dataclass(frozen=True, slots=True)
class FlatPatch:
    """Faces that lie in one plane: unit `normal` outward, `offset_mm` = point . normal, `area_mm2`."""

    normal: tuple[float, float, float]
    offset_mm: float
    area_mm2: float


def fibonacci_axes(count: int) -> Floats:
    """`count` unit axes (count, 3) spread evenly over the half-sphere z > 0.

    Neighbours stand about 2.5 / sqrt(count) radians apart.

    Raises ValueError for a count under 1.
    """
    if count < 1:
        raise ValueError(f"at least one axis is needed, got {count}")
    k = np.arange(count)
    z = (k + 0.5) / count
    r = np.sqrt(1.0 - z * z)
    turn = _GOLDEN_TURN * k
    axes: Floats = np.stack([r * np.cos(turn), r * np.sin(turn), z], axis=1).astype(np.float64)
    return axes


def face_normals(mesh: Mesh) -> tuple[Floats, Floats]:
    """Unit outward normals (m, 3), zero for faces without area, and face areas (m,) mm²."""
    c = mesh.corners_mm
    normal: Floats = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0]).astype(np.float64)
    double = np.linalg.norm(normal, axis=1)
    unit: Floats = normal / np.where(double > 0.0, double, 1.0)[:, None]
    area: Floats = np.asarray(0.5 * double, dtype=np.float64)
    return unit, area


def flat_patches(mesh: Mesh, *, least_share: float = 0.01, most: int = 10) -> tuple[FlatPatch, ...]:
    """Planes that hold at least `least_share` of the surface (0..1), largest first, at most `most` of them.

    Normals within a degree and offsets within a thousandth of the extent count as one plane.
    """
    normal, area = face_normals(mesh)
    offset = np.einsum("ij,ij->i", normal, mesh.corners_mm.mean(axis=1))
    extent = float(np.ptp(mesh.bounds_mm, axis=0).max())
    step = np.radians(_FLAT_DEG)
    key = np.round(offset / (2e-3 * extent)).astype(np.int64)
    for k in range(3):  # one number per direction and offset; each part stays within 2**13 of zero
        key = (key << 14) + np.round(normal[:, k] / step).astype(np.int64)
    _, group = np.unique(key, return_inverse=True)
    share = np.bincount(group, area)
    total = float(area.sum())
    free = area > 0.0
    out: list[FlatPatch] = []
    for seed in np.argsort(-share)[: 4 * most]:
        if len(out) == most or share[seed] < 0.1 * least_share * total:
            break
        member = free & (group == seed)
        if not member.any():
            continue
        # a plane on the border of two keys is gathered again around its mean
        n = (normal[member] * area[member, None]).sum(axis=0)
        n /= np.linalg.norm(n)
        c = float(np.average(offset[member], weights=area[member]))
        near = free & (normal @ n >= np.cos(step)) & (np.abs(offset - c) <= 1e-3 * extent)
        whole = float(area[near].sum())
        if whole < least_share * total:
            continue
        free &= ~near
        n = (normal[near] * area[near, None]).sum(axis=0)
        n /= np.linalg.norm(n)
        out.append(FlatPatch(_vector(n), float(np.average(offset[near], weights=area[near])), whole))
    return tuple(sorted(out, key=lambda p: -p.area_mm2))


def principal_axes(mesh: Mesh) -> Floats:
    """Principal axes (3, 3) of the surface as rows; a plane of symmetry has its normal among them."""
    _, area = face_normals(mesh)
    corners = mesh.corners_mm
    middle = corners.mean(axis=1)
    centre = np.average(middle, axis=0, weights=area)
    form = 9.0 * np.einsum("i,ij,ik->jk", area, middle - centre, middle - centre)
    for k in range(3):  # the second moment of a triangle, corners and middle, times twelve
        form = form + np.einsum("i,ij,ik->jk", area, corners[:, k] - centre, corners[:, k] - centre)
    return _rows(form)


def wall_axes(mesh: Mesh) -> Floats:
    """Axes (3, 3) as rows, by how little of the surface faces along them; straight walls run along
    the first.
    """
    normal, area = face_normals(mesh)
    return _rows((normal * area[:, None]).T @ normal)


def turning_axis(mesh: Mesh) -> Floats | None:
    """Axis (3,) of a surface of revolution, or None when no turn keeps the surface within about 2 degrees.

    The normals of a surface of revolution all meet its axis: that turn about a line is sought which moves the
    surface least along its normals, the smallest eigenvector of a form in turn and shift.
    """
    normal, area = face_normals(mesh)
    middle = mesh.corners_mm.mean(axis=1)
    off = middle - np.average(middle, axis=0, weights=area)
    size = float(np.sqrt(np.average((off**2).sum(axis=1), weights=area)))
    rows = np.hstack([np.cross(off / size, normal), normal])
    form = (rows * area[:, None]).T @ rows / area.sum()
    # least form over turns of unit length: the shift that goes with each turn is eliminated first
    inner = form[3:, 3:] + 1e-9 * np.eye(3)
    value, vector = np.linalg.eigh(form[:3, :3] - form[:3, 3:] @ np.linalg.solve(inner, form[3:, :3]))
    axis: Floats = np.asarray(vector[:, 0], dtype=np.float64)
    return axis if value[0] < np.radians(2.0) ** 2 else None


def suggested(
    mesh: Mesh, flat: Iterable[FlatPatch], *, up: Iterable[float] = (0.0, 0.0, 1.0)
) -> tuple[Candidate, ...]:
    """Axes from the geometry and its `flat` patches, one of each within 0.05 degrees, upright first."""
    found: list[tuple[Floats, str]] = []
    found.append((np.array(tuple(up), dtype=np.float64), "upright"))
    found.extend((np.eye(3)[k], "principal") for k in range(3))
    flats = [np.array(p.normal) for p in flat]
    found.extend((n, "flat_patch") for n in flats)
    turning = turning_axis(mesh)
    if turning is not None:
        found.append((turning, "revolution"))
    found.extend((a, "principal") for a in (*principal_axes(mesh), *wall_axes(mesh)))
    for i, a in enumerate(flats):
        for b in flats[i + 1 :]:
            crossed = np.cross(a, b)
            if np.linalg.norm(crossed) > 0.05:
                found.append((np.asarray(crossed, dtype=np.float64), "crossed"))
    if turning is not None:  # beside the turning axis: level axes, for a seam that runs up the sides
        level = np.cross(turning, np.eye(3)[int(np.argmin(np.abs(turning)))])
        found.extend(
            (np.asarray(a, dtype=np.float64), "revolution") for a in (level, np.cross(turning, level))
        )
    out: list[Candidate] = []
    taken: list[Floats] = []
    for axis, why in found:
        length = float(np.linalg.norm(axis))
        if not np.isfinite(length) or length <= 0.0:
            continue
        unit = axis / length
        if not any(abs(float(unit @ t)) > _SAME_COSINE for t in taken):
            taken.append(unit)
            out.append(Candidate(_vector(unit), why))
    return tuple(out)


def around(axis: NDArray[np.floating], tilt_deg: float, count: int) -> Floats:
    """`count` unit axes (count, 3) at `tilt_deg` off `axis` (3,), evenly round it."""
    d = np.asarray(axis, dtype=np.float64)
    d = d / np.linalg.norm(d)
    u = np.cross(d, np.eye(3)[int(np.argmin(np.abs(d)))])
    u /= np.linalg.norm(u)
    w = np.cross(d, u)
    turn = 2.0 * np.pi * np.arange(count)[:, None] / count
    t = np.radians(tilt_deg)
    ring: Floats = np.cos(t) * d + np.sin(t) * (np.cos(turn) * u + np.sin(turn) * w)
    return ring


def _rows(form: NDArray[np.floating]) -> Floats:
    """Eigenvectors as rows, smallest eigenvalue first."""
    rows: Floats = np.asarray(np.linalg.eigh(form)[1].T, dtype=np.float64)
    return rows


def _vector(a: NDArray[np.floating]) -> tuple[float, float, float]:
    return (float(a[0]), float(a[1]), float(a[2]))


def first_level(ways: Sequence[Sequence[float]], pull: Sequence[float]) -> Floats | None:
    """The first of some unit ways (3,) that is nearly square to a unit pull (3,), made square to it, unit;
    None where none is.
    """
    axis = np.asarray(pull, dtype=np.float64)
    for way in ways:
        across = np.asarray(way, dtype=np.float64)
        across = across - (across @ axis) * axis
        length = float(np.linalg.norm(across))
        if length > LEVEL:
            square: Floats = across / length
            return square
    return None
