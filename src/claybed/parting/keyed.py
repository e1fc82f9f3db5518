"""Keys pressed into a parting surface: rings of corners laid into it, and a cap of a ball pressed in or out.

Only the triangles under a key are laid anew. What lies round about keeps its corners and heights, as on paper
one would cut out a disk and paste another in.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.flagged import marked_corners
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, Lattice, numbered_in, plan_codes
from claybed.geometry.mesh import Floats, Origin
from claybed.geometry.outside import laid_round
from claybed.geometry.sheet import Sheet
from claybed.parting.collar import SeamSamples
from claybed.parting.surface import smoothest
from claybed.records.parted import Key, Parting

RING_CORNERS = 28
# Shares of a key's radius at which rings of corners stand; the innermost is its flat crown.
RING_SHARES = (1.0, 0.93, 0.82, 0.66, 0.45, 0.2)
# Triangles this near to a key's rim, as a share of the grid's spacing, are laid anew with it, so that no
# slivers are left between.
CLEAR_SHARE = 0.6


class MisfitError(ArithmeticError):
    """Keys do not fit into the parting surface where they were to stand."""


def press_keys(
    parting: Parting, keys: Sequence[Key], *, spacing_mm: float, square_mm: float, down: bool
) -> Parting:
    """The parting with keys pressed into its surface from above (`down`), or from below.

    `spacing_mm` and `square_mm` as the surface was made with. Raises MisfitError when a key stands where the
    surface has a step, or does not fit into it: a key keeps clear of the seam.
    """
    outside = parting.outside
    corner_mm = (outside.plan / XY_PER_MM)[outside.faces]
    step = marked_corners(outside.faces, _stepped(outside)) > 0
    gone = np.zeros(len(outside.faces), bool)
    for key in keys:
        radius = key.diameter_mm / 2.0
        away_mm = _away(corner_mm, key, radius + CLEAR_SHARE * spacing_mm)
        # What has a step at a corner stays if it can: a wall stands there.
        gone |= away_mm < np.where(step, radius, radius + CLEAR_SHARE * spacing_mm)
    if (gone & step).any():
        raise MisfitError("a key stands where the parting surface has a step")
    rings = [_ring(key, share) for key in keys for share in RING_SHARES]
    tiles = laid_round(outside.plan[outside.faces[gone]], rings)
    if tiles is None:
        raise MisfitError("keys do not fit into the parting surface")
    known = np.unique(outside.faces[gone])
    known = known[np.argsort(plan_codes(outside.plan[known]))]
    points, index = numbered_in(outside.plan[known], tiles.reshape(-1, 2))
    new = np.arange(len(outside.plan), len(outside.plan) + len(points) - len(known))
    number = np.concatenate([known, new])[index].reshape(-1, 3)
    plan = np.concatenate([outside.plan, points[len(known) :]])
    heights = _heights(parting, plan, number, gone, square_mm)
    origin = np.full(len(number), int(Origin.PARTING), np.uint8)
    for key in keys:
        heights, on_key = _press(plan, number, heights, key, down=down)
        origin[on_key] = int(Origin.KEY)
    laid = Sheet(
        plan,
        np.concatenate([outside.faces[~gone], number.astype(np.int32)]),
        np.concatenate([outside.heights[~gone], heights[number]]),
        np.concatenate([outside.origin[~gone], origin]),
    )
    top, bottom = (replace(sheet, plan=plan) for sheet in (parting.top, parting.bottom))
    return replace(parting, top=top, bottom=bottom, outside=laid, keys=tuple(keys))


def _heights(
    parting: Parting, plan: Lattice, tiles: NDArray[np.int64], gone: NDArray[np.bool_], square_mm: float
) -> Lattice:
    """Heights of the plan points (n,): corners that were there keep theirs, the smoothest surface through
    these carries the others.
    """
    heights = np.zeros(len(plan), np.int64)
    heights[parting.outside.faces[gone]] = parting.outside.heights[gone]
    old = len(parting.outside.plan)
    used, local = np.unique(tiles, return_inverse=True)
    free = np.flatnonzero(used >= old)
    xy = plan[used] / XY_PER_MM
    if len(parting.rim):
        samples = SeamSamples(plan[parting.rim] / XY_PER_MM, parting.seam_z)
        distance, near, _ = samples.nearest(xy[free])
    else:
        distance, near = np.full(len(free), np.inf), np.full(len(free), float(parting.level))
    heights[used[free]] = smoothest(
        xy,
        local.reshape(-1, 3).astype(np.int32),
        heights[used].astype(np.float64),
        free,
        distance,
        near,
        level=parting.level,
        square_mm=square_mm,
    )
    return heights


def _stepped(sheet: Sheet) -> NDArray[np.bool_]:
    """At which plan points (n,) the cells of a sheet stand at different heights."""
    corner, z = sheet.faces.reshape(-1), sheet.heights.reshape(-1)
    some = np.zeros(len(sheet.plan), np.int64)
    some[corner] = z
    stepped = np.zeros(len(sheet.plan), bool)
    stepped[corner[some[corner] != z]] = True
    return stepped


def _away(corner_mm: Floats, key: Key, most_mm: float) -> Floats:
    """How far triangles (m, 3, 2) lie from the middle of a key, mm; inf for those beyond `most_mm`."""
    middle = np.array([key.x_mm, key.y_mm])
    away = np.full(len(corner_mm), np.inf)
    off = np.maximum(corner_mm.min(axis=1) - middle, middle - corner_mm.max(axis=1)).max(axis=1)
    near = np.flatnonzero(off < most_mm)
    p = corner_mm[near] - middle
    along = np.roll(p, -1, axis=1) - p
    t = np.clip(-(p * along).sum(axis=2) / np.maximum((along**2).sum(axis=2), 1e-12), 0.0, 1.0)
    covers = (along[:, :, 1] * p[:, :, 0] - along[:, :, 0] * p[:, :, 1] >= 0.0).all(axis=1)
    away[near] = np.where(covers, 0.0, np.linalg.norm(p + t[:, :, None] * along, axis=2).min(axis=1))
    return away


def _ring(key: Key, share: float) -> Lattice:
    turn = np.arange(RING_CORNERS) * 2.0 * np.pi / RING_CORNERS
    radius = share * key.diameter_mm / 2.0
    x, y = key.x_mm + radius * np.cos(turn), key.y_mm + radius * np.sin(turn)
    ring: Lattice = np.rint(np.stack([x, y], axis=1) * XY_PER_MM).astype(np.int64)
    return ring


def _press(
    plan: Lattice, faces: NDArray[np.int64], heights: Lattice, key: Key, *, down: bool
) -> tuple[Lattice, NDArray[np.bool_]]:
    """Press a spherical cap into the surface; returns heights and which faces belong to the key."""
    radius = key.diameter_mm / 2.0
    away = np.linalg.norm(plan / XY_PER_MM - np.array([key.x_mm, key.y_mm]), axis=1)
    ball = (radius**2 + key.depth_mm**2) / (2.0 * key.depth_mm)
    inside = away < radius * 0.999
    drop = np.sqrt(np.maximum(ball**2 - away**2, 0.0)) - (ball - key.depth_mm)
    pressed = heights.copy()
    change = np.rint(np.maximum(drop[inside], 0.0) * Z_PER_MM).astype(np.int64)
    pressed[inside] += -change if down else change
    return pressed, marked_corners(faces, inside) > 0
