"""Parting edges that more than two faces share: a solid touching itself along a line.

On the lattice it happens where four cells meet at one plan point, high beside low beside high beside low. The
heights round the point then have more than one valley. Clay may always be added to a model, so a
valley of its top is filled at that point up to its lower brim (a hill of its bottom is cut down to its higher
foot), where that takes the least; the parting surface may go either way.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.lattice import Lattice, plan_codes, twice_plan_area
from claybed.geometry.mesh import Origin
from claybed.geometry.sheet import Sheet, joined, sides_of

# How far a cell is lifted clear of a line it only touches: 0.01 mm.
CLEAR_UNITS = 40
TURNS = 24


class CrowdedError(ArithmeticError):
    """A solid touches itself; `edges` (k, 2, 3) are the ends of the shared edges, lattice units of the pull
    frame.
    """

    def __init__(self, edges: Lattice) -> None:
        super().__init__(f"{len(edges)} edges touch themselves")
        self.edges = edges


def uncrowd(top: Sheet, bottom: Sheet, outside: Sheet) -> tuple[Sheet, Sheet, Sheet]:
    """Part the places where what lies above the top sheet, or under the bottom sheet, would touch itself.

    The sheets share their plan points, and top (or bottom) and outside tile the block.
    """
    points = np.union1d(_alternating(top, outside, 1), _alternating(bottom, outside, -1))
    return _settled(top, bottom, outside, points) if len(points) else (top, bottom, outside)


def relieve(top: Sheet, bottom: Sheet, outside: Sheet, edges: Lattice) -> tuple[Sheet, Sheet, Sheet]:
    """Move the corners of a few cells so that the shared `edges` (k, 2, 3) part; sheets share their plan
    points.

    Only ever adds to the model: the top sheet is raised, the bottom sheet lowered; the parting surface may go
    either way. A plan point at which no valley is left has its model made one level.
    """
    codes, wanted = plan_codes(top.plan), plan_codes(edges.reshape(-1, 3)[:, :2])
    some = np.flatnonzero(np.isin(codes, wanted))
    number = dict(zip(codes[some].tolist(), some.tolist(), strict=True))
    at = np.array([number.get(code, -1) for code in wanted.tolist()]).reshape(-1, 2).tolist()
    high, low = top.heights.copy(), bottom.heights.copy()
    for (start, end), (z_start, z_end) in zip(at, edges[:, :, 2].tolist(), strict=True):
        if start != end and min(start, end) >= 0:
            for sheet, heights, up in ((top, high, 1), (bottom, low, -1)):
                _lift(sheet, heights, (start, z_start), (end, z_end), up * CLEAR_UNITS)
    points = np.unique([start for start, end in at if start == end and start >= 0]).astype(np.int64)
    return _settled(_refilled(top, high), _refilled(bottom, low), outside, points, level=True)


def _settled(
    top: Sheet, bottom: Sheet, outside: Sheet, points: NDArray[np.int64], *, level: bool = False
) -> tuple[Sheet, Sheet, Sheet]:
    """Sheets with the heights at some plan points in order; `level` also levels the model where they were."""
    high, low, out = _Fans(top, points), _Fans(bottom, points), _Fans(outside, points)
    for point in points.tolist():
        moved = False
        for _ in range(TURNS):
            above = _ring([*high.at(point, 1), *out.at(point, 1)])
            below = _ring([*low.at(point, -1), *out.at(point, -1)])
            if not (_fill_a_valley(above) or _fill_a_valley(below)):
                break
            moved = True
        if level and not moved:
            for fans, side in ((high, 1), (low, -1)):
                wedges = fans.at(point, side)
                most = max((w.height for w in wedges), default=0)
                for wedge in wedges:
                    wedge.raise_to(most)
    return (
        _refilled(top, high.heights),
        _refilled(bottom, low.heights),
        Sheet(outside.plan, outside.faces, out.heights, outside.origin),
    )


@dataclass(slots=True)
class _Wedge:
    """A cell's corner at a plan point, between the directions to two neighbours, seen from above or below."""

    heights: Lattice
    row: int
    column: int
    first: int
    last: int
    area: int
    side: int

    @property
    def height(self) -> int:
        """The height there, turned upside down when seen from below."""
        return self.side * int(self.heights[self.row, self.column])

    def raise_to(self, height: int) -> None:
        """Give the corner another height."""
        self.heights[self.row, self.column] = self.side * height


class _Fans:
    """The cells of a sheet round some plan points."""

    def __init__(self, sheet: Sheet, points: NDArray[np.int64]) -> None:
        self.heights = sheet.heights.copy()
        flag = np.zeros(len(sheet.plan), bool)
        flag[points] = True
        rows, columns = np.nonzero(flag[sheet.faces])
        area = twice_plan_area(sheet.plan, sheet.faces[rows]).tolist()
        self._round: dict[int, list[tuple[int, int, int, int, int]]] = {}
        for row, column, doubled in zip(rows.tolist(), columns.tolist(), area, strict=True):
            face = sheet.faces[row].tolist()
            wedge = (row, column, face[(column + 1) % 3], face[(column + 2) % 3], doubled)
            self._round.setdefault(face[column], []).append(wedge)

    def at(self, point: int, side: int) -> list[_Wedge]:
        """The wedges at a point, seen from above (1) or below (-1)."""
        return [_Wedge(self.heights, *wedge, side) for wedge in self._round.get(point, [])]


def _ring(wedges: list[_Wedge]) -> list[_Wedge | None]:
    """Wedges in order round their point; None stands where the block ends."""
    by_first = {w.first: w for w in wedges}
    ends = {w.last for w in wedges}
    open_at = [w for w in wedges if w.first not in ends]
    ring: list[_Wedge | None] = []
    while by_first:
        here = next((w for w in open_at if w.first in by_first), None) or next(iter(by_first.values()))
        if here in open_at:
            ring.append(None)
        while here.first in by_first:
            ring.append(by_first.pop(here.first))
            following = by_first.get(here.last)
            if following is None:
                break
            here = following
    return ring


def _fill_a_valley(ring: list[_Wedge | None]) -> bool:
    """Fill the valley that takes least when going round there is more than one; whether there was."""
    levels = [math.inf if w is None else w.height for w in ring]
    runs: list[list[int]] = []
    for i, level in enumerate(levels):
        if runs and levels[runs[-1][-1]] == level:
            runs[-1].append(i)
        else:
            runs.append([i])
    if len(runs) > 1 and levels[runs[0][0]] == levels[runs[-1][0]]:
        runs[0] = runs.pop() + runs[0]
    valleys: list[tuple[float, float, list[int]]] = []
    for k, run in enumerate(runs):
        own, brims = levels[run[0]], (levels[runs[k - 1][0]], levels[runs[(k + 1) % len(runs)][0]])
        if len(runs) > 1 and own < min(brims):
            area = sum(w.area for i in run if (w := ring[i]) is not None)
            valleys.append((area * (min(brims) - own), min(brims), run))
    if len(valleys) < 2:
        return False
    _, brim, run = min(valleys, key=lambda v: v[0])
    for i in run:
        wedge = ring[i]
        if wedge is not None and math.isfinite(brim):
            wedge.raise_to(int(brim))
    return math.isfinite(brim)


def _alternating(sheet: Sheet, outside: Sheet, side: int) -> NDArray[np.int64]:
    """Plan points round which two sheets that tile the plan together have several valleys."""
    whole = joined(sheet, outside)
    mate = sides_of(whole).mate
    return np.flatnonzero(_valleys(whole.faces, side * whole.heights, mate, len(sheet.plan)))


@njit(cache=True, nogil=True)
def _valleys(
    faces: NDArray[np.int32], heights: Lattice, mate: NDArray[np.int32], count: int
) -> NDArray[np.bool_]:
    low, high = np.full(count, np.iinfo(np.int64).max), np.full(count, np.iinfo(np.int64).min)
    for f in range(faces.shape[0]):
        for k in range(3):
            p, z = faces[f, k], heights[f, k]
            low[p], high[p] = min(low[p], z), max(high[p], z)
    done, found = low >= high, np.zeros(count, np.bool_)
    for f in range(faces.shape[0]):
        for k in range(3):
            p = faces[f, k]
            if done[p]:
                continue
            done[p] = True
            # Back to where the fan begins, or once round.
            h = 3 * f + k
            while mate[h] >= 0:
                g = mate[h]
                h = 3 * (g // 3) + (g + 1) % 3
                if h == 3 * f + k:
                    break
            start, ring = h, mate[h] >= 0
            first = heights[h // 3, h % 3]
            before, falls, was_falling, first_falling, turned = first, 0, False, False, False
            while True:
                back = mate[3 * (h // 3) + (h + 2) % 3]
                if back < 0 or back == start:
                    break
                h = back
                z = heights[h // 3, h % 3]
                if z != before:
                    falling = z < before
                    if falling and (not turned or not was_falling):
                        falls += 1
                    if not turned:
                        first_falling, turned = falling, True
                    was_falling = falling
                    before = z
            if ring and first != before:
                falling = first < before
                if falling and not was_falling:
                    falls += 1
                was_falling = falling
            if ring and turned and was_falling and first_falling:
                falls -= 1
            # At the block's side a fall down to the last, or a rise from the first, is a valley as well.
            if not ring and turned and not first_falling:
                falls += 1
            found[p] = falls > 1
    return found


def _refilled(sheet: Sheet, heights: Lattice) -> Sheet:
    """The sheet with new heights; cells that moved are fill."""
    moved = (heights != sheet.heights).any(axis=1)
    return Sheet(
        sheet.plan, sheet.faces, heights, np.where(moved, int(Origin.FILL), sheet.origin).astype(np.uint8)
    )


def _lift(sheet: Sheet, heights: Lattice, one: tuple[int, int], two: tuple[int, int], by: int) -> None:
    """Lift the cells that have an edge at two given heights, by lattice units, at both its ends."""
    has = (sheet.faces == one[0]).any(axis=1) & (sheet.faces == two[0]).any(axis=1)
    for k in np.flatnonzero(has):
        corners = [int(np.flatnonzero(sheet.faces[k] == p)[0]) for p in (one[0], two[0])]
        if [int(heights[k, c]) for c in corners] == [one[1], two[1]]:
            for point, z in (one, two):
                same = (sheet.faces == point) & (heights == z)
                heights[same] = z + by
