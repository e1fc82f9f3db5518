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
from claybed.geometry.mesh import Bytes, Floats
from claybed.geometry.slab import LatticeSolid

# Sheets nearer to each other than this, a few steps of the lattice, enclose nothing.
SLIT_MM = 0.005
# Faces whose normals differ from opposite by less than this (cosine) lie on one another; narrower ones than
# this have no normal to speak of.
OPPOSITE = -0.999
LEAST_MM2 = 1e-3
MOST_TURNS = 200


def without_slits(solid: LatticeSolid) -> LatticeSolid:
    """The closed solid without slits; the same where it has none. Points move by no more than SLIT_MM along
    each axis, onto others, and what is enclosed stays the same to SLIT_MM times the area of the slit.
    """
    points = lattice_mm(solid.points)
    faces, origin = solid.faces.copy(), solid.origin.copy()
    for _ in range(MOST_TURNS):
        mate = match_sides(faces, len(points)).mate
        folds, ends = _folds(points, faces, mate)
        if not len(folds) and not len(ends):
            break
        gone, used = np.zeros(len(faces), bool), np.zeros(len(faces), bool)
        stars = _Stars(faces)
        # Sides that were not there before, both ends of each in order.
        fresh: set[tuple[int, int]] = set()
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
            elif (min(c, d), max(c, d)) in fresh or stars.share(c, d):
                continue
            elif np.abs(points[c] - points[d]).max() < SLIT_MM and not stars.pinch(c, d):
                # Turned, the side would be shorter than a slit is wide, and no fold would go on beyond it.
                beside = np.concatenate([stars.of(c), stars.of(d)]).tolist()
                if used[beside].any():
                    continue
                c, d = stars.first(c, d, origin)
                fresh |= {(min(c, w), max(c, w)) for w in np.unique(faces[stars.of(d)]).tolist()}
                gone[[one, other]] = True
                _put_on(faces, stars.of(d), d, c)
            elif _less(points, a, b, c, d):
                faces[one], faces[other] = (a, d, c), (d, b, c)
                fresh.add((min(c, d), max(c, d)))
            else:
                continue
            turned = True
            # A face that now ends where a fin of fill did is no longer the object's.
            origin[[one, other]] = max(origin[one], origin[other])
            # What lies beside these has other mates now.
            used[[one, other, *beside]] = True
        for side in ends.tolist():
            c, d = int(faces[side // 3, side % 3]), int(faces[side // 3, (side + 1) % 3])
            near = np.concatenate([stars.of(c), stars.of(d)])
            if used[near].any() or stars.pinch(c, d):
                continue
            c, d = stars.first(c, d, origin)
            gone[[side // 3, int(mate[side]) // 3]] = turned = True
            _put_on(faces, stars.of(d), d, c)
            used[near] = True
        faces, origin = faces[~gone], origin[~gone]
        if not turned:
            break
    if faces.shape == solid.faces.shape and np.array_equal(faces, solid.faces):
        return solid
    live, kept = in_use(faces, len(points))
    return LatticeSolid(solid.points[live], kept, origin)


def _folds(
    points: Floats, faces: NDArray[np.integer], mate: NDArray[np.int32]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Sides along which two faces lie folded on one another, each told once; and the short sides of slivers
    that stand between two such faces, at the end of a slit.
    """
    corner = points[faces]
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    twice = np.linalg.norm(across, axis=1)
    normal = across / np.maximum(twice, 1e-12)[:, None]
    wide = twice > 2.0 * LEAST_MM2

    def off_mm(one: NDArray[np.int64], tip: Floats) -> Floats:
        found: Floats = np.abs(np.einsum("ij,ij->i", tip - corner[one, 0], normal[one]))
        return found

    def folded(one: NDArray[np.int64], other: NDArray[np.int64], apart_mm: Floats) -> NDArray[np.bool_]:
        flat = np.einsum("ij,ij->i", normal[one], normal[other]) < OPPOSITE
        found: NDArray[np.bool_] = wide[one] & wide[other] & flat & (apart_mm < SLIT_MM)
        return found

    side = np.flatnonzero(np.arange(len(mate)) < mate).astype(np.int64)
    back = mate[side].astype(np.int64)
    one, other = side // 3, back // 3
    # Seen from either face, since the neighbour has the same two the other way round.
    tips = points[faces[other, (back + 2) % 3]], points[faces[one, (side + 2) % 3]]
    folds = side[folded(one, other, np.minimum(off_mm(one, tips[0]), off_mm(other, tips[1])))]
    short = np.abs(np.roll(corner, -1, axis=1) - corner).max(axis=2) < SLIT_MM
    ends = np.flatnonzero(short.reshape(-1)).astype(np.int64)
    walls = [mate[3 * (ends // 3) + (ends + k) % 3].astype(np.int64) for k in (1, 2)]
    closed = (mate[ends] >= 0) & (walls[0] >= 0) & (walls[1] >= 0)
    ends, walls = ends[closed], [wall[closed] for wall in walls]
    tip = points[faces[walls[1] // 3, (walls[1] + 2) % 3]]
    return folds, ends[folded(walls[0] // 3, walls[1] // 3, off_mm(walls[0] // 3, tip))]


class _Stars:
    """Which faces meet in each point, as they were: what changed since then is told apart by its faces."""

    def __init__(self, faces: NDArray[np.integer]) -> None:
        self._faces = faces.copy()
        self._order = np.argsort(faces.reshape(-1), kind="stable")
        self._point = faces.reshape(-1)[self._order]

    def of(self, point: int) -> NDArray[np.int64]:
        """The faces of a point."""
        low, high = np.searchsorted(self._point, [point, point + 1])
        found: NDArray[np.int64] = self._order[low:high] // 3
        return found

    def first(self, c: int, d: int, origin: Bytes) -> tuple[int, int]:
        """Two points, the one that more likely lies on the object first: origins count up from that."""
        return (c, d) if origin[self.of(c)].min() <= origin[self.of(d)].min() else (d, c)

    def share(self, c: int, d: int) -> bool:
        """Whether a side joins two points."""
        return len(np.intersect1d(self.of(c), self.of(d))) > 0

    def pinch(self, c: int, d: int) -> bool:
        """Whether the surface would meet itself if two points were one: more than two are beside both."""
        both = np.intersect1d(self._faces[self.of(c)], self._faces[self.of(d)])
        return len(np.setdiff1d(both, [c, d])) > 2


def _put_on(faces: NDArray[np.integer], star: NDArray[np.int64], d: int, c: int) -> None:
    """Let the faces of point d end at point c instead."""
    own = faces[star]
    own[own == d] = c
    faces[star] = own


def _less(points: Floats, a: int, b: int, c: int, d: int) -> bool:
    """Whether faces (a, d, c) and (d, b, c) cover less than (a, b, c) and (b, a, d)."""

    def area(x: int, y: int, z: int) -> float:
        return float(np.linalg.norm(np.cross(points[y] - points[x], points[z] - points[x])))

    return area(a, d, c) + area(d, b, c) < (area(a, b, c) + area(b, a, d)) * (1.0 - 1e-9)
