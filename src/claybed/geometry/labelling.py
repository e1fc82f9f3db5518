"""Telling fill from object on a finished model, by distance."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.closest import lying_on, nearest_within
from claybed.geometry.lattice import XY_PER_MM, Lattice, LatticeMesh, lattice_mm, twice_plan_area
from claybed.geometry.mesh import Floats, Origin
from claybed.geometry.plan_bins import bin_triangles, near_any
from claybed.geometry.slab import LatticeSolid

# A wall of the model further than this from the object as it stands on the lattice is clay, not object: more
# than rounding moves it. Between the spots that are asked it may stand off by twice as much.
WALL_MM = 0.003
NEAR_UNITS = round(4 * WALL_MM * XY_PER_MM)
# Side pieces are cut by booleans, which draw corners together.
APART_MM = 0.005
# A face narrower in plan than so many lattice steps (0.008 mm) stands on edge between contours that rounding
# holds apart: a wall as well.
NARROW_UNITS = 8.0
# A face is halved so often at most, along its longest side: to a 4000th of its length.
HALVINGS = 24
# Where along its sides and within a wall is asked, beside its corners.
QUARTERS = np.array([0.25, 0.5, 0.75])
WITHIN = np.array([[2.0, 1.0, 1.0], [1.0, 2.0, 1.0], [1.0, 1.0, 2.0]]) / 4.0


def mark_fill(model: LatticeSolid, source: LatticeMesh, footprint: Lattice) -> LatticeSolid:
    """The model with its fill faces named: walls that stand off the object's surface at a corner, at a
    quarter, half or three quarters of a side, or within.

    Model and source stand on one lattice. Walls on the block's own side, where a gate is cut off flush,
    belong to the gate. Only upright faces, and those that rounding keeps from being so, can be fill, since a
    cell takes either sheet from a face of the object.
    """
    f, p = model.faces, model.points
    doubled = np.abs(twice_plan_area(p, f))
    narrow = doubled <= NARROW_UNITS * np.ptp(p[f][:, :, :2], axis=1).max(axis=1)
    number = np.flatnonzero((doubled == 0) | (narrow & (model.origin != int(Origin.FILL))))
    if not len(number):
        return model
    faces = f[number].astype(np.int64)
    corner = lattice_mm(p[faces])
    # Corners and sides are common to several walls, and are asked for once.
    ends, end = np.unique(faces, return_inverse=True)
    side, between = np.unique(_sides(faces, len(p)), return_inverse=True)
    one, two = (lattice_mm(p[side_end])[:, None] for side_end in np.divmod(side, len(p)))
    along = one + QUARTERS[:, None] * (two - one)
    inner = np.einsum("sk,fki->fsi", WITHIN, corner)
    spots = np.concatenate([lattice_mm(p[ends]), inner.reshape(-1, 3), along.reshape(-1, 3)])
    after = len(ends) + len(WITHIN) * len(number)
    beside = after + len(QUARTERS) * between.reshape(-1, 3, 1) + np.arange(len(QUARTERS))
    inside = len(ends) + np.arange(after - len(ends)).reshape(-1, len(WITHIN))
    own = np.concatenate([end.reshape(-1, 3), inside, beside.reshape(len(number), -1)], axis=1)
    # What is nowhere near a wall in plan cannot be the wall's own surface: only its distance would be asked.
    bins = bin_triangles(p[:, :2][f[number]].reshape(-1, 6))
    near = np.flatnonzero(near_any(source.points[:, :2][source.faces].reshape(-1, 6), bins, NEAR_UNITS))
    near = near if len(near) else np.arange(len(source.faces))
    nearest, _ = nearest_within(spots, lattice_mm(source.points)[source.faces[near]], WALL_MM)
    apart = (nearest < 0)[own].any(axis=1)
    # A wall with a corner on the gate is the gate's: it need not lie on the object.
    named = source.origin[near[nearest[own[:, : 3 + len(WITHIN)]]]].max(axis=1)
    on_side = np.zeros(len(number), bool)
    for a, b in zip(footprint, np.roll(footprint, -1, axis=0), strict=True):
        way = b - a
        off = way[0] * (p[f[number], 1] - a[1]) - way[1] * (p[f[number], 0] - a[0])
        on_side |= (off == 0).all(axis=1)
    found = np.where(apart, int(Origin.FILL), named)
    origin = model.origin.copy()
    origin[number] = np.where(on_side, int(Origin.GATE), found)
    return LatticeSolid(p, f, origin)


def freed_of_fill(model: LatticeSolid, source: LatticeMesh, apart_mm: float) -> LatticeSolid:
    """The model with the fill that further pieces freed named as what it is again: fill faces with their
    corners on the object's surface, and all over within `apart_mm` of it, rounding included.

    Model and source stand on one lattice.
    """
    number = np.flatnonzero(model.origin == int(Origin.FILL))
    surface = lattice_mm(source.points)[source.faces]
    corner = lattice_mm(model.points)[model.faces[number]]
    ends = nearest_within(corner.reshape(-1, 3), surface, APART_MM)[0].reshape(-1, 3)
    on = np.flatnonzero((ends >= 0).all(axis=1))
    on = on[_all_near(corner[on], surface, apart_mm - APART_MM)]
    if not len(on):
        return model
    middle = nearest_within(corner[on].mean(axis=1), surface, apart_mm)[0]
    origin = model.origin.copy()
    # As with walls: what has a corner on the gate is the gate's.
    nearest = np.concatenate([ends[on], middle[:, None]], axis=1)
    origin[number[on]] = source.origin[nearest].max(axis=1)
    return LatticeSolid(model.points, model.faces, origin)


def _all_near(faces: Floats, surface: Floats, reach_mm: float) -> NDArray[np.bool_]:
    """Which triangles (k, 3, 3) mm lie all over within `reach_mm` of a surface (m, 3, 3) mm.

    Each is halved until every part lies near one triangle of the surface, as `lying_on` asks it. One with a
    part that never does is not among them, so nothing between any spots is left to chance.
    """
    near = np.ones(len(faces), bool)
    whose, parts = np.arange(len(faces)), faces
    for _ in range(HALVINGS):
        if not len(parts):
            break
        # Of what is too far off in one place, nothing else has to be asked.
        near[whose[nearest_within(parts.mean(axis=1), surface, reach_mm)[0] < 0]] = False
        left = near[whose] & ~lying_on(parts, surface, reach_mm)
        whose, parts = whose[left].repeat(2), _halved(parts[left])
    near[whose] = False
    return near


def _halved(faces: Floats) -> Floats:
    """Triangles (k, 3, 3) cut in two from the middle of their longest side, the halves (2k, 3, 3) in turn."""
    longest = np.linalg.norm(np.roll(faces, -1, axis=1) - faces, axis=2).argmax(axis=1)
    row = np.arange(len(faces))
    a, b, tip = (faces[row, (longest + k) % 3] for k in range(3))
    middle = (a + b) / 2.0
    return np.stack([a, middle, tip, middle, b, tip], axis=1).reshape(-1, 3, 3)


def _sides(faces: NDArray[np.int64], count: int) -> NDArray[np.int64]:
    """The sides (m, 3) of triangles, each coded alike whichever way it runs."""
    back = np.roll(faces, 1, axis=1)
    coded: NDArray[np.int64] = np.minimum(faces, back) * count + np.maximum(faces, back)
    return coded
