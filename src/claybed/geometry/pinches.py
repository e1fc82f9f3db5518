"""Closing the outline where it touches itself: there the model would touch itself along an upright line."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.halfedges import side_ends
from claybed.geometry.lattice import Lattice
from claybed.geometry.mesh import Origin
from claybed.geometry.sheet import Sheet, sides_of

# A gap between two parts of the outline is closed when it is nowhere wider than this, in lattice steps.
WIDEST_UNITS = 12.0
ROUNDS = 4

_Gap = tuple[int, int, int]


def close_pinches(top: Sheet, bottom: Sheet) -> tuple[Sheet, Sheet]:
    """Fill the narrowest gap at plan points through which the common outline of two sheets runs twice.

    The gap becomes a cell of both sheets, named fill, as high and as low as its neighbours.
    """
    for _ in range(ROUNDS):
        gaps = _gaps(top)
        if not gaps:
            break
        top, bottom = _closed(top, gaps, max), _closed(bottom, gaps, min)
    return top, bottom


def _gaps(sheet: Sheet) -> list[_Gap]:
    """Triangles (point, before, after) outside the outline, no two with a corner in common."""
    rim = side_ends(sheet.faces, sides_of(sheet).lone)
    points, count = np.unique(rim[:, 0], return_counts=True)
    corners = sheet.plan[points]
    gaps: list[_Gap] = []
    busy: set[int] = set()
    for p in points[count > 1].tolist():
        found = [
            (area / max(reach, 1.0), (p, r, q))
            for r, q in _wedges(sheet.plan, rim, p)
            for area, reach in [_size(sheet.plan, p, r, q)]
            if area > 0 and not busy & {p, r, q} and _is_free(sheet.plan, corners, p, r, q)
        ]
        if found and min(found)[0] <= WIDEST_UNITS:
            gaps.append(min(found)[1])
            busy.update(gaps[-1])
    return gaps


def _wedges(plan: Lattice, rim: NDArray[np.int64], p: int) -> list[tuple[int, int]]:
    """The outline's points before and after each stretch of outside at a point, turning left."""

    def direction(q: int) -> float:
        return math.atan2(int(plan[q, 1] - plan[p, 1]), int(plan[q, 0] - plan[p, 0]))

    before, after = rim[rim[:, 1] == p, 0].tolist(), rim[rim[:, 0] == p, 1].tolist()
    pairs = []
    for r in before:
        turn = {q: (direction(q) - direction(r)) % (2.0 * math.pi) for q in after if q != r}
        if turn:
            pairs.append((r, min(turn, key=lambda q: turn[q])))
    return pairs


def _size(plan: Lattice, p: int, r: int, q: int) -> tuple[int, float]:
    """Twice the area of a plan triangle, and its reach."""
    u, v = plan[r] - plan[p], plan[q] - plan[p]
    return int(u[0] * v[1] - u[1] * v[0]), float(np.abs([u, v, v - u]).max())


def _is_free(plan: Lattice, corners: Lattice, p: int, r: int, q: int) -> bool:
    """Whether no other corner of the outline lies in a plan triangle or on its sides."""
    inside = np.ones(len(corners), bool)
    for a, b in ((plan[p], plan[r]), (plan[r], plan[q]), (plan[q], plan[p])):
        inside &= (b[0] - a[0]) * (corners[:, 1] - a[1]) - (b[1] - a[1]) * (corners[:, 0] - a[0]) >= 0
    return int(inside.sum()) <= 3


def _closed(sheet: Sheet, gaps: list[_Gap], choose: Callable[[list[int]], int]) -> Sheet:
    faces, heights = [], []
    for gap in gaps:
        near = np.flatnonzero(np.isin(sheet.faces, gap).any(axis=1))
        faces.append(gap)
        heights.append([choose(sheet.heights[near][sheet.faces[near] == point].tolist()) for point in gap])
    return Sheet(
        sheet.plan,
        np.concatenate([sheet.faces, np.array(faces, np.int32)]),
        np.concatenate([sheet.heights, np.array(heights, np.int64)]),
        np.concatenate([sheet.origin, np.full(len(gaps), int(Origin.FILL), np.uint8)]),
    )
