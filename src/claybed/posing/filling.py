"""Which places to fill carry a number in pictures and lists."""

from __future__ import annotations

from collections.abc import Sequence

# What a fingertip can press in one place, and as many numbers as a picture carries.
LEAST_NUMBERED_ML = 0.01
MOST_NUMBERED = 6


def numbers_of(volumes_ml: Sequence[float]) -> tuple[int, ...]:
    """The number of each place, from 1 in the order given; 0 for one that is too small or too many for one.

    `volumes_ml` of oil clay, in ml.
    """
    given, numbers = 0, []
    for volume_ml in volumes_ml:
        counts = volume_ml >= LEAST_NUMBERED_ML and given < MOST_NUMBERED
        given += counts
        numbers.append(given if counts else 0)
    return tuple(numbers)
