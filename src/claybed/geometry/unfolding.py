"""Slits closed: places where a closed surface lies folded flat on itself, with nothing in between.

A cut along a face that was cut there before may leave two sheets of surface back to back. They enclose no
space, but are no part of what the solid looks like. Where two faces lie folded on one another along a side,
that side is turned to join the other two corners: the faces then cover less, and in the end nothing twice.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.halfedges import in_use, match_sides
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.mesh import Floats
from claybed.geometry.slab import LatticeSolid

# Sheets nearer to each other than this, a few steps of the lattice, enclose nothing.
SLIT_MM = 0.005
# Faces whose normals differ from opposite by less than this (cosine) lie on one another; narrower ones than
# this have no normal to speak of.
OPPOSITE = -0.999
LEAST_MM2 = 1e-3
MOST_TURNS = 200


def without_slits(solid: LatticeSolid) -> LatticeSolid:
    """The closed solid without slits; the same where it has none. No point moves, and what is enclosed stays
    the same to SLIT_MM times the area of the slit.
    """
    points = lattice_mm(solid.points)
    faces, origin = solid.faces.copy(), solid.origin
    for _ in range(MOST_TURNS):
        mate = match_sides(faces, len(points)).mate
        folds = _folds(points, faces, mate)
        if not len(folds):
            break
        gone, used = np.zeros(len(faces), bool), np.zeros(len(faces), bool)
        joined = {tuple(pair) for pair in np.sort(faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2)).tolist()}
        turned = False
        for side in folds.tolist():
            back = int(mate[side])
            one, other = side // 3, back // 3
            # Sides of the two faces in their order, the common one first.
            own = [3 * one + (side + k) % 3 for k in range(3)]
            far = [3 * other + (back + k) % 3 for k in range(3)]
            beside = mate[[*own[1:], *far[1:]]] // 3
            if used[[one, other, *beside]].any():
                continue
            a, b, c = (int(faces[one, side % 3]) for side in own)
            d = int(faces[other, far[2] % 3])
            # The third face of a tip that only three meet in; the tip goes, and they with it.
            after_b, after_c, after_a, after_d = beside.tolist()
            third = after_c if after_c == after_a else after_b if after_b == after_d else -1
            if c == d:
                gone[[one, other]] = True
            elif third >= 0:
                faces[one] = (b, c, d) if third == after_c else (a, d, c)
                gone[[other, third]] = True
            elif (min(c, d), max(c, d)) not in joined and _less(points, a, b, c, d):
                faces[one], faces[other] = (a, d, c), (d, b, c)
                joined.add((min(c, d), max(c, d)))
            else:
                continue
            turned = True
            # What lies beside these has other mates now.
            used[[one, other, *beside]] = True
        faces, origin = faces[~gone], origin[~gone]
        if not turned:
            break
    if faces.shape == solid.faces.shape and np.array_equal(faces, solid.faces):
        return solid
    live, kept = in_use(faces, len(points))
    return LatticeSolid(solid.points[live], kept, origin)


def _folds(points: Floats, faces: NDArray[np.integer], mate: NDArray[np.int32]) -> NDArray[np.int64]:
    """Sides along which two faces lie folded on one another, each told once."""
    corner = points[faces]
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    twice = np.linalg.norm(across, axis=1)
    normal = across / np.maximum(twice, 1e-12)[:, None]
    side = np.flatnonzero(np.arange(len(mate)) < mate)
    one, other = side // 3, mate[side] // 3
    wide = np.minimum(twice[one], twice[other]) > 2.0 * LEAST_MM2
    side, one, other = side[wide], one[wide], other[wide]
    flat = np.einsum("ij,ij->i", normal[one], normal[other]) < OPPOSITE
    side, one, other = side[flat], one[flat], other[flat]
    tip = points[faces[other, (mate[side] + 2) % 3]]
    off_mm = np.abs(np.einsum("ij,ij->i", tip - corner[one, 0], normal[one]))
    found: NDArray[np.int64] = side[off_mm < SLIT_MM].astype(np.int64)
    return found


def _less(points: Floats, a: int, b: int, c: int, d: int) -> bool:
    """Whether faces (a, d, c) and (d, b, c) cover less than (a, b, c) and (b, a, d)."""

    def area(x: int, y: int, z: int) -> float:
        return float(np.linalg.norm(np.cross(points[y] - points[x], points[z] - points[x])))

    return area(a, d, c) + area(d, b, c) < (area(a, b, c) + area(b, a, d)) * (1.0 - 1e-9)
