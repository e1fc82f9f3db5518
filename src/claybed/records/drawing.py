"""A flat drawing at true scale: what is cut, what is only marked, and what is written on it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

# cut: along here; mark: drawn, not cut; dash: a fold, an axis, or what lies underneath.
Stroke = Literal["cut", "mark", "dash"]


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """A polyline: `points` (n, 2) mm, x to the right and y up; `closed` joins the last to the first."""

    points: NDArray[np.float64]
    stroke: Stroke = "mark"
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Label:
    """A word or number on a drawing, its middle at `at_mm`; `height_mm` of the letters, `turn_deg`
    counter-clockwise.
    """

    text: str
    at_mm: tuple[float, float]
    height_mm: float = 3.0
    turn_deg: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """One template at 1:1.

    `id` a file name without its ending; `title` what it is; `says` one sentence on what to do with it.
    """

    id: str
    title: str
    says: str
    lines: tuple[Line, ...]
    labels: tuple[Label, ...] = ()
