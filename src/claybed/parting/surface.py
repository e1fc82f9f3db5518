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
from claybed.geometry.mesh import Floats, Origin
from claybed.geometry.outside import silhouette_of, tile_outside
from claybed.geometry.sheet import Sheet, rim_edges
from claybed.geometry.sheets import Envelope
from claybed.materials import shelf
from claybed.parting.collar import SeamSamples, collar_rings, corner_heights, ring_widths_mm, split_ears
from claybed.parting.seam import SeamHeights, choose_heights
from claybed.records.parted import BarredBall, BarredHeights, Layout, Parting


def part(
    envelope: Envelope,
    layout: Layout,
    *,
    spacing_mm: float,
    square_mm: float,
    freedom: Sequence[BarredHeights | BarredBall] = (),
    level_mm: float | None = None,
) -> Parting:
    """Seam and parting surface for an envelope (pull frame), without keys.

    `spacing_mm` of the grid; `square_mm` how far the surface keeps square to the object; `freedom` height
    intervals and balls a seam must keep out of where it can; `level_mm` fixes the flat part, else it is
    chosen.
    """
    rim = rim_edges(envelope.top)
    plan = envelope.top.plan
    edges = np.concatenate([plan[rim[:, 0]], plan[rim[:, 1]]], axis=1)
    silhouette = silhouette_of(edges)
    rings = collar_rings(silhouette, layout.footprint)
    spacing = round(spacing_mm * XY_PER_MM)
    tiles = tile_outside(edges, layout.footprint, spacing, rings, silhouette=silhouette).triangles
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
        flat=off <= shelf.value("practice", "flat_seam_within_mm").value,
        off_plane_mm=off,
        seam_length_mm=float(np.sqrt((step**2).sum(axis=1) + rise**2).sum()),
        keys=(),
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
    held = distance <= ring_widths_mm()[0] * 1.05
    height[nodes[held]] = near[held]
    height[seam.points] = seam.heights
    held |= np.isin(nodes, seam.points)
    free = nodes[~held].astype(np.int64)
    settled: Lattice = np.rint(height).astype(np.int64)
    if not len(free):
        return settled
    settled[free] = smoothest(
        xy, faces, height, free, distance[~held], near[~held], level=seam.level, square_mm=square_mm
    )
    return settled


def smoothest(
    xy: Floats,
    faces: NDArray[np.int32],
    height: Floats,
    free: NDArray[np.int64],
    distance: Floats,
    near: Floats,
    *,
    level: int,
    square_mm: float,
) -> Lattice:
    """Heights (f,) of the `free` plan points, every other corner of the faces keeping its `height`; see
    `_relax`.

    `xy` (n, 2) mm, `height` (n,) lattice units; `distance` (f,) mm and `near` (f,) to and of the nearest seam
    point.
    """
    kept = np.setdiff1d(np.unique(faces), free, assume_unique=True)
    stiffness, area = _stiffness(xy, faces)
    near_tie = np.clip((square_mm - distance) / (square_mm - ring_widths_mm()[0]), 0.0, 1.0) ** 2 / 0.5**2
    far_tie = np.clip((distance - square_mm) / (1.5 * square_mm), 0.0, 1.0) ** 2 / (1.2 * square_mm) ** 2
    tie = (near_tie + far_tie) * area[free]
    pull = (near_tie * near + far_tie * level) * area[free]
    system = csc_matrix(stiffness[free][:, free] + diags(tie))
    right = pull - stiffness[free][:, kept] @ height[kept]
    settled: Lattice = np.rint(spsolve(system, right)).astype(np.int64)
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
