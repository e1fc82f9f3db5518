"""The local wall of a cast: our kernels against the same scheme in plain numpy and scipy.

Run as `python benchmarks/local_wall.py [--cells 3.6,3.0,2.4,1.5] [--minutes 60]`. The mold is a cylinder that
holds 2 litres in a block with 40 mm of plaster round it. Two parts are timed: grid (the mesh to cells and
patches) and cast (slip stands so long). The plain side takes our grid and does the cast alone, in the same
steps, its pressures by scipy's conjugate gradients to the same tolerance with the same preconditioner. The
sides take turns in one process; compiling is left out. Wall is what the clock says, cpu what the processors
worked: on a busy machine only the second can be compared. The plain side, which takes minutes with millions
of cells, is left out over --plain-most. The last line fits a power of the number of cells to the processor's
time.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import manifold3d
import numpy as np
from scipy.sparse import coo_matrix, diags
from scipy.sparse.linalg import cg

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from claybed.records.soaked import PlasterGrid, Soil  # noqa: E402
from claybed.soaking.kernels import LEAST_AREA  # noqa: E402
from claybed.soaking.simulate import MOST_ROUNDS, TOLERANCE, Soaking  # noqa: E402
from tests.soaking.columns import in_block, plain_soil  # noqa: E402

RADIUS_MM, DEEP_MM, PLASTER_MM = 50.0, 255.0, 40.0
Array = np.ndarray


class PlainSoaking(Soaking):
    """The same casts with whole arrays of numpy and sparse matrices of scipy."""

    def __init__(self, grid: PlasterGrid, soil: Soil) -> None:
        super().__init__(grid, soil)
        cells, sides = np.nonzero(grid.near >= 0)
        self.pair = np.stack([cells, grid.near[cells, sides]])

    def _step(self, wall: Array, held: Array, step_s: float) -> Array:
        given = np.empty(len(wall))
        self._flow(self._conductance(wall, step_s), self._slip_u, step_s, given)
        held += given / (self.grid.area_mm2 * self.soil.water_per_cake_ratio)
        wall[:] = depth_of(held, self._bends, wall)
        return given

    def _conductance(self, wall: Array, step_s: float) -> Array:
        grid, soil, c = self.grid, self.soil, self.grid.cell
        full = self.full[c] == 1
        share = np.where(full, 0.5, np.minimum(self.water_mm3[c] / self.room_mm3[c], 1.0))
        behind = soil.cake_mm2_per_s / soil.plaster_mm2_per_s * self._reach * share
        drive = self._slip_u - np.where(full, self._u[c], 0.0)
        rate = 2.0 * np.maximum(drive, 1e-9) * soil.cake_mm2_per_s / soil.water_per_cake_ratio
        before = (wall + behind) ** 2
        slope = rate * self._rise(wall, behind)
        ahead = np.minimum(np.sqrt(before + slope * step_s) - behind, grid.most_mm)
        slope = 0.5 * (slope + rate * self._rise(ahead, behind))
        ahead = np.minimum(np.sqrt(before + slope * step_s) - behind, grid.most_mm)
        grown = np.maximum(volume(ahead, self._bends) - volume(wall, self._bends), 0.0)
        out = grid.area_mm2 * soil.water_per_cake_ratio * grown / (step_s * np.maximum(drive, 1e-9))
        still = grid.area_mm2 * soil.cake_mm2_per_s / (path(wall, self._bends) + behind + 1e-9)
        return np.where(wall >= grid.most_mm, 0.0, np.where(drive < 1e-9, still, out))

    def _rise(self, depth: Array, behind: Array) -> Array:
        faster = (depth + behind) / np.maximum(
            area(depth, self._bends) * (path(depth, self._bends) + behind), 1e-30
        )
        return np.where(depth + behind < 1e-9, 1.0, faster)

    def _flow(self, conduct: Array, slip_u: Array, step_s: float, given: Array) -> None:
        cell, link, full = self.grid.cell, self._link, self.full == 1
        one, other = self.pair
        from_full = full[one]
        both, edge = from_full & full[other], from_full & ~full[other]
        partly = link / (0.5 + np.minimum(self.water_mm3[other] / self.room_mm3[other], 1.0))
        count = len(full)
        if full.any():
            place = np.cumsum(full) - 1
            wet = full[cell]
            diagonal = np.bincount(one[both], minlength=count) * link + 1e-12 * link
            diagonal += np.bincount(one[edge], partly[edge], count)
            diagonal += np.bincount(cell[wet], conduct[wet], count)
            right = (self.water_mm3 - self.room_mm3) / step_s
            right += np.bincount(cell[wet], (conduct * slip_u)[wet], count)
            size = int(full.sum())
            off = coo_matrix(
                (np.full(int(both.sum()), -link), (place[one[both]], place[other[both]])), shape=(size, size)
            )
            matrix = (off + diags(diagonal[full])).tocsr()
            found, _ = cg(
                matrix, right[full], x0=self._u[full], rtol=TOLERANCE, maxiter=MOST_ROUNDS,
                M=diags(1.0 / diagonal[full]),
            )  # fmt: skip
            self._u[full] = found
        given[:] = conduct * (slip_u - np.where(full[cell], self._u[cell], 0.0)) * step_s
        moved = np.where(
            both, link * (self._u[one] - self._u[other]), np.where(edge, partly * self._u[one], 0.0)
        )
        # A pair of full cells stands in the list both ways: each way takes from its first.
        self.water_mm3 -= np.bincount(one, moved * step_s, count)
        self.water_mm3 += np.bincount(other[edge], moved[edge] * step_s, count)
        self.water_mm3 += np.bincount(cell, given, count)
        self.full[self.water_mm3 >= self.room_mm3] = 1


def area(depth: Array, bends: Array) -> Array:
    """Area of the parallel surface per area of wall, as kernels.shell_area."""
    a, b, narrow = bends.T
    return np.where(depth >= narrow, LEAST_AREA, (1.0 - a * depth) * (1.0 - b * depth))


def volume(depth: Array, bends: Array) -> Array:
    """Volume between wall and parallel surface per area of wall, as kernels.shell_volume."""
    a, b, narrow = bends.T
    d = np.minimum(depth, narrow)
    return d - 0.5 * (a + b) * d**2 + a * b * d**3 / 3.0 + LEAST_AREA * (depth - d)


def path(depth: Array, bends: Array) -> Array:
    """Flat thickness that resists as much, as kernels.shell_path."""
    a, b, narrow = bends.T
    d = np.minimum(depth, narrow)
    alike = np.abs(a - b) * d < 1e-5
    with np.errstate(divide="ignore", invalid="ignore"):
        curved = np.log((1.0 - b * d) / (1.0 - a * d)) / (a - b)
    return np.where(alike, d / (1.0 - 0.5 * (a + b) * d), curved) + (depth - d) / LEAST_AREA


def depth_of(held: Array, bends: Array, start: Array) -> Array:
    """Depth at which the shell holds a volume, by Newton, as kernels.depth_of."""
    depth = start.copy()
    for _ in range(40):
        step = (volume(depth, bends) - held) / area(depth, bends)
        depth = np.maximum(depth - step, 0.0)
        if np.abs(step).max() < 1e-12 * (1.0 + depth.max()):
            break
    return depth


def mold(cell_mm: float) -> PlasterGrid:
    """The plaster round the 2 litre cylinder."""
    outer_mm = 2.0 * (RADIUS_MM + PLASTER_MM)
    bore = manifold3d.Manifold.cylinder(DEEP_MM, RADIUS_MM, RADIUS_MM, 256).translate([0.0, 0.0, -DEEP_MM])
    block = manifold3d.Manifold.cube([outer_mm, outer_mm, DEEP_MM + PLASTER_MM]).translate(
        [-outer_mm / 2.0, -outer_mm / 2.0, -DEEP_MM - PLASTER_MM]
    )
    return in_block(bore, block, cell_mm)


@dataclass(frozen=True)
class Taken:
    """Seconds by the clock and of the processors."""

    wall_s: float
    cpu_s: float


def timed(call: Callable[[], Any]) -> tuple[Taken, Any]:
    """What a call took, and what it gave."""
    wall_s, cpu_s = time.perf_counter(), time.process_time()
    got = call()
    return Taken(time.perf_counter() - wall_s, time.process_time() - cpu_s), got


def main() -> None:
    """Print the table."""
    asked = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    asked.add_argument("--cells", default="3.6,3.0,2.4,1.5", help="sides of a cell, mm, coarse to fine")
    asked.add_argument("--minutes", type=float, default=60.0)
    asked.add_argument("--plain-most", type=int, default=600_000, help="most cells for the plain side")
    options = asked.parse_args()
    soil = plain_soil()
    Soaking(mold(8.0), soil).cast(5.0, 0.0, steps=6)
    print(
        f"{platform.machine()}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}, python "
        f"{platform.python_version()}; {options.minutes:g} min of casting, seconds, one thread"
    )
    print("cell mm  plaster cells  patches | wall: grid   cast   both | cpu: grid   cast   both ", end="")
    print("| plain cast: wall    cpu  x cpu  walls differ at most")
    cells, seconds = [], []
    for cell_mm in map(float, options.cells.split(",")):
        on_grid, grid = timed(lambda cell_mm=cell_mm: mold(cell_mm))
        on_cast, ours = timed(lambda grid=grid: Soaking(grid, soil).cast(options.minutes, 0.0))
        cells.append(len(grid.cells))
        seconds.append((on_grid.cpu_s, on_cast.cpu_s))
        row = (
            f"{cell_mm:7.2f} {len(grid.cells):14,} {len(grid.area_mm2):8,} | {on_grid.wall_s:10.2f} "
            f"{on_cast.wall_s:6.2f} {on_grid.wall_s + on_cast.wall_s:6.2f} | {on_grid.cpu_s:9.2f} "
            f"{on_cast.cpu_s:6.2f} {on_grid.cpu_s + on_cast.cpu_s:6.2f} |"
        )
        if len(grid.cells) <= options.plain_most:
            plain, theirs = timed(lambda grid=grid: PlainSoaking(grid, soil).cast(options.minutes, 0.0))
            differ_mm = float(np.abs(ours.wall_mm - theirs.wall_mm).max())
            faster = plain.cpu_s / on_cast.cpu_s
            row += f" {plain.wall_s:15.2f} {plain.cpu_s:6.2f} {faster:6.1f} {differ_mm:14.1e} mm"
        print(row)
    if len(cells) > 1:
        parts = zip(*seconds, strict=True)
        grid_power, cast_power = (np.polyfit(np.log(cells), np.log(np.array(part)), 1)[0] for part in parts)
        both = np.polyfit(np.log(cells), np.log(np.sum(seconds, axis=1)), 1)[0]
        print(
            f"processor's time grows as cells to the power of: grid {grid_power:.2f}, cast {cast_power:.2f}, "
            f"both {both:.2f}"
        )


if __name__ == "__main__":
    main()
