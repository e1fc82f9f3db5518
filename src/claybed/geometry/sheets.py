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
from numpy.typing import NDArray

from claybed.geometry.arranging import Arranger
from claybed.geometry.clearance import crossing_pairs
from claybed.geometry.crossing_depth import deepest_crossing
from claybed.geometry.lattice import Lattice, LatticeMesh, distinct_plan, plan_codes, twice_plan_area
from claybed.geometry.mesh import Origin
from claybed.geometry.overlap import Flags, PlanFaces
from claybed.geometry.seaming import conform, odd_edges
from claybed.geometry.sheet import Sheet
from claybed.geometry.thinning import thin_out

# Cutting passes before the object is nudged, and passes of parting crossed cells.
MAX_PASSES = 2
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
        top, bottom = conform(*work.sheets())
        if work.match(top, bottom):
            cut = int(work.up.cut.sum() + work.down.cut.sum())
            top, bottom = thin_out(top, bottom, _on_outline(top.plan, footprint))
            top, bottom = _uncrossed(_settle(top, highest=True), _settle(bottom, highest=False))
            return Envelope(top, bottom, cut, work.hidden)
    raise ArithmeticError("the plan arrangement did not close")


class _Side:
    """The faces that look one way, which of them are cut, and plan lines that the other side asks to be noded
    with.
    """

    def __init__(self, lat: LatticeMesh, keep: Flags, inside: Flags, *, up: bool) -> None:
        self.number = np.flatnonzero((lat.twice_area > 0 if up else lat.twice_area < 0) & keep)
        self.tri = lat.faces[self.number] if up else lat.faces[self.number][:, ::-1]
        self.bins = PlanFaces(lat.points[:, :2][self.tri].reshape(-1, 6), lat.points[:, 2][self.tri])
        self.cut = self.bins.overlapping()
        self.hidden = int(self.cut.sum())
        self.cut |= ~inside[self.tri].all(axis=1)
        self.lines = np.zeros((0, 4), np.int64)
        self.own_rim = self.lines
        self.cluster = np.full(len(self.tri), -1, np.int64)
        self._arranger = Arranger()

    def cells(self, xy: Lattice, frame: Lattice) -> tuple[Lattice, Lattice]:
        """Triangles (k, 3, 2) of the noded arrangement of the cut faces, and the cluster of each (k,)."""
        number = np.flatnonzero(self.cut)
        lines = np.concatenate([self.lines, frame])
        found, label, own = self._arranger.cells(xy[self.tri[number]], lines)
        self.cluster = np.full(len(self.tri), -1, np.int64)
        self.cluster[number] = own
        return found, label


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

    def sheets(self) -> tuple[Sheet, Sheet]:
        """Both sheets with the present choice of cut faces, over one list of plan points."""
        cells, labels = [], []
        for side in (self.up, self.down):
            own, label = side.cells(self.lat.points[:, :2], self.frame)
            if len(self.frame) and len(own):
                within = _inside_convex(own.sum(axis=1), 3 * self.footprint)
                own, label = own[within], label[within]
            cells.append(own)
            labels.append(label)
        count = len(self.plan)
        plan, index = distinct_plan(np.concatenate([self.plan, *(c.reshape(-1, 2) for c in cells)]))
        place = index[:count]
        split = count + 3 * len(cells[0])
        corners = index[count:split].reshape(-1, 3), index[split:].reshape(-1, 3)
        top = self._sheet(self.up, plan, place, cells[0], labels[0], corners[0], highest=True)
        bottom = self._sheet(self.down, plan, place, cells[1], labels[1], corners[1], highest=False)
        return top, bottom

    def _sheet(
        self,
        side: _Side,
        plan: Lattice,
        place: Lattice,
        cells: Lattice,
        label: Lattice,
        corner: Lattice,
        *,
        highest: bool,
    ) -> Sheet:
        points = self.lat.points
        thirds = cells.sum(axis=1)
        other = self.down if highest else self.up
        cover, _ = side.bins.extreme_at(thirds, highest=highest)
        beyond, _ = other.bins.extreme_at(thirds, highest=not highest)
        # A cell thinner than the lattice may have lost one of its covers in rounding: both sheets leave it
        # out.
        mine = (cover >= 0) & (beyond >= 0)
        mine[mine] = side.cluster[cover[mine]] == label[mine]
        corner, cover = corner[mine], cover[mine]
        whole = ~side.cut
        faces = np.concatenate([place[self.plan_of[side.tri[whole]]], corner]).astype(np.int32)
        heights = np.concatenate(
            [points[:, 2][side.tri[whole]], _heights_on(plan[corner], points[side.tri[cover]])]
        )
        origin = np.concatenate([self.lat.origin[side.number[whole]], self.lat.origin[side.number[cover]]])
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
        for side, own in ((self.up, rims[0]), (self.down, rims[1])):
            side.cut |= _owns_edge(xy, side.tri, a, b)
            side.own_rim = np.concatenate([a, b], axis=1)[np.isin(odd, own)]
        for side, other in ((self.up, self.down), (self.down, self.up)):
            side.lines = np.unique(np.concatenate([side.lines, other.own_rim]), axis=0)
        return False


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


def _heights_on(corners: Lattice, triangle: Lattice) -> Lattice:
    """Heights at plan corners (m, 3, 2) on the faces with points `triangle` (m, 3, 3).

    A corner at a face's corner or on its edge takes the height there, so that faces meeting in an edge agree;
    any other takes the plane's, held between the face's lowest and highest corner.
    """
    result = np.empty(corners.shape[:2], np.int64)
    for k in range(3):
        p = corners[:, k].astype(np.float64)
        best = np.full(len(p), np.inf)
        height = np.zeros(len(p))
        for e in range(3):
            a, b = triangle[:, e], triangle[:, (e + 1) % 3]
            low = (a[:, 0] < b[:, 0]) | ((a[:, 0] == b[:, 0]) & (a[:, 1] < b[:, 1]))
            a, b = np.where(low[:, None], a, b).astype(float), np.where(low[:, None], b, a).astype(float)
            along = b[:, :2] - a[:, :2]
            length2 = np.maximum((along**2).sum(axis=1), 1.0)
            t = np.clip(((p - a[:, :2]) * along).sum(axis=1) / length2, 0.0, 1.0)
            off = np.abs(a[:, :2] + t[:, None] * along - p).max(axis=1)
            nearer = off < best
            best[nearer] = off[nearer]
            height[nearer] = (a[:, 2] + t * (b[:, 2] - a[:, 2]))[nearer]
        inner = best > 1.0
        if inner.any():
            height[inner] = _plane_height(p[inner], triangle[inner].astype(np.float64))
        result[:, k] = np.rint(height).astype(np.int64)
    return result


def _plane_height(p: NDArray[np.float64], triangle: NDArray[np.float64]) -> NDArray[np.float64]:
    a, b, c = triangle[:, 0], triangle[:, 1], triangle[:, 2]
    u, v, w = b - a, c - a, p - a[:, :2]
    area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    s = (w[:, 0] * v[:, 1] - w[:, 1] * v[:, 0]) / area
    t = (u[:, 0] * w[:, 1] - u[:, 1] * w[:, 0]) / area
    z = a[:, 2] + s * u[:, 2] + t * v[:, 2]
    held: NDArray[np.float64] = np.clip(z, triangle[:, :, 2].min(axis=1), triangle[:, :, 2].max(axis=1))
    return held


def _settle(sheet: Sheet, *, highest: bool) -> Sheet:
    """Give corners that meet at one plan point within SAME_HEIGHT_UNITS one height: the higher for a top
    sheet.
    """
    points = sheet.faces.reshape(-1).astype(np.int64)
    z = sheet.heights.reshape(-1)
    order = np.lexsort((z, points))
    p, h = points[order], z[order]
    new_level = np.r_[True, (np.diff(p) != 0) | (np.diff(h) > SAME_HEIGHT_UNITS)]
    group = np.cumsum(new_level) - 1
    starts = np.flatnonzero(new_level)
    value = np.maximum.reduceat(h, starts) if highest else np.minimum.reduceat(h, starts)
    settled = np.empty_like(z)
    settled[order] = value[group]
    return Sheet(sheet.plan, sheet.faces, settled.reshape(-1, 3), sheet.origin)


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
        touches &= ~beyond[faces].all(axis=1)
    return touches
