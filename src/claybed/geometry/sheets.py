"""Height sheets over the plan: the highest and the lowest surface of a solid, as conforming integer
triangles.

The upper sheet carries, over every plan point the solid covers, its highest surface; the lower sheet its
lowest. A mold piece that rests on a sheet can only leave along the pull, so release follows from the
construction. Faces that hide nothing are taken as they are; only faces that overlap another one are cut, by
noding their edges in plan with fixed precision and letting each cell take the highest (lowest) face over it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.arranging import arranged
from claybed.geometry.cell_heights import cell_heights
from claybed.geometry.clearance import crossing_pairs
from claybed.geometry.crossing_depth import deepest_crossing
from claybed.geometry.flagged import marked_corners
from claybed.geometry.halfedges import match_sides, side_ends
from claybed.geometry.lattice import (
    Lattice,
    LatticeMesh,
    distinct_plan,
    numbered_in,
    plan_codes,
    twice_plan_area,
)
from claybed.geometry.mesh import Origin
from claybed.geometry.overlap import Flags, PlanFaces
from claybed.geometry.pinches import close_pinches
from claybed.geometry.seaming import conform, odd_edges
from claybed.geometry.sheet import Sheet, edge_keys
from claybed.geometry.thinning import thin_out
from claybed.geometry.visible import Contours

# Cutting passes before the object is nudged, and passes of parting crossed cells.
MAX_PASSES = 4
UNCROSS_PASSES = 12
# Heights at one plan point closer than this belong to one sheet; rounding of a cut sloping face is of this
# order.
SAME_HEIGHT_UNITS = 12


@dataclass(frozen=True, slots=True, eq=False)
class Envelope:
    """The highest and lowest surface of one solid over one plan, and what it cost to find them.

    `top` and `bottom` share their plan points and their outline. `cut_faces` how many faces had to be cut,
    `hidden_faces` how many overlap another one.
    """

    top: Sheet
    bottom: Sheet
    cut_faces: int
    hidden_faces: int


def envelope(lat: LatticeMesh, footprint: Lattice) -> Envelope:
    """Highest and lowest sheets of a closed lattice mesh inside a convex plan footprint.

    `footprint` (k, 2) int64, counter-clockwise; what lies outside it is clipped away.
    Raises ArithmeticError when the sheets cannot be made to match (a fault, not a property of the object).
    """
    work = _Work(lat, footprint)
    for _ in range(MAX_PASSES):
        top, bottom = conform(*work.sheets(), work.ends())
        if work.match(top, bottom):
            top, bottom = close_pinches(top, bottom)
            cut = int(work.up.cut.sum() + work.down.cut.sum())
            top, bottom = thin_out(top, bottom, _on_outline(top.plan, footprint))
            top, bottom = _uncrossed(_settle(top, highest=True), _settle(bottom, highest=False))
            return Envelope(top, bottom, cut, work.hidden)
    raise ArithmeticError("the plan arrangement did not close")


class _Side:
    """The faces that look one way: which are taken whole, which are cut, and plan lines to cut them along.

    What covers a face can change only along an edge of a face further along the pull that looks this way
    and ends there. A face that no such edge runs over is seen whole or not at all, so that only the faces
    under these edges are cut, and those the edges belong to.
    """

    def __init__(self, lat: LatticeMesh, keep: Flags, inside: Flags, *, up: bool) -> None:
        self.highest = up
        self.number = np.flatnonzero((lat.twice_area > 0 if up else lat.twice_area < 0) & keep)
        self.tri = lat.faces[self.number] if up else lat.faces[self.number][:, ::-1]
        height = lat.points[:, 2]
        corners = lat.points[:, :2][self.tri]
        self.bins = PlanFaces(corners.reshape(-1, 6), height[self.tri] if up else -height[self.tri])
        hidden = self.bins.overlapping()
        self.hidden = int(hidden.sum())
        self.cut: Flags = marked_corners(self.tri, inside) < 3
        self.whole: Flags = np.logical_not(self.cut)
        self.lines = np.zeros((0, 4), np.int64)
        self.own_rim = self.lines
        sides = match_sides(self.tri, len(lat.points))
        ends = np.union1d(sides.lone, sides.twice) if self.hidden else np.zeros(0, np.int64)
        contour = lat.points[side_ends(self.tri, ends)]
        segments = contour[:, :, :2].reshape(-1, 4)
        along = contour[:, :, 2] if up else -contour[:, :, 2]
        face, segment = self.bins.crossed_by(segments, along)
        # Where a surface ends under another, a wall along the outline turns from object into fill.
        self.ends = np.unique(side_ends(self.tri, ends))
        self.contours = Contours(self.bins, sides.mate, ends, segments, along, face, segment)
        self.cut[face] = True
        self.cut[ends[segment] // 3] = True
        unsure = np.flatnonzero(hidden & ~self.cut)
        over, _ = self.bins.extreme_at(corners[unsure].sum(axis=1), highest=True)
        self.whole[unsure[over != unsure]] = False
        self.missed: Flags = np.zeros(len(self.cut), bool)

    def cover(self, thirds: Lattice) -> Lattice:
        """The face furthest along the side's own way over each of three times a plan point; -1 for none."""
        return self.bins.extreme_at(thirds, highest=True)[0]

    def cells(self, frame: Lattice) -> Lattice:
        """Triangles (k, 3, 2) of the noded arrangement of what is seen of the cut faces' edges."""
        if not self.cut.any():
            return np.zeros((0, 3, 2), np.int64)
        return arranged(np.concatenate([self.contours.lines(self.cut), self.lines, frame]))


class _Work:
    """State of the cutting passes: both sides and the plan they share."""

    def __init__(self, lat: LatticeMesh, footprint: Lattice) -> None:
        self.lat = lat
        self.footprint = footprint
        xy = lat.points[:, :2]
        inside = _inside_convex(xy, footprint)
        clipped = not bool(inside.all())
        keep = _touches_convex(xy, lat.faces, footprint) if clipped else np.ones(len(lat.faces), bool)
        ring = np.concatenate([footprint, np.roll(footprint, -1, axis=0)], axis=1)
        self.frame = ring if clipped else ring[:0]
        self.up = _Side(lat, keep, inside, up=True)
        self.down = _Side(lat, keep, inside, up=False)
        self.hidden = self.up.hidden + self.down.hidden
        self.plan, self.plan_of = distinct_plan(xy)

    def ends(self) -> NDArray[np.int64]:
        """Plan points at the ends of contour edges."""
        return np.unique(self.plan_of[np.concatenate([self.up.ends, self.down.ends])])

    def sheets(self) -> tuple[Sheet, Sheet]:
        """Both sheets with the present choice of cut faces, over one list of plan points."""
        sides = (self.up, self.down)
        cells = [side.cells(self.frame) for side in sides]
        if len(self.frame):
            cells = [c[_inside_convex(c.sum(axis=1), 3 * self.footprint)] for c in cells]
        plan, number = numbered_in(self.plan, np.concatenate([c.reshape(-1, 2) for c in cells]))
        split = 3 * len(cells[0])
        top = self._sheet(self.up, plan, cells[0], number[:split].reshape(-1, 3))
        bottom = self._sheet(self.down, plan, cells[1], number[split:].reshape(-1, 3))
        return top, bottom

    def _sheet(self, side: _Side, plan: Lattice, cells: Lattice, corner: Lattice) -> Sheet:
        points = self.lat.points
        thirds = cells.sum(axis=1)
        other = self.down if side.highest else self.up
        cover = side.cover(thirds)
        # A cell thinner than the lattice may have lost one of its covers in rounding: both sheets leave it
        # out. A cell that the cut faces only enclose has a face that is taken whole.
        mine = (cover >= 0) & (other.cover(thirds) >= 0)
        seen = cover[mine]
        mine[mine] = side.cut[seen]
        corner, cover = corner[mine], cover[mine]
        whole = side.whole & ~side.cut
        side.missed[seen] = True
        side.missed &= ~(side.cut | side.whole)
        faces = np.concatenate([self.plan_of[side.tri[whole]], corner]).astype(np.int32)
        named = self.lat.origin[side.number[cover]]
        laid = cell_heights(plan[corner], corner, points[side.tri[cover]], named)
        heights = np.concatenate([points[:, 2][side.tri[whole]], laid])
        origin = np.concatenate([self.lat.origin[side.number[whole]], named])
        return Sheet(plan, faces, heights, origin)

    def match(self, top: Sheet, bottom: Sheet) -> bool:
        """Whether both sheets have one outline; if not, cut the faces at fault and let each side know the
        other's lines.
        """
        n = len(top.plan)
        odd, rims = odd_edges(top, bottom)
        if not len(odd):
            return True
        xy = self.lat.points[:, :2]
        a, b = top.plan[odd // n], top.plan[odd % n]
        for side, own, sheet in ((self.up, rims[0], top), (self.down, rims[1], bottom)):
            side.cut |= _owns_edge(xy, side.tri, a, b)
            # Faces that run through one another are seen in part, and no edge of theirs tells where.
            side.cut |= side.missed
            beside = sheet.plan[sheet.faces[_beside(sheet, odd)]].sum(axis=1)
            for highest in (True, False):
                over, _ = side.bins.extreme_at(beside, highest=highest)
                side.cut[over[over >= 0]] = True
            side.own_rim = np.concatenate([a, b], axis=1)[np.isin(odd, own)]
        for side, other in ((self.up, self.down), (self.down, self.up)):
            side.lines = np.unique(np.concatenate([side.lines, other.own_rim]), axis=0)
        return False


def _beside(sheet: Sheet, edges: Lattice) -> Flags:
    """Cells that have one of the plan edges (coded from * count + to), in either direction."""
    own, mate = edge_keys(sheet.faces, len(sheet.plan))
    either = (np.isin(own, edges) | np.isin(mate, edges)).reshape(3, -1)
    beside: Flags = either[0] | either[1] | either[2]
    return beside


def _owns_edge(xy: Lattice, tri: NDArray[np.int32], a: Lattice, b: Lattice) -> Flags:
    """Triangles (m, 3) that have one of the directed plan edges from `a` to `b` (k, 2), in either
    direction.
    """
    point = plan_codes(xy)
    ends = np.stack([plan_codes(a), plan_codes(b)], axis=1)
    ends.sort(axis=1)
    known, index = np.unique(ends, return_inverse=True)
    wanted = np.unique(index.reshape(-1, 2)[:, 0] * len(known) + index.reshape(-1, 2)[:, 1])
    at = np.searchsorted(known, point)
    at[at == len(known)] = 0
    local = np.where(known[at] == point, at, -1)
    owns = np.zeros(len(tri), bool)
    for i, j in ((0, 1), (1, 2), (2, 0)):
        p, q = local[tri[:, i]], local[tri[:, j]]
        code = np.minimum(p, q) * len(known) + np.maximum(p, q)
        owns |= (p >= 0) & (q >= 0) & np.isin(code, wanted)
    return owns


def _uncrossed(top: Sheet, bottom: Sheet) -> tuple[Sheet, Sheet]:
    """Lift cells of the top sheet, or lower cells of the bottom sheet, until the one is nowhere below the
    other.

    Rounding can cross them where both stand almost upright, over a strip a lattice step wide. The smaller of
    two crossing cells gives way by as much as they cross: it can only add to the model, and is named fill.
    """
    high, low = top.heights.copy(), bottom.heights.copy()
    origin_high, origin_low = top.origin.copy(), bottom.origin.copy()
    area_top = twice_plan_area(top.plan, top.faces)
    area_bottom = twice_plan_area(bottom.plan, bottom.faces)
    a, b = (np.ascontiguousarray(s.plan[s.faces].reshape(-1, 6)) for s in (top, bottom))
    for _ in range(UNCROSS_PASSES):
        pairs = crossing_pairs(a, high, b, low)
        if not len(pairs):
            return Sheet(top.plan, top.faces, high, origin_high), Sheet(
                bottom.plan, bottom.faces, low, origin_low
            )
        first, second = pairs[:, 0], pairs[:, 1]
        depth = np.array([deepest_crossing(a[i], high[i], b[j], low[j]) for i, j in pairs.tolist()], np.int64)
        lift = area_top[first] <= area_bottom[second]
        rise, fall = np.zeros(len(a), np.int64), np.zeros(len(b), np.int64)
        np.maximum.at(rise, first[lift], depth[lift])
        np.maximum.at(fall, second[~lift], depth[~lift])
        high += rise[:, None]
        low -= fall[:, None]
        origin_high[rise > 0] = int(Origin.FILL)
        origin_low[fall > 0] = int(Origin.FILL)
    raise ArithmeticError("the highest and lowest surface could not be parted")


def _settle(sheet: Sheet, *, highest: bool) -> Sheet:
    """Give corners that meet at one plan point within SAME_HEIGHT_UNITS one height: the higher for a top
    sheet. No corner moves further than that, however many stand close above one another.
    """
    heights = _levelled(sheet.faces.reshape(-1), sheet.heights.reshape(-1), len(sheet.plan), highest)
    return Sheet(sheet.plan, sheet.faces, heights.reshape(-1, 3), sheet.origin)


@njit(cache=True, nogil=True)
def _levelled(points: NDArray[np.int32], heights: Lattice, count: int, highest: bool) -> Lattice:
    starts = np.zeros(count + 1, np.int64)
    for p in points:
        starts[p + 1] += 1
    for p in range(count):
        starts[p + 1] += starts[p]
    items = np.empty(points.shape[0], np.int64)
    at = starts[:-1].copy()
    for k in range(points.shape[0]):
        p = points[k]
        # The corners of a point stand in order of height; there are only a few.
        i = at[p]
        while i > starts[p] and heights[items[i - 1]] > heights[k]:
            items[i] = items[i - 1]
            i -= 1
        items[i] = k
        at[p] += 1
    levelled = np.empty_like(heights)
    for p in range(count):
        first = starts[p]
        while first < starts[p + 1]:
            end = first
            while end < starts[p + 1] and heights[items[end]] - heights[items[first]] <= SAME_HEIGHT_UNITS:
                end += 1
            level = heights[items[end - 1 if highest else first]]
            for i in range(first, end):
                levelled[items[i]] = level
            first = end
    return levelled


def _on_outline(xy: Lattice, footprint: Lattice) -> Flags:
    """Plan points on the footprint's own edges."""
    on = np.zeros(len(xy), bool)
    for a, b in zip(footprint, np.roll(footprint, -1, axis=0), strict=True):
        on |= (b[0] - a[0]) * (xy[:, 1] - a[1]) - (b[1] - a[1]) * (xy[:, 0] - a[0]) == 0
    return on


def _inside_convex(xy: Lattice, footprint: Lattice) -> Flags:
    inside = np.ones(len(xy), bool)
    for a, b in zip(footprint, np.roll(footprint, -1, axis=0), strict=True):
        inside &= (b[0] - a[0]) * (xy[:, 1] - a[1]) - (b[1] - a[1]) * (xy[:, 0] - a[0]) >= 0
    return inside


def _touches_convex(xy: Lattice, faces: NDArray[np.int32], footprint: Lattice) -> Flags:
    """Faces that may reach into the footprint: not all three corners beyond one and the same side."""
    touches = np.ones(len(faces), bool)
    for a, b in zip(footprint, np.roll(footprint, -1, axis=0), strict=True):
        beyond = (b[0] - a[0]) * (xy[:, 1] - a[1]) - (b[1] - a[1]) * (xy[:, 0] - a[0]) <= 0
        touches &= marked_corners(faces, beyond) < 3
    return touches
