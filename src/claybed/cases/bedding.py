"""Where a case is cut so that its parts fit the bed of a printer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

EDGE_MM = 2.0  # room left free at each edge of the bed
MOST_CUTS = 5


@dataclass(frozen=True, slots=True)
class Bedded:
    """Planes at which a case is cut, mm; `middles_y_mm` of the parts along y, `least_y_mm` their length."""

    cuts_x_mm: tuple[float, ...]
    cuts_y_mm: tuple[float, ...]
    middles_y_mm: tuple[float, ...]
    least_y_mm: float


def lay_on_bed(
    span_mm: Sequence[float], tall_mm: float, printer_mm: Sequence[float], *, flange_mm: float
) -> Bedded | None:
    """The fewest cuts with which a case of `span_mm` (x, y) and `tall_mm` fits the printer; None for none.

    A cut across x adds a flange at both ends along y, and the other way round. A part may be turned a quarter
    on the bed. It stands on its underside, so no cut helps a case that is too tall. `flange_mm` stands out of
    the wall.
    """
    room = sorted((printer_mm[0] - 2.0 * EDGE_MM, printer_mm[1] - 2.0 * EDGE_MM))
    if tall_mm > printer_mm[2]:
        return None
    wide, deep = span_mm
    best: tuple[int, int] | None = None
    for nx in range(1, MOST_CUTS + 2):
        for ny in range(1, MOST_CUTS + 2):
            part = sorted(
                (
                    wide / nx + _flanges(nx, ny, flange_mm, nx),
                    deep / ny + _flanges(ny, nx, flange_mm, ny),
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
    )


def _flanges(count: int, crossing: int, flange_mm: float, own: int) -> float:
    """How much longer the flanges of the other cuts make a part: at both ends when it is the only one."""
    tongue = 3.0 if count > 1 else 0.0
    if crossing == 1:
        return tongue
    return tongue + (2.0 if own == 1 else 1.0) * flange_mm
