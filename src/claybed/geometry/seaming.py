"""Making two sheets share every edge: the last, local step after each was cut on its own.

Cutting rounds plan points to the lattice, so an edge that one side kept whole may run within a lattice step
of a corner that the other side made. Such an edge is split at that corner, and the triangle behind it with
it.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from claybed.geometry.lattice import Lattice, distinct, twice_plan_area
from claybed.geometry.sheet import Sheet, edge_keys, unmated, used_twice

MAX_SPLITS = 40
# A rounded corner lies at most 0.71 lattice steps off the line it was made on; bent twice, within two.
REACH_UNITS = 2.0
TOUCH_UNITS = 0.75
MOST_STEPS = 12


def odd_edges(top: Sheet, bottom: Sheet) -> tuple[Lattice, tuple[Lattice, Lattice]]:
    """Directed edges (coded from * n + to) that have no mate in their sheet and no equal in the other's
    outline.

    An edge used twice in one direction is odd too. Also returns each sheet's unmated edges.
    """
    n = len(top.plan)
    rims = unmated(top.faces, n), unmated(bottom.faces, n)
    twice = [used_twice(s.faces, n) for s in (top, bottom)]
    return distinct(np.concatenate([np.setxor1d(*rims, assume_unique=True), *twice])), rims


def conform(top: Sheet, bottom: Sheet) -> tuple[Sheet, Sheet]:
    """Split edges at corners that lie on them, until both sheets agree or nothing more can be split.

    An outline edge that another outline corner lies on is split as well: two faces of one sheet that meet
    along a line but divide it differently. Both sheets must share one list of plan points; whether they agree
    is for `odd_edges` to say.
    """
    sides = _Border(top), _Border(bottom)
    for _ in range(MAX_SPLITS):
        rims = sides[0].rim(), sides[1].rim()
        n = len(top.plan)
        odd = np.setxor1d(*rims, assume_unique=True)
        both = distinct(np.concatenate(rims))
        corners = distinct(np.concatenate([both // n, both % n]))
        touched = both[_corner_on(top.plan, both // n, both % n, corners, TOUCH_UNITS) >= 0]
        wanted = distinct(np.concatenate([odd, touched]))
        folded = any(len(used_twice(s.sheet.faces, n)) for s in sides)
        if not len(wanted) and not folded:
            break
        before = sides[0].sheet, sides[1].sheet
        for side, rim in zip(sides, rims, strict=True):
            side.sheet = _split_once(side.sheet, wanted[np.isin(wanted, rim)], corners)
        if all(s.sheet is b for s, b in zip(sides, before, strict=True)):
            scrapped = [_without_scraps(_without_folds(s.sheet), odd) for s in sides]
            sides[0].sheet, sides[1].sheet = _fill_slivers(scrapped[0], scrapped[1], odd, rims)
        if all(s.sheet is b for s, b in zip(sides, before, strict=True)):
            for side, rim in zip(sides, rims, strict=True):
                side.sheet = _without_thin(side.sheet, odd[np.isin(odd, rim)])
        if all(s.sheet is b for s, b in zip(sides, before, strict=True)):
            break
    return sides[0].whole(), sides[1].whole()


class _Border:
    """The triangles of a sheet that lie on its outline: the only ones that can be split, so the only ones
    looked at again.
    """

    def __init__(self, sheet: Sheet) -> None:
        n = len(sheet.plan)
        rim = unmated(sheet.faces, n)
        keys = edge_keys(sheet.faces, n)[0].reshape(3, -1)
        at = np.minimum(np.searchsorted(rim, keys), max(len(rim) - 1, 0))
        self.active = (rim[at] == keys).any(axis=0) if len(rim) else np.zeros(len(sheet.faces), bool)
        self.full = sheet
        self.sheet = Sheet(
            sheet.plan, sheet.faces[self.active], sheet.heights[self.active], sheet.origin[self.active]
        )
        # Edges towards the triangles left out have their mates there and never change.
        self.inner = np.setdiff1d(unmated(self.sheet.faces, n), rim, assume_unique=True)

    def rim(self) -> Lattice:
        """The outline as it is now."""
        return np.setdiff1d(unmated(self.sheet.faces, len(self.full.plan)), self.inner, assume_unique=True)

    def whole(self) -> Sheet:
        """The whole sheet, border and inside."""
        rest, full = ~self.active, self.full
        return Sheet(
            full.plan,
            np.concatenate([full.faces[rest], self.sheet.faces]),
            np.concatenate([full.heights[rest], self.sheet.heights]),
            np.concatenate([full.origin[rest], self.sheet.origin]),
        )


def _without_thin(sheet: Sheet, edges: Lattice) -> Sheet:
    """The sheet without triangles on an odd edge that are too thin to be split at a corner on it."""
    n, m = len(sheet.plan), len(sheet.faces)
    keys, _ = edge_keys(sheet.faces, n)
    owner = np.flatnonzero(np.isin(keys, edges)) % m
    area = twice_plan_area(sheet.plan, sheet.faces)
    reach = np.ptp(sheet.plan[sheet.faces], axis=1).max(axis=1)
    keep = np.ones(m, bool)
    keep[owner[area[owner] <= REACH_UNITS * np.maximum(reach[owner], 1)]] = False
    if keep.all():
        return sheet
    return Sheet(sheet.plan, sheet.faces[keep], sheet.heights[keep], sheet.origin[keep])


def _without_folds(sheet: Sheet) -> Sheet:
    """The sheet without slivers that lie over a neighbour: of triangles with one directed edge in common, the
    thinner goes.
    """
    n, m = len(sheet.plan), len(sheet.faces)
    twice = used_twice(sheet.faces, n)
    if not len(twice):
        return sheet
    keys, _ = edge_keys(sheet.faces, n)
    area = twice_plan_area(sheet.plan, sheet.faces)
    reach = np.ptp(sheet.plan[sheet.faces], axis=1).max(axis=1)
    keep = np.ones(m, bool)
    for edge in twice.tolist():
        rows = np.flatnonzero(keys == edge) % m
        thinnest = int(rows[np.argmin(area[rows] / np.maximum(reach[rows], 1))])
        if keep[rows].all() and area[thinnest] <= 2 * REACH_UNITS * max(int(reach[thinnest]), 1):
            keep[thinnest] = False
    return Sheet(sheet.plan, sheet.faces[keep], sheet.heights[keep], sheet.origin[keep])


def _without_scraps(sheet: Sheet, odd: Lattice) -> Sheet:
    """The sheet without slivers that hang on nothing: patches with no edge but odd ones, thinner than
    rounding can make them.
    """
    n, m = len(sheet.plan), len(sheet.faces)
    keys, mates = edge_keys(sheet.faces, n)
    order = np.argsort(keys, kind="stable")
    at = np.minimum(np.searchsorted(keys[order], mates), max(len(keys) - 1, 0))
    met = keys[order][at] == mates
    number = np.arange(len(keys)) % m
    graph = coo_matrix(
        (np.ones(int(met.sum()), np.int8), (number[met], number[order[at[met]]])), shape=(m, m)
    )
    _, patch = connected_components(graph, directed=False)
    bad = np.bincount(patch[number], weights=~met & ~np.isin(keys, odd)) > 0
    area = np.bincount(patch, weights=twice_plan_area(sheet.plan, sheet.faces).astype(np.float64))
    corner = sheet.plan[sheet.faces]
    reach = np.zeros(len(area), np.int64)
    np.maximum.at(reach, patch, np.ptp(corner, axis=1).max(axis=1))
    keep = (bad | (area > 2 * REACH_UNITS * np.maximum(reach, 1)))[patch]
    if keep.all():
        return sheet
    return Sheet(sheet.plan, sheet.faces[keep], sheet.heights[keep], sheet.origin[keep])


def _split_once(sheet: Sheet, edges: Lattice, corners: NDArray[np.int64]) -> Sheet:
    """Split each triangle that owns one of the `edges` at one of the `corners` lying on that edge, at most
    once.
    """
    n = len(sheet.plan)
    node = _corner_on(sheet.plan, edges // n, edges % n, corners, REACH_UNITS)
    edges, node = edges[node >= 0], node[node >= 0]
    if not len(edges):
        return sheet
    keys, _ = edge_keys(sheet.faces, n)
    order = np.argsort(keys, kind="stable")
    at = order[np.searchsorted(keys[order], edges)]
    count = len(sheet.faces)
    owner, first = at % count, at // count
    owner, pick = np.unique(owner, return_index=True)
    first, node = first[pick], node[pick]
    rows = np.arange(len(owner))
    a, b, c = (sheet.faces[owner, (first + k) % 3] for k in range(3))
    za, zb, zc = (sheet.heights[owner, (first + k) % 3] for k in range(3))
    pa, pb, pm = sheet.plan[a].astype(float), sheet.plan[b].astype(float), sheet.plan[node].astype(float)
    along = pb - pa
    t = np.clip(((pm - pa) * along).sum(axis=1) / (along**2).sum(axis=1), 0.0, 1.0)
    zm = np.rint(za + t * (zb - za)).astype(np.int64)
    one = np.stack([a, node, c], axis=1).astype(np.int32)
    two = np.stack([node, b, c], axis=1).astype(np.int32)
    good = (twice_plan_area(sheet.plan, one) > 0) & (twice_plan_area(sheet.plan, two) > 0)
    if not good.any():
        return sheet
    rows = rows[good]
    faces, heights = sheet.faces.copy(), sheet.heights.copy()
    faces[owner[rows]] = one[rows]
    heights[owner[rows]] = np.stack([za, zm, zc], axis=1)[rows]
    return Sheet(
        sheet.plan,
        np.concatenate([faces, two[rows]]),
        np.concatenate([heights, np.stack([zm, zb, zc], axis=1)[rows]]),
        np.concatenate([sheet.origin, sheet.origin[owner[rows]]]),
    )


def _fill_slivers(
    top: Sheet, bottom: Sheet, odd: Lattice, rims: tuple[Lattice, Lattice]
) -> tuple[Sheet, Sheet]:
    """Close slivers between outlines that differ: one has a straight edge where the other takes a few steps.

    Whichever sheet lacks a corner of the sliver gets it as a triangle.
    """
    n = len(top.plan)
    sheets = [top, bottom]
    odds = [set(odd[np.isin(odd, r)].tolist()) for r in rims]
    for mine, theirs in ((0, 1), (1, 0), (0, 0), (1, 1)):
        following: dict[int, list[int]] = {}
        for code in odds[mine]:
            following.setdefault(code // n, []).append(code % n)
        for straight in sorted(odds[theirs]):
            # Within one sheet the straight edge runs the other way, along the far side of a crack.
            a, b = (straight // n, straight % n) if mine != theirs else (straight % n, straight // n)
            path = _steps(following, a, b)
            if path is None or not _thin(top.plan, [a, *path, b]):
                continue
            if _bridge(sheets, mine, theirs if mine != theirs else None, a, path, b):
                steps = [a, *path, b]
                odds[mine] -= {p * n + q for p, q in pairwise(steps)}
                odds[theirs].discard(straight)
    return sheets[0], sheets[1]


def _steps(following: dict[int, list[int]], a: int, b: int) -> list[int] | None:
    """Corners between a and b along odd edges, when there is one way of a few steps; None otherwise."""
    path: list[int] = []
    here = a
    for _ in range(MOST_STEPS):
        nexts = following.get(here, [])
        if len(nexts) != 1:
            return None
        here = nexts[0]
        if here == b:
            return path or None
        path.append(here)
    return None


def _thin(plan: Lattice, corners: list[int]) -> bool:
    """Whether points lie within rounding of the line between the first and the last."""
    p = plan[corners].astype(np.float64)
    along = p[-1] - p[0]
    length = float(np.hypot(*along))
    if length == 0.0:
        return False
    off = (along[0] * (p[:, 1] - p[0, 1]) - along[1] * (p[:, 0] - p[0, 0])) / length
    return bool(np.abs(off).max() <= 2.0 * REACH_UNITS)


def _bridge(sheets: list[Sheet], mine: int, theirs: int | None, a: int, path: list[int], b: int) -> bool:
    """Fill between the path and the straight edge a-b, a triangle at a time; whether all of it was filled."""
    plan = sheets[mine].plan
    nodes = [a, *path, b]
    while len(nodes) > 2:
        for i in range(1, len(nodes) - 1):
            ear = (nodes[i - 1], nodes[i + 1], nodes[i])
            if twice_plan_area(plan, np.array([ear]))[0] > 0 and _has_room(sheets[mine], ear):
                sheets[mine] = _with_triangle(sheets[mine], ear)
                del nodes[i]
                break
        else:
            wedge = (nodes[0], nodes[1], nodes[-1])
            if theirs is None or twice_plan_area(plan, np.array([wedge]))[0] <= 0:
                return False
            if not _has_room(sheets[theirs], wedge):
                return False
            sheets[theirs] = _with_triangle(sheets[theirs], wedge)
            del nodes[0]
    return True


def _has_room(sheet: Sheet, corners: tuple[int, int, int]) -> bool:
    """Whether a new triangle would touch the sheet, and none of its directed edges belong to one already."""
    touching = np.isin(sheet.faces, corners).sum(axis=1)
    if not touching.any():
        return False
    near = sheet.faces[touching >= 2]
    keys, _ = edge_keys(near, len(sheet.plan))
    a, b, c = corners
    n = len(sheet.plan)
    return not bool(np.isin([a * n + b, b * n + c, c * n + a], keys).any())


def _with_triangle(sheet: Sheet, corners: tuple[int, int, int]) -> Sheet:
    """The sheet with one more triangle, each corner at the height the sheet has nearest to it in plan."""
    heights = []
    for corner in corners:
        row, column = np.nonzero(sheet.faces == corner)
        if len(row):
            heights.append(int(sheet.heights[row[0], column[0]]))
        else:
            used = np.unique(sheet.faces[np.isin(sheet.faces, corners).any(axis=1)])
            near = used[np.argmin(np.abs(sheet.plan[used] - sheet.plan[corner]).max(axis=1))]
            row, column = np.nonzero(sheet.faces == near)
            heights.append(int(sheet.heights[row[0], column[0]]))
    owner = np.flatnonzero(np.isin(sheet.faces, corners).any(axis=1))[:1]
    return Sheet(
        sheet.plan,
        np.concatenate([sheet.faces, np.array([corners], np.int32)]),
        np.concatenate([sheet.heights, np.array([heights], np.int64)]),
        np.concatenate([sheet.origin, sheet.origin[owner]]),
    )


def _corner_on(
    plan: Lattice, a: NDArray[np.int64], b: NDArray[np.int64], corners: NDArray[np.int64], reach: float
) -> NDArray[np.int64]:
    """For each plan edge a-b the corner nearest its middle that lies on it within `reach` lattice steps, or
    -1.
    """
    found = np.full(len(a), -1, np.int64)
    if not len(a):
        return found
    tree = cKDTree(plan[corners].astype(np.float64))
    pa, pb = plan[a].astype(np.float64), plan[b].astype(np.float64)
    middle, half = (pa + pb) / 2.0, np.linalg.norm(pb - pa, axis=1) / 2.0
    crowd = tree.query_ball_point(middle, half + reach, return_length=True)
    for k in np.flatnonzero(crowd > 2):
        near = corners[tree.query_ball_point(middle[k], half[k] + reach)]
        near = near[(near != a[k]) & (near != b[k])]
        along = pb[k] - pa[k]
        rel = plan[near] - pa[k]
        t = rel @ along / float(along @ along)
        off = np.abs(rel - t[:, None] * along).max(axis=1)
        good = (t > 0.0) & (t < 1.0) & (off <= reach)
        if good.any():
            found[k] = near[good][np.argmin(np.abs(t[good] - 0.5))]
    return found
