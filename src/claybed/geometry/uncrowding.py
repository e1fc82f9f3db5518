"""Relieving edges that more than two faces share: a solid touching itself along a line.

On the lattice it happens where four cells meet at one corner, high beside low beside high beside low. Clay
may always be added to a model, so one of the low cells is raised (seen from below, lowered) at that corner:
the one with the least area.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.lattice import Lattice, twice_plan_area
from claybed.geometry.mesh import Origin
from claybed.geometry.sheet import Sheet

# How far a cell is lifted clear of a line it only touches: 0.01 mm.
CLEAR_UNITS = 40


class CrowdedError(ArithmeticError):
    """A solid touches itself; `edges` (k, 2, 3) are the ends of the shared edges, lattice units of the pull
    frame.
    """

    def __init__(self, edges: Lattice) -> None:
        super().__init__(f"{len(edges)} edges touch themselves")
        self.edges = edges


def relieve(
    top: Sheet, bottom: Sheet, outside: Sheet, edges: Lattice, *, attempt: int
) -> tuple[Sheet, Sheet, Sheet]:
    """Move the corners of a few cells so that the shared `edges` (k, 2, 3) part; sheets share their plan
    points.

    Only ever adds to the model: the top sheet is raised, the bottom sheet lowered; the parting surface may go
    either way.
    `attempt` (0, 1, 2 …) turns through the sheets that can give way at a place.
    """
    number = {tuple(p): i for i, p in enumerate(top.plan.tolist())}
    high, low, out = top.heights.copy(), bottom.heights.copy(), outside.heights.copy()
    for start, end in edges.tolist():
        at = number.get((start[0], start[1]))
        other = number.get((end[0], end[1]))
        if at is None or other is None:
            continue
        if at == other:
            z1, z2 = sorted((start[2], end[2]))
            ways = []
            for faces, heights, sign in (
                (outside.faces, out, 1),
                (top.faces, high, 1),
                (bottom.faces, low, -1),
            ):
                most, aim = (z1, z2) if sign > 0 else (-z2, z1)
                rows, columns = _smallest_low_run(top.plan, faces, sign * heights, at, most)
                if len(rows):
                    ways.append((heights, rows, columns, aim))
            if ways:
                heights, rows, columns, aim = ways[attempt % len(ways)]
                heights[rows, columns] = aim
        else:
            for sheet, heights, up in ((top, high, 1), (bottom, low, -1)):
                _lift(sheet, heights, (at, start[2]), (other, end[2]), up * CLEAR_UNITS)
    return (
        _refilled(top, high),
        _refilled(bottom, low),
        Sheet(outside.plan, outside.faces, out, outside.origin),
    )


def _refilled(sheet: Sheet, heights: Lattice) -> Sheet:
    """The sheet with new heights; cells that moved are fill."""
    moved = (heights != sheet.heights).any(axis=1)
    return Sheet(
        sheet.plan, sheet.faces, heights, np.where(moved, int(Origin.FILL), sheet.origin).astype(np.uint8)
    )


def _smallest_low_run(
    plan: Lattice, faces: NDArray[np.int32], heights: Lattice, point: int, most: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows and columns of the corners at a plan point of the least run of cells that stand there at or under
    `most`.

    Empty when every cell there does, or none.
    """
    row, column = np.nonzero(faces == point)
    low = heights[row, column] <= most
    if not low.any() or low.all():
        return row[:0], column[:0]
    following = faces[row, (column + 1) % 3]
    before = faces[row, (column + 2) % 3]
    area = twice_plan_area(plan, faces[row])
    runs: list[list[int]] = []
    left = [int(k) for k in np.flatnonzero(low)]
    while left:
        run = [left.pop()]
        grown = True
        while grown:
            grown = False
            for k in left:
                if any(before[k] == following[j] or following[k] == before[j] for j in run):
                    run.append(k)
                    left.remove(k)
                    grown = True
                    break
        runs.append(run)
    smallest = min(runs, key=lambda r: int(area[r].sum()))
    return row[smallest], column[smallest]


def _lift(sheet: Sheet, heights: Lattice, one: tuple[int, int], two: tuple[int, int], by: int) -> None:
    """Lift the cells that have an edge at two given heights, by lattice units, at both its ends."""
    has = (sheet.faces == one[0]).any(axis=1) & (sheet.faces == two[0]).any(axis=1)
    for k in np.flatnonzero(has):
        corners = [int(np.flatnonzero(sheet.faces[k] == p)[0]) for p in (one[0], two[0])]
        if [int(heights[k, c]) for c in corners] == [one[1], two[1]]:
            for point, z in (one, two):
                same = (sheet.faces == point) & (heights == z)
                heights[same] = z + by
