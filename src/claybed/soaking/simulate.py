"""Casts one after another on a plan's plaster.

Slip gives water through a growing cake into plaster; wet plaster hands it on to a sharp front, where the
suction of dry plaster pulls. The wet part is solved anew in each step, the cake grows by what the solution
lets through, so a flat wall follows the square root of time exactly and water is only ever moved.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.mesh import Bytes, Floats
from claybed.records.soaked import Airing, Cast, CastOrder, PlasterGrid, Soil
from claybed.soaking import airing as airs
from claybed.soaking import kernels

Progress = Callable[[str, float], None]
STEPS = 90
RELEASE_STEPS = 20
TOLERANCE = 1e-5
MOST_ROUNDS = 2000
HALF_PULL = 0.5
# Of what a cell can hold: less than this more than at the start is no front.
WETTER_SHARE = 0.05


class Soaking:
    """A mold's plaster with the water in it, cast after cast.

    `grid` and `soil` as their records say. `water_mm3` (cells,) behind the front, `room_mm3` (cells,) what a
    cell takes before it is full, `full` (cells,) uint8 whether it is.
    """

    def __init__(self, grid: PlasterGrid, soil: Soil) -> None:
        self.grid = grid
        self.soil = soil
        cells, patches = len(grid.plaster_mm3), len(grid.area_mm2)
        self._whole = grid.plaster_mm3 * soil.fillable_fraction
        self._held = self._whole * soil.wet_share
        self._began = self._held.copy()
        self.room_mm3: Floats = np.empty(cells)
        self.water_mm3: Floats = np.zeros(cells)
        self.full: Bytes = np.zeros(cells, np.uint8)
        self._start_front()
        self._u = np.zeros(cells)
        self._link = soil.plaster_mm2_per_s * grid.cell_mm
        middle = grid.low_mm + (grid.cells[grid.cell] + 0.5) * grid.cell_mm
        way_mm = np.einsum("pk,pk->p", middle - grid.at_mm, grid.normal)
        self._reach = 2.0 * np.clip(way_mm, 0.1 * grid.cell_mm, 1.5 * grid.cell_mm)
        top = float((grid.at_mm @ grid.up).max()) if patches else 0.0
        self._slip_u = 1.0 + soil.head_per_mm * (top - grid.at_mm @ grid.up)
        self._bends = kernels.with_narrowing(grid.bends_per_mm)
        self.rounds = 0

    def _start_front(self) -> None:
        """A new front begins in plaster whose water has come to rest."""
        self.room_mm3 = np.maximum(self._whole - self._held, 1e-9 * self._whole)
        self.water_mm3 = np.zeros(len(self.room_mm3))
        self.full = (self._whole - self._held < 1e-6 * self._whole).astype(np.uint8)

    @property
    def wetted(self) -> NDArray[np.bool_]:
        """Cells (n,) that a wet front has come to, or that a front before the last rest has left wetter."""
        more = self._held > self._began + WETTER_SHARE * self._whole
        return np.asarray((self.water_mm3 > 0.0) | (self.full == 1) | more)

    @property
    def total_mm3(self) -> float:
        """All water in the plaster, mm³, of what it found there and what it took up."""
        return float(self._held.sum() + self.water_mm3.sum())

    def cast(
        self, minutes_min: float, release_min: float, *, steps: int = STEPS, progress: Progress | None = None
    ) -> Cast:
        """Fill, wait `minutes_min` > 0, drain, and leave the cast for `release_min` until it comes out."""
        patches = len(self.grid.area_mm2)
        wall, held, given = np.zeros(patches), np.zeros(patches), np.zeros(patches)
        before_mm3 = self.total_mm3
        until = minutes_min * 60.0 * (np.arange(steps + 1) / steps) ** 2
        # Equal steps of thickness: early ones are short, as the cake is thin and fast.
        for k, step_s in enumerate(np.diff(until)):
            given += self._step(wall, held, float(step_s))
            if progress is not None and k % 5 == 0:
                progress("casting", k / steps)
        given_mm3 = float(given.sum())
        pull = self._pull()
        closed = (wall >= self.grid.most_mm * (1.0 - 1e-9)).astype(np.uint8)
        released_mm3 = self._release(wall, held, release_min)
        area = self.grid.area_mm2
        return Cast(
            wall_mm=wall,
            pull_share=pull,
            closed=closed,
            given_ml=given_mm3 / 1000.0,
            released_ml=released_mm3 / 1000.0,
            taken_ml=(self.total_mm3 - before_mm3) / 1000.0,
            dried_ml=0.0,
            cake_ml=float((held * area).sum()) / 1000.0,
            soaked_cm2=float(area[pull < HALF_PULL].sum()) / 100.0,
        )

    def rest(self, minutes_min: float, airing: Airing | None = None) -> float:
        """Let the water even out for `minutes_min`, and dry in the air of `airing`; returns mm³ that left."""
        if minutes_min <= 0.0 or (airing is None and self.soil.spread_mm2_per_s <= 0.0):
            return 0.0
        total = self._held + self.water_mm3
        gone_mm3 = airs.rest(
            self.grid,
            total,
            self._whole,
            minutes_min * 60.0,
            spread_mm2_per_s=self.soil.spread_mm2_per_s,
            airing=airing,
        )
        self._held = total
        self._start_front()
        self._u[:] = 0.0
        return gone_mm3

    def _step(self, wall: Floats, held: Floats, step_s: float) -> Floats:
        grid, soil = self.grid, self.soil
        conduct, given = np.empty(len(wall)), np.empty(len(wall))
        kernels.wall_conductance(
            wall, self._bends, grid.most_mm, grid.area_mm2, grid.cell, self._slip_u, self._u,
            self.water_mm3, self.room_mm3, self.full, self._reach, soil.cake_mm2_per_s,
            soil.plaster_mm2_per_s, soil.water_per_cake_ratio, step_s, conduct,
        )  # fmt: skip
        self._flow(conduct, self._slip_u, step_s, given)
        kernels.grow(wall, held, self._bends, grid.area_mm2, given, soil.water_per_cake_ratio)
        return given

    def _flow(self, conduct: Floats, slip_u: Floats, step_s: float, given: Floats) -> None:
        grid = self.grid
        self.rounds += kernels.solve_pressure(
            grid.near, self.full, self.water_mm3, self.room_mm3, grid.cell, conduct, slip_u, self._link,
            step_s, self._u, TOLERANCE, MOST_ROUNDS,
        )  # fmt: skip
        kernels.move_water(
            grid.near, self.full, self.water_mm3, self.room_mm3, grid.cell, conduct, slip_u, self._link,
            step_s, self._u, given,
        )  # fmt: skip

    def _pull(self) -> Floats:
        """Suction left behind each patch, 1 for dry plaster, 0 where no air is left in it."""
        return np.clip(1.0 - self._u[self.grid.cell], 0.0, 1.0)

    def _release(self, wall: Floats, held: Floats, minutes_min: float) -> float:
        """Water that the drained cast still gives to the plaster, mm³, drawn by the suction behind it."""
        grid, soil = self.grid, self.soil
        store = soil.release_ratio * held * grid.area_mm2
        if minutes_min <= 0.0 or soil.release_ratio <= 0.0:
            return 0.0
        step_s = minutes_min * 60.0 / RELEASE_STEPS
        path = np.empty(len(wall))
        kernels.paths(wall, self._bends, path)
        open_ = grid.area_mm2 * soil.cake_mm2_per_s / np.maximum(path, 1e-3)
        given, one = np.empty(len(wall)), np.ones(len(wall))
        taken_mm3 = 0.0
        for _ in range(RELEASE_STEPS):
            conduct = np.minimum(open_, store / step_s)
            self._flow(conduct, one, step_s, given)
            store = np.maximum(store - given, 0.0)
            taken_mm3 += float(given.sum())
        return taken_mm3


def run_casts(
    state: Soaking, order: CastOrder, *, steps: int = STEPS, progress: Progress | None = None
) -> list[Cast]:
    """The casts of an order, one after another in the plaster of a state, which keeps their water.

    The mold rests between two casts; after the last it is left as it is.
    """
    casts = []
    for k in range(order.casts):
        done = k / order.casts

        def tell(step: str, share: float, done: float = done) -> None:
            if progress is not None:
                progress(step, done + share / order.casts)

        gone_mm3 = state.rest(order.rest_min, order.airing) if k else 0.0
        cast = state.cast(order.minutes_min, order.release_min, steps=steps, progress=tell)
        casts.append(replace(cast, dried_ml=gone_mm3 / 1000.0))
    return casts


def reached_outside(state: Soaking) -> bool:
    """Whether a wet front has come to the block's outside, the side of the opening left out.

    As long as it has not, plaster added outside changes nothing.
    """
    grid = state.grid
    wet = state.wetted
    places = grid.cells[wet]
    for k in range(3):
        for out in (-1, 1):
            if out * grid.up[k] > 0.5:
                continue
            beyond = places.copy()
            beyond[:, k] += out
            off = (beyond[:, k] < 0) | (beyond[:, k] >= grid.number.shape[k])
            if off.any():
                return True
            inner = tuple(beyond.T)
            if ((grid.number[inner] < 0) & (grid.cavity[inner] <= 0.0)).any():
                return True
    return False
