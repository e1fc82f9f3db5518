"""Where a case is cut so that its parts fit a printer: across its bed, and by height."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from claybed.cases.sizes import size_mm

EDGE_MM = size_mm("bed_edge")  # room left free at each edge of the bed
MOST_CUTS = 5
LEVEL_STEP_MM = 0.5  # a whole number of lattice steps, so that a level face is level on the lattice


@dataclass(frozen=True, slots=True)
class Bedded:
    """Planes at which a case is cut, mm; `middles_y_mm` of the parts along y, `least_y_mm` their length;
    `levels_mm` of level cuts over the underside.
    """

    cuts_x_mm: tuple[float, ...]
    cuts_y_mm: tuple[float, ...]
    middles_y_mm: tuple[float, ...]
    least_y_mm: float
    levels_mm: tuple[float, ...] = ()


def lay_on_bed(
    span_mm: Sequence[float],
    printer_mm: Sequence[float],
    *,
    flange_mm: float,
    levels_mm: tuple[float, ...] = (),
) -> Bedded | None:
    """The fewest cuts with which a case of `span_mm` (x, y) fits the bed of the printer; None for none.

    A cut across x adds a flange at both ends along y, and the other way round; a level cut adds one all
    round. A part may be turned a quarter on the bed. `flange_mm` stands out of the wall.
    """
    room = sorted((printer_mm[0] - 2.0 * EDGE_MM, printer_mm[1] - 2.0 * EDGE_MM))
    wide, deep = span_mm
    around = bool(levels_mm)
    best: tuple[int, int] | None = None
    for nx in range(1, MOST_CUTS + 2):
        for ny in range(1, MOST_CUTS + 2):
            part = sorted(
                (
                    wide / nx + _flanges(nx, ny, flange_mm, around),
                    deep / ny + _flanges(ny, nx, flange_mm, around),
                )
            )
            fits = part[0] <= room[0] and part[1] <= room[1]
            if fits and (best is None or nx * ny < best[0] * best[1]):
                best = (nx, ny)
    if best is None:
        return None
    nx, ny = best
    ends = np.linspace(-deep / 2.0, deep / 2.0, ny + 1)
    return Bedded(
        cuts_x_mm=tuple(float(v) for v in np.linspace(-wide / 2.0, wide / 2.0, nx + 1)[1:-1]),
        cuts_y_mm=tuple(float(v) for v in ends[1:-1]),
        middles_y_mm=tuple(float(v) for v in (ends[1:] + ends[:-1]) / 2.0),
        least_y_mm=deep / ny,
        levels_mm=levels_mm,
    )


def cut_levels(
    tall_mm: float,
    printer_tall_mm: float,
    *,
    least_mm: float,
    upper_mm: float,
    tongue_mm: float,
    flakes: Callable[[float], int],
) -> tuple[float, ...] | None:
    """The fewest level cuts with which no part is taller than the printer; None for none.

    Each lies as high as it may, where less liquid stands over it: at least `least_mm` over the underside,
    with `upper_mm` of part above it, and `tongue_mm` of room for what stands on the part below. Of these the
    highest with fewest `flakes`, parts too small to hold, is taken.
    """
    if tall_mm <= printer_tall_mm:
        return ()
    room = printer_tall_mm - tongue_mm
    for count in range(1, MOST_CUTS + 1):
        found: list[float] = []
        for k in range(count):
            above = count - 1 - k
            before = found[-1] if found else 0.0
            low = max(before + upper_mm if found else least_mm, tall_mm - printer_tall_mm - above * room)
            high = min(before + room, tall_mm - upper_mm * (above + 1))
            high = math.floor(high / LEVEL_STEP_MM) * LEVEL_STEP_MM
            if high < low:
                break
            tried = np.arange(high, low - 1e-9, -LEVEL_STEP_MM).tolist()
            found.append(min(tried, key=lambda level: (flakes(level), -level)))
        else:
            return tuple(found)
    return None


def _flanges(count: int, crossing: int, flange_mm: float, around: bool) -> float:
    """How much longer the flanges of the other cuts make a part: at both ends when it is the only one."""
    tongue = 3.0 if count > 1 else 0.0
    if crossing == 1 and not around:
        return tongue
    return tongue + (2.0 if count == 1 else 1.0) * flange_mm
