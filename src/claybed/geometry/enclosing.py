"""Which boards or which band, of those at hand, enclose a block: nothing is cut for one mold.

Four boards stand around a boxed pour so that each butts against the next and runs past it at its other end.
The inside can then be any length up to the board's own, less its neighbour's thickness and what a clamp
needs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Protocol, TypeVar


class BoardLike(Protocol):
    """Boards of one size, mm, and how many."""

    @property
    def length_mm(self) -> float: ...  # noqa: D102
    @property
    def height_mm(self) -> float: ...  # noqa: D102
    @property
    def thickness_mm(self) -> float: ...  # noqa: D102
    @property
    def count(self) -> int: ...  # noqa: D102


class BandLike(Protocol):
    """A flexible strip, mm."""

    @property
    def length_mm(self) -> float: ...  # noqa: D102
    @property
    def height_mm(self) -> float: ...  # noqa: D102


Boards = TypeVar("Boards", bound=BoardLike)
Strip = TypeVar("Strip", bound=BandLike)
# Sides are set with a ruler; a board that is short by less than this is not short.
_ROUNDING_MM = 1e-6


def boards_around(
    sides_mm: tuple[float, float], height_mm: float, owned: Sequence[Boards], *, reach_mm: float
) -> tuple[Boards, Boards] | None:
    """The lowest and then shortest boards for the two sides of a box, or None when none enclose it.

    `sides_mm` inside lengths; `height_mm` the least height of a board; `reach_mm` what must stick out past
    the neighbouring board. Two boards close each side; the same size for both takes four of them.
    """
    best: tuple[Boards, Boards] | None = None
    best_rank = (math.inf, math.inf)
    for one in owned:
        for other in owned:
            enough = one.count >= 4 if one is other else min(one.count, other.count) >= 2
            long_enough = (
                longest_inside_mm(one.length_mm, other.thickness_mm, reach_mm) >= sides_mm[0] - _ROUNDING_MM
                and longest_inside_mm(other.length_mm, one.thickness_mm, reach_mm)
                >= sides_mm[1] - _ROUNDING_MM
            )
            low_mm = min(one.height_mm, other.height_mm)
            if not (enough and long_enough and low_mm >= height_mm - _ROUNDING_MM):
                continue
            rank = (one.height_mm + other.height_mm, one.length_mm + other.length_mm)
            if rank < best_rank:
                best, best_rank = (one, other), rank
    return best


def longest_inside_mm(length_mm: float, neighbour_mm: float, reach_mm: float) -> float:
    """Longest inside that a board closes, mm: its length less the neighbour's thickness and the reach."""
    return length_mm - neighbour_mm - reach_mm


def band_around(
    diameter_mm: float, height_mm: float, owned: Sequence[Strip], *, turns_least_count: float
) -> Strip | None:
    """The lowest and then shortest band that goes round a diameter often enough, or None."""
    length_mm = turns_least_count * math.pi * diameter_mm
    fit = [
        band
        for band in owned
        if band.length_mm >= length_mm - _ROUNDING_MM and band.height_mm >= height_mm - _ROUNDING_MM
    ]
    return min(fit, key=lambda band: (band.height_mm, band.length_mm), default=None)
