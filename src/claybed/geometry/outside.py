"""The plan outside the silhouette, as triangles that meet the seam corner to corner.

A grid of squares covers the free part; between it and the silhouette, the frame and any rings (keys), a
collar is triangulated without adding a corner to the seam.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from claybed.geometry.arranging import triangulate_cells
from claybed.geometry.bridging import bridges
from claybed.geometry.lattice import Lattice, distinct_plan, twice_plan_area

# Squares stay this share of their side away from the silhouette, so that the collar's triangles are not
# slivers.
COLLAR_SHARE = 0.6


@dataclass(frozen=True, slots=True, eq=False)
class OutsidePlan:
    """Triangles (t, 3, 2) int64 in plan, counter-clockwise, that tile the footprint outside the
    silhouette.
    """

    triangles: Lattice


def tile_outside(
    rim: Lattice,
    footprint: Lattice,
    spacing: int,
    rings: Sequence[Lattice] = (),
    *,
    silhouette: shapely.Geometry | None = None,
) -> OutsidePlan:
    """Tile the footprint outside a silhouette.

    `rim` (k, 4) directed plan edges x0 y0 x1 y1 with the silhouette on their left; `footprint` (m, 2) convex
    and counter-clockwise; `spacing` of the grid in lattice units; `rings` closed polygons (r, 2) whose edges
    must appear; `silhouette` as `silhouette_of` the rim, if that is known.
    """
    xs, ys = (_ticks(footprint[:, k], spacing) for k in (0, 1))
    frame = _frame_edges(footprint, xs, ys, rim)
    silhouette = silhouette_of(rim) if silhouette is None else silhouette
    keep_clear = [shapely.buffer(silhouette, COLLAR_SHARE * spacing, quad_segs=2)]
    keep_clear += [shapely.buffer(shapely.Polygon(r), COLLAR_SHARE * spacing, quad_segs=2) for r in rings]
    squares, kept_edges = _kept_squares(xs, ys, footprint, shapely.union_all(keep_clear), spacing)
    ring_edges = [np.concatenate([r, np.roll(r, -1, axis=0)], axis=1) for r in rings]
    lines = np.concatenate([rim, frame, kept_edges, *ring_edges])
    unique, _ = _undirected(lines)
    across = bridges(rings, [rim[:, :2], kept_edges[:, :2]], unique)
    unique = np.concatenate([unique, across])
    cells = shapely.get_parts(
        shapely.polygonize([shapely.multilinestrings(unique.reshape(-1, 2, 2).astype(np.float64))])
    )
    collar = cells[~_left_of(cells, np.concatenate([rim, kept_edges]))]
    return OutsidePlan(np.concatenate([squares, triangulate_cells(collar)]))


def laid_round(triangles: Lattice, rings: Sequence[Lattice]) -> Lattice | None:
    """Triangles (t, 3, 2) that tile anew what given ones (m, 3, 2) tile, along the edges of `rings` as well.

    The outline stays as it is, corner for corner; `rings` are closed polygons (r, 2) well inside it. None
    when that cannot be done.
    """
    sides = (
        np.concatenate([triangles[:, k] for k in range(3)]),
        np.concatenate([triangles[:, (k + 1) % 3] for k in range(3)]),
    )
    outline = _alone(np.concatenate(sides, axis=1))
    ring_edges = [np.concatenate([r, np.roll(r, -1, axis=0)], axis=1) for r in rings]
    edge, ring = (
        shapely.multilinestrings(lines.reshape(-1, 2, 2).astype(np.float64))
        for lines in (outline, np.concatenate(ring_edges))
    )
    if shapely.intersects(edge, ring):
        return None
    unique, _ = _undirected(np.concatenate([outline, *ring_edges]))
    cells = shapely.get_parts(
        shapely.polygonize([shapely.multilinestrings(unique.reshape(-1, 2, 2).astype(np.float64))])
    )
    laid = triangulate_cells(cells[~_left_of(cells, outline[:, [2, 3, 0, 1]])])
    area, before = (
        int(twice_plan_area(t.reshape(-1, 2), np.arange(3 * len(t)).reshape(-1, 3)).sum())
        for t in (laid, triangles)
    )
    return laid if area == before else None


def _ticks(values: NDArray[np.int64], spacing: int) -> Lattice:
    lo, hi = int(values.min()), int(values.max())
    count = max(1, round((hi - lo) / spacing))
    return np.rint(np.linspace(lo, hi, count + 1)).astype(np.int64)


def _frame_edges(footprint: Lattice, xs: Lattice, ys: Lattice, rim: Lattice) -> Lattice:
    """The frame, split at grid ticks and wherever the silhouette touches it; edges the silhouette runs along
    are left out.
    """
    touch = np.unique(rim.reshape(-1, 2), axis=0) if len(rim) else np.zeros((0, 2), np.int64)
    edges = []
    for a, b in zip(footprint, np.roll(footprint, -1, axis=0), strict=True):
        along = b - a
        points = [a[None], b[None]]
        if along[1] == 0:
            points.append(np.stack([xs, np.full(len(xs), a[1])], axis=1))
        if along[0] == 0:
            points.append(np.stack([np.full(len(ys), a[0]), ys], axis=1))
        off = along[0] * (touch[:, 1] - a[1]) - along[1] * (touch[:, 0] - a[0])
        points.append(touch[off == 0])
        p = np.concatenate(points)
        t = (p - a) @ along
        p = p[(t >= 0) & (t <= along @ along)]
        p = p[np.argsort((p - a) @ along, kind="stable")]
        p = p[np.r_[True, (np.diff(p, axis=0) != 0).any(axis=1)]]
        edges.append(np.concatenate([p[:-1], p[1:]], axis=1))
    every = np.concatenate(edges)
    if len(rim):
        known = {tuple(e) for e in rim.tolist()}
        every = every[[tuple(e) not in known for e in every.tolist()]]
    return every


def _kept_squares(
    xs: Lattice, ys: Lattice, footprint: Lattice, blocked: shapely.Geometry, spacing: int
) -> tuple[Lattice, Lattice]:
    """Grid squares clear of what is blocked, as triangles, and the outline of their union as directed
    edges.
    """
    x0, y0 = np.meshgrid(xs[:-1], ys[:-1], indexing="ij")
    x1, y1 = np.meshgrid(xs[1:], ys[1:], indexing="ij")
    boxes = shapely.box(x0.ravel(), y0.ravel(), x1.ravel(), y1.ravel())
    shapely.prepare(blocked)
    free = ~shapely.intersects(blocked, boxes)
    outline = shapely.Polygon(footprint)
    if not _is_rectangle(footprint):
        outline = shapely.buffer(outline, -COLLAR_SHARE * spacing, quad_segs=2)
    shapely.prepare(outline)
    free &= shapely.covers(outline, boxes)
    a = np.stack([x0.ravel(), y0.ravel()], axis=1)[free]
    c = np.stack([x1.ravel(), y1.ravel()], axis=1)[free]
    b, d = np.stack([c[:, 0], a[:, 1]], axis=1), np.stack([a[:, 0], c[:, 1]], axis=1)
    odd = ((a[:, 0] + a[:, 1]) // max(spacing, 1)) % 2 == 0
    first = np.where(odd[:, None, None], np.stack([a, b, c], axis=1), np.stack([a, b, d], axis=1))
    second = np.where(odd[:, None, None], np.stack([a, c, d], axis=1), np.stack([b, c, d], axis=1))
    sides = np.concatenate([np.concatenate(p, axis=1) for p in ((a, b), (b, c), (c, d), (d, a))])
    return np.concatenate([first, second]), _alone(sides)


def _alone(edges: Lattice) -> Lattice:
    """The directed plan edges (k, 4) of which none runs back along another."""
    points, number = distinct_plan(edges.reshape(-1, 2))
    start, end = number.reshape(-1, 2).T
    back = np.isin(end * len(points) + start, start * len(points) + end)
    return edges[~back]


def _is_rectangle(footprint: Lattice) -> bool:
    step = np.roll(footprint, -1, axis=0) - footprint
    return len(footprint) == 4 and bool((step == 0).any(axis=1).all())


def _undirected(edges: Lattice) -> tuple[Lattice, NDArray[np.int64]]:
    swap = (edges[:, 0] > edges[:, 2]) | ((edges[:, 0] == edges[:, 2]) & (edges[:, 1] > edges[:, 3]))
    canonical = np.where(swap[:, None], edges[:, [2, 3, 0, 1]], edges)
    unique, index = np.unique(canonical, axis=0, return_index=True)
    return unique, index


def _left_of(cells: NDArray[np.object_], edges: Lattice) -> NDArray[np.bool_]:
    """Which polygons (c,) lie to the left of one of the directed edges (k, 4), along their own outline."""
    rings, cell = shapely.get_rings(shapely.orient_polygons(cells), return_index=True)
    corners, ring = shapely.get_coordinates(rings, return_index=True)
    corners = np.rint(corners).astype(np.int64)
    points, number = distinct_plan(np.concatenate([corners, edges.reshape(-1, 2)]))
    within = ring[1:] == ring[:-1]
    start, end = number[: len(corners) - 1][within], number[1 : len(corners)][within]
    own = number[len(corners) :].reshape(-1, 2)
    along = np.isin(start * len(points) + end, own[:, 0] * len(points) + own[:, 1])
    left = np.zeros(len(cells), bool)
    left[cell[ring[1:][within][along]]] = True
    return left


def silhouette_of(rim: Lattice) -> shapely.Geometry:
    """The plan area to the left of closed directed edges (k, 4), holes taken out."""
    filled: list[shapely.Geometry] = []
    holes: list[shapely.Geometry] = []
    for loop in closed_loops(rim):
        x, y = loop[:, 0].astype(float), loop[:, 1].astype(float)
        doubled = float(np.dot(x[:-1], y[1:]) - np.dot(x[1:], y[:-1]))
        (filled if doubled > 0 else holes).append(shapely.make_valid(shapely.Polygon(loop)))
    area: shapely.Geometry = shapely.difference(shapely.union_all(filled), shapely.union_all(holes))
    return area


def closed_loops(rim: Lattice) -> list[Lattice]:
    """Directed plan edges (k, 4) joined into loops (n, 2), the first point of a closed one repeated at its
    end.

    Edges that do not close, such as a seam that leaves the block beside a gate, become open chains from their
    first point to their last; closed loops of fewer than three edges are left out.
    """
    following: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for x0, y0, x1, y1 in rim.tolist():
        following.setdefault((x0, y0), []).append((x1, y1))
    reached = {(x1, y1) for _, _, x1, y1 in rim.tolist()}
    beginnings = [point for point in following if point not in reached]
    loops = []
    while following:
        # An open chain that is begun in its middle would fall into bits.
        here = beginnings.pop() if beginnings else next(iter(following))
        loop = [here]
        while here in following:
            nexts = following[here]
            step = nexts.pop()
            if not nexts:
                del following[here]
            here = step
            loop.append(here)
        if len(loop) >= 4 or loop[0] != loop[-1]:
            loops.append(np.array(loop, dtype=np.int64))
    return loops
