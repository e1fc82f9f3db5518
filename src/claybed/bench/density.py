"""Density of the slurry at a consistency, from materials."""

from __future__ import annotations

from claybed.materials import shelf
from claybed.physics.slurry import slurry_density_kg_per_m3


def slurry_kg_per_m3(consistency: float) -> float:
    """Density of the slurry, kg/m³, at a consistency (water per 100 of plaster). Source: physics.slurry."""
    return slurry_density_kg_per_m3(
        consistency,
        plaster_kg_per_m3=1000.0 * shelf.value("plaster", "hemihydrate_density_g_per_ml").value,
        water_kg_per_m3=1000.0 * shelf.value("plaster", "water_density_g_per_ml").value,
    )
