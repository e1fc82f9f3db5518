"""Plaster at rest: water evens out inside it, and leaves through the faces that are open to the air."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from scipy.spatial import ConvexHull

from claybed.geometry.mesh import Floats, Ints
from claybed.records.soaked import Airing, PlasterGrid

# In one step an open cell gives up no more than this share of what it can hold.
_STEP_SHARE = 0.1
_LEAST_STEPS = 4
# More stages than this in one step would blur steep fronts in time.
_MOST_STAGES = 15


def open_faces_mm2(grid: PlasterGrid, *, apart: bool, parting_mm2: float = 0.0) -> Floats:
    """Plaster (cells,) mm² that is open to the air: the block's outside; with pieces `apart` all of it.

    The outside of a block stands on slats and is open all round. Apart, the cavity is open too, and so are
    the faces that the pieces touch with, `parting_mm2` in all. Sides of cells stand for slanting faces, so
    each counts by how far it looks the face's way; those of the parting are scaled to its area.
    """
    side_mm2 = grid.cell_mm**2
    open_mm2 = np.zeros(len(grid.cells))
    plan = np.argwhere((grid.number >= 0).any(axis=2)).astype(np.float64)
    square = np.array([[-0.5, -0.5], [-0.5, 0.5], [0.5, -0.5], [0.5, 0.5]])
    edges = ConvexHull((plan[:, None] + square).reshape(-1, 2)).equations
    for k in range(6):
        axis, step = k // 2, 1 if k % 2 == 0 else -1
        bare = np.flatnonzero(grid.near[:, k] < 0)
        beyond = grid.cells[bare].astype(np.int64)
        beyond[:, axis] += step
        off = (beyond[:, axis] < 0) | (beyond[:, axis] >= grid.number.shape[axis])
        inner = np.where(off[:, None], 0, beyond)
        bare = bare[off | (grid.cavity[tuple(inner.T)] <= 0.0)]
        weight = np.ones(len(bare))
        if axis < 2:
            places = grid.cells[bare, :2].astype(np.float64)
            nearest = np.argmax(places @ edges[:, :2].T + edges[:, 2], axis=1)
            weight = np.abs(edges[nearest, axis])
        open_mm2[bare] += side_mm2 * weight
    if apart:
        open_mm2 += np.bincount(grid.cell, grid.area_mm2, len(open_mm2))
        open_mm2 += _parting_mm2(grid, parting_mm2)
    return open_mm2


def _parting_mm2(grid: PlasterGrid, parting_mm2: float) -> Floats:
    """The faces that pieces touch with, shared out to the cells (n,) beside them."""
    mine, other = grid.piece[:, None], grid.piece[grid.near]
    meets = ((grid.near >= 0) & (other != mine) & (other >= 0) & (mine >= 0)).sum(axis=1)
    total = int(meets.sum())
    shared: Floats = meets * (parting_mm2 / total) if total else np.zeros(len(meets))
    return shared


def rest(
    grid: PlasterGrid,
    water_mm3: Floats,
    whole_mm3: Floats,
    seconds_s: float,
    *,
    spread_mm2_per_s: float,
    airing: Airing | None = None,
) -> float:
    """Let water (cells,) mm³ even out for a time, in place, and dry; returns what has left, mm³.

    `whole_mm3` (cells,) is what each cell can hold. Water moves by how full cells are. An open face loses
    water steadily while its cell is over the critical share, then in proportion to what is left, as whole
    molds do (drying-curve). Without `airing` none leaves.
    """
    if seconds_s <= 0.0:
        return 0.0
    before = float(water_mm3.sum())
    # Of the flux between two cells: what one plain step may at most move is 1/6 of the difference.
    plain_s = math.inf if spread_mm2_per_s <= 0.0 else grid.cell_mm**2 / (6.0 * spread_mm2_per_s)
    steps = max(_LEAST_STEPS, math.ceil(2.0 * seconds_s / (plain_s * (_MOST_STAGES**2 + _MOST_STAGES))))
    faces = np.zeros(0, np.int64)
    lost = np.zeros(0)
    if airing is not None and airing.rate_mm_per_s > 0.0:
        faces = np.flatnonzero(airing.area_mm2 > 0.0)
        lost = airing.area_mm2[faces] * airing.rate_mm_per_s
        if len(faces):
            given_up = seconds_s * float(np.median(lost / whole_mm3[faces]))
            steps = max(steps, math.ceil(given_up / _STEP_SHARE))
    step_s = seconds_s / steps
    stages = 0 if math.isinf(plain_s) else _stages(step_s / plain_s)
    share = spread_mm2_per_s * step_s / grid.cell_mm**2
    critical = 1.0 if airing is None else airing.critical_share
    for _ in range(steps):
        _evaporate(water_mm3, whole_mm3, faces, lost, critical, 0.5 * step_s)
        if stages:
            _even_out(grid.near, water_mm3, whole_mm3, share, stages)
        _evaporate(water_mm3, whole_mm3, faces, lost, critical, 0.5 * step_s)
    return before - float(water_mm3.sum())


def _stages(longer: float) -> int:
    """Stages of one step that is `longer` times a plain one."""
    return max(1, math.ceil((math.sqrt(1.0 + 8.0 * longer) - 1.0) / 2.0 - 1e-9))


@njit(cache=True, nogil=True, error_model="numpy")
def _evaporate(
    water: Floats, whole: Floats, faces: Ints, lost: Floats, critical_share: float, step_s: float
) -> None:
    for i in range(faces.shape[0]):
        c = faces[i]
        slows_at = critical_share * whole[c]
        left_s = step_s
        if water[c] > slows_at:
            steady_s = min((water[c] - slows_at) / lost[i], step_s)
            water[c] -= lost[i] * steady_s
            left_s -= steady_s
        if left_s > 0.0 and slows_at > 0.0:
            water[c] *= math.exp(-lost[i] * left_s / slows_at)


@njit(cache=True, nogil=True, error_model="numpy")
def _fluxes(near: Ints, water: Floats, whole: Floats, full: Floats, out: Floats) -> None:
    for c in range(water.shape[0]):
        full[c] = water[c] / whole[c]
    for c in range(water.shape[0]):
        total = 0.0
        for k in range(6):
            other = near[c, k]
            if other >= 0:
                total += min(whole[c], whole[other]) * (full[other] - full[c])
        out[c] = total


@njit(cache=True, nogil=True, error_model="numpy")
def _even_out(near: Ints, water: Floats, whole: Floats, share: float, stages: int) -> None:
    """One step of a diffusion that takes as many stages as its length needs and stays between neighbours.

    Runge-Kutta-Legendre of first order (Meyer, Balsara, Aslam 2014; from memory): s stages reach as far as
    (s² + s) / 2 plain steps. Fluxes of a pair cancel, so no water is lost.
    """
    n = water.shape[0]
    flux, full = np.empty(n), np.empty(n)
    width = 2.0 / (stages * stages + stages)
    last = water.copy()
    _fluxes(near, last, whole, full, flux)
    for c in range(n):
        water[c] = last[c] + width * share * flux[c]
    for j in range(2, stages + 1):
        _fluxes(near, water, whole, full, flux)
        ahead, back = (2.0 * j - 1.0) / j, (1.0 - j) / j
        for c in range(n):
            fresh = ahead * water[c] + back * last[c] + ahead * width * share * flux[c]
            last[c] = water[c]
            water[c] = fresh
