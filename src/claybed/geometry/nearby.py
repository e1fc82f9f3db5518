"""The part of a solid that a cut can touch, closed by a stub, cut alone, and stitched to the rest again.

What a side piece takes lies beyond a level along its pull, or in shafts that open towards it. Such a place is
closed upwards: from any point of it the pull leads to no face that was left out. So the faces that meet it,
closed by a curtain that hangs straight down from their rim, hold what the whole solid holds there, and a
boolean needs to see no others. The rim keeps its lattice points, and what was left out is put back along it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.carving import TIDY_MM, Solid, Workbench
from claybed.geometry.edge_parting import edges_parted
from claybed.geometry.halfedges import Sides, bodies_of, in_use, match_sides, side_ends
from claybed.geometry.lattice import Lattice, LatticeMesh, lattice_mm, row_codes
from claybed.geometry.mesh import Floats
from claybed.geometry.slab import LatticeSolid

# Marks the faces of a stub; no face that is kept has it.
STUB = 255
# How far beyond a place faces count as meeting it, and how far below all else a curtain ends.
NEAR_MM = 0.5
CURTAIN_MM = 5.0
# How far a curtain leans in by its lower end: less than faces that were left out are clear of a shaft.
LEAN_MM = 0.2
# Faces lower than this are slivers: a cut draws corners together that are nearer than TIDY_MM. A rim is led
# round them, ring of faces by ring, no further than so many rings.
FRAIL_MM = 2.0 * TIDY_MM
MOST_RINGS = 40

Flags = NDArray[np.bool_]
# Surfaces never change, so what was matched of them holds as long as they live.
_SIDES: WeakKeyDictionary[LatticeMesh | LatticeSolid, Sides] = WeakKeyDictionary()


class StitchError(ArithmeticError):
    """A cut reached what was left out, or its rim: more has to take part in it.

    `loose_mm` are the corners (k, 3) of each body that a cut parted from the largest, where that is why.
    """

    def __init__(self, fault: str, loose_mm: Sequence[Floats] = ()) -> None:
        super().__init__(fault)
        self.loose_mm = loose_mm


@dataclass(frozen=True, slots=True, eq=False)
class Shaft:
    """A place that is open along a pull, in the frame where that is z: all over a rectangle from a floor up.

    `low_mm` and `high_mm` (x, y) of the rectangle.
    """

    low_mm: tuple[float, float]
    high_mm: tuple[float, float]
    floor_mm: float

    @staticmethod
    def around(solid: Solid) -> Shaft:
        """The shaft over all of a solid."""
        box = solid.bounding_box()
        return Shaft((box[0], box[1]), (box[3], box[4]), box[2])

    @staticmethod
    def over(points_mm: Floats) -> Shaft:
        """The shaft over all of some points (k, 3)."""
        (x, y, z), (far_x, far_y, _) = points_mm.min(axis=0).tolist(), points_mm.max(axis=0).tolist()
        return Shaft((x, y), (far_x, far_y), z)

    def widened(self, more_mm: float) -> Shaft:
        """A shaft that is wider and deeper by `more_mm`."""
        return Shaft(
            (self.low_mm[0] - more_mm, self.low_mm[1] - more_mm),
            (self.high_mm[0] + more_mm, self.high_mm[1] + more_mm),
            self.floor_mm - more_mm,
        )


@dataclass(frozen=True, slots=True, eq=False)
class Near:
    """Part of a closed surface, ready to be cut.

    `source` the whole; `inside` (m,) its faces that take part; `rim` (k, 2) its points along which they were
    cut off, as the sides of these faces run; `solid` the part with its stub, in millimetres.
    """

    source: LatticeMesh | LatticeSolid
    inside: Flags
    rim: NDArray[np.int64]
    solid: Solid

    @property
    def whole(self) -> bool:
        """Whether nothing was left out."""
        return bool(self.inside.all())


def near(
    bench: Workbench,
    source: LatticeMesh | LatticeSolid,
    rotation: Floats,
    level_mm: float,
    shafts: Sequence[Shaft] = (),
    *,
    whole: bool = False,
) -> Near:
    """The part of a closed surface that meets what lies over `level_mm` along a pull, or in one of `shafts`.

    `rotation` (3, 3) into the frame where the pull is z. With `whole` nothing is left out. Raises
    ArithmeticError when the surface is not closed.
    """
    points = lattice_mm(source.points)
    if whole:
        solid = bench.lay(points, source.faces, source.origin)
        return Near(source, np.ones(len(source.faces), bool), np.zeros((0, 2), np.int64), solid)
    placed = points @ rotation.T
    inside = _meeting(placed, source.faces, level_mm, shafts)
    inside = _with_firm_rim(points, source.faces, inside)
    if not inside.any():
        return Near(source, inside, np.zeros((0, 2), np.int64), Solid())
    own = np.flatnonzero(inside)
    mate = _sides_of(source).mate.reshape(-1, 3)[own]
    if (mate < 0).any():
        raise ArithmeticError("a surface that is cut has to be closed")
    number = np.full(len(source.faces), -1, np.int64)
    number[own] = np.arange(len(own))
    back = np.where(number[mate // 3] >= 0, 3 * number[mate // 3] + mate % 3, -1).reshape(-1)
    loops = _loops(source.faces[own], back)
    live, local = in_use(source.faces[own], len(points))
    used = np.flatnonzero(live)
    spot = np.cumsum(live) - 1
    floor_mm = float(placed[:, 2].min()) - CURTAIN_MM
    corners, faces = [points[used]], [local]
    count = len(used)
    inwards = _inwards(placed, source.faces[own], loops)
    for k, loop in enumerate(loops):
        hung = placed[loop]
        hung[:, :2] += inwards[loop]
        hung[:, 2] = floor_mm - 2.0 * k
        tip = hung.mean(axis=0) - [0.0, 0.0, 1.0]
        corners += [hung @ rotation, (tip @ rotation)[None]]
        u, low = spot[loop], count + np.arange(len(loop))
        v, low_v = np.roll(u, -1), np.roll(low, -1)
        faces += [
            np.stack([v, u, low], axis=1),
            np.stack([v, low, low_v], axis=1),
            np.stack([low_v, low, np.full(len(loop), count + len(loop))], axis=1),
        ]
        count += len(loop) + 1
    stubs = sum(len(f) for f in faces[1:])
    origin = np.concatenate([source.origin[own], np.full(stubs, STUB, np.uint8)])
    rim = [np.stack([loop, np.roll(loop, -1)], axis=1) for loop in loops]
    return Near(
        source,
        inside,
        np.concatenate(rim) if rim else np.zeros((0, 2), np.int64),
        bench.lay(np.concatenate(corners), np.concatenate(faces), origin),
    )


def _sides_of(source: LatticeMesh | LatticeSolid) -> Sides:
    """How the sides of a surface meet; matched once, though it is cut level by level and piece by piece."""
    if source not in _SIDES:
        _SIDES[source] = match_sides(source.faces, len(source.points))
    return _SIDES[source]


def _inwards(placed: Floats, faces: NDArray[np.integer], loops: Sequence[NDArray[np.int64]]) -> Floats:
    """By how much in plan (n, 2) a curtain leans into the solid from the points it hangs from, mm.

    Straight down from a ragged rim on an upright wall it would lie in that wall, folded over on itself.
    """
    normal = np.zeros_like(placed)
    rim = np.zeros(len(placed), bool)
    if loops:
        rim[np.concatenate(loops)] = True
    some = faces[rim[faces].any(axis=1)]
    corner = placed[some]
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    for k in range(3):
        np.add.at(normal, some[:, k], across)
    flat = normal[:, :2]
    length = np.linalg.norm(flat, axis=1, keepdims=True)
    lean: Floats = -LEAN_MM * flat / np.maximum(length, 1e-9)
    return lean


def body_and_crumbs(bench: Workbench, part: Near, solid: Solid) -> tuple[Solid, list[Solid]]:
    """What is left of a cut part that hangs on what was left out, and what came loose of it; for a whole
    solid its largest part and the others. Nothing at all gives an empty solid.
    """
    parts = bench.parts(solid)
    if len(parts) < 2:
        return (parts[0].solid if parts else Solid()), []
    if part.whole:
        return parts[0].solid, [p.solid for p in parts[1:]]
    held = [bool((bench.faces_of(p.solid)[2] == STUB).any()) for p in parts]
    hanging = [p.solid for p, holds in zip(parts, held, strict=True) if holds]
    loose = [p.solid for p, holds in zip(parts, held, strict=True) if not holds]
    return bench.side_by_side(hanging), loose


def stitched(bench: Workbench, part: Near, solid: Solid, *, heal: bool = False) -> LatticeSolid:
    """A cut part on the lattice, put back to what was left out; `heal` as in `carving.snapped`.

    Raises StitchError when the cut moved the rim, or what was left out no longer hangs together.
    """
    if part.whole:
        return bench.on_lattice(solid, heal=heal)
    own = bench.on_lattice(solid, heal=heal, fixed=part.source.points[part.rim[:, 0]])
    kept = own.origin != STUB
    faces = own.faces[kept]
    lone = match_sides(faces, len(own.points)).lone
    source = part.source
    if not _same_rows(
        own.points[side_ends(faces, lone)].reshape(-1, 6), source.points[part.rim].reshape(-1, 6)
    ):
        raise StitchError("a cut moved the rim of the part that was cut")
    far = source.faces[~part.inside]
    beyond = np.zeros(len(source.points), bool)
    beyond[far] = True
    shared = np.zeros(len(source.points), bool)
    shared[source.faces[part.inside]] = True
    shared &= beyond
    known = np.flatnonzero(shared)
    used = np.flatnonzero(in_use(faces, len(own.points))[0])
    codes = row_codes(np.concatenate([source.points[known], own.points[used]]))
    there, here = codes[: len(known)], codes[len(known) :]
    order = np.argsort(there, kind="stable")
    at = np.minimum(np.searchsorted(there[order], here), max(len(known) - 1, 0))
    place = np.full(len(own.points), -1, np.int64)
    old = there[order[at]] == here if len(known) else np.zeros(len(here), bool)
    place[used[old]] = known[order[at[old]]]
    fresh = used[~old]
    place[fresh] = len(source.points) + np.arange(len(fresh))
    every = np.concatenate([source.points, own.points[fresh]])
    joined = np.concatenate([far, place[faces]])
    live, index = in_use(joined, len(every))
    made = LatticeSolid(every[live], index, np.concatenate([source.origin[~part.inside], own.origin[kept]]))
    if heal:
        made = edges_parted(made)
    (_, before), (label, after) = (_outer_bodies(s) for s in (source, made))
    if len(after) > len(before):
        corners = [lattice_mm(made.points[np.unique(made.faces[label == k])]) for k in after[1:]]
        raise StitchError("a cut parted what was left out", corners)
    return made


def _meeting(placed: Floats, faces: NDArray[np.integer], level_mm: float, shafts: Sequence[Shaft]) -> Flags:
    """Which faces come near what lies over a level, or into a shaft."""
    box = np.array([[*s.low_mm, *s.high_mm, s.floor_mm] for s in shafts]).reshape(-1, 5)
    meets: Flags = _near_places(placed, faces, level_mm, box, NEAR_MM)
    return meets


@njit(cache=True, nogil=True)
def _near_places(
    placed: Floats, faces: NDArray[np.int32], level_mm: float, box: Floats, near_mm: float
) -> Flags:
    meets = np.zeros(faces.shape[0], np.bool_)
    for f in range(faces.shape[0]):
        a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
        top = max(placed[a, 2], placed[b, 2], placed[c, 2])
        if top > level_mm - near_mm:
            meets[f] = True
            continue
        for k in range(box.shape[0]):
            if top <= box[k, 4] - near_mm:
                continue
            apart = False
            for j in range(2):
                low = min(placed[a, j], placed[b, j], placed[c, j])
                high = max(placed[a, j], placed[b, j], placed[c, j])
                apart |= low > box[k, 2 + j] + near_mm or high < box[k, j] - near_mm
            if not apart:
                meets[f] = True
                break
    return meets


@njit(cache=True, nogil=True)
def _with_firm_rim(points: Floats, faces: NDArray[np.int32], inside: Flags) -> Flags:
    # Which faces take part once the rim runs clear of slivers, whose sides a cut may draw together.
    inside = inside.copy()
    ends = np.empty(points.shape[0], np.uint8)
    frail = np.empty(points.shape[0], np.bool_)
    for _ in range(MOST_RINGS):
        ends[:] = 0
        for f in range(faces.shape[0]):
            for k in range(3):
                ends[faces[f, k]] |= 1 if inside[f] else 2
        frail[:] = False
        for f in range(faces.shape[0]):
            a, b, c = faces[f, 0], faces[f, 1], faces[f, 2]
            if ends[a] != 3 and ends[b] != 3 and ends[c] != 3:
                continue
            longest = 0.0
            for u, v in ((a, b), (b, c), (c, a)):
                x, y, z = (
                    points[v, 0] - points[u, 0],
                    points[v, 1] - points[u, 1],
                    points[v, 2] - points[u, 2],
                )
                longest = max(longest, np.sqrt(x * x + y * y + z * z))
            ux, uy, uz = points[b, 0] - points[a, 0], points[b, 1] - points[a, 1], points[b, 2] - points[a, 2]
            vx, vy, vz = points[c, 0] - points[b, 0], points[c, 1] - points[b, 1], points[c, 2] - points[b, 2]
            x, y, z = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
            if np.sqrt(x * x + y * y + z * z) / max(longest, 1e-12) < FRAIL_MM:
                frail[a] = frail[b] = frail[c] = True
        more = False
        for f in range(faces.shape[0]):
            if inside[f]:
                continue
            for k in range(3):
                p = faces[f, k]
                if frail[p] and ends[p] == 3:
                    inside[f] = more = True
                    break
        if not more:
            break
    return inside


def _loops(faces: NDArray[np.integer], mate: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    """The rims of a part of a surface as closed runs of points, each run once round one umbrella at a time.

    `mate` (3 m,) the side that runs back along each side, -1 along the rim.
    """
    open_sides = np.flatnonzero(mate < 0).tolist()
    following: dict[int, int] = {}
    back = mate.tolist()
    for side in open_sides:
        turn = side - 2 if side % 3 == 2 else side + 1
        while back[turn] >= 0:
            turn = back[turn]
            turn = turn - 2 if turn % 3 == 2 else turn + 1
        following[side] = turn
    loops = []
    while following:
        side, run = next(iter(following)), []
        while side in following:
            run.append(int(faces[side // 3, side % 3]))
            side = following.pop(side)
        loops.append(np.array(run, np.int64))
    return loops


def _same_rows(one: Lattice, other: Lattice) -> bool:
    """Whether two lists hold the same rows, in whatever order."""
    if one.shape != other.shape:
        return False
    codes = row_codes(np.concatenate([one, other]))
    return bool(np.array_equal(np.sort(codes[: len(one)]), np.sort(codes[len(one) :])))


def _outer_bodies(solid: LatticeMesh | LatticeSolid) -> tuple[NDArray[np.int32], NDArray[np.int64]]:
    """The number of each face's surface (m,), and which surfaces enclose something, rather than a hollow, the
    largest first.
    """
    part, count = bodies_of(_sides_of(solid).mate)
    if count == 1:
        return part, np.zeros(1, np.int64)
    corner = lattice_mm(solid.points)[solid.faces]
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    volume = np.bincount(part, np.einsum("ij,ij->i", corner[:, 0], across), minlength=count)
    order = np.argsort(-volume, kind="stable").astype(np.int64)
    return part, order[volume[order] > 0.0]
