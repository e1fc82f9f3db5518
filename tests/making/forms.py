"""Readings the tests of turned forms share."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from claybed.records.form import Form, Reading, Section, Tube


def level(height_mm: float, width_mm: float, depth_mm: float | None = None) -> Reading:
    """One reading, round unless a depth is given."""
    return Reading(height_mm, width_mm, width_mm if depth_mm is None else depth_mm)


def from_curve(height_mm: float, diameter: Callable[[float], float], count: int) -> tuple[Reading, ...]:
    """Readings of a form whose diameter is known at every height, evenly spaced."""
    return tuple(level(float(z), diameter(float(z))) for z in np.linspace(0.0, height_mm, count))


def ball(radius_mm: float, count: int) -> Form:
    """A ball read at `count` levels, its poles among them."""

    def diameter(z: float) -> float:
        return 2.0 * math.sqrt(max(radius_mm**2 - (z - radius_mm) ** 2, 0.0))

    return Form(from_curve(2.0 * radius_mm, diameter, count))


VASE = Form(
    tuple(level(z, d) for z, d in ((0, 62), (12, 70), (40, 98), (70, 112), (100, 104), (130, 72), (165, 66)))
)
HANDLE = Tube("handle", ((40, 76), (58, 80), (70, 62), (66, 40), (40, 24)), 15.0, 9.0)
MUG = Form(
    outside=(level(0, 60), level(8, 66), level(45, 84), level(92, 86)),
    inside=(level(7, 48), level(14, 58), level(45, 76), level(92, 78)),
    foot_inside_mm=46.0,
    foot_deep_mm=3.0,
    lip="round",
    tubes=(HANDLE,),
)
SQUARISH = Section("superellipse", 4.0)
