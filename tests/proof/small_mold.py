"""A small mold built by hand on the lattice, from an object whose seam lies in one level."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, Lattice, to_lattice
from claybed.geometry.mesh import Mesh, Origin
from claybed.geometry.outside import tile_outside
from claybed.geometry.sheet import Sheet, rim_edges
from claybed.geometry.sheets import envelope
from claybed.geometry.slab import LatticeSolid, solid_between
from claybed.records.assembly import Assembly, BlockKey, Gate, Piece

WALL_MM = 20.0
RING = 16


def double_cone(radius_mm: float = 30.0, half_mm: float = 20.0, sides: int = 24) -> Mesh:
    """Two cones on one base in the plane z = 0, without undercut along z."""
    turn = np.arange(sides) * 2.0 * np.pi / sides
    ring = np.stack([radius_mm * np.cos(turn), radius_mm * np.sin(turn), np.zeros(sides)], axis=1)
    points = np.concatenate([ring, [[0.0, 0.0, half_mm], [0.0, 0.0, -half_mm]]])
    k = np.arange(sides)
    after = (k + 1) % sides
    up = np.stack([k, after, np.full(sides, sides)], axis=1)
    down = np.stack([after, k, np.full(sides, sides + 1)], axis=1)
    return Mesh.make(points, np.concatenate([up, down]), frame="object")


def ellipsoid(triangles: int, axes_mm: tuple[float, float, float] = (60.0, 45.0, 35.0)) -> Mesh:
    """A longitude and latitude ellipsoid of about `triangles` faces; level along its silhouette."""
    rows = max(2, round(np.sqrt(triangles / 8.0))) * 2 - 1
    columns = 2 * rows
    polar = np.pi * np.arange(1, rows + 1) / (rows + 1)
    turn = 2.0 * np.pi * np.arange(columns) / columns
    t, p = np.meshgrid(polar, turn, indexing="ij")
    grid = np.stack([np.sin(t) * np.cos(p), np.sin(t) * np.sin(p), np.cos(t)], axis=-1).reshape(-1, 3)
    points = np.concatenate([grid, [[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]]]) * np.array(axes_mm)
    i, j = np.meshgrid(np.arange(rows - 1), np.arange(columns), indexing="ij")
    a, b = i * columns + j, i * columns + (j + 1) % columns
    c, d = a + columns, b + columns
    sides = np.concatenate([np.stack([a, c, d], -1).reshape(-1, 3), np.stack([a, d, b], -1).reshape(-1, 3)])
    k = np.arange(columns)
    after, n, last = (k + 1) % columns, rows * columns, (rows - 1) * columns
    north = np.stack([np.full(columns, n), k, after], axis=1)
    south = np.stack([np.full(columns, n + 1), last + after, last + k], axis=1)
    return Mesh.make(points, np.concatenate([sides, north, south]), frame="object")


def mold_of(
    obj: Mesh,
    *,
    keys_mm: Sequence[tuple[float, float]] = ((-45.0, -42.0), (45.0, -42.0), (-45.0, 42.0), (38.0, 40.0)),
    key_mm: tuple[float, float] = (10.0, 4.0),
    spacing_mm: float = 6.0,
    round_sides: int = 0,
) -> Assembly:
    """A mold of two pieces whose seam is the level z = 0 of the object, WALL_MM around it.

    `keys_mm` plan places of keys of diameter and depth `key_mm`; `round_sides` makes the block a polygon of
    that many sides.
    """
    lo, hi = obj.bounds_mm
    level = round((WALL_MM - lo[2]) * Z_PER_MM)
    shift = np.array([0.0, 0.0, level / Z_PER_MM])
    height = round((hi[2] + WALL_MM) * Z_PER_MM) + level
    footprint = _footprint(np.maximum(-lo, hi)[:2] + WALL_MM, round_sides)
    sheets = envelope(to_lattice(obj, np.eye(3), shift), footprint)
    rim = rim_edges(sheets.top)
    edges = np.concatenate([sheets.top.plan[rim[:, 0]], sheets.top.plan[rim[:, 1]]], axis=1)
    turn = np.arange(RING) * 2.0 * np.pi / RING
    circle = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    rings = [
        np.rint((np.array(at) + share * key_mm[0] / 2.0 * circle) * XY_PER_MM).astype(np.int64)
        for at in keys_mm
        for share in (1.0, 0.5)
    ]
    tiles = tile_outside(edges, footprint, round(spacing_mm * XY_PER_MM), rings).triangles
    used = np.unique(np.concatenate([sheets.top.faces.ravel(), sheets.bottom.faces.ravel()]))
    plan, index = np.unique(
        np.concatenate([sheets.top.plan[used], tiles.reshape(-1, 2)]), axis=0, return_inverse=True
    )
    index = index.reshape(-1)
    place = np.full(len(sheets.top.plan), -1, np.int64)
    place[used] = index[: len(used)]
    outside = index[len(used) :].reshape(-1, 3).astype(np.int32)
    z = np.full(len(plan), level)
    origin = np.full(len(outside), int(Origin.PARTING), np.uint8)
    for at in keys_mm:
        away = np.linalg.norm(plan / XY_PER_MM - np.array(at), axis=1)
        inside = away < 0.9 * key_mm[0] / 2.0
        z[inside] -= round(key_mm[1] * Z_PER_MM)
        origin[inside[outside].any(axis=1)] = int(Origin.KEY)
    top = Sheet(plan, place[sheets.top.faces].astype(np.int32), sheets.top.heights, sheets.top.origin)
    bottom = Sheet(
        plan, place[sheets.bottom.faces].astype(np.int32), sheets.bottom.heights, sheets.bottom.origin
    )
    parting = Sheet(plan, outside, z[outside], origin)
    upper = solid_between(
        _both(top, parting), _flat(_both(top, parting), height), wall_origin=int(Origin.OUTSIDE)
    )
    lower = solid_between(
        _flat(_both(bottom, parting), 0), _both(bottom, parting), wall_origin=int(Origin.OUTSIDE)
    )
    model = solid_between(bottom, top, wall_origin=int(Origin.OBJECT))
    outer = np.ptp(footprint, axis=0) / XY_PER_MM
    keys = tuple(BlockKey((x, y, level / Z_PER_MM), *key_mm, "A") for x, y in keys_mm)
    return Assembly(
        shape="round" if round_sides else "boxed",
        outer_mm=(float(outer[0]), float(outer[1]), height / Z_PER_MM),
        footprint=footprint,
        height=height,
        wall_mm=WALL_MM,
        wall_reason="asked",
        model=model,
        pieces=(Piece("A", 1, (0.0, 0.0, 1.0), upper), Piece("B", 2, (0.0, 0.0, -1.0), lower)),
        contacts=(("A", "B"),),
        keys=keys,
        gate=Gate("none", float("nan"), float("nan"), 0.0, (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)),
        seam_loops=(),
        seam_length_mm=0.0,
        seam_flat=True,
        off_plane_mm=0.0,
        level_mm=level / Z_PER_MM,
        to_block=np.eye(3),
        shift_mm=shift,
        stance="on its foot",
        square_mm=8.0,
        hidden_faces=sheets.hidden_faces,
    )


def with_piece(mold: Assembly, letter: str, solid: LatticeSolid) -> Assembly:
    """The mold with one piece's solid exchanged."""
    return replace(mold, pieces=tuple(replace(p, solid=solid) if p.id == letter else p for p in mold.pieces))


def _footprint(half_mm: np.ndarray, round_sides: int) -> Lattice:
    if round_sides:
        turn = np.arange(round_sides) * 2.0 * np.pi / round_sides
        ring = float(half_mm.max()) * 1.1 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    else:
        ring = half_mm * np.array([[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]])
    return np.rint(ring * XY_PER_MM).astype(np.int64)


def _both(one: Sheet, two: Sheet) -> Sheet:
    return Sheet(
        one.plan,
        np.concatenate([one.faces, two.faces]),
        np.concatenate([one.heights, two.heights]),
        np.concatenate([one.origin, two.origin]),
    )


def _flat(sheet: Sheet, height: int) -> Sheet:
    return Sheet(
        sheet.plan,
        sheet.faces,
        np.full(sheet.faces.shape, height, np.int64),
        np.full(len(sheet.faces), int(Origin.OUTSIDE), np.uint8),
    )
