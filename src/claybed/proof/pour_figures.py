"""Whether the water and plaster of a plan still fit its pieces: a file may be edited, and so may a figure."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from claybed.geometry.slab import LatticeSolid
from claybed.materials import shelf
from claybed.records.finding import Check


def _most_off() -> float:
    return shelf.value("practice", "pour_off_most_fraction").value


def pour_fits(letter: str, solid: LatticeSolid, planned: Mapping[str, Any]) -> Check:
    """The check that a piece still has the volume that its pour was worked out for."""
    was_ml = float(planned["volume_ml"])
    off = abs(solid.volume_mm3 / 1000.0 - was_ml) / was_ml
    most = _most_off()
    return Check(
        id=f"pour_fits_{letter}",
        ok=off <= most,
        measured=100.0 * off,
        limit=100.0 * most,
        unit="percent",
        sense="most",
        where=f"piece {letter}",
        how="volume of the file's solid against the volume on the plan",
        remedy="" if off <= most else "Work its water and plaster out anew with claybed mix --space.",
    )


def mix_fits(letter: str, planned: Mapping[str, Any], pour: Mapping[str, Any]) -> Check:
    """The check that the water and plaster of a pour make the slurry that its piece and the waste take."""
    water_g, plaster_g = float(pour["water_g"]), float(pour["plaster_g"])
    grains_g_per_ml, water_g_per_ml = (
        shelf.value("plaster", key).value
        for key in ("hemihydrate_density_g_per_ml", "water_density_g_per_ml")
    )
    makes_ml = water_g / water_g_per_ml + plaster_g / grains_g_per_ml
    needed_ml = float(planned["volume_ml"]) * (1.0 + float(pour["waste"]))
    ratio_g = float(pour["consistency"]) / 100.0 * plaster_g
    off = max(abs(makes_ml - needed_ml) / needed_ml, abs(water_g - ratio_g) / max(water_g, ratio_g, 1e-9))
    most = _most_off()
    return Check(
        id=f"mix_fits_{letter}",
        ok=off <= most,
        measured=100.0 * off,
        limit=100.0 * most,
        unit="percent",
        sense="most",
        where=f"pour of piece {letter}",
        how="slurry of its water and plaster against volume and waste, and their ratio against the plan's",
        remedy=""
        if off <= most
        else "The figures of this pour were changed: work them out anew with claybed mix --space.",
    )
