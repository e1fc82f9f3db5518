"""Straightening a pull that is all but exact, so that straight walls are straight."""

from __future__ import annotations

import math

import numpy as np

from claybed.geometry.mesh import Floats, Mesh

# A pull this near to square to a flat face, or to an axis, is meant to be; a face counts from this share of
# the surface on.
NEARLY_DEG = 0.3
LARGE_SHARE = 0.01


def tidy_pull(mesh: Mesh, pull: tuple[float, float, float]) -> tuple[float, float, float]:
    """The unit pull, moved by at most about 0.3 degrees so that large flat faces are exactly along or across
    it.

    A search leaves an axis a few thousandths of a degree off; a flat wall then shows as a band of slivers.
    Failing any flat face, a pull that near a coordinate axis becomes that axis. Raises ValueError for a zero
    pull.
    """
    d = np.asarray(pull, dtype=np.float64)
    norm = float(np.linalg.norm(d))
    if not math.isfinite(norm) or norm == 0.0:
        raise ValueError("a pull must be a finite vector that is not zero")
    d = d / norm
    near = math.sin(math.radians(NEARLY_DEG))
    normals = _large_flats(mesh)
    for n in normals:
        if abs(float(n @ d)) > math.cos(math.radians(NEARLY_DEG)):
            return _tuple(n * np.sign(n @ d))
    for axis in np.eye(3):
        if float(np.linalg.norm(np.cross(axis, d))) < near:
            return _tuple(axis * np.sign(axis @ d))
    held: list[Floats] = []
    for n in normals:
        if abs(float(n @ d)) < near and len(held) < 2:
            basis = n - sum((float(n @ h) * h for h in held), np.zeros(3))
            if float(np.linalg.norm(basis)) < 0.05:
                continue
            basis = basis / np.linalg.norm(basis)
            held.append(basis)
            d = d - float(d @ basis) * basis
            d = d / np.linalg.norm(d)
    return _tuple(d)


def _large_flats(mesh: Mesh) -> list[Floats]:
    """Unit normals of faces that together lie flat over at least LARGE_SHARE of the surface, largest
    first.
    """
    c = mesh.corners_mm
    doubled = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])
    area = np.linalg.norm(doubled, axis=1)
    some = area > 0
    unit = doubled[some] / area[some, None]
    unit = np.where(unit[:, [0]] + 1e-3 * unit[:, [1]] + 1e-6 * unit[:, [2]] < 0, -unit, unit)
    _, index = np.unique(np.round(unit, 4), axis=0, return_inverse=True)
    index = index.reshape(-1)
    total = np.bincount(index, area[some])
    flats = []
    for k in np.argsort(-total)[:12]:
        if total[k] < LARGE_SHARE * total.sum():
            break
        # The largest single face gives the direction without the average's rounding.
        number = np.flatnonzero(index == k)
        flats.append(unit[number[np.argmax(area[some][number])]])
    return flats


def _tuple(v: Floats) -> tuple[float, float, float]:
    clean = np.where(np.abs(v) < 1e-12, 0.0, v)
    return float(clean[0]), float(clean[1]), float(clean[2])
