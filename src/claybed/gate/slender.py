"""Whether a bore would stand on an end of the object hardly wider than itself: a tip, a rim, a knob."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from claybed.gate.bore_end import EIGHT, end_cells
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.pooling import Cells

# An end is looked at as deep as the bore is wide; within this share of that it may still round off.
ROUNDED_SHARE = 0.5


def is_slender(
    placed: Mesh, at_mm: Floats, out: Floats, bore_mm: float, *, wall_mm: float, least_mm: float
) -> bool:
    """Whether the object is no wider than a bore and the ware's walls beside it, or has a neck narrower than
    `least_mm`, within a bore's width behind `at_mm` (3,), where a bore comes out along `out` (3,), unit.

    How wide it is there is told by the largest circle, its middle within the bore, in sections square to
    that. There a gate takes the place of what is seen, or slip has no way. Source: common practice, no
    source; a bore with a wall of ware either side has room in the object's own shape.
    """
    needed_mm = bore_mm + 2.0 * wall_mm
    end = end_cells(placed, at_mm, out, 0.5 * needed_mm + wall_mm, bore_mm, 0.0)
    widths_mm: list[float] = []
    for k in np.flatnonzero(end.below_mm <= bore_mm):
        width_mm = _width_mm(end.inside[:, :, k], end.off_mm <= 0.5 * bore_mm, end.cell_mm)
        rounded = float(end.below_mm[k]) <= ROUNDED_SHARE * bore_mm
        # Beyond the far side of what is thin along the bore nothing narrows it.
        if width_mm > 0.0 and not rounded and width_mm < least_mm - end.cell_mm:
            return True
        widths_mm.append(width_mm)
    return max(widths_mm, default=0.0) < needed_mm - end.cell_mm


def _width_mm(section: Cells, core: Cells, cell_mm: float) -> float:
    """The largest circle in a section (n, n) whose middle lies within a core, mm; 0 where it is empty there.
    What lies past the section's edge goes on as at it.
    """
    label, _ = ndimage.label(section, EIGHT)
    near = np.unique(label[core & section])
    own = np.isin(label, near[near > 0])
    if not own.any():
        return 0.0
    if own.all():
        return float(section.shape[0]) * cell_mm
    inner = ndimage.distance_transform_edt(np.pad(own, section.shape[0], mode="edge"))
    n = section.shape[0]
    middle = inner[n : 2 * n, n : 2 * n]
    return (2.0 * float(middle[core].max()) - 1.0) * cell_mm
