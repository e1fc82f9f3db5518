"""Whether spots outside an object can leave along one direction, decided for all directions there are.

What a spot may leave along is bounded by the object's outline as seen from it: sides of faces that no face
turned the same way goes on from, where nothing else lies before or behind. So a bundle of directions is
blocked throughout when one ray in it meets the object and every such side that runs through the bundle is
covered by other faces. Where the wall beside a spot has to keep draft, a bundle is blocked as well when all
of it leans too little away from that wall. Bundles are parted into four until, in each of them, one of the
spots is blocked.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.halfedges import NONE, match_sides, side_ends
from claybed.geometry.mesh import Floats, Mesh

Numbers = NDArray[np.int64]
Flags = NDArray[np.bool_]
Verdict = Literal["none", "some", "undecided"]

# A sign nearer to nothing than this share of what it is summed from is taken for unknown.
SIGN_SHARE = 1e-12
# Room around every bundle: far more than angles are rounded by, far less than any that decides.
ANGLE_ROOM = 1e-7
# Covers of a side nearer to one another than this share of its length are one: faces that meet in an edge.
JOIN_SHARE = 1e-8
LEAST_RAD = float(np.radians(0.002))
MOST_BUNDLES = 6000
# Pairs of sides and faces looked at in one bundle; with more it is parted first.
MOST_PAIRS = 400_000
# So many faces are put in one cone.
RUN = 64
# Rays of a bundle, by the share of each corner.
RAYS = np.array([[0.34, 0.33, 0.33], [0.57, 0.29, 0.14], [0.17, 0.52, 0.31], [0.23, 0.19, 0.58]])
# Turns the first bundles off the directions that edges of made shapes run along.
ASLANT = np.linalg.qr(np.array([[2.0, 0.7, -0.3], [-0.5, 1.7, 0.9], [0.4, -1.1, 2.3]]))[0]


@dataclass(frozen=True, slots=True, eq=False)
class Outlook:
    """An object as seen from a spot outside it.

    Of each face (m,): the planes `walls` (m, 3, 3) through the spot and its sides, turned to hold the face
    before them, the `room` (m, 3) that a sign of theirs needs, whether it is `sure` (m,) which way it is
    turned, and a cone around it, `way` (m, 3) and `spread` (m,) rad. Of each side (k,) that may be outline:
    the unit vectors `start` and `end` (k, 3), the arc's `pole`, the planes `first` and `last` (k, 3) that end
    it, `short` (k,) for arcs too short to have a pole, and the two faces `of` (k, 2) that meet there.

    The spot may leave only along directions that lean away from the wall with the unit normal `beside` (3,)
    by `draft_rad` or more; None where no wall is asked for draft.
    """

    walls: Floats
    room: Floats
    sure: Flags
    way: Floats
    spread: Floats
    start: Floats
    end: Floats
    pole: Floats
    first: Floats
    last: Floats
    short: Flags
    of: Numbers
    beside: Floats | None = None
    draft_rad: float = 0.0


@dataclass(frozen=True, slots=True)
class Shared:
    """`verdict` none: no direction frees all the spots; some: one does; undecided: it could not be told.

    `bundles` of directions were looked at; the narrowest is `finest_deg` from its middle to its corner.
    """

    verdict: Verdict
    bundles: int
    finest_deg: float


def outlook(mesh: Mesh, spot_mm: Floats, *, beside: Floats | None = None, draft_rad: float = 0.0) -> Outlook:
    """A closed mesh as seen from a spot (3,) mm outside it, in the mesh's frame.

    With `beside`, the unit normal (3,) of the wall that the spot stands at, the spot leaves only with
    `draft_rad` of draft on that wall, from 0 to half a right angle.
    """
    rel = mesh.vertices_mm - spot_mm
    far = np.maximum(np.linalg.norm(rel, axis=1), 1e-300)
    corner, reach = rel[mesh.faces], far[mesh.faces]
    walls = np.cross(corner, np.roll(corner, -1, axis=1))
    depth = np.einsum("ij,ij->i", walls[:, 0], corner[:, 2])
    sure = np.abs(depth) > SIGN_SHARE * reach.prod(axis=1)
    facing = np.where(sure, np.sign(depth), 0.0)
    unit = corner / reach[:, :, None]
    middle = unit.sum(axis=1)
    length = np.linalg.norm(middle, axis=1)
    way = middle / np.maximum(length, 1e-300)[:, None]
    spread = _angle(way[:, None, :], unit).max(axis=1)
    # Wider cones do not hold what lies between their corners; such a face is near all directions.
    spread[(spread > 1.5) | (length < 1e-9)] = np.pi

    mate = match_sides(mesh.faces, len(mesh.vertices_mm)).mate.astype(np.int64)
    own = np.arange(len(mate)) // 3
    paired = mate != NONE
    paired[paired] = mate[mate[paired]] == np.flatnonzero(paired)
    other = np.where(paired, mate // 3, own)
    outline = np.flatnonzero(~paired | (facing[own] == 0.0) | (facing[own] != facing[other]))
    # The two sides of one edge tell the same.
    outline = outline[~paired[outline] | (outline < mate[outline])]
    ends = side_ends(mesh.faces, outline)
    u, v = (rel[ends[:, k]] / far[ends[:, k], None] for k in (0, 1))
    pole = np.cross(u, v)
    sine = np.linalg.norm(pole, axis=1)
    short = sine < 1e-9
    pole = pole / np.where(short, 1.0, sine)[:, None]
    return Outlook(
        walls=walls * np.where(sure, facing, 1.0)[:, None, None],
        room=SIGN_SHARE * reach * np.roll(reach, -1, axis=1),
        sure=sure,
        way=way,
        spread=spread,
        start=u,
        end=v,
        pole=pole,
        first=np.cross(pole, u),
        last=np.cross(v, pole),
        short=short,
        of=np.stack([own[outline], other[outline]], axis=1),
        beside=beside,
        draft_rad=draft_rad,
    )


def free(seen: Outlook, rays: Floats) -> Flags:
    """Which rays along unit directions (r, 3) meet nothing for certain, and keep the draft that is asked."""
    # Faces that follow one another mostly lie together, so that a cone round a run of them spares most.
    begins = np.arange(0, len(seen.way), RUN)
    middle = np.add.reduceat(seen.way, begins)
    middle /= np.maximum(np.linalg.norm(middle, axis=1, keepdims=True), 1e-300)
    wide = _angle(np.repeat(middle, RUN, axis=0)[: len(seen.way)], seen.way) + seen.spread
    reach = np.minimum(np.maximum.reduceat(wide, begins) + ANGLE_ROOM, np.pi)
    clear = np.ones(len(rays), bool)
    for k, ray in enumerate(rays):
        runs = np.flatnonzero(_angle(ray, middle) <= reach)
        faces = (begins[runs, None] + np.arange(RUN)).reshape(-1)
        clear[k] = _cast(seen, ray[None], faces[faces < len(seen.way)])[1][0]
    return clear & _leaning(seen, rays)


def shared(*spots: Outlook, most: int = MOST_BUNDLES) -> Shared:
    """Whether any direction frees all of two or more spots, from their outlooks on one object; left open when
    that takes more than `most` bundles.
    """
    whole = [(np.arange(len(seen.walls)), np.arange(len(seen.start))) for seen in spots]
    stack = [(np.diag(np.array(signs) * 2.0 - 1.0) @ ASLANT, whole) for signs in np.ndindex(2, 2, 2)]
    looked, finest = 0, np.pi
    while stack:
        corners, known = stack.pop()
        middle = corners.sum(axis=0)
        middle /= np.linalg.norm(middle)
        radius = float(_angle(middle, corners).max())
        looked, finest = looked + 1, min(finest, radius)
        if looked > most:
            return Shared("undecided", looked, float(np.degrees(finest)))
        rays = RAYS @ corners
        rays /= np.linalg.norm(rays, axis=1, keepdims=True)
        if any(_too_upright(seen, middle, radius) for seen in spots):
            continue
        near, every, closed = [], np.ones(len(rays), bool), False
        for seen, (some_faces, some_sides) in zip(spots, known, strict=True):
            faces, sides = _near(seen, middle, radius, some_faces, some_sides)
            met, clear = _cast(seen, rays, faces)
            every &= clear & _leaning(seen, rays)
            near.append((faces, sides))
            closed = bool(met.any()) and _covered(seen, corners, faces, sides)
            if closed:
                break
        if closed:
            continue
        if every.any():
            return Shared("some", looked, float(np.degrees(finest)))
        if radius < LEAST_RAD:
            return Shared("undecided", looked, float(np.degrees(finest)))
        a, b, c = corners
        ab, bc, ca = (m / np.linalg.norm(m) for m in (a + b, b + c, c + a))
        stack += [(np.array(part), near) for part in ((a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))]
    return Shared("none", looked, float(np.degrees(finest)))


def _cast(seen: Outlook, rays: Floats, faces: Numbers) -> tuple[Flags, Flags]:
    """Which of some rays (r, 3) meet one of some faces (f,) for certain, and which meet none for certain."""
    met, clear = _met(np.ascontiguousarray(rays), faces, seen.walls, seen.room, seen.sure)
    return met, clear


def _leaning(seen: Outlook, rays: Floats) -> Flags:
    """Which rays (r, 3) keep the draft asked on the wall beside a spot for certain."""
    if seen.beside is None:
        return np.ones(len(rays), bool)
    leaning: Flags = rays @ seen.beside >= np.sin(seen.draft_rad) + ANGLE_ROOM
    return leaning


def _too_upright(seen: Outlook, middle: Floats, radius: float) -> bool:
    """Whether all of a cone of directions leans too little away from the wall beside a spot."""
    if seen.beside is None:
        return False
    return float(_angle(middle, seen.beside)) - radius > np.pi / 2.0 - seen.draft_rad + ANGLE_ROOM


def _near(
    seen: Outlook, middle: Floats, radius: float, faces: Numbers, sides: Numbers
) -> tuple[Numbers, Numbers]:
    """Which of some faces and sides may lie in a cone of directions."""
    reach = radius + ANGLE_ROOM
    kept = faces[_angle(middle, seen.way[faces]) <= reach + seen.spread[faces]]
    off = np.minimum(_angle(middle, seen.start[sides]), _angle(middle, seen.end[sides]))
    # Over the arc itself its circle is what is nearest; a hair beyond its ends counts as over it.
    over = (seen.first[sides] @ middle > -ANGLE_ROOM) & (seen.last[sides] @ middle > -ANGLE_ROOM)
    beside = np.arcsin(np.minimum(np.abs(seen.pole[sides] @ middle), 1.0))
    return kept, sides[np.where(over & ~seen.short[sides], beside, off) <= reach]


def _covered(seen: Outlook, corners: Floats, faces: Numbers, sides: Numbers) -> bool:
    """Whether all that runs of some sides through a bundle lies before or behind other faces, well within
    them.

    A side is the straight way from its start to its end, and every plane cuts it in one share of that way.
    """
    if not len(sides):
        return True
    if len(sides) * len(faces) > MOST_PAIRS or seen.short[sides].any():
        return False
    frame = np.cross(corners, np.roll(corners, -1, axis=0))
    frame *= np.sign(frame[0] @ corners[2])
    sure = faces[seen.sure[faces]]
    return bool(
        _sides_covered(
            frame, seen.start[sides], seen.end[sides], seen.of[sides], sure, seen.walls[sure], seen.room[sure]
        )
    )


@njit(cache=True, nogil=True)
def _met(rays: Floats, faces: Numbers, walls: Floats, room: Floats, sure: Flags) -> tuple[Flags, Flags]:
    met, clear = np.zeros(len(rays), np.bool_), np.ones(len(rays), np.bool_)
    for r in range(len(rays)):
        x, y, z = rays[r, 0], rays[r, 1], rays[r, 2]
        for f in faces:
            # Most faces lie off a ray, and the first of their planes to say so is enough.
            inside, before, behind = True, True, not sure[f]
            for k in range(3):
                side = x * walls[f, k, 0] + y * walls[f, k, 1] + z * walls[f, k, 2]
                inside = inside and side > room[f, k]
                before = before and side >= -room[f, k]
                behind = behind and side <= room[f, k]
                if not (before or behind):
                    break
            if before or behind:
                clear[r] = False
            if inside and sure[f]:
                met[r] = True
                break
    return met, clear


@njit(cache=True, nogil=True)
def _share(at_start: float, at_end: float, least: float, low: float, high: float) -> tuple[float, float]:
    # From which to which share of a way from one value to another it is `least` or more, within a stretch.
    if at_start >= least and at_end >= least:
        return low, high
    if at_start < least and at_end < least:
        return 2.0, -1.0
    cross = (least - at_start) / (at_end - at_start)
    if at_end > at_start:
        return max(low, cross), high
    return low, min(high, cross)


@njit(cache=True, nogil=True)
def _sides_covered(
    frame: Floats, start: Floats, end: Floats, of: Numbers, faces: Numbers, walls: Floats, room: Floats
) -> bool:
    begin, stop = np.empty(len(faces)), np.empty(len(faces))
    for s in range(len(start)):
        low, high = 0.0, 1.0
        u0, u1, u2, v0, v1, v2 = start[s, 0], start[s, 1], start[s, 2], end[s, 0], end[s, 1], end[s, 2]
        for k in range(3):
            x, y, z = frame[k, 0], frame[k, 1], frame[k, 2]
            low, high = _share(x * u0 + y * u1 + z * u2, x * v0 + y * v1 + z * v2, -ANGLE_ROOM, low, high)
        if high <= low:
            continue
        count = 0
        for f in range(len(faces)):
            if faces[f] == of[s, 0] or faces[f] == of[s, 1]:
                continue
            b, e = low, high
            for k in range(3):
                x, y, z = walls[f, k, 0], walls[f, k, 1], walls[f, k, 2]
                b, e = _share(x * u0 + y * u1 + z * u2, x * v0 + y * v1 + z * v2, room[f, k], b, e)
                if e <= b:
                    break
            if e > b:
                begin[count], stop[count] = b, e
                count += 1
        reached = low
        while reached < high - JOIN_SHARE:
            best = reached
            for f in range(count):
                if begin[f] <= reached + JOIN_SHARE and stop[f] > best:
                    best = stop[f]
            if best <= reached:
                return False
            reached = best
    return True


def _angle(one: Floats, two: Floats) -> Floats:
    """Angles (...) rad between unit vectors (..., 3)."""
    half = np.linalg.norm(one - two, axis=-1) / 2.0
    angle: Floats = 2.0 * np.arcsin(np.minimum(half, 1.0))
    return angle
