"""The numbers the survey judges by, taken from the materials shelf once."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from claybed.materials import shelf
from claybed.records.surveyed import FillPlace, LockClass


@dataclass(frozen=True, slots=True)
class LockLimits:
    """Sideways depths in mm at which a lock starts to matter, and what oil clay weighs.

    Up to `ignore_mm` nothing locks; up to `scrape_mm` scraping does; beyond, it takes fill or another piece.
    """

    ignore_mm: float
    scrape_mm: float
    clay_g_per_ml: float
    crumb_mm3: float = 0.0

    def lock_class(self, depth_mm: float, volume_mm3: float) -> LockClass:
        """The class of a patch `depth_mm` deep sideways; one under `crumb_mm3` is scraped, however deep."""
        if depth_mm < self.ignore_mm:
            return "ignore"
        return "scrape" if depth_mm <= self.scrape_mm or volume_mm3 < self.crumb_mm3 else "fill"

    def deepest_mm(self, places: Sequence[FillPlace]) -> float:
        """The largest depth of `places`, mm; one that is scraped however deep counts for what is scraped.

        A gap between faces that all but lie on one another holds no plaster to speak of, but its way out may
        lead through the whole object.
        """
        return max(
            (p.depth_mm if p.lock_class == "fill" else min(p.depth_mm, self.scrape_mm) for p in places),
            default=0.0,
        )


def fill_limit_ml(solid_ml: float, allowed_ml: float | None) -> float:
    """The most oil clay that is asked of a person, ml: `allowed_ml`, else what practice takes unasked of an
    object of `solid_ml`. Source: materials/practice.
    """
    if allowed_ml is not None:
        return allowed_ml
    return max(
        shelf.value("practice", "fill_most_ml").value,
        shelf.value("practice", "fill_most_fraction").value * solid_ml,
    )


def shelf_limits() -> LockLimits:
    """The limits on the shelf; raises InputError when an entry is missing there."""
    return LockLimits(
        ignore_mm=shelf.value("practice", "lock_ignore_mm").value,
        scrape_mm=shelf.value("practice", "lock_scrape_mm").value,
        clay_g_per_ml=shelf.value("clay", "oil_clay_density_g_per_ml").value,
        crumb_mm3=shelf.value("practice", "lock_crumb_mm3").value,
    )
