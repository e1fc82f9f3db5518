"""Level cuts of a form: round, oval, superellipse, and rectangle with round corners."""

from __future__ import annotations

import math
from typing import Final

import numpy as np

from claybed.geometry.mesh import Floats
from claybed.records.form import Section

CHORD_MM: Final = 0.01
LEAST_POINTS: Final = 96
MOST_POINTS: Final = 384
_FINE: Final = 4096


def points_count(widest_mm: float) -> int:
    """How many points a ring of that width takes for its chords to stay within CHORD_MM of the curve.

    A multiple of 8, so that all quarters are alike; `LEAST_POINTS` to `MOST_POINTS`.
    """
    sagitta_share = min(CHORD_MM / max(widest_mm / 2.0, 1e-9), 0.5)
    needed = math.pi / math.acos(1.0 - sagitta_share)
    return int(min(max(8 * math.ceil(needed / 8), LEAST_POINTS), MOST_POINTS))


def area_mm2(section: Section, width_mm: Floats, depth_mm: Floats) -> Floats:
    """Area of the level cuts of these widths and depths, mm². Source: closed forms (gamma function)."""
    half_x, half_y = np.asarray(width_mm) / 2.0, np.asarray(depth_mm) / 2.0
    if section.kind == "rectangle":
        corner = np.minimum(section.corner_mm, np.minimum(half_x, half_y))
        area: Floats = 4.0 * half_x * half_y - (4.0 - math.pi) * corner**2
        return area
    n = 2.0 if section.kind in ("round", "oval") else section.exponent
    factor = 4.0 * math.gamma(1.0 + 1.0 / n) ** 2 / math.gamma(1.0 + 2.0 / n)
    oval: Floats = factor * half_x * half_y
    return oval


def ring_mm(section: Section, width_mm: float, depth_mm: float, z_mm: float, count: int) -> Floats:
    """Points (count, 3) of one level cut, counter-clockwise from the x axis, mm; `count` a multiple of 8."""
    half_x, half_y = width_mm / 2.0, depth_mm / 2.0
    quarter = count // 4
    if section.kind == "rectangle":
        corner = min(section.corner_mm, half_x, half_y)
        turn = np.linspace(0.0, math.pi / 2.0, quarter)
        x, y = half_x - corner + corner * np.cos(turn), half_y - corner + corner * np.sin(turn)
        xs = np.concatenate([x, -x[::-1], -x, x[::-1]])
        ys = np.concatenate([y, y[::-1], -y, -y[::-1]])
    else:
        n = 2.0 if section.kind in ("round", "oval") else section.exponent
        unit_x, unit_y = _quarter(n, quarter)
        x, y = half_x * unit_x, half_y * unit_y
        xs = np.concatenate([x[:-1], -x[:0:-1], -x[:-1], x[:0:-1]])
        ys = np.concatenate([y[:-1], y[:0:-1], -y[:-1], -y[:0:-1]])
    return np.stack([xs, ys, np.full(len(xs), z_mm)], axis=1)


def _quarter(n: float, steps: int) -> tuple[Floats, Floats]:
    """A quarter of the unit superellipse, (steps + 1,) points from the x to the y axis, evenly spaced along
    it.
    """
    if n == 2.0:
        turn = np.linspace(0.0, math.pi / 2.0, steps + 1)
        x, y = np.cos(turn), np.sin(turn)
    else:
        turn = np.linspace(0.0, math.pi / 2.0, _FINE)
        # Steps that shrink towards both axes, where the curve of a squarish form turns fastest.
        fine = (math.pi / 2.0) * (1.0 - np.cos(2.0 * turn)) / 2.0
        fx, fy = np.abs(np.cos(fine)) ** (2.0 / n), np.abs(np.sin(fine)) ** (2.0 / n)
        length = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(fx), np.diff(fy)))])
        at = np.linspace(0.0, length[-1], steps + 1)
        x, y = np.interp(at, length, fx), np.interp(at, length, fy)
    x[0], y[0], x[-1], y[-1] = 1.0, 0.0, 0.0, 1.0
    return x, y
