"""Rebuilding the border of two sheets where rounding gave them different outlines.

What lies on the outlines that the other outline has not is a chain of plan edges that closes in itself; its
parts are places far smaller than the object. At each place one outline is kept for both sheets, its loops cut
off, and the triangles round the place are laid anew up to it. A place that is no sliver is left as it is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import numpy as np
import shapely
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.arranging import triangulate_cells
from claybed.geometry.chains import Chain, Edge, clear_of, cut_short, outlines, summed, without_loops
from claybed.geometry.closest import distances_from
from claybed.geometry.flagged import marked_corners
from claybed.geometry.halfedges import match_sides
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, Lattice, twice_plan_area
from claybed.geometry.mesh import Origin
from claybed.geometry.sheet import Sheet

# Wider than this, in lattice steps, a place is a difference of the object and not of rounding.
WIDEST_UNITS = 4.0
# Height steps to one lattice step.
Z_STEPS = Z_PER_MM / XY_PER_MM
ROUNDS = 3
# Rings of neighbours that are laid anew as well when the nearest triangles leave no room.
RINGS = 3


def mend(top: Sheet, bottom: Sheet) -> tuple[Sheet, Sheet]:
    """Give two sheets one outline wherever their outlines differ by slivers; they share their plan points."""
    for _ in range(ROUNDS):
        rims = outlines(top, bottom)
        places = _places(rims[0], rims[1])
        if not places:
            break
        patches = _Patches(top, places), _Patches(bottom, places)
        changed = False
        shares = [_shared_out(outline, places) for outline in rims]
        for place, *chains in zip(places, *shares, strict=True):
            changed = _mend_place(patches, place, chains) or changed
        if not changed:
            break
        top, bottom = patches[0].sheet(), patches[1].sheet()
    return top, bottom


def _mend_place(patches: tuple[_Patches, _Patches], place: set[Edge], chains: list[Chain]) -> bool:
    """Whether both sheets could be laid anew at one place, up to the outline of one of them, or a straight
    one.
    """
    plan = patches[0].plan
    # Where both outlines are tangled, a straight one that is as near to them will do.
    for kept in (without_loops(chains[0]), without_loops(chains[1]), cut_short(chains[0])):
        if not all(_is_sliver(plan, summed(c, kept, -1)) for c in chains):
            continue
        laid = [
            new for p, c in zip(patches, chains, strict=True) if (new := p.laid(place, c, kept)) is not None
        ]
        if len(laid) < len(patches):
            continue
        for patch, new in zip(patches, laid, strict=True):
            patch.take(new)
        return True
    return False


def _shared_out(outline: Chain, places: list[set[Edge]]) -> list[Chain]:
    """The edges of an outline that belong to each place, in one pass; a place owns both ways of its edges."""
    owner = {e: k for k, place in enumerate(places) for edge in place for e in (edge, edge[::-1])}
    shares: list[Chain] = [Counter() for _ in places]
    for edge, times in outline.items():
        if edge in owner:
            shares[owner[edge]][edge] = times
    return shares


def _places(one: Chain, other: Chain) -> list[set[Edge]]:
    """The edges on one outline only, in groups that hang together."""
    differ = list(summed(one, other, -1))
    differ += [e for chain in (one, other) for e, n in chain.items() if n > 1]
    group: dict[int, int] = {}

    def root(u: int) -> int:
        while group.setdefault(u, u) != u:
            u = group[u]
        return u

    for u, v in differ:
        group[root(u)] = root(v)
    places: dict[int, set[Edge]] = {}
    for u, v in differ:
        places.setdefault(root(u), set()).add((u, v))
    return list(places.values())


def _is_sliver(plan: Lattice, chain: Chain) -> bool:
    """Whether closed edges enclose no more than rounding can."""
    if not chain:
        return True
    ends = plan[np.array(list(chain))].astype(np.float64)
    ends -= ends[0, 0].copy()
    times = np.array(list(chain.values()))
    doubled = times * (ends[:, 0, 0] * ends[:, 1, 1] - ends[:, 0, 1] * ends[:, 1, 0])
    length = float((times * np.hypot(*(ends[:, 1] - ends[:, 0]).T)).sum())
    return abs(float(doubled.sum())) <= WIDEST_UNITS * length


class _Patches:
    """One sheet while places on it are laid anew."""

    def __init__(self, sheet: Sheet, places: Iterable[set[Edge]]) -> None:
        self.plan = sheet.plan
        self._given = sheet
        near = np.zeros(len(sheet.plan), bool)
        near[np.array([p for place in places for e in place for p in e])] = True
        for _ in range(RINGS):
            number = np.flatnonzero(marked_corners(sheet.faces, near))
            near[sheet.faces[number]] = True
        self._rest = np.ones(len(sheet.faces), bool)
        self._rest[number] = False
        # Triangles that may be laid anew, as plain lists: corners, heights, origin.
        self._own = dict(
            enumerate(
                zip(
                    sheet.faces[number].tolist(),
                    sheet.heights[number].tolist(),
                    sheet.origin[number].tolist(),
                    strict=True,
                )
            )
        )
        self._round: dict[int, set[int]] = {}
        for key, (corners, _, _) in self._own.items():
            for p in corners:
                self._round.setdefault(p, set()).add(key)
        self._next = len(self._own)

    def laid(self, place: set[Edge], chain: Chain, kept: Chain) -> tuple[set[int], list[_Triangle]] | None:
        """The triangles that go and those that come when a sheet's `chain` gives way to the `kept` one; None
        when there is no room.
        """
        points = {p for e in place for p in e}
        for _ in range(RINGS):
            old = {key for p in points for key in self._round.get(p, ())}
            if not old:
                return (set(), []) if not summed(chain, kept, -1) else None
            every: Chain = Counter()
            for key in old:
                a, b, c = self._own[key][0]
                every.update([(a, b), (b, c), (c, a)])
            border = summed(summed(every, chain, -1), kept, 1)
            # Laid across an edge between two faces, a triangle would lie on neither: such edges stay.
            kept_inside = clear_of(border, every, self.plan)
            if (new := _tiled(self.plan, border, kept_inside)) is None:
                new = _tiled(self.plan, border)
            if new is not None:
                return old, self._with_heights(new, [self._own[key] for key in old], chain)
            points = {p for key in old for p in self._own[key][0]}
        return None

    def _with_heights(self, faces: Lattice, old: list[_Triangle], chain: Chain) -> list[_Triangle]:
        corners = np.array([t[0] for t in old])
        plan, z = self.plan[corners].astype(np.float64), np.array([t[1] for t in old])
        stands: dict[int, list[int]] = {}
        named = np.array([t[2] for t in old])
        rim: list[tuple[int, int, int, int]] = []
        for points, heights, _ in old:
            for k, (p, h) in enumerate(zip(points, heights, strict=True)):
                stands.setdefault(p, []).append(h)
                if (p, points[(k + 1) % 3]) in chain:
                    rim.append((p, points[(k + 1) % 3], h, heights[(k + 1) % 3]))
        result: list[_Triangle] = []
        ends = self.plan[faces].astype(np.float64)
        over = _over(ends.mean(axis=1), plan).tolist()
        for face, at, source in zip(faces.tolist(), ends, over, strict=True):
            heights = []
            for p, xy in zip(face, at, strict=True):
                if p not in stands:
                    # A corner of the other sheet's outline: it lies along an edge of this one's.
                    height = _along(self.plan, rim, xy)
                    stands[p] = [_height_on(xy, plan[source], z[source]) if height is None else height]
                if len(stands[p]) == 1:
                    heights.append(stands[p][0])
                    continue
                guess = _height_on(xy, plan[source], z[source])
                heights.append(min(stands[p], key=lambda h: abs(h - guess)))
            if not _is_thin(at):
                heights = _on_surface(at, np.array(heights), plan, z, source).tolist()
            name = old[source][2]
            if name != int(Origin.FILL) and (named != name).any():
                own = named == name
                space = np.concatenate([at, np.array(heights)[:, None] / Z_STEPS], axis=1)
                surface = np.concatenate([plan[own], z[own][:, :, None] / Z_STEPS], axis=2)
                astray = distances_from(space, surface) > WIDEST_UNITS
                if astray.any() and _is_thin(at):
                    # A sliver to a corner that only another surface has is the wall from one to the other.
                    name = int(Origin.FILL)
                elif astray.any():
                    heights = [
                        _height_on(xy, plan[source], z[source]) if off else h
                        for xy, h, off in zip(at, heights, astray.tolist(), strict=True)
                    ]
                    space[:, 2] = np.array(heights) / Z_STEPS
                    if (distances_from(space, surface) > WIDEST_UNITS).any():
                        # It reaches off its surface whichever height it takes.
                        name = int(Origin.FILL)
            result.append((face, heights, name))
        return result

    def take(self, laid: tuple[set[int], list[_Triangle]]) -> None:
        """Exchange triangles."""
        gone, come = laid
        for key in gone:
            for p in self._own.pop(key)[0]:
                self._round[p].discard(key)
        for triangle in come:
            self._own[self._next] = triangle
            for p in triangle[0]:
                self._round.setdefault(p, set()).add(self._next)
            self._next += 1

    def sheet(self) -> Sheet:
        """The whole sheet as it is now."""
        rest, given = self._rest, self._given
        own = list(self._own.values())
        faces = np.array([t[0] for t in own], np.int32).reshape(-1, 3)
        heights = np.array([t[1] for t in own], np.int64).reshape(-1, 3)
        origin = np.array([t[2] for t in own], np.uint8)
        return Sheet(
            given.plan,
            np.concatenate([given.faces[rest], faces]),
            np.concatenate([given.heights[rest], heights]),
            np.concatenate([given.origin[rest], origin]),
        )


_Triangle = tuple[list[int], list[int], int]


def _tiled(plan: Lattice, border: Chain, inner: Sequence[Edge] = ()) -> Lattice | None:
    """Triangles (t, 3) inside closed directed edges, with corners on them and on `inner` edges only, which
    are kept; None when these cross or overlap.
    """
    if not border:
        return np.zeros((0, 3), np.int64)
    if max(border.values()) > 1:
        return None
    edges = np.array([*border, *inner])
    cells = shapely.get_parts(shapely.polygonize([shapely.multilinestrings(plan[edges].astype(np.float64))]))
    if not len(cells) or not shapely.is_valid(cells).all():
        return None
    triangles = triangulate_cells(cells)
    corners = edges.reshape(-1)
    number = {tuple(xy): p for p, xy in zip(corners.tolist(), plan[corners].tolist(), strict=True)}
    faces = np.array([[number[x, y] for x, y in t] for t in triangles.tolist()])
    if _borders(plan, faces, border):
        return faces
    # What lies to the left of the edges is inside; from there it spreads over sides that are no edge.
    used, local = np.unique(faces, return_inverse=True)
    sides = match_sides(local.reshape(-1, 3), len(used)).mate.reshape(-1, 3)
    inside = np.zeros(len(faces), bool)
    walls = [[(f[k], f[(k + 1) % 3]) in border for k in range(3)] for f in faces.tolist()]
    ahead = [i for i, w in enumerate(walls) if any(w)]
    inside[ahead] = True
    while ahead:
        i = ahead.pop()
        for k in range(3):
            j = sides[i, k] // 3
            if not walls[i][k] and j >= 0 and not inside[j]:
                inside[j] = True
                ahead.append(int(j))
    faces = faces[inside]
    return faces if _borders(plan, faces, border) else None


def _borders(plan: Lattice, faces: NDArray[np.int64], border: Chain) -> bool:
    """Whether triangles (t, 3) have the border's edges, each once, and just its area inside them."""
    sides = [e for a, b, c in faces.tolist() for e in ((a, b), (b, c), (c, a))]
    every = set(sides)
    if len(every) == len(sides):
        fits = {(a, b) for a, b in sides if (b, a) not in every} == set(border)
    else:
        fits = not summed(Counter(sides), border, -1)
    ends = plan[np.array(list(border))].tolist()
    doubled = sum(p[0] * q[1] - p[1] * q[0] for p, q in ends)
    return fits and doubled == (int(twice_plan_area(plan, faces).sum()) if len(faces) else 0)


@njit(cache=True, nogil=True)
def _over(points: NDArray[np.float64], triangles: NDArray[np.float64]) -> NDArray[np.int64]:
    # Which of counter-clockwise triangles (m, 3, 2) plan points (n, 2) lie in, or least far outside of.
    over = np.zeros(points.shape[0], np.int64)
    for n in range(points.shape[0]):
        least = np.inf
        for k in range(triangles.shape[0]):
            gap = _outside(points[n], triangles[k])
            if gap < least:
                over[n], least = k, gap
            if gap == 0.0:
                break
    return over


@njit(cache=True, nogil=True)
def _outside(point: NDArray[np.float64], corner: NDArray[np.float64]) -> float:
    # How far a plan point (2,) lies outside a counter-clockwise triangle (3, 2); 0 inside.
    inside, gap = True, np.inf
    for i in range(3):
        ax, ay = corner[i, 0], corner[i, 1]
        dx, dy = corner[(i + 1) % 3, 0] - ax, corner[(i + 1) % 3, 1] - ay
        rx, ry = point[0] - ax, point[1] - ay
        length = max(np.hypot(dx, dy), 1e-9)
        t = min(max((rx * dx + ry * dy) / length**2, 0.0), 1.0)
        gap = min(gap, np.hypot(rx - t * dx, ry - t * dy))
        inside = inside and dx * ry - dy * rx >= 0.0
    return 0.0 if inside else gap


def _is_thin(at: NDArray[np.float64]) -> bool:
    """Whether a plan triangle (3, 2) is no wider than rounding can make it."""
    (ux, uy), (vx, vy) = (at[1] - at[0]).tolist(), (at[2] - at[0]).tolist()
    longest = max(np.hypot(ux, uy), np.hypot(vx, vy), np.hypot(vx - ux, vy - uy))
    return bool(abs(ux * vy - uy * vx) <= WIDEST_UNITS * longest)


@njit(cache=True, nogil=True, error_model="numpy")
def _on_surface(
    at: NDArray[np.float64], heights: Lattice, plan: NDArray[np.float64], z: Lattice, source: int
) -> Lattice:
    # Heights of corners (3, 2) of a triangle that comes from the `source` of triangles (m, 3, 2): where one
    # stands far off that, another triangle that reaches it may be nearer. Then only a sliver ends where it
    # stood, of a surface far under or over this one.
    settled = heights.copy()
    reach = WIDEST_UNITS * (Z_STEPS + _steepness(plan[source], z[source]))
    for k in range(3):
        guess = _plane_at(at[k], plan[source], z[source])
        least = abs(guess - heights[k])
        if least <= reach:
            continue
        for i in range(plan.shape[0]):
            if _steepness(plan[i], z[i]) < np.inf and _outside(at[k], plan[i]) <= WIDEST_UNITS:
                height = _plane_at(at[k], plan[i], z[i])
                if abs(guess - height) < least:
                    least, settled[k] = abs(guess - height), round(height)
    return settled


@njit(cache=True, nogil=True, error_model="numpy")
def _steepness(corner: NDArray[np.float64], z: Lattice) -> float:
    # How much a triangle rises over its least width in plan; no end of it where that is rounding.
    long2, area = 0.0, 0.0
    for i in range(3):
        ux, uy = corner[(i + 1) % 3, 0] - corner[i, 0], corner[(i + 1) % 3, 1] - corner[i, 1]
        vx, vy = corner[(i + 2) % 3, 0] - corner[i, 0], corner[(i + 2) % 3, 1] - corner[i, 1]
        long2 = max(long2, ux * ux + uy * uy)
        area = abs(ux * vy - uy * vx)
    width = area / np.sqrt(long2)
    steep: float = (max(z) - min(z)) / width if width > WIDEST_UNITS else np.inf
    return steep


def _along(plan: Lattice, rim: list[tuple[int, int, int, int]], at: NDArray[np.float64]) -> int | None:
    """Height at a plan point on the nearest of edges (from, to, heights there); None when none is near."""
    best, height = WIDEST_UNITS, None
    for u, v, zu, zv in rim:
        a, b = plan[u].astype(np.float64), plan[v].astype(np.float64)
        along = b - a
        t = float(np.clip((at - a) @ along / float(along @ along), 0.0, 1.0))
        gap = float(np.hypot(*(at - a - t * along)))
        if gap < best:
            best, height = gap, round(zu + t * (zv - zu))
    return height


def _height_on(at: NDArray[np.float64], corner: NDArray[np.float64], z: Lattice) -> int:
    """Height of a triangle's plane at a plan point, held between its corners' heights."""
    return round(float(_plane_at(at, corner, z)))


@njit(cache=True, nogil=True, error_model="numpy")
def _plane_at(at: NDArray[np.float64], corner: NDArray[np.float64], z: Lattice) -> float:
    ux, uy = corner[1, 0] - corner[0, 0], corner[1, 1] - corner[0, 1]
    vx, vy = corner[2, 0] - corner[0, 0], corner[2, 1] - corner[0, 1]
    wx, wy = at[0] - corner[0, 0], at[1] - corner[0, 1]
    area = ux * vy - uy * vx
    s, t = (wx * vy - wy * vx) / area, (ux * wy - uy * wx) / area
    height = z[0] + s * (z[1] - z[0]) + t * (z[2] - z[0])
    held: float = min(max(height, float(min(z[0], z[1], z[2]))), float(max(z[0], z[1], z[2])))
    return held
