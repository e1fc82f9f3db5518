"""How a wall of clay grows in a cavity made of cells, and where it grows shut.

The wall grows as it does on flat plaster, L = sqrt(k t), as long as it is thin beside the hollow it lines; in
a bore it closes sooner. Water passes the clay by Darcy's law, driven by one suction, so its pressure summed
over time, u, obeys -div grad u = 1 in the clay, is 0 at the plaster and L²/2 in the slip, which is left where
u comes up to that. A slot closes at 2 L and a round bore at sqrt(8) L, as the law of casting has it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray
from scipy import ndimage

from claybed.geometry.mesh import Floats
from claybed.geometry.pooling import Cavity, Cells, Pocket

# Sweeps end once none moves the sum by more than this share; slip is where it is short by no more than ten
# of them.
SETTLED_SHARE = 1e-5
MOST_SWEEPS = 600
OVER_STEP = 1.7
HALVINGS = 7
# A cell is plaster, cavity, or beyond the block, where no water goes.
_CAVITY = 1
_BEYOND = 2


@dataclass(frozen=True, slots=True)
class Neck:
    """The narrowest place on the widest way to a part: its middle `at_mm`, the width `clear_mm` of a ball
    that passes, and the wall on flat plaster at which it has grown shut.
    """

    at_mm: tuple[float, float, float]
    clear_mm: float
    closes_at_wall_mm: float


def liquid_in(cavity: Cavity, wall_mm: float) -> Cavity:
    """What is still slip in a full cavity once flat plaster carries a wall of `wall_mm`; the opening stays
    open.

    Source: casting-law, in the form for hollows of any shape (Baiocchi's transform, from memory).
    """
    return grown_in(cavity, wall_mm)[0]


def grown_in(cavity: Cavity, wall_mm: float) -> tuple[Cavity, Floats]:
    """The slip of `liquid_in`, and for each cell the wall on flat plaster, mm, at which it turns to clay:
    `wall_mm` in the slip, 0 outside the cavity. In clay far from slip it is that of the place alone.

    Source: as `liquid_in`; L = sqrt(2 u).
    """
    kinds = np.pad(cavity.inside.astype(np.int8), 1, constant_values=_BEYOND)
    full = 0.5 * (wall_mm / cavity.cell_mm) ** 2
    u = np.where(kinds == _CAVITY, full, 0.0)
    cells = np.flatnonzero(kinds == _CAVITY)
    _settle(u.ravel(), kinds.ravel(), cells, u.shape[1] * u.shape[2], u.shape[2], full)
    u = u[1:-1, 1:-1, 1:-1]
    slip = cavity.inside & (u >= full * (1.0 - 10.0 * SETTLED_SHARE))
    turns_mm: Floats = np.sqrt(2.0 * u) * cavity.cell_mm
    return Cavity(slip, slip & cavity.opening, cavity.low_mm, cavity.cell_mm), turns_mm


def shut_off(
    cavity: Cavity, hollow: Cavity, wall_mm: float, *, less_than_ml: float, most_necks: int
) -> list[tuple[Pocket, Neck | None]]:
    """Parts of the slip in a cavity, `hollow`, that a wall cuts off from the opening, the largest first;
    those up to `less_than_ml` are left out. The neck is looked for before the first `most_necks`.
    """
    label, count = ndimage.label(hollow.inside)
    sizes = np.bincount(label.ravel(), minlength=count + 1)
    sizes[np.unique(label[hollow.opening])] = 0
    sizes[0] = 0
    found: list[tuple[Pocket, Neck | None]] = []
    for k in np.argsort(-sizes, kind="stable").tolist():
        volume_ml = float(sizes[k]) * cavity.cell_ml
        if volume_ml <= less_than_ml:
            break
        part = label == k
        x, y, z = (float(v) for v in cavity.at_mm(np.argwhere(part)).mean(axis=0))
        neck = neck_of(cavity, part, wall_mm) if len(found) < most_necks else None
        found.append((Pocket(volume_ml, (x, y, z)), neck))
    return found


def neck_of(cavity: Cavity, part: Cells, wall_mm: float) -> Neck:
    """The neck that shuts a part of the slip off at a wall of `wall_mm`; `part` are cells of it.

    The width is known to a cell, the wall to a hundredth of what was asked.
    """
    depth = ndimage.distance_transform_edt(np.pad(cavity.inside, 1, mode="edge"))[1:-1, 1:-1, 1:-1]
    deepest = np.where(part, depth, 0.0)
    seed = np.zeros(part.shape, bool)
    seed[np.unravel_index(int(np.argmax(deepest)), part.shape)] = True
    levels = np.unique(depth[cavity.inside])
    low, high = 0, len(levels)
    while high - low > 1:
        middle = (low + high) // 2
        if _leads_out(cavity.inside & (depth >= levels[middle]), cavity.opening, seed):
            low = middle
        else:
            high = middle
    at = _waist(cavity, depth, float(levels[low]), seed)
    thin, thick = 0.0, wall_mm
    for _ in range(HALVINGS):
        wall = 0.5 * (thin + thick)
        if _leads_out(liquid_in(cavity, wall).inside, cavity.opening, seed):
            thin = wall
        else:
            thick = wall
    return Neck(at, 2.0 * (float(levels[low]) - 0.5) * cavity.cell_mm, 0.5 * (thin + thick))


def _leads_out(cells: Cells, opening: Cells, seed: Cells) -> bool:
    label, _ = ndimage.label(cells)
    own = int(label[seed].max())
    return own > 0 and bool((label[opening] == own).any())


def _waist(cavity: Cavity, depth: Floats, level: float, seed: Cells) -> tuple[float, float, float]:
    """Halfway between a part of more than a depth and the next such part on the way out."""
    label, _ = ndimage.label(cavity.inside & (depth >= level))
    joined = label == label[seed].max()
    deeper, _ = ndimage.label(joined & (depth > level))
    behind = deeper == deeper[seed].max() if deeper[seed].max() > 0 else seed
    beyond = joined & ((deeper > 0) | cavity.opening) & ~behind
    if not beyond.any():
        beyond = cavity.opening
    off, nearest = ndimage.distance_transform_edt(~beyond, return_indices=True)
    here = np.unravel_index(int(np.argmin(np.where(behind, off, np.inf))), off.shape)
    there = nearest.reshape(3, -1)[:, np.ravel_multi_index(here, off.shape)]
    x, y, z = (float(v) for v in cavity.at_mm(np.stack([np.array(here), there])).mean(axis=0))
    return x, y, z


@njit(cache=True, nogil=True)
def _settle(
    u: Floats, kinds: NDArray[np.int8], cells: NDArray[np.int64], nx: int, ny: int, full: float
) -> None:
    # Sweeps that step over a little, from the slip downwards; a wall stands half a cell beside the middle.
    for sweep in range(MOST_SWEEPS):
        moved = 0.0
        for k in range(len(cells)):
            c = cells[k] if sweep % 2 == 0 else cells[len(cells) - 1 - k]
            total, weight = 1.0, 0.0
            for step in (nx, -nx, ny, -ny, 1, -1):
                kind = kinds[c + step]
                if kind == _CAVITY:
                    total += u[c + step]
                    weight += 1.0
                elif kind != _BEYOND:
                    # So that a parabola is met exactly up to the wall's face.
                    weight += 2.0
                    total -= 0.25
            if weight == 0.0:
                continue
            new = u[c] + OVER_STEP * (total / weight - u[c])
            new = min(full, max(0.0, new))
            moved = max(moved, abs(new - u[c]))
            u[c] = new
        if moved <= SETTLED_SHARE * full:
            break
