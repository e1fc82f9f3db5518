"""The outside of a piece in its case: the upright planes round it, and how they lean."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from claybed.geometry.carving import TIDY_MM, Solid, triangles
from claybed.geometry.forming import closed, halved, hull, united
from claybed.geometry.halfedges import match_sides, side_ends
from claybed.geometry.mesh import Floats
from claybed.records.cases import Poured

# A corner in a plane of the block's outside lies in it to a step of the lattice or two.
ON_PLANE_MM = 0.004
# A shorter stretch of the plan is where rounding cut a corner, not a side.
_LEAST_SIDE_MM = 0.05
# Corners of the rim nearer than this along a side stand over one another.
_PLUMB_MM = 0.01
_STEP_MM = 0.1
# What is laid on a side reaches into the plaster by this, and begins there so much higher, however the
# parting side rises inwards.
_INTO_MM = 0.3
_INTO_HIGHER_MM = 0.6


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """An upright plane of the outside, `normal` (2,) . p = `offset_mm`.

    `lean_share` is how many times the draft it leans: 1 for the block's own outside, more where the piece
    is drawn aslant towards it, 0 where another piece meets it that gives no room; `met` whether one does.
    """

    normal: Floats
    offset_mm: float
    lean_share: float
    met: bool = False


def sides_of(points: Floats, block: Floats, pull: Sequence[float], draft_deg: float) -> list[Side]:
    """The upright planes around the plan of `points` (n, 3), in order round it; `block` (m, 3) holds the
    corners of all pieces, `pull` the unit vector along which the piece is drawn.
    """
    flat = points[:, :2]
    around = ConvexHull(flat)
    ends = flat[around.simplices]
    length = np.linalg.norm(ends[:, 0] - ends[:, 1], axis=1)
    found: list[Side] = []
    # The longest first: a short stretch of a plane tells badly which way it looks.
    for k in np.argsort(-length, kind="stable").tolist():
        a, b, c = around.equations[k].tolist()
        met = (np.abs(ends[k] @ side.normal - side.offset_mm) < ON_PLANE_MM for side in found)
        if length[k] < _LEAST_SIDE_MM or any(both.all() for both in met):
            continue
        normal = np.array([a, b])
        outmost = float((block[:, :2] @ normal).max()) + c < ON_PLANE_MM
        found.append(Side(normal, -c, lean_toward(normal, pull, draft_deg) if outmost else 0.0, not outmost))
    return sorted(found, key=lambda side: math.atan2(float(side.normal[1]), float(side.normal[0])))


def lean_toward(normal: Floats, pull: Sequence[float], draft_deg: float) -> float:
    """How many times the draft a side that looks along `normal` (2,) leans for a piece drawn along `pull`."""
    aslant = np.array([pull[0], pull[1]]) / pull[2]
    return max(1.0 + float(normal @ aslant) / math.tan(math.radians(draft_deg)), 0.0)


def outside(
    points: Floats, faces: NDArray[np.int32], sides: Sequence[Side]
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which corners lie on which side or beyond it, (n, sides), and which faces (m,) do."""
    normal = np.array([side.normal for side in sides])
    offset = np.array([side.offset_mm for side in sides])
    on_side = points[:, :2] @ normal.T - offset > -ON_PLANE_MM
    flags = on_side[faces].all(axis=1).any(axis=1)
    return on_side, flags


def corners_of(sides: Sequence[Side]) -> tuple[Floats, Floats]:
    """Corners (k, 2) of the plan, and by how much each moves for every mm that the sides move out."""
    ring, normals = [], []
    for one, two in zip(sides, [*sides[1:], sides[0]], strict=True):
        both = np.stack([one.normal, two.normal])
        ring.append(np.linalg.solve(both, [one.offset_mm, two.offset_mm]))
        normals.append(np.linalg.solve(both, [one.lean_share, two.lean_share]))
    return np.array(ring), np.array(normals)


def steepest_deg(poured: Poured) -> float:
    """How far the wall of a piece's outside that leans out most does, in degrees off upright."""
    ring = poured.top_outline_mm
    along = np.roll(ring, -1, axis=0) - ring
    normal = np.stack([along[:, 1], -along[:, 0]], axis=1) / np.linalg.norm(along, axis=1, keepdims=True)
    out_mm = float(((ring - poured.low_outline_mm) * normal).sum(axis=1).max())
    return math.degrees(math.atan2(out_mm, poured.top_mm - poured.low_mm))


def moved_out(
    points: Floats,
    faces: NDArray[np.int32],
    on_side: NDArray[np.bool_],
    upright: NDArray[np.bool_],
    sides: Sequence[Side],
    draft_deg: float,
) -> Floats:
    """The corners with the back moved out on every side by the draft, over the height from the lowest rim.

    The rim, where the outside meets the parting side, stays where it is, so that pieces still meet edge to
    edge; from there up every side leans, the more the higher the rim.
    """
    moved = points.copy()
    rim = np.zeros(len(points), bool)
    rim[np.intersect1d(faces[upright], faces[~upright])] = True
    rim[points[:, 2] > points[:, 2].max() - ON_PLANE_MM] = False
    normal = np.array([side.normal for side in sides])
    leans = np.array([side.lean_share for side in sides])
    top, low = float(points[:, 2].max()), float(points[np.unique(faces[upright]), 2].min())
    out_mm = math.tan(math.radians(draft_deg)) * (top - low)
    for at in np.flatnonzero(on_side.any(axis=1) & ~rim).tolist():
        own = normal[on_side[at]]
        share = (float(points[at, 2]) - low) / (top - low)
        moved[at, :2] += np.linalg.lstsq(own, share * out_mm * leans[on_side[at]], rcond=None)[0]
    return moved


def laid_on(
    points: Floats,
    faces: NDArray[np.int32],
    on_side: NDArray[np.bool_],
    sides: Sequence[Side],
    draft_deg: float,
) -> tuple[Floats, NDArray[np.int32]]:
    """The piece with wedges of plaster laid on its sides, each leaning from the rim right under it; corners
    (n, 3) and faces (m, 3).

    For a rim that rises and falls in steps, where moved corners would leave faces that look up. All that is
    laid on widens upwards, so that it leaves with the piece. Raises ArithmeticError when the piece is not
    closed.
    """
    solid = closed(points, faces)
    wedges = wedges_on(points, faces, on_side, sides, draft_deg)
    if not wedges.is_empty():
        solid = (solid + wedges).simplify(TIDY_MM)
    corners_mm, triples = triangles(solid)
    return corners_mm, triples.astype(np.int32)


def wedges_on(
    points: Floats,
    faces: NDArray[np.int32],
    on_side: NDArray[np.bool_],
    sides: Sequence[Side],
    draft_deg: float,
    *,
    over_mm: float = 0.0,
) -> Solid:
    """The wedges that lean a piece's sides, a hair into its plaster and `over_mm` on above its back; nothing
    of them lies beyond a side that stands upright.

    A side that another piece meets becomes one plane, from its lowest rim on, so that what is screwed to the
    case there lies flat; over a higher rim its wedge begins with a ledge.
    """
    top = float(points[:, 2].max())
    draft = math.tan(math.radians(draft_deg))
    wedges: list[Solid] = []
    ends: list[dict[int, float]] = []
    bases: list[float | None] = []
    ring, _ = corners_of(sides)
    for k, side in enumerate(sides):
        along = np.array([-side.normal[1], side.normal[0]])
        own = faces[on_side[faces][:, :, k].all(axis=1)]
        stretches = _rim(points @ np.array([[*along, 0.0], [0.0, 0.0, 1.0]]).T, own, top)
        steep = draft * side.lean_share
        base = min((min(one[2:]) for one in stretches), default=None) if side.met else None
        bases.append(base)
        at_ends = {}
        for begin, end, low_begin, low_end in stretches if side.lean_share > 0.0 else []:
            corners = []
            for s, low in ((begin, low_begin), (end, low_end)):
                at = side.offset_mm * side.normal + s * along
                inner = at - _INTO_MM * side.normal
                begins = low if base is None else base
                outer = at + steep * (top + over_mm - begins) * side.normal
                corners += [
                    (*at, low),
                    (*(at + steep * (low - begins) * side.normal), low),
                    (*outer, top + over_mm),
                    (*inner, min(low + _INTO_HIGHER_MM, top)),
                    (*inner, top + over_mm),
                ]
            wedges.append(hull(np.array(corners)))
        for s, low in ((one[j], one[2 + j]) for one in stretches for j in (0, 1)):
            for corner in (k - 1, k):
                if abs(float(ring[corner] @ along) - s) < 2.0 * _PLUMB_MM:
                    at_ends[corner % len(sides)] = low
        ends.append(at_ends)
    for k, corner in enumerate(ring):
        pair = (k, (k + 1) % len(sides))
        lows = [ends[j][k] for j in pair if k in ends[j]]
        if lows and max(lows) < top - 1.0:
            from_mm = [max(lows) if own is None else own for own in (bases[j] for j in pair)]
            wedges.append(
                _in_corner(corner, [sides[j] for j in pair], from_mm, max(lows), top + over_mm, draft)
            )
    laid = united(wedges)
    for side in sides:
        if not side.lean_share:
            laid, _ = halved(laid, (*side.normal, 0.0), side.offset_mm)
    return laid


def _in_corner(
    at: Floats, pair: Sequence[Side], begins: Sequence[float], low: float, top: float, draft: float
) -> Solid:
    """What two wedges, leaning from where each `begins`, leave open between them round a corner of the plan
    from `low` up.
    """
    inner = at - _INTO_MM * (pair[0].normal + pair[1].normal)
    places = [(*at, low), (*at, top), (*inner, min(low + 2.0 * _INTO_HIGHER_MM, top)), (*inner, top)]
    normals = np.stack([side.normal for side in pair])
    for level in (low, top):
        out = [draft * side.lean_share * (level - first) for side, first in zip(pair, begins, strict=True)]
        outs = [far * side.normal for far, side in zip(out, pair, strict=True)]
        places += [(*(at + far), level) for far in (*outs, np.linalg.solve(normals, out))]
    return hull(np.array(places))


def _rim(flat: Floats, faces: NDArray[np.int32], top: float) -> list[tuple[float, float, float, float]]:
    """The lower rim of the faces (m, 3) of one side: stretches from left to right, each with where it begins
    and ends and how high it lies there; `flat` (n, 2) place along the side and height of every corner.
    """
    if not len(faces):
        return []
    lone = match_sides(faces, len(flat)).lone
    lines = flat[side_ends(faces, lone)]
    lines = lines[(lines[:, :, 1] < top - ON_PLANE_MM).any(axis=1)]
    lines = np.where((lines[:, 0, 0] > lines[:, 1, 0])[:, None, None], lines[:, ::-1], lines)
    stops: list[float] = []
    for s in np.sort(lines[:, :, 0].ravel()).tolist():
        if not stops or s - stops[-1] > _PLUMB_MM:
            stops.append(s)
    found = []
    for left, right in pairwise(stops):
        middle = (left + right) / 2.0
        over = lines[(lines[:, 0, 0] < middle) & (lines[:, 1, 0] > middle)]
        if not len(over):
            continue
        rise = (over[:, 1, 1] - over[:, 0, 1]) / (over[:, 1, 0] - over[:, 0, 0])
        k = int(np.argmin(over[:, 0, 1] + rise * (middle - over[:, 0, 0])))
        own = over[k, :, 1]
        low = [float(over[k, 0, 1] + rise[k] * (s - over[k, 0, 0])) for s in (left, right)]
        # A step begins where its higher end says: what is laid on must not hang over the rim.
        low = (
            [float(own.max())] * 2 if right - left < _STEP_MM else np.clip(low, own.min(), own.max()).tolist()
        )
        if max(low) < top - ON_PLANE_MM:
            found.append((left, right, low[0], low[1]))
    return found
