"""Where a turned profile ends: in a rim, a flat top, or a dome that is closed over."""

from __future__ import annotations

from typing import Final

import numpy as np

from claybed.geometry.mesh import Floats

_ON_THE_CONE_MM: Final = 0.25


def top_of(
    height: Floats, radius: Floats, cone: Floats, elevation_rad: float, pixel_mm: float
) -> tuple[int, bool]:
    """How many heights belong to the object, and whether it ends in a rim rather than a dome."""
    flatness = 1.0 / np.tan(max(elevation_rad, 0.02))
    # The flatter the cone, the farther a pixel's height moves it.
    slack = _ON_THE_CONE_MM + pixel_mm * flatness
    below = np.nonzero((radius < cone - slack) & (cone > 2.0 * slack))[0]
    end = int(below[-1]) + 1 if len(below) else 0
    if end < 8:
        return end, True
    # Down by a share of its radius, a ball has turned from the cone by that share in radians; a rim by more.
    edge = float(radius[end - 1])
    reach = max(0.12 * edge, 3.0 * pixel_mm)
    below_edge = (height[:end] < height[end - 1] - 0.5 * reach) & (
        height[:end] > height[end - 1] - 1.5 * reach
    )
    if below_edge.sum() < 3 or reach > 0.5 * edge:
        return end, True
    slope = float(np.polyfit(height[:end][below_edge], radius[:end][below_edge], 1)[0])
    turned = float(np.arctan(flatness) - np.arctan(-slope))
    return end, turned > 2.5 * reach / edge


def domed(height: Floats, radius: Floats, left: Floats, right: Floats) -> list[Floats]:
    """The profile closed by a rounded cap that carries on its last slope to the axis."""
    last = slice(max(0, len(height) - 8), len(height))
    fall = max(0.0, -float(np.polyfit(radius[last], height[last], 1)[0]))
    end = float(radius[-1])
    cap = end * np.linspace(1.0, 0.0, 24)[1:]
    slope_rad = float(np.arctan(fall))
    # Part of a ball that has this radius and slope at its edge.
    ball = end / max(np.sin(slope_rad), 1e-3)
    rise = np.sqrt(np.maximum(ball**2 - cap**2, 0.0)) - ball * np.cos(slope_rad)
    return [
        np.concatenate([height, height[-1] + np.maximum(rise, 1e-3 * np.arange(1, 24))]),
        np.concatenate([radius, cap]),
        np.concatenate([left, cap]),
        np.concatenate([right, cap]),
    ]
