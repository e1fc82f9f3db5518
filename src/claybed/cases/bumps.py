"""Bumps of a piece made smaller, so that pieces poured apart still close."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.lattice import pull_rotation
from claybed.geometry.mesh import Floats
from claybed.records.assembly import BlockKey


def bumps_drawn_in(
    piece: str,
    points: Floats,
    faces: NDArray[np.int32],
    keys: Sequence[BlockKey],
    placing: Floats,
    clearance_mm: float,
    pull: Floats,
) -> tuple[Floats, int]:
    """The corners (n, 3) of `piece` with its bumps drawn in along its unit `pull`, so that they lose
    `clearance_mm` square to their surface, and how many there were; `placing` (3, 3) turns and scales a place
    in the block, where `keys` stand.
    """
    if abs(pull[2]) > 1.0 - 1e-12:
        return _smaller_bumps(piece, points, faces, keys, placing, clearance_mm)
    turn = pull_rotation(pull)
    moved, count = _smaller_bumps(piece, points @ turn.T, faces, keys, turn @ placing, clearance_mm)
    return (moved @ turn if count else points), count


def _smaller_bumps(
    piece: str,
    points: Floats,
    faces: NDArray[np.int32],
    keys: Sequence[BlockKey],
    placing: Floats,
    clearance_mm: float,
) -> tuple[Floats, int]:
    """The same along z."""
    moved, count = points.copy(), 0
    scale = float(np.linalg.norm(placing[0]))
    if clearance_mm <= 0.0:
        return moved, 0
    normal = _corner_normals(points, faces)
    down = normal[:, 2] < -0.02
    for key in keys:
        if key.bump_on != piece:
            continue
        at = np.array(key.at_mm) @ placing.T
        far = np.linalg.norm(points[:, :2] - at[:2], axis=1)
        radius = key.diameter_mm / 2.0 * scale
        foot = points[(np.abs(far - radius) < 0.02) & (np.abs(points[:, 2] - at[2]) < key.depth_mm)]
        if len(foot) < 3:
            continue
        plane, *_ = np.linalg.lstsq(np.c_[foot[:, :2], np.ones(len(foot))], foot[:, 2], rcond=None)
        inside = np.flatnonzero(down & (far < radius - 0.02))
        stands = np.c_[points[inside, :2], np.ones(len(inside))] @ plane - points[inside, 2]
        bump = inside[(stands > 0.01) & (stands < 1.5 * key.depth_mm)]
        if not len(bump):
            continue
        height = np.c_[points[bump, :2], np.ones(len(bump))] @ plane - points[bump, 2]
        moved[bump, 2] += np.minimum(height, clearance_mm / np.maximum(-normal[bump, 2], 0.2))
        count += 1
    return moved, count


def _corner_normals(points: Floats, faces: NDArray[np.int32]) -> Floats:
    corner = points[faces]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    summed = np.zeros_like(points)
    for k in range(3):
        np.add.at(summed, faces[:, k], normal)
    length = np.linalg.norm(summed, axis=1, keepdims=True)
    unit: Floats = summed / np.maximum(length, 1e-12)
    return unit
