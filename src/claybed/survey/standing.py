"""Molds of one main piece over a flat face that the object stands on: what lies under it slides off with the
last side piece, so that no second main piece is needed.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from claybed.geometry.columns import gaps
from claybed.geometry.cover import best_sets, whole_set
from claybed.geometry.depth import Columns, DepthRaster
from claybed.geometry.directions import around, flat_patches
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.reach import Skyline
from claybed.materials import shelf
from claybed.records.surveyed import Trade, Vector

# A face is flat when all of it, and an end of the object when nothing, is off its plane by more than this.
FLAT_MM = 0.02
# Space over the plane lower than this is rounding.
FILM_MM = 0.05
SQUARE_COSINE = 1e-6
LEVEL_COSINE = 1e-3
SAMPLES_UP = 4
LEAST_SHARE = 0.03
# Ways in a face: those that flat floors of recesses look, and so many evenly round it from one of them, so
# that recesses at equal angles are met.
FLOOR_SHARE = 0.002
MOST_FLOORS = 24
ROUND = 24
# How much a way that a floor looks is liked, of what the best is.
FLOOR_LIKED = 0.5


def standing_trades(
    mesh: Mesh,
    raster: DepthRaster,
    side_raster: DepthRaster,
    pulls: Floats,
    skylines: Sequence[Skyline],
    liked: Floats,
    *,
    most_sides: int,
    crumb_mm3: float,
) -> list[Trade]:
    """Ways of three pieces and more over each flat face that an object stands on, with nothing to fill: one
    main piece, and side pieces along some of `pulls` (n, 3) that lie in that face, and of others in it.

    `raster` is the mesh's, `side_raster` a coarser one for further pulls, `skylines` those of the pulls; of
    equal ones those `liked` (n,) more are taken.
    Less than `crumb_mm3` that stays locked is the samples' doing.
    """
    found = []
    floors = np.array(
        [f.normal for f in flat_patches(mesh, least_share=FLOOR_SHARE, most=MOST_FLOORS)]
    ).reshape(-1, 3)
    for flat in flat_patches(mesh, least_share=LEAST_SHARE):
        down = np.array(flat.normal)
        reach = mesh.vertices_mm @ down
        if float(reach.max()) > flat.offset_mm + FLAT_MM:
            continue
        base_mm = -float(reach.max())
        points, volume = _held(raster.columns(-down), base_mm)
        level = np.flatnonzero(np.abs(pulls @ down) < SQUARE_COSINE)
        if not len(points):
            continue
        more = _in_face(down, floors)
        ways = np.concatenate([pulls[level], more])
        seen = [*(skylines[k] for k in level.tolist()), *(Skyline(side_raster, way) for way in more)]
        fond = np.concatenate([liked[level], np.zeros(len(more))])
        fond[len(level) : len(ways) - ROUND] = FLOOR_LIKED * float(liked.max())
        free = np.stack([skyline.free(points) for skyline in seen])
        cost = crumb_mm3 * 0.1 * (1.0 - fond / max(float(liked.max()), 1e-9))
        sets = best_sets(free, volume, most_sides, dear=cost)
        # Pulls that free all there is only together are missed where each step takes what frees most.
        all_free = whole_set(free, volume, most_sides, crumb_mm3 / float(volume.sum()), dear=cost)
        for rows in sorted([*sets, all_free or ()], key=len):
            left_mm3 = float(volume[~free[list(rows)].any(axis=0)].sum())
            sides = _last_alone([_vector(ways[k]) for k in rows])
            if len(rows) < 2 or left_mm3 > crumb_mm3:
                continue
            found.append(Trade(1 + len(rows), 0.0, _vector(-down), sides, base_mm))
            break
    return found


def _in_face(down: Floats, floors: Floats) -> Floats:
    """Ways (n, 3), unit, in the flat face that looks `down`: those that flat `floors` (m, 3) of the object
    look in it, and evenly round it.
    """
    level = floors[np.abs(floors @ down) < LEVEL_COSINE]
    level = level - (level @ down)[:, None] * down
    level /= np.linalg.norm(level, axis=1)[:, None]
    ring = around(down, 90.0, ROUND)
    if len(level):
        # The ring begins at the largest floor.
        start = level[0]
        turn = 2.0 * np.pi * np.arange(ROUND)[:, None] / ROUND
        ring = np.cos(turn) * start + np.sin(turn) * np.cross(down, start)
    square: Floats = np.concatenate([level, ring])
    return square


def _last_alone(sides: list[Vector]) -> tuple[Vector, ...]:
    """Pulls with one last that none of the others is opposite to, since a gate in the seam comes out there;
    as they are when there is none, and the gate comes out through the main piece.
    """
    clear = float(np.cos(np.radians(shelf.value("practice", "gate_clear_of_side_deg").value)))
    for k in range(len(sides) - 1, -1, -1):
        others = [*sides[:k], *sides[k + 1 :]]
        if all(float(np.dot(sides[k], other)) > -clear for other in others):
            return (*others, sides[k])
    return tuple(sides)


def _held(columns: Columns, base_mm: float) -> tuple[Floats, Floats]:
    """Points (n, 3) mm over the plane `base_mm` that the object is over, and the volume (n,) mm³ of each:
    gaps, and what lies under overhangs.
    """
    grid = columns.grid
    inner = gaps(columns)
    bottom = columns.bottom_mm.reshape(-1)
    over = np.flatnonzero(np.nan_to_num(bottom, nan=-np.inf) > base_mm + FILM_MM)
    pixel = np.concatenate([inner.pixel, over])
    low = np.concatenate([inner.lo_mm, np.full(len(over), base_mm)])
    high = np.concatenate([inner.hi_mm, bottom[over]])
    step = (np.arange(SAMPLES_UP) + 0.5) / SAMPLES_UP
    z = (low[:, None] + step * (high - low)[:, None]).reshape(-1)
    volume = np.repeat((high - low) / SAMPLES_UP * grid.spacing_mm**2, SAMPLES_UP)
    points: Floats = grid.object_mm(np.repeat(pixel, SAMPLES_UP), z)
    return points, volume


def _vector(v: Floats) -> Vector:
    x, y, z = (float(c) + 0.0 for c in v)
    return x, y, z
