"""Vents in the cells of a cavity."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from claybed.geometry.pooling import Cavity


def with_vents(cavity: Cavity, places_mm: Sequence[tuple[float, float, float]]) -> Cavity:
    """A cavity that opens at the given places as well, each at its nearest cell."""
    cells = np.argwhere(cavity.inside)
    middles = cavity.at_mm(cells)
    opening = cavity.opening.copy()
    for place in places_mm:
        nearest = cells[int(np.argmin(((middles - np.array(place)) ** 2).sum(axis=1)))]
        opening[tuple(nearest)] = True
    return replace(cavity, opening=opening)
