"""The one-piece mold: an object with an open face that leaves a single block through it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.columns import flatness_mm
from claybed.geometry.depth import DepthRaster
from claybed.geometry.directions import FlatPatch
from claybed.geometry.distances import away_from
from claybed.geometry.mesh import Floats, Mesh
from claybed.materials import shelf
from claybed.records.surveyed import Vector
from claybed.survey.limits import LockLimits
from claybed.survey.scoring import Judged, judge, least_tilt

Flags = NDArray[np.bool_]

_MOST = 6


def open_faces(
    mesh: Mesh, flats: Sequence[FlatPatch], up: Vector, asked: Vector | None
) -> tuple[Vector, ...]:
    """Outward normals (unit) of planes the whole object lies behind, the one nearest `up` first.

    With an axis `asked`, only that axis and its opposite are looked at.
    """
    if asked is not None:
        d = np.array(asked) / np.linalg.norm(asked)
        return ((float(d[0]), float(d[1]), float(d[2])), (-float(d[0]), -float(d[1]), -float(d[2])))
    upright = np.array(up) / np.linalg.norm(up)
    fits = []
    for patch in flats:
        n = np.array(patch.normal)
        if float((mesh.vertices_mm @ n).max()) <= patch.offset_mm + _flat_mm():
            level = bool(n @ upright > 0.9999)
            fits.append((not level, -patch.area_mm2, _exact(n, upright) if level else patch.normal))
    return tuple(n for _, _, n in sorted(fits)[:_MOST])


def _flat_mm() -> float:
    """How level an open face has to be, mm. Source: materials/practice."""
    return shelf.value("practice", "open_face_flat_mm").value


def one_piece(
    raster: DepthRaster, mesh: Mesh, normals: Sequence[Vector], limits: LockLimits, *, windows: int
) -> Judged | None:
    """The first open face through which the object leaves a single block as it is, else the one along whose
    normal least is to be filled first; None without an open face.

    The highest crossing along the normal must be level within 0.1 mm over the whole silhouette. The tilt is
    that at which the block's own walls hold the object, where nothing is to be filled.
    """
    least: Judged | None = None
    for normal in normals:
        if flatness_mm(raster.columns(np.array(normal)).top_mm) > _flat_mm():
            continue
        judged = judge(raster, normal, "flat_patch", limits, windows=windows)
        if judged.score.castable:
            tilt = least_tilt(normal, _holds(raster, _open(mesh, np.array(normal)), limits.scrape_mm))
            return replace(judged, score=replace(judged.score, tilt_deg=tilt))
        if least is None or judged.score.fill_ml < least.score.fill_ml:
            least = judged
    return least


def held_mm(raster: DepthRaster, axis: Floats, is_open: Flags) -> float:
    """How far sideways the wall of a single block hangs over the object along `axis` (3,), mm.

    `is_open` (faces,) marks the open face. Depths under one and a half lines are taken for the raster's.
    """
    columns = raster.columns(axis)
    covered = columns.covered
    last = columns.start[1:][covered.ravel()] - 1
    over = np.zeros_like(covered)
    over[covered] = ~is_open[columns.side[last] >> 1]
    if not over.any():
        return 0.0
    inward = away_from(~np.pad(covered, 1))[1:-1, 1:-1]
    lines = float(inward[over].max())
    return lines * columns.grid.spacing_mm if lines > 1.5 else 0.0


def _holds(raster: DepthRaster, is_open: Flags, limit_mm: float) -> Callable[[Floats], bool]:
    return lambda axis: held_mm(raster, axis, is_open) >= limit_mm


def _open(mesh: Mesh, normal: Floats) -> Flags:
    """(faces,) true for the faces that lie in the open plane."""
    height = mesh.vertices_mm @ normal
    flags: Flags = (height[mesh.faces] >= height.max() - _flat_mm()).all(axis=1)
    return flags


def _exact(n: Floats, upright: Floats) -> Vector:
    """`upright` itself where the normal only differs from it by rounding, so that walls stay vertical."""
    d = upright if float(n @ upright) > 1.0 - 1e-9 else n
    return (float(d[0]), float(d[1]), float(d[2]))
