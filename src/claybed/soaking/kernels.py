"""Number kernels of the soaking stage: cake growth on wall patches, water through the wet plaster.

Pressure is told as a share u of the suction: 0 at a wet front, 1 in slip without depth. A conductance is then
mm³ of water a second for u = 1. Plaster cells are numbered; `near` (cells, 6) names their neighbours, -1
where there is none.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.mesh import Bytes, Floats, Ints

# A bend tighter than the cake is thick leaves this share of the wall's area open; slip there then builds up
# as in a slot of that width.
LEAST_AREA = 0.1


@njit(cache=True, nogil=True, error_model="numpy")
def narrowing_mm(a_per_mm: float, b_per_mm: float) -> float:
    """Depth mm at which the parallel surface has shrunk to LEAST_AREA of the wall; infinite if it never does.

    `a_per_mm` >= `b_per_mm`, 1/mm, are the principal curvatures of the wall.
    """
    if a_per_mm <= 1e-12:
        return math.inf
    product, total = a_per_mm * b_per_mm, a_per_mm + b_per_mm
    if abs(product) < 1e-12 * a_per_mm * a_per_mm:
        return (1.0 - LEAST_AREA) / a_per_mm
    root = math.sqrt(total * total - 4.0 * product * (1.0 - LEAST_AREA))
    if product > 0.0:
        return (total - root) / (2.0 * product)
    return (root - total) / (-2.0 * product)


@njit(cache=True, nogil=True, error_model="numpy")
def shell_area(depth_mm: float, a_per_mm: float, b_per_mm: float, narrow_mm: float) -> float:
    """Area of the surface parallel to a wall at a depth, per area of wall."""
    if depth_mm >= narrow_mm:
        return LEAST_AREA
    return (1.0 - a_per_mm * depth_mm) * (1.0 - b_per_mm * depth_mm)


@njit(cache=True, nogil=True, error_model="numpy")
def shell_volume(depth_mm: float, a_per_mm: float, b_per_mm: float, narrow_mm: float) -> float:
    """Volume between a wall and its parallel surface, per area of wall."""
    d = min(depth_mm, narrow_mm)
    return (
        d
        - 0.5 * (a_per_mm + b_per_mm) * d**2
        + a_per_mm * b_per_mm * d**3 / 3.0
        + LEAST_AREA * (depth_mm - d)
    )


@njit(cache=True, nogil=True, error_model="numpy")
def shell_path(depth_mm: float, a_per_mm: float, b_per_mm: float, narrow_mm: float) -> float:
    """Thickness of a flat cake that resists as much as the curved one: the integral of 1 / area."""
    d = min(depth_mm, narrow_mm)
    beyond = (depth_mm - d) / LEAST_AREA
    if abs(a_per_mm - b_per_mm) * d < 1e-5:
        return d / (1.0 - 0.5 * (a_per_mm + b_per_mm) * d) + beyond
    return math.log((1.0 - b_per_mm * d) / (1.0 - a_per_mm * d)) / (a_per_mm - b_per_mm) + beyond


@njit(cache=True, nogil=True, error_model="numpy")
def depth_of(volume_mm: float, a_per_mm: float, b_per_mm: float, narrow_mm: float, start_mm: float) -> float:
    """Depth at which the shell holds a volume (per area of wall); Newton from `start_mm`."""
    if abs(a_per_mm) + abs(b_per_mm) < 1e-12:
        return volume_mm
    depth_mm = max(start_mm, 0.0)
    for _ in range(40):
        slope = shell_area(depth_mm, a_per_mm, b_per_mm, narrow_mm)
        step = (shell_volume(depth_mm, a_per_mm, b_per_mm, narrow_mm) - volume_mm) / slope
        depth_mm = max(depth_mm - step, 0.0)
        if abs(step) < 1e-12 * (1.0 + depth_mm):
            break
    return depth_mm


@njit(cache=True, nogil=True, error_model="numpy")
def paths(wall: Floats, bends: Floats, out: Floats) -> None:
    """The flat thickness that resists as each patch's cake does; `bends` (patches, 3)."""
    for p in range(wall.shape[0]):
        out[p] = shell_path(wall[p], bends[p, 0], bends[p, 1], bends[p, 2])


@njit(cache=True, nogil=True, error_model="numpy")
def with_narrowing(bends: Floats) -> Floats:
    """Principal curvatures (patches, 2), larger first, with their narrowing depth as a third column."""
    out = np.empty((bends.shape[0], 3))
    for p in range(bends.shape[0]):
        out[p, 0], out[p, 1] = bends[p, 0], bends[p, 1]
        out[p, 2] = narrowing_mm(bends[p, 0], bends[p, 1])
    return out


@njit(cache=True, nogil=True, error_model="numpy")
def _rise(depth_mm: float, behind: float, a_per_mm: float, b_per_mm: float, narrow_mm: float) -> float:
    # How much faster (depth + behind)² grows than on a flat wall.
    if depth_mm + behind < 1e-9:
        return 1.0
    area = shell_area(depth_mm, a_per_mm, b_per_mm, narrow_mm)
    faster: float = (depth_mm + behind) / (
        area * (shell_path(depth_mm, a_per_mm, b_per_mm, narrow_mm) + behind)
    )
    return faster


@njit(cache=True, nogil=True, error_model="numpy")
def wall_conductance(
    wall: Floats, bends: Floats, most: Floats, area: Floats, cell: Ints, slip_u: Floats, u: Floats,
    water: Floats, room: Floats, full: Bytes, reach: Floats, cake_mm2_per_s: float, plaster_mm2_per_s: float,
    sent_ratio: float, step_s: float, out: Floats,
) -> None:  # fmt: skip
    """Mean conductance of each patch over a step, so that a flat wall grows exactly by the square root.

    `wall`, `most`, `area` (patches,) mm, mm, mm²; `bends` from with_narrowing; `cell` its plaster cell;
    `slip_u` the slip's pressure and `reach` mm twice the way to that cell's middle; `u`, `water`, `room`,
    `full` (cells,): pressure, water and room for water in mm³, whether full.
    """
    for p in range(wall.shape[0]):
        c = cell[p]
        if wall[p] >= most[p]:
            out[p] = 0.0
            continue
        share = 0.5 if full[c] else min(water[c] / room[c], 1.0)
        behind = cake_mm2_per_s / plaster_mm2_per_s * reach[p] * share
        drive = slip_u[p] - (u[c] if full[c] else 0.0)
        a, b, narrow_mm = bends[p, 0], bends[p, 1], bends[p, 2]
        if drive < 1e-9:
            out[p] = area[p] * cake_mm2_per_s / (shell_path(wall[p], a, b, narrow_mm) + behind + 1e-9)
            continue
        rate = 2.0 * drive * cake_mm2_per_s / sent_ratio
        before = (wall[p] + behind) ** 2
        slope = rate * _rise(wall[p], behind, a, b, narrow_mm)
        ahead = np.sqrt(before + slope * step_s) - behind
        ahead = min(ahead, most[p])
        slope = 0.5 * (slope + rate * _rise(ahead, behind, a, b, narrow_mm))
        ahead = min(np.sqrt(before + slope * step_s) - behind, most[p])
        grown = shell_volume(ahead, a, b, narrow_mm) - shell_volume(wall[p], a, b, narrow_mm)
        out[p] = area[p] * sent_ratio * max(grown, 0.0) / (step_s * drive)


@njit(cache=True, nogil=True, error_model="numpy")
def solve_pressure(
    near: Ints, full: Bytes, water: Floats, room: Floats, cell: Ints, conduct: Floats, slip_u: Floats,
    link_mm3_per_s: float, step_s: float, u: Floats, tolerance: float, most_rounds: int,
) -> int:  # fmt: skip
    """Pressure of all full cells, in place of `u`; cells that are not full keep 0. Returns rounds taken.

    Conjugate gradients with the diagonal as preconditioner, started from the pressure before. Water over a
    cell's room is pushed on within the step.
    """
    n = full.shape[0]
    place = np.full(n, -1, np.int32)
    count = 0
    for c in range(n):
        if full[c]:
            place[c] = count
            count += 1
    if count == 0:
        return 0
    x = np.empty(count)
    diagonal = np.zeros(count)
    right = np.zeros(count)
    table = np.full((count, 6), -1, np.int32)
    for c in range(n):
        i = place[c]
        if i < 0:
            continue
        x[i] = u[c]
        right[i] = (water[c] - room[c]) / step_s
        for k in range(6):
            other = near[c, k]
            if other < 0:
                continue
            if full[other]:
                table[i, k] = place[other]
                diagonal[i] += link_mm3_per_s
            else:
                diagonal[i] += link_mm3_per_s / (0.5 + min(water[other] / room[other], 1.0))
    for p in range(cell.shape[0]):
        i = place[cell[p]]
        if i >= 0:
            diagonal[i] += conduct[p]
            right[i] += conduct[p] * slip_u[p]
    for i in range(count):
        diagonal[i] += 1e-12 * link_mm3_per_s
    rest = np.empty(count)
    ahead = np.empty(count)
    pushed = np.empty(count)
    scale = 0.0
    for i in range(count):
        value = right[i] - diagonal[i] * x[i]
        for k in range(6):
            if table[i, k] >= 0:
                value += link_mm3_per_s * x[table[i, k]]
        rest[i] = value
        ahead[i] = value / diagonal[i]
        scale += right[i] * right[i] / diagonal[i]
    worth = 0.0
    for i in range(count):
        worth += rest[i] * ahead[i]
    goal = tolerance * tolerance * max(scale, 1e-300)
    rounds = 0
    while worth > goal and rounds < most_rounds:
        rounds += 1
        bent = 0.0
        for i in range(count):
            value = diagonal[i] * ahead[i]
            for k in range(6):
                if table[i, k] >= 0:
                    value -= link_mm3_per_s * ahead[table[i, k]]
            pushed[i] = value
            bent += value * ahead[i]
        far = worth / bent
        fresh = 0.0
        for i in range(count):
            x[i] += far * ahead[i]
            rest[i] -= far * pushed[i]
            fresh += rest[i] * rest[i] / diagonal[i]
        turn = fresh / worth
        worth = fresh
        for i in range(count):
            ahead[i] = rest[i] / diagonal[i] + turn * ahead[i]
    for c in range(n):
        if place[c] >= 0:
            u[c] = x[place[c]]
    return rounds


@njit(cache=True, nogil=True, error_model="numpy")
def move_water(
    near: Ints, full: Bytes, water: Floats, room: Floats, cell: Ints, conduct: Floats, slip_u: Floats,
    link_mm3_per_s: float, step_s: float, u: Floats, given: Floats,
) -> None:  # fmt: skip
    """Carry one step's water: from slip through patches (`given`, mm³ each), from full cells onwards.

    Every amount leaves one place and enters another, so that none is lost however well the pressure is
    known.
    """
    for p in range(cell.shape[0]):
        c = cell[p]
        given[p] = conduct[p] * (slip_u[p] - (u[c] if full[c] else 0.0)) * step_s
    before = water.copy()
    for c in range(full.shape[0]):
        if not full[c]:
            continue
        for k in range(6):
            other = near[c, k]
            if other < 0:
                continue
            if full[other]:
                if other > c:
                    moved = link_mm3_per_s * (u[c] - u[other]) * step_s
                    water[c] -= moved
                    water[other] += moved
            else:
                moved = link_mm3_per_s / (0.5 + min(before[other] / room[other], 1.0)) * u[c] * step_s
                water[c] -= moved
                water[other] += moved
    for p in range(cell.shape[0]):
        water[cell[p]] += given[p]
    for c in range(full.shape[0]):
        if water[c] >= room[c]:
            full[c] = 1


@njit(cache=True, nogil=True, error_model="numpy")
def grow(wall: Floats, held: Floats, bends: Floats, area: Floats, given: Floats, sent_ratio: float) -> None:
    """Thicken the cake of each patch by the water it gave; `held` (patches,) mm is its volume per area."""
    for p in range(wall.shape[0]):
        held[p] += given[p] / (area[p] * sent_ratio)
        wall[p] = depth_of(held[p], bends[p, 0], bends[p, 1], bends[p, 2], wall[p])


@njit(cache=True, nogil=True, error_model="numpy")
def neighbours(number: NDArray[np.int32], cells: Ints) -> Ints:
    """Neighbours (n, 6) of `cells` (n, 3) in a grid of numbers, -1 where there is none."""
    out = np.full((cells.shape[0], 6), -1, np.int32)
    for c in range(cells.shape[0]):
        for k in range(6):
            i, j, m = cells[c, 0], cells[c, 1], cells[c, 2]
            step = 1 if k % 2 == 0 else -1
            if k // 2 == 0:
                i += step
            elif k // 2 == 1:
                j += step
            else:
                m += step
            inside = 0 <= i < number.shape[0] and 0 <= j < number.shape[1] and 0 <= m < number.shape[2]
            if inside:
                out[c, k] = number[i, j, m]
    return out
