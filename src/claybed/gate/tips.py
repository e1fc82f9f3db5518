"""Ends of an object at which a bore can come out in the seam: where it stands furthest out one way."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.pooling import Cavity, Cells

# Corners that stand back from the furthest by no more than this belong to the same end.
END_MM = 0.5
# So much of the object is left between a bore and the end on which a side piece stands.
CLEAR_MM = 1.0
EIGHT = np.ones((3, 3), bool)


def furthest(placed: Mesh, tip: NDArray[np.bool_]) -> Floats:
    """The corners (n, 3) of one end of the object, of those that reach as far (a mask): where they lie apart,
    as the feet of a bridge do, those of the widest.
    """
    ends = np.flatnonzero(tip)
    within = placed.faces[tip[placed.faces].any(axis=1)]
    pairs = np.concatenate([within[:, [0, 1]], within[:, [1, 2]], within[:, [2, 0]]])
    pairs = pairs[tip[pairs].all(axis=1)]
    n = len(placed.vertices_mm)
    linked = coo_matrix((np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])), shape=(n, n))
    _, group = connected_components(linked, directed=False)
    corners = placed.vertices_mm[ends]
    apart = [corners[group[ends] == g] for g in np.unique(group[ends])]
    return max(apart, key=lambda one: float(np.prod(np.sort(np.ptp(one, axis=0))[1:] + 1.0)))


def end_of(placed: Mesh, out: Floats, among: NDArray[np.bool_] | None = None) -> Floats:
    """Where a bore along `out` (3,) meets the end of an object, (3,) mm: the middle of what reaches furthest,
    of all corners or of those `among` (a mask).
    """
    reach = placed.vertices_mm @ out
    if among is not None:
        reach = np.where(among, reach, -np.inf)
    at: Floats = furthest(placed, reach >= reach.max() - END_MM).mean(axis=0)
    end: Floats = at + (reach.max() - float(at @ out)) * out
    return end


def end_beside(placed: Mesh, at: Floats, out: Floats, wide_mm: float, sides: Sequence[Floats]) -> Floats:
    """Where a bore along `out` (3,), `wide_mm` in radius, leaves the object below the ends that pieces along
    `sides`, each (3,), take: `at` (3,) mm or the place nearest to it; `at` where the object is too short.

    A side piece stands on the object's end: what of the bore lies beyond that end would hold it.
    """
    moved = at
    for side in sides:
        height_mm = placed.vertices_mm @ side
        most_mm = float(height_mm.max()) - wide_mm - CLEAR_MM
        if float(moved @ side) <= most_mm or most_mm <= float(height_mm.min()):
            continue
        ends = placed.faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)
        ends = ends[(height_mm[ends[:, 0]] < most_mm) & (height_mm[ends[:, 1]] >= most_mm)]
        low, high = height_mm[ends].T
        share = ((most_mm - low) / (high - low))[:, None]
        section = (1.0 - share) * placed.vertices_mm[ends[:, 0]] + share * placed.vertices_mm[ends[:, 1]]
        reach = section @ out
        section = section[reach >= reach.max() - END_MM]
        moved = section[int(np.argmin(np.linalg.norm(section - moved, axis=1)))]
    tops = [float((placed.vertices_mm @ side).max()) - wide_mm for side in sides]
    held = any(float(moved @ side) > top for side, top in zip(sides, tops, strict=True))
    return at if held else moved


def tips(placed: Mesh, cells: Cavity, out: Floats, radius_mm: float, *, most: int) -> list[Floats]:
    """Places (3,) mm at which a bore along a level `out` (3,) can leave the object, the furthest first.

    `cells` is the object in the same frame. A tip stands out by at least a radius from what is beside it, and
    the way from it out of the block is clear of the object.
    """
    plan = np.asarray(cells.inside.any(axis=2))
    if not plan.any():  # thinner all over than a cell
        return []
    at = cells.low_mm[:2] + (np.argwhere(plan) + 0.5) * cells.cell_mm
    reach = np.full(plan.shape, -np.inf)
    reach[plan] = at @ out[:2]
    of_corner = np.floor((placed.vertices_mm[:, :2] - cells.low_mm[:2]) / cells.cell_mm).astype(np.int64)
    column, row = np.clip(of_corner, 0, np.array(plan.shape) - 1).T
    found: list[Floats] = []
    known: Cells = np.zeros(plan.shape, bool)
    # A tip is seen as soon as so much of it stands above a level by itself.
    step_mm = max(radius_mm, cells.cell_mm)
    top_mm, low_mm = float(reach.max()), float(reach[plan].min())
    for level_mm in np.arange(top_mm - 0.5 * step_mm, low_mm, -step_mm):
        label, _ = ndimage.label(reach >= level_mm, EIGHT)
        for part, box in enumerate(ndimage.find_objects(label), start=1):
            own = label[box] == part
            if (own & known[box]).any():
                continue
            near = np.zeros(plan.shape, bool)
            near[box] = own
            near = ndimage.binary_dilation(near, EIGHT)
            among: NDArray[np.bool_] = near[column, row]
            if not among.any():
                continue
            place = end_of(placed, out, among)
            if _is_clear(at, place, out, radius_mm, cells.cell_mm):
                found.append(place)
                if len(found) == most:
                    return found
        known = reach >= level_mm
    return found


def _is_clear(plan_mm: Floats, place: Floats, out: Floats, radius_mm: float, cell_mm: float) -> bool:
    """Whether no cell (n, 2) of the object's plan lies in the way out from a place."""
    off = plan_mm - place[:2]
    beyond = off @ out[:2] > 0.5 * radius_mm + cell_mm
    across = np.abs(off @ np.array([-out[1], out[0]])) < radius_mm + cell_mm
    return not bool((beyond & across).any())
