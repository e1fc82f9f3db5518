"""Which places to fill carry a number in pictures and lists."""

from __future__ import annotations

from collections.abc import Sequence

from claybed.materials import shelf

# As many numbers as a picture carries.
MOST_NUMBERED = 6


def told_least_ml() -> float:
    """Fill of less than this is not told, ml. Source: materials/bench (fill_told_least_ml)."""
    return shelf.value("bench", "fill_told_least_ml").value


def numbers_of(volumes_ml: Sequence[float]) -> tuple[int, ...]:
    """The number of each place, from 1 in the order given; 0 for one that is too small or too many for one.

    `volumes_ml` of oil clay, in ml.
    """
    given, numbers, least_ml = 0, [], told_least_ml()
    for volume_ml in volumes_ml:
        counts = volume_ml >= least_ml and given < MOST_NUMBERED
        given += counts
        numbers.append(given if counts else 0)
    return tuple(numbers)
