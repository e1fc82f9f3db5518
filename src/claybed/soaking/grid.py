"""The plan's plaster as cells and its cavity wall as patches."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from claybed.errors import CannotError
from claybed.geometry.mesh import Bytes, Floats, Ints, Mesh
from claybed.geometry.refining import refined
from claybed.geometry.voxels import solid_fraction
from claybed.records.soaked import PlasterGrid
from claybed.soaking.clearing import half_way_mm
from claybed.soaking.kernels import neighbours

# A cell is plaster when at least half of it is; what is less goes to its fullest neighbour.
HALF = 0.5
# No bend is read tighter than two cells: an edge has no radius of its own.
TIGHTEST_CELLS = 0.5
_EDGE_CELLS = 1.5
_REACH_CELLS = (0.25, 0.75, 1.25)
_BEND_NEIGHBOURS = 40
# Faces that look more than this away are another wall: the far side of a thin tongue.
_SAME_SIDE = -0.3


def build_grid(
    pieces: list[Mesh],
    model: Mesh,
    on_outside: Bytes,
    cell_mm: float,
    *,
    bend_reach_mm: float,
    extra_mm: float = 0.0,
) -> PlasterGrid:
    """Cells of `cell_mm` from the pieces of a closed mold, patches from its model, all in the block's frame.

    `on_outside` (model faces,) uint8 marks the model's faces on the block's outside: where slip goes in, and
    up. `bend_reach_mm` is how far round a patch its curvature is read. `extra_mm` adds so much plaster to the
    outside, except over the opening. Raises CannotError when the mold has no opening or no cell of plaster.
    """
    up = _way_up(model, on_outside)
    low = np.min([piece.bounds_mm[0] for piece in pieces], axis=0)
    high = np.max([piece.bounds_mm[1] for piece in pieces], axis=0)
    extra = round(extra_mm / cell_mm)
    low = low - extra * cell_mm
    counts = np.maximum(np.ceil((high - low + extra * cell_mm) / cell_mm - 1e-9).astype(int), 1)
    shape = (int(counts[0]), int(counts[1]), int(counts[2]))
    plaster, most_of = _of_pieces(pieces, low, cell_mm, shape)
    cavity = solid_fraction(model, low, cell_mm, shape)
    if extra:
        _thicken(plaster, cavity, low, cell_mm, (low + extra * cell_mm, high), up)
    share, left_out = _without_slivers(plaster)
    inside = share >= HALF
    if not inside.any():
        raise CannotError("no plaster is as thick as a cell.", where="the mold", remedy="Use smaller cells.")
    number = np.full(shape, -1, np.int32)
    number[inside] = np.arange(int(inside.sum()), dtype=np.int32)
    cells: Ints = np.argwhere(inside).astype(np.int32)
    wall = refined(_cut_open(model, on_outside), _EDGE_CELLS * cell_mm)
    cell, area, at, normal, patch_of = _patches(wall, number, low, cell_mm)
    tight = TIGHTEST_CELLS / cell_mm
    return PlasterGrid(
        cell_mm=cell_mm,
        low_mm=low,
        number=number,
        cells=cells,
        plaster_mm3=share[inside] * cell_mm**3,
        piece=most_of[inside].astype(np.int32),
        near=neighbours(number, cells),
        cell=cell,
        area_mm2=area,
        at_mm=at,
        normal=normal,
        bends_per_mm=np.clip(bends(at, normal, max(bend_reach_mm, 3.0 * cell_mm)), -tight, tight),
        most_mm=half_way_mm(at, normal, cavity, low, cell_mm),
        wall=wall,
        patch_of=patch_of,
        cavity=cavity,
        up=up,
        left_out_mm3=left_out * cell_mm**3,
    )


def _of_pieces(
    pieces: list[Mesh], low: Floats, cell_mm: float, shape: tuple[int, int, int]
) -> tuple[Floats, NDArray[np.int8]]:
    """Share of each cell that is plaster, and the piece that most of it is, -1 for none."""
    plaster, most = np.zeros(shape), np.zeros(shape)
    most_of = np.full(shape, -1, np.int8)
    for number, piece in enumerate(pieces):
        share = solid_fraction(piece, low, cell_mm, shape)
        plaster += share
        more = share > most
        most_of[more], most[more] = number, share[more]
    return plaster, most_of


def _way_up(model: Mesh, on_outside: Bytes) -> Floats:
    corners = model.corners_mm[on_outside.astype(bool)]
    spread = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]).sum(axis=0)
    length = float(np.linalg.norm(spread))
    if length < 1e-6:
        raise CannotError(
            "it has no opening for slip.", where="the mold", remedy="Plan it with a gate: --gate auto."
        )
    up: Floats = spread / length
    return up


def _thicken(
    plaster: Floats, cavity: Floats, low: Floats, cell_mm: float, old: tuple[Floats, Floats], up: Floats
) -> None:
    """Fill the cells outside the old block with plaster, but for those that lie over the opening."""
    axes = [low[k] + (np.arange(plaster.shape[k]) + 0.5) * cell_mm for k in range(3)]
    beyond, over = np.zeros(plaster.shape, bool), np.zeros(plaster.shape, bool)
    for k in range(3):
        line = axes[k].reshape([-1 if j == k else 1 for j in range(3)])
        for out, past in ((-1.0, line < old[0][k]), (1.0, line > old[1][k])):
            beyond |= past
            # The side that the opening looks to stays as it is.
            over |= past & (out * float(up[k]) > 0.7)
    # A round block leaves the corners of its grid empty: those lie outside the old block as well.
    middle = (old[0] + old[1]) / 2.0
    x, y = axes[0][:, None, None] - middle[0], axes[1][None, :, None] - middle[1]
    empty = ((plaster + cavity) < HALF) & ~over
    reach = float(np.max(old[1][:2] - old[0][:2])) / 2.0 + (old[0][0] - low[0])
    corner = empty.all(axis=2, keepdims=True) & (np.hypot(x, y) <= reach)
    boxed = not bool((corner & ~beyond.any(axis=2, keepdims=True)).any())
    plaster[beyond & (boxed | (np.hypot(x, y) <= reach)) & empty] = 1.0
    plaster[np.broadcast_to(corner, plaster.shape) & empty] = 1.0


def _without_slivers(share: Floats) -> tuple[Floats, float]:
    """Cells that are mostly plaster with what the others beside them hold; and what none took, in cells."""
    wide = np.pad(share, 1)
    kept = np.where(wide >= HALF, wide, 0.0)
    thin = np.argwhere((wide > 0.0) & (wide < HALF))
    steps = np.argwhere(np.ones((3, 3, 3))) - 1
    steps = steps[np.argsort(np.abs(steps).sum(axis=1), kind="stable")][1:]
    left = wide[tuple(thin.T)]
    for rank in (steps[:6], steps[6:]):
        best = np.zeros(len(thin))
        take = np.zeros((len(thin), 3), np.int64)
        for step in rank:
            other = thin + step
            full = np.where(wide[tuple(other.T)] >= HALF, wide[tuple(other.T)], 0.0)
            better = full > best
            best[better], take[better] = full[better], other[better]
        found = best > 0.0
        np.add.at(kept, tuple(take[found].T), left[found])
        thin, left = thin[~found], left[~found]
    return kept[1:-1, 1:-1, 1:-1], float(left.sum())


def _cut_open(model: Mesh, on_outside: Bytes) -> Mesh:
    kept = ~on_outside.astype(bool)
    used, faces = np.unique(model.faces[kept], return_inverse=True)
    return Mesh.make(
        model.vertices_mm[used], faces.reshape(-1, 3), frame=model.frame, origin=model.origin[kept]
    )


def _patches(
    wall: Mesh, number: np.ndarray, low: Floats, cell_mm: float
) -> tuple[Ints, Floats, Floats, Floats, Ints]:
    """Faces gathered by the plaster cell behind them and the side they look to."""
    corners = wall.corners_mm
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    twice = np.linalg.norm(cross, axis=1)
    normal = cross / np.maximum(twice, 1e-12)[:, None]
    middle = corners.mean(axis=1)
    behind = np.full(len(middle), -1, np.int64)
    limit = np.array(number.shape)
    for reach in _REACH_CELLS:
        open_ = np.flatnonzero(behind < 0)
        place = np.floor((middle[open_] + reach * cell_mm * normal[open_] - low) / cell_mm).astype(int)
        inside = ((place >= 0) & (place < limit)).all(axis=1)
        behind[open_[inside]] = number[tuple(place[inside].T)]
    side = np.argmax(np.abs(normal), axis=1)
    side = 2 * side + (np.take_along_axis(normal, side[:, None], 1)[:, 0] > 0.0)
    found = (behind >= 0) & (twice > 0.0)
    if not found.any():
        raise CannotError("no plaster lies behind the cavity.", where="the mold", remedy="Use smaller cells.")
    code, patch = np.unique(behind[found] * 6 + side[found], return_inverse=True)
    patch_of = np.full(len(middle), -1, np.int32)
    patch_of[found] = patch
    weight = twice[found] / 2.0
    sums = np.zeros((len(code), 6))
    np.add.at(sums, patch, np.hstack([middle[found], normal[found]]) * weight[:, None])
    area = np.bincount(patch, weight, len(code)).astype(np.float64)
    at: Floats = sums[:, :3] / area[:, None]
    mean: Floats = sums[:, 3:] / np.maximum(np.linalg.norm(sums[:, 3:], axis=1), 1e-12)[:, None]
    return (code // 6).astype(np.int32), area, at, mean, patch_of


def bends(at_mm: Floats, normal: Floats, reach_mm: float) -> Floats:
    """Principal curvatures (n, 2) 1/mm of a surface given by points (n, 3) and unit normals (n, 3).

    How the normals turn towards the neighbours within `reach_mm`, by least squares; exact on spheres and
    cylinders. Above 0 where the surface bends away from its normals, as a cavity's does that is round.
    """
    most = min(_BEND_NEIGHBOURS, len(at_mm))
    gap, near = cKDTree(at_mm).query(at_mm, k=most, distance_upper_bound=reach_mm)
    known = np.isfinite(gap) & (gap > 0.0)
    near = np.where(known, near, 0)
    turned = normal[near]
    known &= np.einsum("nkj,nj->nk", turned, normal) > _SAME_SIDE
    first = np.cross(normal, np.where(np.abs(normal[:, :1]) < 0.8, [[1.0, 0.0, 0.0]], [[0.0, 1.0, 0.0]]))
    first /= np.linalg.norm(first, axis=1)[:, None]
    second = np.cross(normal, first)
    step, turn = at_mm[near] - at_mm[:, None], turned - normal[:, None]
    x, y = np.einsum("nkj,nj->nk", step, first), np.einsum("nkj,nj->nk", step, second)
    a, b = np.einsum("nkj,nj->nk", turn, first), np.einsum("nkj,nj->nk", turn, second)
    x, y = np.where(known, x, 0.0), np.where(known, y, 0.0)
    xx, xy, yy = (x * x).sum(1), (x * y).sum(1), (y * y).sum(1)
    # Least squares for a symmetric 2 x 2 turn: three unknowns (p, q, r) of turn = [[p, q], [q, r]] step.
    left = np.zeros((len(at_mm), 3, 3))
    left[:, 0, 0], left[:, 0, 1], left[:, 1, 0] = xx, xy, xy
    left[:, 1, 1], left[:, 1, 2], left[:, 2, 1], left[:, 2, 2] = xx + yy, xy, xy, yy
    left += 1e-9 * np.maximum(xx + yy, 1e-9)[:, None, None] * np.eye(3)
    right = np.stack([(a * x).sum(1), (a * y + b * x).sum(1), (b * y).sum(1)], axis=1)
    p, q, r = np.linalg.solve(left, right[..., None])[..., 0].T
    middle, half = (p + r) / 2.0, np.hypot((p - r) / 2.0, q)
    found: Floats = np.stack([middle + half, middle - half], axis=1)
    return found
