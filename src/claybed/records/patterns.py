"""Paper patterns for slabs that are pressed into a mold."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.mesh import Floats


@dataclass(frozen=True, slots=True, eq=False)
class SlabPattern:
    """One piece of slab.

    `id` such as A1 (mold piece A), `copies` how many alike to cut; `points_mm` (n, 3) and `faces` (m, 3) the
    middle of the slab in the mold, `laid_mm` (n, 2) the same flat; `outline_mm` (k, 2) its edge, `cut_mm`
    (j, 2) with the allowance; `darts` cut into it; `curvature_sr` how much curvature it holds; `spread_ratio`
    and `floor_ratio` the logarithm of the greatest stretch over the least, as it is and as little as any map
    of a round patch with so much curvature can have; `stretch` (m,) flat area over true area; `unrolled`
    whether it lies flat without any; `joints` what each stretch of the edge meets, with its ends.
    """

    id: str
    copies: int
    points_mm: Floats
    faces: NDArray[np.int64]
    laid_mm: Floats
    outline_mm: Floats
    cut_mm: Floats
    darts: int
    curvature_sr: float
    spread_ratio: float
    floor_ratio: float
    stretch: Floats
    unrolled: bool
    joints: tuple[tuple[str, tuple[float, float], tuple[float, float]], ...]


@dataclass(frozen=True, slots=True)
class PatternAsk:
    """What is asked of the patterns; None takes the shelf's or the plan's figure.

    `slab_mm` thickness, `allowance_mm` at every edge, `stretch_fraction` that clay may take,
    `most_pieces` for one mold piece.
    """

    slab_mm: float | None = None
    allowance_mm: float | None = None
    stretch_fraction: float | None = None
    most_pieces: int = 12
