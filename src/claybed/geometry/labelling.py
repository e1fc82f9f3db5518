"""Telling fill from object on a finished model, by distance."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.closest import nearest_within
from claybed.geometry.lattice import XY_PER_MM, Lattice, LatticeMesh, lattice_mm, twice_plan_area
from claybed.geometry.mesh import Origin
from claybed.geometry.plan_bins import bin_triangles, near_any
from claybed.geometry.slab import LatticeSolid

# A wall of the model further than this from the object is clay, not object: more than snapping can move it.
APART_MM = 0.005
NEAR_UNITS = round(2 * APART_MM * XY_PER_MM)


def mark_fill(model: LatticeSolid, source: LatticeMesh, footprint: Lattice) -> LatticeSolid:
    """The model with its fill faces named: walls that stand off the object's surface at
    their middle or at the middle of a side.

    Model and source stand on one lattice. Walls on the block's own side, where a gate is cut off flush,
    belong to the gate. Only vertical faces can be fill, since a cell takes either sheet from a face of the
    object.
    """
    f, p = model.faces, model.points
    number = np.flatnonzero(twice_plan_area(p, f) == 0)
    if not len(number):
        return model
    faces = f[number].astype(np.int64)
    corner = lattice_mm(p[faces])
    # Corners and middles of sides are common to several walls, and are asked for once.
    ends, end = np.unique(faces, return_inverse=True)
    side, between = np.unique(_sides(faces, len(p)), return_inverse=True)
    spots = np.concatenate(
        [lattice_mm(p[ends]), corner.mean(axis=1), lattice_mm(p[side // len(p)] + p[side % len(p)]) / 2.0]
    )
    after = len(ends) + len(number)
    own = np.concatenate(
        [
            end.reshape(-1, 3),
            len(ends) + np.arange(len(number))[:, None],
            after + between.reshape(-1, 3),
        ],
        axis=1,
    )
    # What is nowhere near a wall in plan cannot be the wall's own surface: only its distance would be asked.
    bins = bin_triangles(p[:, :2][f[number]].reshape(-1, 6))
    near = np.flatnonzero(near_any(source.points[:, :2][source.faces].reshape(-1, 6), bins, NEAR_UNITS))
    near = near if len(near) else np.arange(len(source.faces))
    nearest, _ = nearest_within(spots, lattice_mm(source.points)[source.faces[near]], APART_MM)
    apart = (nearest < 0)[own].any(axis=1)
    # A wall with a corner on the gate is the gate's: it need not lie on the object.
    named = source.origin[near[nearest[own[:, :4]]]].max(axis=1)
    on_side = np.zeros(len(number), bool)
    for one, two in zip(footprint, np.roll(footprint, -1, axis=0), strict=True):
        along = two - one
        off = along[0] * (p[f[number], 1] - one[1]) - along[1] * (p[f[number], 0] - one[0])
        on_side |= (off == 0).all(axis=1)
    found = np.where(apart, int(Origin.FILL), named)
    origin = model.origin.copy()
    origin[number] = np.where(on_side, int(Origin.GATE), found)
    return LatticeSolid(p, f, origin)


def freed_of_fill(model: LatticeSolid, source: LatticeMesh, apart_mm: float) -> LatticeSolid:
    """The model with the fill that further pieces freed named as what it is again: fill faces with their
    corners on the object's surface, and within `apart_mm` of it at the middle and the middles of sides.

    Model and source stand on one lattice.
    """
    number = np.flatnonzero(model.origin == int(Origin.FILL))
    if not len(number):
        return model
    corner = lattice_mm(model.points)[model.faces[number]]
    between = (corner + np.roll(corner, -1, axis=1)) / 2.0
    middle = np.concatenate([corner.mean(axis=1, keepdims=True), between], axis=1)
    surface = lattice_mm(source.points)[source.faces]
    ends, inner = (
        nearest_within(spots.reshape(-1, 3), surface, within)[0].reshape(len(number), -1)
        for spots, within in ((corner, APART_MM), (middle, apart_mm))
    )
    on = (ends >= 0).all(axis=1) & (inner >= 0).all(axis=1)
    origin = model.origin.copy()
    # As with walls: what has a corner on the gate is the gate's.
    nearest = np.concatenate([ends, inner[:, :1]], axis=1)
    origin[number[on]] = source.origin[nearest[on]].max(axis=1)
    return LatticeSolid(model.points, model.faces, origin)


def _sides(faces: NDArray[np.int64], count: int) -> NDArray[np.int64]:
    """The sides (m, 3) of triangles, each coded alike whichever way it runs."""
    back = np.roll(faces, 1, axis=1)
    coded: NDArray[np.int64] = np.minimum(faces, back) * count + np.maximum(faces, back)
    return coded
