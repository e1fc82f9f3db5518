"""Taking out plan points that lie a lattice step or two from another: leavings of rounding, not of the
object.

Slivers one step wide are where a solid comes to touch itself. A short edge is drawn together to one of its
ends when every triangle round it keeps its area and its turning, in both sheets at once.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.flagged import marked_corners
from claybed.geometry.halfedges import side_ends
from claybed.geometry.lattice import Lattice, twice_plan_area
from claybed.geometry.sheet import Sheet

SHORT_UNITS = 1
ROUNDS = 2


def thin_out(top: Sheet, bottom: Sheet, kept: NDArray[np.bool_]) -> tuple[Sheet, Sheet]:
    """Draw short edges of two sheets together; they share their plan points, and `kept` (n,) marks points
    that must stay.

    Moves nothing by more than SHORT_UNITS lattice steps a round; heights at corners stay as they are.
    """
    for _ in range(ROUNDS):
        faces = [top.faces.astype(np.int64), bottom.faces.astype(np.int64)]
        pairs = _short_edges(top.plan, faces, kept)
        if not len(pairs):
            break
        target = _drawn_together(top.plan, faces, pairs)
        if not target:
            break
        place = np.arange(len(top.plan))
        for gone, stays in target.items():
            place[gone] = stays
        top, bottom = (_replaced(s, place) for s in (top, bottom))
    return top, bottom


def _short_edges(plan: Lattice, faces: list[NDArray[np.int64]], kept: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Pairs (k, 2): a point that may go and the near point it may go to, shortest first."""
    ends = np.concatenate([side_ends(f, _short_sides(plan, f)) for f in faces])
    pairs = np.unique(ends[~kept[ends[:, 0]]], axis=0)
    order = np.argsort(np.abs(plan[pairs[:, 0]] - plan[pairs[:, 1]]).max(axis=1), kind="stable")
    ranked: NDArray[np.int64] = pairs[order]
    return ranked


@njit(cache=True, nogil=True)
def _short_sides(plan: Lattice, faces: NDArray[np.int64]) -> NDArray[np.int64]:
    found = np.empty(64, np.int64)
    count = 0
    for f in range(faces.shape[0]):
        for k in range(3):
            a, b = faces[f, k], faces[f, (k + 1) % 3]
            if max(abs(plan[a, 0] - plan[b, 0]), abs(plan[a, 1] - plan[b, 1])) > SHORT_UNITS:
                continue
            if count == found.shape[0]:
                more = np.empty(2 * count, np.int64)
                more[:count] = found
                found = more
            found[count] = 3 * f + k
            count += 1
    return found[:count]


def _drawn_together(
    plan: Lattice, faces: list[NDArray[np.int64]], pairs: NDArray[np.int64]
) -> dict[int, int]:
    """Which points go to which others, no two of them neighbours."""
    near = np.zeros(len(plan), bool)
    near[pairs] = True
    round_about: list[dict[int, list[int]]] = []
    for f in faces:
        rows = np.flatnonzero(marked_corners(f, near))
        table: dict[int, list[int]] = {}
        for row in rows.tolist():
            for point in f[row].tolist():
                table.setdefault(point, []).append(row)
        round_about.append(table)
    busy: set[int] = set()
    target: dict[int, int] = {}
    for gone, stays in pairs.tolist():
        if gone in busy or stays in busy:
            continue
        if not all(_fits(plan, f, t, gone, stays) for f, t in zip(faces, round_about, strict=True)):
            continue
        target[gone] = stays
        for f, table in zip(faces, round_about, strict=True):
            for point in (gone, stays):
                busy.update(f[table.get(point, [])].reshape(-1).tolist())
    return target


def _fits(
    plan: Lattice, faces: NDArray[np.int64], table: dict[int, list[int]], gone: int, stays: int
) -> bool:
    """Whether one sheet allows a point to go to another: triangles keep turning, and no edge comes to be
    twice.
    """
    own = faces[table.get(gone, [])]
    if not len(own):
        return True
    shared = (own == stays).any(axis=1)
    if not shared.any():
        return False
    moved = np.where(own[~shared] == gone, stays, own[~shared])
    if len(moved) and twice_plan_area(plan, moved).min() <= 0:
        return False
    round_gone = set(own.reshape(-1).tolist())
    round_stays = set(faces[table.get(stays, [])].reshape(-1).tolist())
    apexes = set(own[shared].reshape(-1).tolist()) - {gone, stays}
    return (round_gone & round_stays) - {gone, stays} == apexes


def _replaced(sheet: Sheet, place: NDArray[np.int64]) -> Sheet:
    f = place[sheet.faces]
    keep = (f[:, 0] != f[:, 1]) & (f[:, 1] != f[:, 2]) & (f[:, 2] != f[:, 0])
    return Sheet(sheet.plan, f[keep].astype(np.int32), sheet.heights[keep], sheet.origin[keep])
