"""Where on the block something is, in words."""

from __future__ import annotations

from collections.abc import Sequence

from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM
from claybed.geometry.mesh import Floats
from claybed.records.assembly import Assembly
from claybed.records.finding import ABOVE_FOOT

Place = tuple[float, float, float]


def place_of(point_mm: Floats) -> Place:
    """A point (3,) as plain numbers, in mm."""
    return float(point_mm[0]), float(point_mm[1]), float(point_mm[2])


def in_words(at_mm: Sequence[float], assembly: Assembly) -> str:
    """A place of the block's frame (x, y, z in mm) in words: which side, and how high above its foot."""
    reach = abs(assembly.footprint).max(axis=0) / XY_PER_MM
    words = []
    for value, half, low, high in (
        (at_mm[1], reach[1], "front", "back"),
        (at_mm[0], reach[0], "left", "right"),
    ):
        if abs(value) > half / 4.0:
            words.append(low if value < 0 else high)
    side = " ".join(words) or "middle"
    top_mm = assembly.height / Z_PER_MM
    level = f"{at_mm[2]:.0f} {ABOVE_FOOT}" if at_mm[2] < top_mm else "at the top"
    return f"{side} of the block, {level}"
