"""The parting surface: a height field outside the silhouette that leaves the object squarely and lies flat
further out.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, csc_matrix, diags
from scipy.sparse.linalg import spsolve

from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, Lattice, distinct_plan, numbered_in
from claybed.geometry.mesh import Origin
from claybed.geometry.outside import tile_outside
from claybed.geometry.sheet import Sheet, rim_edges
from claybed.geometry.sheets import Envelope
from claybed.parting.collar import RINGS_MM, SeamSamples, collar_rings, corner_heights, split_ears
from claybed.parting.seam import SeamHeights, choose_heights
from claybed.records.parted import BarredBall, BarredHeights, Key, Layout, Parting

RING_CORNERS = 28
# Shares of a key's radius at which rings of corners stand; the innermost is its flat crown.
RING_SHARES = (1.0, 0.93, 0.82, 0.66, 0.45, 0.2)
FLAT_SEAM_MM = 0.1


def part(
    envelope: Envelope,
    layout: Layout,
    *,
    spacing_mm: float,
    square_mm: float,
    freedom: Sequence[BarredHeights | BarredBall] = (),
    level_mm: float | None = None,
    keys: Sequence[Key] = (),
    press_down: bool = True,
) -> Parting:
    """Seam and parting surface for an envelope (pull frame).

    `spacing_mm` of the grid; `square_mm` how far the surface keeps square to the object; `freedom` height
    intervals and balls a seam must keep out of where it can; `level_mm` fixes the flat part, else it is
    chosen; `keys` are pressed into the surface from above, or from below.
    """
    rim = rim_edges(envelope.top)
    plan = envelope.top.plan
    edges = np.concatenate([plan[rim[:, 0]], plan[rim[:, 1]]], axis=1)
    rings = [_ring(k, share) for k in keys for share in RING_SHARES]
    rings += collar_rings(edges, layout.footprint)
    tiles = tile_outside(edges, layout.footprint, round(spacing_mm * XY_PER_MM), rings).triangles
    merged, top, bottom, tile_faces = _one_plan(envelope, tiles)
    rim = rim_edges(top)
    seam_rim = rim[
        ~_on_frame(np.concatenate([merged[rim[:, 0]], merged[rim[:, 1]]], axis=1), layout.footprint)
    ]
    merged, tile_faces = split_ears(merged, tile_faces, seam_rim)
    top, bottom = (Sheet(merged, s.faces, s.heights, s.origin) for s in (top, bottom))
    seam = choose_heights(top, bottom, seam_rim, freedom=freedom, level_mm=level_mm)
    samples = SeamSamples(merged[seam_rim] / XY_PER_MM, seam.edge_heights) if len(seam_rim) else None
    heights = _relax(merged, tile_faces, seam, samples, square_mm)
    origin = np.full(len(tile_faces), int(Origin.PARTING), np.uint8)
    for key in keys:
        heights, on_key = _press(merged, tile_faces, heights, key, down=press_down)
        origin[on_key] = int(Origin.KEY)
    seam_z = seam.edge_heights
    corners = heights[tile_faces]
    if samples is not None:
        corners = corner_heights(tile_faces, merged, heights, seam_rim, seam_z, samples)
    ends = merged[seam_rim]
    step = (ends[:, 1] - ends[:, 0]) / XY_PER_MM
    rise = (seam_z[:, 1] - seam_z[:, 0]) / Z_PER_MM
    off = float(np.abs(seam_z - seam.level).max() / Z_PER_MM) if len(seam_z) else 0.0
    outside = Sheet(merged, tile_faces, corners, origin)
    return Parting(
        top=top,
        bottom=bottom,
        outside=outside,
        rim=seam_rim,
        seam_z=seam_z,
        level=seam.level,
        flat=off <= FLAT_SEAM_MM,
        off_plane_mm=off,
        seam_length_mm=float(np.sqrt((step**2).sum(axis=1) + rise**2).sum()),
        keys=tuple(keys),
        hidden_faces=envelope.hidden_faces,
    )


def _on_frame(edges: Lattice, footprint: Lattice) -> NDArray[np.bool_]:
    """Plan edges (k, 4) that run along the frame, where the model is cut off by the block's side."""
    on = np.zeros(len(edges), bool)
    for a, b in zip(footprint, np.roll(footprint, -1, axis=0), strict=True):
        along = b - a
        off = [along[0] * (edges[:, k + 1] - a[1]) - along[1] * (edges[:, k] - a[0]) for k in (0, 2)]
        on |= (off[0] == 0) & (off[1] == 0)
    return on


def _ring(key: Key, share: float) -> Lattice:
    turn = np.arange(RING_CORNERS) * 2.0 * np.pi / RING_CORNERS
    radius = share * key.diameter_mm / 2.0
    x, y = key.x_mm + radius * np.cos(turn), key.y_mm + radius * np.sin(turn)
    ring: Lattice = np.rint(np.stack([x, y], axis=1) * XY_PER_MM).astype(np.int64)
    return ring


def _one_plan(envelope: Envelope, tiles: Lattice) -> tuple[Lattice, Sheet, Sheet, NDArray[np.int32]]:
    """All plan points in one list, and the sheets and tiles over it."""
    plan = envelope.top.plan
    used = np.zeros(len(plan), bool)
    for sheet in (envelope.top, envelope.bottom):
        used[sheet.faces] = True
    place = np.full(len(plan), -1, np.int64)
    kept, place[used] = distinct_plan(plan[used])
    merged, index = numbered_in(kept, tiles.reshape(-1, 2))
    top, bottom = (
        Sheet(merged, place[s.faces].astype(np.int32), s.heights, s.origin)
        for s in (envelope.top, envelope.bottom)
    )
    return merged, top, bottom, index.reshape(-1, 3).astype(np.int32)


def _relax(
    plan: Lattice,
    faces: NDArray[np.int32],
    seam: SeamHeights,
    samples: SeamSamples | None,
    square_mm: float,
) -> Lattice:
    """Heights (plan points,) of the smoothest surface through the seam that is square near it and level
    further out.

    Minimises the integral of |grad h|² plus two ties: to the nearest seam height within `square_mm`, and to
    the level beyond. Corners within the collar take the nearest seam height outright.
    """
    xy = plan / XY_PER_MM
    nodes = np.unique(faces)
    height = np.full(len(plan), float(seam.level))
    if samples is None:
        return np.full(len(plan), seam.level, np.int64)
    distance, near, _ = samples.nearest(xy[nodes])
    held = distance <= RINGS_MM[0] * 1.05
    height[nodes[held]] = near[held]
    height[seam.points] = seam.heights
    held |= np.isin(nodes, seam.points)
    free, kept = nodes[~held], nodes[held]
    settled: Lattice = np.rint(height).astype(np.int64)
    if not len(free):
        return settled
    distance, near = distance[~held], near[~held]
    stiffness, area = _stiffness(xy, faces)
    near_tie = np.clip((square_mm - distance) / (square_mm - RINGS_MM[0]), 0.0, 1.0) ** 2 / 0.5**2
    far_tie = np.clip((distance - square_mm) / (1.5 * square_mm), 0.0, 1.0) ** 2 / (1.2 * square_mm) ** 2
    tie = (near_tie + far_tie) * area[free]
    pull = (near_tie * near + far_tie * seam.level) * area[free]
    system = csc_matrix(stiffness[free][:, free] + diags(tie))
    right = pull - stiffness[free][:, kept] @ height[kept]
    settled[free] = np.rint(spsolve(system, right)).astype(np.int64)
    return settled


def _stiffness(xy: NDArray[np.float64], faces: NDArray[np.int32]) -> tuple[csc_matrix, NDArray[np.float64]]:
    """Linear finite-element stiffness (no unit) and lumped area (mm²) of plan triangles."""
    p = xy[faces]
    edge = np.roll(p, -1, axis=1) - np.roll(p, -2, axis=1)
    area = 0.5 * np.abs(edge[:, 0, 0] * edge[:, 1, 1] - edge[:, 0, 1] * edge[:, 1, 0])
    local = np.einsum("tik,tjk->tij", edge, edge) / (4.0 * area)[:, None, None]
    rows = np.repeat(faces, 3, axis=1).ravel()
    columns = np.tile(faces, (1, 3)).ravel()
    n = len(xy)
    lumped = np.bincount(faces.ravel(), weights=np.repeat(area / 3.0, 3), minlength=n)
    return csc_matrix(coo_matrix((local.ravel(), (rows, columns)), shape=(n, n))), lumped.astype(np.float64)


def _press(
    plan: Lattice, faces: NDArray[np.int32], heights: Lattice, key: Key, *, down: bool
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
    return pressed, inside[faces].any(axis=1)
