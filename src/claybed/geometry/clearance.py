"""Whether one solid can be drawn off others along a pull, decided in integers.

A solid leaves along +z for ever exactly when, over every plan point, its lowest point is nowhere below the
highest point of what stays behind: no face that looks back over a face that looks along the pull may lie
below it. Over the plan overlap of two triangles the difference of their heights is linear, so that its
least value stands at a corner of the overlap: a corner of one inside the other, or a crossing of two edges.
All of these are compared without division. Faces of one solid that do not overlap, and faces of the other
that lie exactly on them, as those of a mold do, need no comparing with neighbours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.lattice import UNITS_PER_MM, XY_PER_MM, Z_PER_MM, Lattice
from claybed.geometry.looking import looking, turned
from claybed.geometry.mesh import Floats
from claybed.geometry.overlap_depth import clip_pairs
from claybed.geometry.plan_bins import bin_triangles
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.tiling import covers_once, lying_on

# Products below this stay inside 64 bits; pairs of faces beyond it are compared in Python integers.
INT64_ROOM = 9.0e18
# The plan area in which a piece locks is united from at most this many pairs, the deepest first.
UNITED_PAIRS = 20_000
FIRST_ROOM = 1 << 14

Place = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Lock:
    """What keeps a solid from leaving along its pull.

    `pairs` of faces in each other's way, 0 when it leaves freely; `height_mm` the largest overlap along the
    pull; `lateral_mm` the diameter of the widest disk inside the plan area that locks: how far plaster
    reaches under; `at_mm` where the overlap is largest.
    """

    pairs: int
    height_mm: float
    lateral_mm: float
    at_mm: Place | None


FREE = Lock(0, 0.0, 0.0, None)


def lock_along(mover: LatticeSolid, obstacles: Sequence[LatticeSolid], pull: Sequence[float]) -> Lock:
    """What keeps `mover` from going along `pull` for ever past resting `obstacles`; exact whether it does.

    Also notices solids that share space where they stand. Raises ValueError for a pull that is not along z.
    """
    _, a, za = looking(mover, pull, along=False)
    above = [looking(o, pull, along=True) for o in obstacles]
    if not len(a) or not above:
        return FREE
    b = np.concatenate([plan for _, plan, _ in above])
    zb = np.concatenate([z for _, _, z in above])
    if covers_once(a):
        # Of faces that do not overlap one another, only the one it lies on can meet a face.
        rest = ~lying_on(a, za, b, zb)
        b, zb = b[rest], zb[rest]
    if not len(b):
        return FREE
    locked = crossing_pairs(a, za, b, zb)
    if not len(locked):
        return FREE
    return measured(a[locked[:, 0]], za[locked[:, 0]], b[locked[:, 1]], zb[locked[:, 1]], pull)


def crossing_pairs(a: Lattice, za: Lattice, b: Lattice, zb: Lattice) -> NDArray[np.int64]:
    """Numbers (k, 2) of the triangles a that lie below a triangle b somewhere on their plan overlap; exact.

    `a`, `b` (m, 6) plan corners, counter-clockwise; `za`, `zb` (m, 3) heights, lattice units.
    """
    # The highest come first in every cell, so that a triangle is done with one as soon as it lies over all
    # that follow.
    order = np.argsort(-zb.max(axis=1), kind="stable")
    b, zb = b[order], zb[order]
    bins = bin_triangles(b)
    room = FIRST_ROOM
    while True:
        pairs, large = np.empty((room, 2), np.int64), np.empty((room, 2), np.int64)
        found, wide = _locked_pairs(a, za, b, zb, *bins, pairs, large, INT64_ROOM)
        if max(found, wide) <= room:
            break
        room = max(found, wide)
    by_hand = [(i, j) for i, j in large[:wide].tolist() if least_clearance_sign(a[i], za[i], b[j], zb[j]) < 0]
    found_all: NDArray[np.int64] = np.concatenate([pairs[:found], np.array(by_hand, np.int64).reshape(-1, 2)])
    return np.stack([found_all[:, 0], order[found_all[:, 1]]], axis=1)


def least_clearance_sign(a: Lattice, za: Lattice, b: Lattice, zb: Lattice) -> int:
    """Sign of the least height of triangle a over triangle b on their plan overlap, in unbounded integers.

    `a`, `b` (6,) plan corners, counter-clockwise; `za`, `zb` (3,) heights. 1 when they share no plan area.
    """
    p = [(int(a[2 * k]), int(a[2 * k + 1]), int(za[k])) for k in range(3)]
    q = [(int(b[2 * k]), int(b[2 * k + 1]), int(zb[k])) for k in range(3)]
    for one, other in ((p, q), (q, p)):
        for k in range(3):
            if all(_side(one[k], one[(k + 1) % 3], r) <= 0 for r in other):
                return 1
    least = 1
    for one, other, sense in ((p, q, 1), (q, p, -1)):
        for v in other:
            w = [_side(one[k], one[(k + 1) % 3], v) for k in range(3)]
            if min(w) >= 0:
                over = sense * sum(w[k] * (one[(k + 2) % 3][2] - v[2]) for k in range(3))
                least = min(least, (over > 0) - (over < 0))
    for i in range(3):
        for j in range(3):
            p0, p1, q0, q1 = p[i], p[(i + 1) % 3], q[j], q[(j + 1) % 3]
            d = (p1[0] - p0[0]) * (q1[1] - q0[1]) - (p1[1] - p0[1]) * (q1[0] - q0[0])
            s = (q0[0] - p0[0]) * (q1[1] - q0[1]) - (q0[1] - p0[1]) * (q1[0] - q0[0])
            t = (q0[0] - p0[0]) * (p1[1] - p0[1]) - (q0[1] - p0[1]) * (p1[0] - p0[0])
            if d < 0:
                d, s, t = -d, -s, -t
            if d and 0 <= s <= d and 0 <= t <= d:
                over = d * (p0[2] - q0[2]) + s * (p1[2] - p0[2]) - t * (q1[2] - q0[2])
                least = min(least, (over > 0) - (over < 0))
    return least


def _side(p: tuple[int, int, int], q: tuple[int, int, int], r: tuple[int, int, int]) -> int:
    return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])


def measured(a: Lattice, za: Lattice, b: Lattice, zb: Lattice, pull: Sequence[float]) -> Lock:
    """Size and place of a lock from its pairs of faces, k of a over k of b, in floating point: only the
    extent is asked for.
    """
    middle = np.array([a[0, 0], a[0, 1]])
    shift = np.tile(middle, 3)
    rings, sizes, depth, place = clip_pairs(
        (a - shift).astype(np.float64),
        za.astype(np.float64),
        (b - shift).astype(np.float64),
        zb.astype(np.float64),
    )
    worst = int(np.argmax(depth))
    spot = np.array([[place[worst, 0] + middle[0], place[worst, 1] + middle[1], place[worst, 2]]])
    at = turned(spot, pull)[0] / UNITS_PER_MM
    deepest = np.argsort(-depth, kind="stable")[:UNITED_PAIRS]
    deepest = deepest[sizes[deepest] >= 3]
    # A lock thinner than rounding still is one: it is given the smallest width the lattice knows.
    lateral = 1.0 / XY_PER_MM
    if len(deepest):
        united = _united(_polygons(rings[deepest] / XY_PER_MM, sizes[deepest]))
        parts = [g for g in shapely.get_parts(united) if g.geom_type == "Polygon" and g.area > 0.0]
        for part in sorted(parts, key=lambda g: -float(g.area))[:50]:
            lateral = max(lateral, 2.0 * float(part.area) / float(part.length))
            # The widest disk is looked for only where there is a wider one.
            if not shapely.buffer(part, -lateral / 2.0).is_empty:
                radius = shapely.length(shapely.maximum_inscribed_circle(part, tolerance=1e-3))
                lateral = max(lateral, 2.0 * float(radius))
    height = max(float(depth[worst]), 1.0) / Z_PER_MM
    return Lock(len(a), height, lateral, (float(at[0]), float(at[1]), float(at[2])))


def _polygons(rings: Floats, sizes: Lattice) -> NDArray[np.object_]:
    """Polygons of the first `sizes` (k,) corners of rings (k, n, 2)."""
    own = np.arange(rings.shape[1]) < sizes[:, None]
    lines = shapely.linearrings(rings[own], indices=np.repeat(np.arange(len(rings)), sizes))
    return np.asarray(shapely.polygons(lines))


def _united(areas: NDArray[np.object_]) -> shapely.Geometry:
    whole = shapely.make_valid(areas)
    try:
        return shapely.union_all(whole, grid_size=1e-5)
    except shapely.errors.GEOSException:
        # Slivers among thousands now and then upset the grid; a hair wider they are like others.
        return shapely.union_all(shapely.buffer(whole, 1e-5))


@njit(cache=True, nogil=True, error_model="numpy")
def _parted_by(a: Lattice, i: int, b: Lattice, j: int) -> bool:
    # True when an edge of triangle i of a has all of triangle j of b on its outer side or on it.
    for e in range(3):
        f = (e + 1) % 3
        x, y = a[i, 2 * e], a[i, 2 * e + 1]
        dx, dy = a[i, 2 * f] - x, a[i, 2 * f + 1] - y
        if (
            dx * (b[j, 1] - y) - dy * (b[j, 0] - x) <= 0
            and dx * (b[j, 3] - y) - dy * (b[j, 2] - x) <= 0
            and dx * (b[j, 5] - y) - dy * (b[j, 4] - x) <= 0
        ):
            return True
    return False


@njit(cache=True, nogil=True, error_model="numpy")
def _same(a: Lattice, za: Lattice, i: int, b: Lattice, zb: Lattice, j: int) -> bool:
    for turn in range(3):
        if a[i, 0] == b[j, 2 * turn] and a[i, 1] == b[j, 2 * turn + 1]:
            k, m = (turn + 1) % 3, (turn + 2) % 3
            same: bool = (
                za[i, 0] == zb[j, turn]
                and za[i, 1] == zb[j, k]
                and za[i, 2] == zb[j, m]
                and a[i, 2] == b[j, 2 * k]
                and a[i, 3] == b[j, 2 * k + 1]
                and a[i, 4] == b[j, 2 * m]
                and a[i, 5] == b[j, 2 * m + 1]
            )
            return same
    return False


@njit(cache=True, nogil=True, error_model="numpy")
def _corner_below(one: Lattice, z1: Lattice, i: int, other: Lattice, z2: Lattice, j: int, sense: int) -> bool:
    # Whether a corner of triangle j inside triangle i shows a lower (sense 1) or higher (sense -1) than
    # it there.
    for v in range(3):
        x, y, h = other[j, 2 * v], other[j, 2 * v + 1], z2[j, v]
        over = 0
        inside = True
        for e in range(3):
            f = (e + 1) % 3
            w = (one[i, 2 * f] - one[i, 2 * e]) * (y - one[i, 2 * e + 1]) - (
                one[i, 2 * f + 1] - one[i, 2 * e + 1]
            ) * (x - one[i, 2 * e])
            if w < 0:
                inside = False
                break
            over += w * (z1[i, (e + 2) % 3] - h)
        if inside and sense * over < 0:
            return True
    return False


@njit(cache=True, nogil=True, error_model="numpy")
def _crossing_below(a: Lattice, za: Lattice, i: int, b: Lattice, zb: Lattice, j: int) -> bool:
    # Whether a lies below b where two of their edges cross in plan.
    for e in range(3):
        f = (e + 1) % 3
        px, py = a[i, 2 * e], a[i, 2 * e + 1]
        ux, uy = a[i, 2 * f] - px, a[i, 2 * f + 1] - py
        for g in range(3):
            h = (g + 1) % 3
            vx, vy = b[j, 2 * h] - b[j, 2 * g], b[j, 2 * h + 1] - b[j, 2 * g + 1]
            d = ux * vy - uy * vx
            if d == 0:
                continue
            rx, ry = b[j, 2 * g] - px, b[j, 2 * g + 1] - py
            s, t = rx * vy - ry * vx, rx * uy - ry * ux
            if d < 0:
                d, s, t = -d, -s, -t
            if s < 0 or s > d or t < 0 or t > d:
                continue
            if d * (za[i, e] - zb[j, g]) + s * (za[i, f] - za[i, e]) - t * (zb[j, h] - zb[j, g]) < 0:
                return True
    return False


@njit(cache=True, nogil=True, error_model="numpy")
def _bounds(a: Lattice, i: int) -> tuple[int, int, int, int]:
    return (
        min(a[i, 0], a[i, 2], a[i, 4]),
        max(a[i, 0], a[i, 2], a[i, 4]),
        min(a[i, 1], a[i, 3], a[i, 5]),
        max(a[i, 1], a[i, 3], a[i, 5]),
    )


@njit(cache=True, nogil=True, error_model="numpy")
def _locked_pairs(
    a: Lattice,
    za: Lattice,
    b: Lattice,
    zb: Lattice,
    x0: int,
    y0: int,
    cell: int,
    gx: int,
    gy: int,
    starts: Lattice,
    items: NDArray[np.int32],
    pairs: Lattice,
    large: Lattice,
    room64: float,
) -> tuple[int, int]:
    # Pairs with a below b somewhere, where b comes by falling height; pairs whose products might leave 64
    # bits are handed back undecided in `large`.
    m = b.shape[0]
    box = np.empty((m, 4), np.int64)
    top = np.empty(m, np.int64)
    for j in range(m):
        box[j, 0], box[j, 1], box[j, 2], box[j, 3] = _bounds(b, j)
        top[j] = max(zb[j, 0], zb[j, 1], zb[j, 2])
    found = 0
    wide = 0
    for i in range(a.shape[0]):
        ax, bx, ay, by = _bounds(a, i)
        low = min(za[i, 0], za[i, 1], za[i, 2])
        for cy in range(max((ay - y0) // cell, 0), min((by - y0) // cell, gy - 1) + 1):
            for cx in range(max((ax - x0) // cell, 0), min((bx - x0) // cell, gx - 1) + 1):
                c = cy * gx + cx
                for k in range(starts[c], starts[c + 1]):
                    j = items[k]
                    if low >= top[j]:
                        break
                    lx, ly = max(ax, box[j, 0]), max(ay, box[j, 2])
                    if lx >= min(bx, box[j, 1]) or ly >= min(by, box[j, 3]):
                        continue
                    # Each pair is looked at in one cell only: the one that holds the corner of their
                    # common box.
                    if (lx - x0) // cell != cx or (ly - y0) // cell != cy:
                        continue
                    if _same(a, za, i, b, zb, j) or _parted_by(a, i, b, j) or _parted_by(b, j, a, i):
                        continue
                    reach = float(
                        max(max(bx, box[j, 1]) - min(ax, box[j, 0]), max(by, box[j, 3]) - min(ay, box[j, 2]))
                    )
                    rise = float(
                        max(top[j], za[i, 0], za[i, 1], za[i, 2]) - min(low, zb[j, 0], zb[j, 1], zb[j, 2])
                    )
                    if 6.0 * reach * reach * rise > room64:
                        if wide < large.shape[0]:
                            large[wide, 0], large[wide, 1] = i, j
                        wide += 1
                    elif (
                        _corner_below(a, za, i, b, zb, j, 1)
                        or _corner_below(b, zb, j, a, za, i, -1)
                        or _crossing_below(a, za, i, b, zb, j)
                    ):
                        if found < pairs.shape[0]:
                            pairs[found, 0], pairs[found, 1] = i, j
                        found += 1
    return found, wide
