"""Making two sheets share every edge: the last, local step after each was cut on its own.

Cutting rounds plan points to the lattice, so an edge that one side kept whole may run within a lattice step of a corner
that the other side made. Such an edge is split at that corner, and the triangle behind it with it.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from claybed.geometry.lattice import Lattice, twice_plan_area
from claybed.geometry.sheet import Sheet, edge_keys

MAX_SPLITS = 40
# A rounded corner lies at most 0.71 lattice steps off the line it was made on; bent twice, within two.
REACH_UNITS = 2.0
TOUCH_UNITS = 0.75


def odd_edges(top: Sheet, bottom: Sheet) -> tuple[Lattice, tuple[Lattice, Lattice]]:
    """Directed edges (coded from * n + to) that have no mate in their sheet and no equal in the other's outline.

    An edge used twice in one direction is odd, and so is an outline edge that another outline corner lies on: two faces that
    meet along a line but divide it differently. Also returns each sheet's unmated edges.
    """
    n = len(top.plan)
    rims, twice = [], []
    for sheet in (top, bottom):
        keys, mates = edge_keys(sheet.faces, n)
        unique, counts = np.unique(keys, return_counts=True)
        rims.append(np.setdiff1d(unique, mates, assume_unique=False))
        twice.append(unique[counts > 1])
    odd = np.unique(np.concatenate([np.setxor1d(rims[0], rims[1]), *twice]))
    both = np.union1d(*rims)
    corners = np.unique(np.concatenate([both // n, both % n]))
    touched = both[_corner_on(top.plan, both // n, both % n, corners, TOUCH_UNITS) >= 0]
    return np.union1d(odd, touched), (rims[0], rims[1])


def conform(top: Sheet, bottom: Sheet) -> tuple[Sheet, Sheet]:
    """Split edges at corners that lie on them, until both sheets agree or nothing more can be split.

    Both sheets must share one list of plan points. Whether they agree is for `odd_edges` to say.
    """
    for _ in range(MAX_SPLITS):
        odd, rims = odd_edges(top, bottom)
        if not len(odd):
            break
        n = len(top.plan)
        every = np.concatenate([odd, *rims])
        corners = np.unique(np.concatenate([every // n, every % n]))
        new_top = _split_once(top, odd[np.isin(odd, rims[0])], corners)
        new_bottom = _split_once(bottom, odd[np.isin(odd, rims[1])], corners)
        if new_top is top and new_bottom is bottom:
            new_top, new_bottom = _fill_slivers(top, bottom, odd, rims)
        if new_top is top and new_bottom is bottom:
            break
        top, bottom = new_top, new_bottom
    return top, bottom


def _split_once(sheet: Sheet, edges: Lattice, corners: NDArray[np.int64]) -> Sheet:
    """Split each triangle that owns one of the `edges` at one of the `corners` lying on that edge, at most once."""
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
    """Close three-cornered slivers between outlines that differ: the sheet that lacks one gets it as a triangle."""
    n = len(top.plan)
    sheets = [top, bottom]
    odds = [set(odd[np.isin(odd, r)].tolist()) for r in rims]
    for mine, theirs in ((0, 1), (1, 0)):
        following: dict[int, list[int]] = {}
        for code in odds[mine]:
            following.setdefault(code // n, []).append(code % n)
        for first in sorted(odds[mine]):
            a, m = first // n, first % n
            for b in following.get(m, []):
                if a == b or first not in odds[mine] or m * n + b not in odds[mine]:
                    continue
                straight = a * n + b
                if straight not in odds[theirs] and b * n + a not in odds[mine]:
                    continue
                doubled = int(twice_plan_area(top.plan, np.array([[a, b, m]]))[0])
                reach = np.abs(top.plan[b] - top.plan[a]).max()
                if abs(doubled) > 2 * REACH_UNITS * max(int(reach), 1):
                    continue
                if doubled > 0:
                    sheets[mine] = _with_triangle(sheets[mine], (a, b, m))
                elif doubled < 0 and straight in odds[theirs]:
                    sheets[theirs] = _with_triangle(sheets[theirs], (a, m, b))
                else:
                    continue
                for used in (first, m * n + b):
                    odds[mine].discard(used)
                odds[theirs].discard(straight)
                odds[mine].discard(b * n + a)
    return sheets[0], sheets[1]


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
    """For each plan edge a-b the corner nearest its middle that lies on it within `reach` lattice steps, or -1."""
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
