"""Making two sheets share every edge: the last, local step after each was cut on its own.

Cutting rounds plan points to the lattice, so an edge that one side kept whole may run within a lattice step
of a corner that the other side made. Such an edge is split at that corner, and the triangle behind it with
it.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.lattice import Lattice, distinct, twice_plan_area
from claybed.geometry.mending import mend
from claybed.geometry.sheet import Sheet, edge_codes, edge_keys, sides_of, unmated

MAX_SPLITS = 40
# A rounded corner lies at most 0.71 lattice steps off the line it was made on; bent twice, within two.
REACH_UNITS = 2.0
TOUCH_UNITS = 0.75


def odd_edges(top: Sheet, bottom: Sheet) -> tuple[Lattice, tuple[Lattice, Lattice]]:
    """Directed edges (coded from * n + to) that have no mate in their sheet and no equal in the other's
    outline.

    An edge used twice in one direction is odd too. Also returns each sheet's unmated edges.
    """
    n = len(top.plan)
    known = [(s.faces, sides_of(s)) for s in (top, bottom)]
    one, two = (edge_codes(faces, sides.lone, n) for faces, sides in known)
    rims = one, two
    twice = [edge_codes(faces, sides.twice, n) for faces, sides in known]
    return distinct(np.concatenate([np.setxor1d(*rims, assume_unique=True), *twice])), rims


def conform(top: Sheet, bottom: Sheet, more: NDArray[np.int64] | None = None) -> tuple[Sheet, Sheet]:
    """Split edges at corners that lie on them, then lay anew what still differs by slivers.

    An outline edge that another outline corner lies on is split as well: two faces of one sheet that meet
    along a line but divide it differently. Both sheets must share one list of plan points; whether they agree
    is for `odd_edges` to say. `more` are plan points at which the outline is to be split wherever it runs
    through them.
    """
    further = np.zeros(0, np.int64) if more is None else more
    sides = _Border(top), _Border(bottom)
    for _ in range(MAX_SPLITS):
        rims = sides[0].rim(), sides[1].rim()
        n = len(top.plan)
        odd = np.setxor1d(*rims, assume_unique=True)
        both = distinct(np.concatenate(rims))
        corners = distinct(np.concatenate([both // n, both % n, further]))
        touched = both[_corner_on(top.plan, both // n, both % n, corners, TOUCH_UNITS) >= 0]
        wanted = distinct(np.concatenate([odd, touched]))
        before = sides[0].sheet, sides[1].sheet
        for side, rim in zip(sides, rims, strict=True):
            side.sheet = _split_once(side.sheet, wanted[np.isin(wanted, rim)], corners)
        if all(s.sheet is b for s, b in zip(sides, before, strict=True)):
            break
    return mend(sides[0].whole(), sides[1].whole())


class _Border:
    """The triangles of a sheet that lie on its outline: the only ones that can be split, so the only ones
    looked at again.
    """

    def __init__(self, sheet: Sheet) -> None:
        n = len(sheet.plan)
        lone = sides_of(sheet).lone
        rim = edge_codes(sheet.faces, lone, n)
        self.active = np.zeros(len(sheet.faces), bool)
        self.active[lone // 3] = True
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


def _corner_on(
    plan: Lattice, a: NDArray[np.int64], b: NDArray[np.int64], corners: NDArray[np.int64], reach: float
) -> NDArray[np.int64]:
    """For each plan edge a-b the corner nearest its middle that lies on it within `reach` lattice steps, or
    -1.
    """
    ranked = corners[np.argsort(plan[corners, 0], kind="stable")]
    found: NDArray[np.int64] = _nearest_on(plan, a, b, ranked, reach)
    return found


@njit(cache=True, nogil=True, error_model="numpy")
def _nearest_on(plan: Lattice, a: Lattice, b: Lattice, ranked: Lattice, reach: float) -> Lattice:
    # `ranked` corners in order of x.
    x = np.empty(ranked.shape[0])
    for i in range(ranked.shape[0]):
        x[i] = plan[ranked[i], 0]
    found = np.full(a.shape[0], -1, np.int64)
    for k in range(a.shape[0]):
        ax, ay, bx, by = plan[a[k], 0], plan[a[k], 1], plan[b[k], 0], plan[b[k], 1]
        dx, dy = float(bx - ax), float(by - ay)
        length2 = dx * dx + dy * dy
        best = 1.0
        low, high = min(ay, by) - reach, max(ay, by) + reach
        for i in range(np.searchsorted(x, min(ax, bx) - reach), ranked.shape[0]):
            if x[i] > max(ax, bx) + reach:
                break
            p = ranked[i]
            if p == a[k] or p == b[k] or plan[p, 1] < low or plan[p, 1] > high:
                continue
            rx, ry = float(plan[p, 0] - ax), float(plan[p, 1] - ay)
            t = (rx * dx + ry * dy) / length2
            if t <= 0.0 or t >= 1.0 or max(abs(rx - t * dx), abs(ry - t * dy)) > reach:
                continue
            if abs(t - 0.5) < best:
                best = abs(t - 0.5)
                found[k] = p
    return found
