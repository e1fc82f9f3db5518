"""The sizes in which keys are tried, for the seam and for side pieces alike."""

from __future__ import annotations

from typing import NamedTuple

from claybed.materials.shelf import value

# A step that ends nearer to the smallest size than this share of it goes there at once.
ALL_BUT = 1.1


class KeySize(NamedTuple):
    """Across and deep, mm."""

    diameter_mm: float
    depth_mm: float


def key_sizes() -> tuple[KeySize, ...]:
    """Sizes of keys, the largest first and each deep for its diameter.

    Source: materials/practice (key_diameter_mm, key_small_diameter_mm, key_step_ratio, key_depth_mm,
    key_depth_to_diameter_most_ratio).
    """
    largest_mm, least_mm, step = (
        value("practice", name).value
        for name in ("key_diameter_mm", "key_small_diameter_mm", "key_step_ratio")
    )
    share = min(
        value("practice", "key_depth_mm").value / largest_mm,
        value("practice", "key_depth_to_diameter_most_ratio").value,
    )
    sizes = [largest_mm]
    while sizes[-1] * step > ALL_BUT * least_mm:
        sizes.append(sizes[-1] * step)
    return tuple(KeySize(mm, share * mm) for mm in (*sizes, least_mm))
