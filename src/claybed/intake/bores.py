"""Bores: the short passages of drain holes, cord holes and side holes, told by their two rims."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from claybed.intake.caps import Rim, rims_of
from claybed.intake.skin import Edges, Flags, Skin, areas_of, edges_of
from claybed.intake.soup import Points, Triples

WIDEST = 0.7  # across corners, of the middle one of the object's three sizes: a wider passage is an inside
SHARP_DEG = 30.0  # a convex fold beyond which a rim is an edge
BLUNT_DEG = 15.0  # the same where rims may be rounded
SOFT_DEG = 3.0  # a convex fold that belongs to a rounded rim where it turns within SOFT_RADIUS
SOFT_RADIUS = 0.04  # of the middle size
# Sines of the slope towards the axis from which a face belongs to a rounded or bevelled rim; the steeper one
# where the wall itself is hollow there.
INWARD = (0.05, 0.2)
FACING = 0.5  # how squarely the faces of a bore look at its axis, on average
FLARE = 2.0  # how far a rim may widen, of the narrowest width
_ROUNDS = 200
_PAIRED = 2


@dataclass(frozen=True, slots=True, eq=False)
class Bore:
    """A passage with two rims: `faces` (m,) flags of its faces, `rims` both ends, each ordered so that a face
    filling it looks away from the bore; `narrow_mm` (k, 3) the narrower end before it widens to a rim."""

    faces: Flags
    rims: tuple[Rim, Rim]
    narrow_mm: Points

    @property
    def width_mm(self) -> float:
        """Width across the corners of the narrowest end."""
        return float(np.linalg.norm(np.ptp(self.narrow_mm, axis=0)))


def find_bores(skin: Skin, *, soft: bool) -> list[Bore]:
    """All bores of a closed skin, narrowest first; with `soft` also those with rounded rims.

    A bore is a band of faces between two rims at which the surface folds outwards, that look at their common
    axis all round. Whether it goes through a wall is for the caller to see: the inside of a neck and the hole
    of a flat handle are bores as well. None overlap.
    """
    edges = edges_of(skin.faces, len(skin.vertices))
    if not bool((edges.count == _PAIRED).all()):
        return []
    middle_mm = float(np.sort(np.ptp(skin.vertices[np.unique(skin.faces)], axis=0))[1])
    pairs = _pairs(edges)
    normals, fold = _folds(skin, pairs, edges, SOFT_RADIUS * middle_mm if soft else 0.0)
    band = _joined(len(skin.faces), pairs[~fold])
    found = [
        bore
        for which in _rings_of_faces(skin, edges, band)
        if (bore := _bore(skin, normals, band == which, WIDEST * middle_mm)) is not None
    ]
    taken = np.zeros(len(skin.faces), bool)
    apart: list[Bore] = []
    for bore in sorted(found, key=lambda b: (b.width_mm, int(b.faces.argmax()))):
        if not (bore.faces & taken).any():
            apart.append(bore)
            taken |= bore.faces
    return apart


def _pairs(edges: Edges) -> Triples:
    """Both faces of every edge (k, 2)."""
    order = np.argsort(edges.of_side.ravel(), kind="stable")
    paired: Triples = np.repeat(np.arange(len(edges.of_side)), 3)[order].reshape(-1, 2)
    return paired


def _folds(skin: Skin, pairs: Triples, edges: Edges, radius_mm: float) -> tuple[Points, Flags]:
    """Unit normals of the faces (m, 3), and the edges (k,) at which the surface folds outwards: sharply, or
    as part of a bend tighter than `radius_mm`."""
    corners = skin.vertices[skin.faces]
    middle = corners.mean(axis=1)
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    doubled = np.linalg.norm(across, axis=1)
    normals = across / np.maximum(doubled, 1e-300)[:, None]
    a, b = pairs.T
    convex = ((middle[b] - middle[a]) * (normals[a] - normals[b])).sum(axis=1) < 0.0
    turn = np.arccos(np.clip((normals[a] * normals[b]).sum(axis=1), -1.0, 1.0))
    fold = convex & (turn > np.radians(SHARP_DEG))
    if radius_mm > 0.0:
        long = np.linalg.norm(skin.vertices[edges.ends[:, 1]] - skin.vertices[edges.ends[:, 0]], axis=1)
        longest = long[edges.of_side].max(axis=1)
        # Between two halves of one four-sided face a fold is no rim.
        halves = (long >= longest[a] * (1 - 1e-9)) & (long >= longest[b] * (1 - 1e-9))
        reach = np.minimum(doubled[a], doubled[b]) / np.maximum(long, 1e-300)
        tight = reach < turn * radius_mm
        fold |= convex & ~halves & ((tight & (turn > np.radians(SOFT_DEG))) | (turn > np.radians(BLUNT_DEG)))
    return normals, fold


def _joined(count: int, pairs: Triples) -> Triples:
    a, b = pairs.T
    graph = coo_matrix((np.ones(len(a), np.int8), (a, b)), shape=(count, count))
    return connected_components(graph, directed=False)[1].astype(np.int64)


def _rings_of_faces(skin: Skin, edges: Edges, band: Triples) -> list[int]:
    """Numbers of the bands that are ring-shaped: as many faces and points as sides, by Euler."""
    count = int(band.max()) + 1

    def each(numbers: Triples, size: int) -> Triples:
        seen = np.unique(np.repeat(band, 3) * size + numbers.ravel())
        return np.bincount(seen // size, minlength=count)

    euler = each(skin.faces, len(skin.vertices)) - each(edges.of_side, len(edges.count))
    euler += np.bincount(band, minlength=count)
    large = np.bincount(band, minlength=count) >= 6
    return np.flatnonzero((euler == 0) & large).tolist()


def _bore(skin: Skin, normals: Points, own: Flags, widest_mm: float) -> Bore | None:
    """The bore that a ring of faces is the middle of, or None."""
    rims = _rims(skin, own)
    if rims is None or min(rim.width_mm for rim in rims) > widest_mm:
        return None
    area = areas_of(skin.vertices, skin.faces[own])
    middle = skin.vertices[skin.faces[own]].mean(axis=1)
    inward = _inward(middle, rims)
    if float(area @ (normals[own] * inward).sum(axis=1)) < FACING * float(area.sum()):
        return None
    narrow = min(rims, key=lambda rim: rim.width_mm)
    if _off_axis_mm(skin.vertices[np.unique(skin.faces[own])], rims).max() > 0.5 * FLARE * narrow.width_mm:
        return None  # a chamber between two necks
    widest = FLARE * narrow.width_mm
    for lean in INWARD:
        whole = _widened(skin, normals, own, rims, widest, lean)
        wide = _rims(skin, whole)
        if wide is not None and max(rim.width_mm for rim in wide) <= widest:
            return Bore(whole, wide, skin.vertices[narrow.ring])
    return Bore(own, rims, skin.vertices[narrow.ring])


def _rims(skin: Skin, own: Flags) -> tuple[Rim, Rim] | None:
    """Both rims of a ring of faces, as the surface round it has them; None for more, or one that pinches."""
    ends = rims_of(skin.kept(own))
    if len(ends) != 2 or any(end.slit or len(np.unique(end.ring)) != len(end.ring) for end in ends):
        return None
    return _turned(ends[0]), _turned(ends[1])


def _turned(rim: Rim) -> Rim:
    return replace(rim, ring=rim.ring[::-1], normal=-rim.normal)


def _inward(points: Points, ends: tuple[Rim, Rim]) -> Points:
    """Unit vectors (n, 3) from points square to the line through the middles of two rims."""
    axis = _axis(ends)
    away = points - ends[0].middle
    square = away - (away @ axis)[:, None] * axis
    unit: Points = -square / np.maximum(np.linalg.norm(square, axis=1), 1e-300)[:, None]
    return unit


def _off_axis_mm(points: Points, ends: tuple[Rim, Rim]) -> Points:
    away = points - ends[0].middle
    off: Points = np.linalg.norm(away - np.outer(away @ (axis := _axis(ends)), axis), axis=1)
    return off


def _axis(ends: tuple[Rim, Rim]) -> Points:
    """The way through two rims: across the larger, since they may lie close together."""
    normal = ends[0].normal / np.linalg.norm(ends[0].normal)
    other = ends[1].normal / np.linalg.norm(ends[1].normal)
    axis = normal - other
    length = float(np.linalg.norm(axis))
    return axis / length if length > 1e-6 else normal


def _widened(
    skin: Skin, normals: Points, own: Flags, ends: tuple[Rim, Rim], widest_mm: float, lean: float
) -> Flags:
    """The ring of faces with the bevel or rounding of its rims: neighbours that still lean towards the axis,
    by a sine of `lean`, no farther out than half of `widest_mm`."""
    middle = skin.vertices[skin.faces].mean(axis=1)
    inward = _inward(middle, ends)
    axis = _axis(ends)
    along = (middle - ends[0].middle) @ axis
    reach = np.abs((ends[1].middle - ends[0].middle) @ axis) + widest_mm
    off = _off_axis_mm(middle, ends)
    leans = (normals * inward).sum(axis=1) > lean
    may = leans & (off < 0.5 * widest_mm) & (np.abs(along) < reach)
    if not may[~own].any():
        return own
    whole = own.copy()
    for _ in range(_ROUNDS):
        touched = np.zeros(len(skin.vertices), bool)
        touched[skin.faces[whole]] = True
        # Two corners on it: a face that shares a side, not one that touches at a point.
        more = may & ~whole & (touched[skin.faces].sum(axis=1) >= 2)
        if not more.any():
            break
        whole = whole | more
    return whole
