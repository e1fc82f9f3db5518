"""Handles and spouts: an oval tube swept along a curve."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Final

import numpy as np
from scipy.interpolate import CubicSpline

from claybed.geometry.lofting import loft
from claybed.geometry.mesh import Floats, Mesh
from claybed.records.form import Tube

SIDES: Final = 48
STEPS: Final = 12


def centre_line_mm(tube: Tube) -> Floats:
    """Points (m, 2) of (x, z) on a smooth curve through the tube's path, mm: a natural cubic spline over the
    root of the chord, which keeps to the path where its points lie unevenly.

    Raises ValueError for fewer than two points, or two in one place.
    """
    rows = np.array(tube.path_mm, np.float64)
    step = np.linalg.norm(np.diff(rows, axis=0), axis=1)
    if len(rows) < 2 or not bool((step > 0.0).all()):
        raise ValueError("its path needs two points or more, each in another place")
    along = np.concatenate([[0.0], np.cumsum(np.sqrt(step))])
    at = np.concatenate([np.linspace(a, b, STEPS, endpoint=False) for a, b in pairwise(along)])
    points: Floats = CubicSpline(along, rows, bc_type="natural")(np.append(at, along[-1]))
    return points


def swept(tube: Tube, *, width_mm: float, thick_mm: float, beyond_mm: float = 0.0) -> Mesh:
    """The tube as a closed mesh: oval cuts across the curve, `beyond_mm` longer at its far end.

    Raises ValueError as `centre_line_mm` does, and when the curve turns more sharply than half its thickness.
    """
    line = centre_line_mm(tube)
    ahead = np.gradient(line, axis=0)
    ahead /= np.linalg.norm(ahead, axis=1)[:, None]
    if beyond_mm > 0.0:
        line = np.concatenate([line, line[-1:] + beyond_mm * ahead[-1:]])
        ahead = np.concatenate([ahead, ahead[-1:]])
    step = np.linalg.norm(np.diff(line, axis=0), axis=1)
    turned = np.abs(
        np.arctan2(
            ahead[:-1, 0] * ahead[1:, 1] - ahead[:-1, 1] * ahead[1:, 0], (ahead[:-1] * ahead[1:]).sum(axis=1)
        )
    )
    if bool((turned * thick_mm / 2.0 > step).any()):
        raise ValueError("the curve turns more sharply than the tube is thick")
    turn = 2.0 * math.pi * np.arange(SIDES) / SIDES
    across, out = width_mm / 2.0 * np.cos(turn), thick_mm / 2.0 * np.sin(turn)
    cos, sin = math.cos(math.radians(tube.around_deg)), math.sin(math.radians(tube.around_deg))
    rings = []
    for (x, z), (ux, uz) in zip(line, ahead, strict=True):
        flat = np.stack([x - uz * out, across, z + ux * out], axis=1)
        rings.append(
            np.stack(
                [cos * flat[:, 0] - sin * flat[:, 1], sin * flat[:, 0] + cos * flat[:, 1], flat[:, 2]], 1
            )
        )
    return loft(rings, rings[0].mean(axis=0), rings[-1].mean(axis=0))
