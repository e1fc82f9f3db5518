"""Where a liquid leaves air behind as it rises, and itself as it runs out, in a cavity made of cells.

Both are one question. Air is caught in cells from which every way to the opening leads down first; liquid in
cells from which every way leads up. Cells are taken in the order of their height, and parts that meet are
joined: what stands above the level at which its part meets the opening is caught (a join tree of the height;
Carr, Snoeyink and Axen, for what the name means).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy import ndimage

from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.voxels import solid_fraction

Cells = NDArray[np.bool_]
HALF = 0.5
# A pocket of up to so many cells is the grid's doing.
LEAST_CELLS = 12
# A direction shorter than this is none: the two it lies between are opposite.
LEVEL = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Cavity:
    """A cavity as cells: `inside` (x, y, z), `opening` those at which it leaves the block, `low_mm` (3,) the
    grid's lowest corner, `cell_mm` the side of a cell.
    """

    inside: Cells
    opening: Cells
    low_mm: Floats
    cell_mm: float

    @property
    def cell_ml(self) -> float:
        """Volume of one cell, ml."""
        return self.cell_mm**3 / 1000.0

    def at_mm(self, cells: NDArray[np.integer]) -> Floats:
        """Middles (n, 3) mm of cells given by their indices (n, 3)."""
        middles: Floats = self.low_mm + (cells + 0.5) * self.cell_mm
        return middles


@dataclass(frozen=True, slots=True)
class Pocket:
    """Cells that are caught together: `volume_ml`, and the place (mm) of the one furthest from the opening's
    level.
    """

    volume_ml: float
    at_mm: tuple[float, float, float]


def cavity_of(model: Mesh, low_mm: Floats, high_mm: Floats, cells: int) -> Cavity:
    """The cavity that a closed model leaves in the block between two corners (3,) mm, on a grid with `cells`
    along its longest side.

    The opening is where the model meets the block's outside. Cells that are at least half full are cavity.
    """
    span = np.asarray(high_mm) - np.asarray(low_mm)
    cell_mm = float(span.max()) / cells
    # Whole cells only: a last one that is mostly outside the block would hide the opening.
    counts = np.maximum(np.floor(span / cell_mm + 1e-6).astype(int), 1)
    shape = (int(counts[0]), int(counts[1]), int(counts[2]))
    inside = solid_fraction(model, np.asarray(low_mm), cell_mm, shape, lines=2) >= HALF
    rim = np.ones(shape, bool)
    rim[1:-1, 1:-1, 1:-1] = False
    return Cavity(inside, inside & rim, np.asarray(low_mm, dtype=np.float64), cell_mm)


def caught(cavity: Cavity, up: Floats, *, less_than_ml: float = 0.0) -> list[Pocket]:
    """What cannot rise out through the opening when `up` (3,) is up, the largest first.

    For air the cavity as it is; for slip that runs out, the cavity with its wall and `up` turned downwards.
    Cells that do not hang together with the opening are left out, pockets up to `less_than_ml` as well.
    """
    return pockets_of(cavity, caught_cells(cavity, up), up, less_than_ml=less_than_ml)


def caught_cells(cavity: Cavity, up: Floats) -> Cells:
    """The cells of all that `caught` finds, (x, y, z)."""
    order, heights, shape = _in_order(cavity, up)
    flags = np.zeros(cavity.inside.size, bool)
    flags[order[_caught(order, heights, cavity.opening.ravel(), *shape)]] = True
    held: Cells = flags.reshape(cavity.inside.shape)
    return held


def cut_off_cells(cavity: Cavity, level: Floats) -> Cells:
    """The cells (x, y, z) from which every way to the opening leads through one whose `level`, a value for
    each cell, is lower than their own.
    """
    numbers = np.flatnonzero(cavity.inside)
    values = level.ravel()[numbers]
    ranked = np.argsort(-values, kind="stable")
    nx, ny, nz = cavity.inside.shape
    order, heights = numbers[ranked].astype(np.int64), np.ascontiguousarray(values[ranked])
    flags = np.zeros(cavity.inside.size, bool)
    flags[order[_caught(order, heights, cavity.opening.ravel(), nx, ny, nz)]] = True
    cells: Cells = flags.reshape(cavity.inside.shape)
    return cells


def pockets_of(cavity: Cavity, cells: Cells, up: Floats, *, less_than_ml: float = 0.0) -> list[Pocket]:
    """Parts of some cells (x, y, z) that hang together, the largest first, each with its place highest along
    `up` (3,); parts of up to `less_than_ml` are left out.
    """
    label, count = ndimage.label(cells)
    sizes = np.bincount(label.ravel(), minlength=count + 1)
    d = np.asarray(up, dtype=np.float64) / np.linalg.norm(up)
    out = []
    for k, box in enumerate(ndimage.find_objects(label), start=1):
        volume_ml = float(sizes[k]) * cavity.cell_ml
        if volume_ml <= less_than_ml:
            continue
        middles = cavity.at_mm(np.argwhere(label[box] == k) + [side.start for side in box])
        heights = middles @ d
        at = middles[heights >= heights.max() - 0.5 * cavity.cell_mm].mean(axis=0)
        out.append(Pocket(volume_ml, _place(at)))
    return sorted(out, key=lambda p: -p.volume_ml)


def caught_ml(cavity: Cavity, up: Floats) -> float:
    """Volume of all that `caught` finds, ml."""
    return float(caught_cells(cavity, up).sum()) * cavity.cell_ml


def caught_twice_ml(cavity: Cavity, up: Floats, then: Floats) -> float:
    """What is left, ml, when a cavity is held with `up` up, turned to `then`, and back."""
    return float(still_caught(cavity, caught_cells(cavity, up), up, then).sum()) * cavity.cell_ml


def still_caught(cavity: Cavity, held: Cells, up: Floats, then: Floats) -> Cells:
    """Which cells of those that are held with `up` up (x, y, z) are left after a slow turn to `then` (3,) and
    back.

    What was caught runs, cell by cell, the steepest way there is: halfway to `then`, at `then`, halfway back
    and with `up` up again. It is gone when one of these ways ends at the opening.
    """
    halfway = np.asarray(up, dtype=np.float64) / np.linalg.norm(up) + np.asarray(then) / np.linalg.norm(then)
    between = [halfway] if float(np.linalg.norm(halfway)) > LEVEL else []
    number = np.flatnonzero(held)
    at = number.copy()
    for way in (*between, then, *between, up):
        rest = _rests(cavity, way)
        at = np.where(at < 0, at, rest[at])
    left = np.zeros(cavity.inside.size, bool)
    left[number[at >= 0]] = True
    still: Cells = left.reshape(cavity.inside.shape)
    return still


def _rests(cavity: Cavity, up: Floats) -> NDArray[np.int64]:
    """For each cell of the grid, by its number, the cell in which its steepest way up ends, past dents of the
    grid; -1 where that is the opening.
    """
    order, heights, shape = _in_order(cavity, up)
    rest = np.full(cavity.inside.size, -1, np.int64)
    _follow(order, heights, cavity.opening.ravel(), rest, *shape)
    return rest


def _in_order(cavity: Cavity, up: Floats) -> tuple[NDArray[np.int64], Floats, tuple[int, int, int]]:
    """Cells of a cavity from the highest down, their heights in mm, and the grid's shape."""
    d = np.asarray(up, dtype=np.float64) / np.linalg.norm(up)
    cells = np.argwhere(cavity.inside)
    heights = cavity.at_mm(cells) @ d
    ranked = np.argsort(-heights, kind="stable")
    numbers = np.ravel_multi_index(tuple(cells[ranked].T), cavity.inside.shape).astype(np.int64)
    x, y, z = cavity.inside.shape
    return numbers, np.ascontiguousarray(heights[ranked]), (x, y, z)


@njit(cache=True, nogil=True)
def _root(parent: NDArray[np.int64], k: int) -> int:
    while parent[k] != k:
        parent[k] = parent[parent[k]]
        k = parent[k]
    return k


@njit(cache=True, nogil=True)
def _caught(order: NDArray[np.int64], heights: Floats, opening: Cells, nx: int, ny: int, nz: int) -> Cells:
    # For each cell the level at which its part meets the opening: the lowest point of its highest way out.
    n = len(order)
    place = np.full(nx * ny * nz, -1, np.int64)
    parent = np.arange(n)
    is_open = np.zeros(n, np.bool_)
    # The cells of a part, as a chain from its root, so that they can be told when it meets the opening.
    after = np.full(n, -1, np.int64)
    last = np.arange(n)
    level = np.full(n, -np.inf)
    for k in range(n):
        cell = order[k]
        place[cell] = k
        root = k
        if opening[cell]:
            is_open[k] = True
            level[k] = heights[k]
        x, rest = cell // (ny * nz), cell % (ny * nz)
        y, z = rest // nz, rest % nz
        for dx in range(-1, 2):
            for dy in range(-1, 2):
                for dz in range(-1, 2):
                    i, j, m = x + dx, y + dy, z + dz
                    if i < 0 or j < 0 or m < 0 or i >= nx or j >= ny or m >= nz:
                        continue
                    other = place[(i * ny + j) * nz + m]
                    if other < 0 or other == k:
                        continue
                    far = _root(parent, other)
                    root = _root(parent, root)
                    if far == root:
                        continue
                    if is_open[far] != is_open[root]:
                        shut = root if is_open[far] else far
                        c = shut
                        while c >= 0:
                            if level[c] == -np.inf:
                                level[c] = heights[k]
                            c = after[c]
                    parent[far] = root
                    after[last[root]] = far
                    last[root] = last[far]
                    is_open[root] = is_open[root] or is_open[far]
    held = np.zeros(n, np.bool_)
    for k in range(n):
        held[k] = level[k] > -np.inf and level[k] < heights[k] - 1e-9
    return held


@njit(cache=True, nogil=True)
def _follow(
    order: NDArray[np.int64],
    heights: Floats,
    opening: Cells,
    rest: NDArray[np.int64],
    nx: int,
    ny: int,
    nz: int,
) -> None:
    # Cells come from the highest down, so that the end of a way is known before those that lead into it.
    n = len(order)
    place = np.full(nx * ny * nz, -1, np.int64)
    end = np.arange(n)
    parent = np.arange(n)
    size = np.ones(n, np.int64)
    is_open = np.zeros(n, np.bool_)
    # Where what comes to an end runs on, and the end that a part has.
    onwards = np.arange(n)
    end_of = np.arange(n)
    for k in range(n):
        cell = order[k]
        place[cell] = k
        is_open[k] = opening[cell]
        beside = k
        x, rest_of = cell // (ny * nz), cell % (ny * nz)
        y, z = rest_of // nz, rest_of % nz
        best, steepest = -1, 1e-12
        for dx in range(-1, 2):
            for dy in range(-1, 2):
                for dz in range(-1, 2):
                    i, j, m = x + dx, y + dy, z + dz
                    if i < 0 or j < 0 or m < 0 or i >= nx or j >= ny or m >= nz:
                        continue
                    other = place[(i * ny + j) * nz + m]
                    if other < 0 or other == k:
                        continue
                    far, root = _root(parent, other), _root(parent, k)
                    if far != root:
                        # A dent in the grid holds nothing: what comes there runs on over its edge.
                        shallow, deep = (far, root) if size[far] < size[root] else (root, far)
                        if is_open[shallow] and not is_open[deep] and size[deep] <= LEAST_CELLS:
                            shallow, deep = deep, shallow
                        if size[shallow] <= LEAST_CELLS and not is_open[shallow]:
                            over = end[other if deep == far else beside]
                            onwards[_root(onwards, end_of[shallow])] = _root(onwards, over)
                        parent[shallow] = deep
                        size[deep] += size[shallow]
                        is_open[deep] = is_open[deep] or is_open[shallow]
                    beside = other
                    rise = (heights[other] - heights[k]) / np.sqrt(float(dx * dx + dy * dy + dz * dz))
                    if rise > steepest:
                        best, steepest = other, rise
        if best >= 0 and not opening[cell]:
            end[k] = end[best]
    for k in range(n):
        at = order[_root(onwards, end[k])]
        rest[order[k]] = -1 if opening[at] else at


def _place(at: Floats) -> tuple[float, float, float]:
    return float(at[0]), float(at[1]), float(at[2])
