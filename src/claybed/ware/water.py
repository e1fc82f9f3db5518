"""The water of a cast: how much goes into the mold, and where it fits."""

from __future__ import annotations

from claybed.materials.bodies import Slip
from claybed.physics import cake, clay
from claybed.physics import slip as slips
from claybed.records.reckoned import Reckoned
from claybed.ware.reckoning import reckon


def sent_into_mold(slip: Slip) -> Reckoned:
    """Water that goes into the mold for each volume of clay cast."""
    return reckon(
        lambda density_ratio, solids_ratio, clay_water_fraction: cake.water_sent_ratio(
            slips.solids_volume_fraction(density_ratio, solids_ratio),
            clay.clay_solids_volume_fraction(clay_water_fraction, solids_ratio=solids_ratio),
        ),
        "-",
        "solids share of the wall / of the slip - 1",
        "mass-balance",
        density_ratio=slip.density,
        solids_ratio=slip.solids,
        clay_water_fraction=slip.cast_water,
    )


def clay_kg_per_m3(water_fraction: float, solids_ratio: float) -> float:
    """Density of wet clay from its water over wet mass and its solids against water, kg/m³."""
    return clay.clay_density_kg_per_m3(water_fraction, solids_kg_per_m3=1000 * solids_ratio)


def water_of_cast(slip: Slip, wall: Reckoned) -> Reckoned:
    """Water, kg/m², that a cast of a wall (mm) gives to the mold until it is leather-hard."""
    return reckon(
        lambda wall_mm, density_ratio, solids_ratio, clay_water_fraction, leather_water_fraction: (
            wall_mm
            / 1000
            * clay_kg_per_m3(clay_water_fraction, solids_ratio)
            * (1 - clay_water_fraction)
            * cake.water_lost_kg_per_kg(
                1 - slips.solids_mass_fraction(density_ratio, solids_ratio), leather_water_fraction
            )
        ),
        "kg/m2",
        "dry clay of the wall x water lost from slip to leather-hard",
        "mass-balance",
        wall_mm=wall.value,
        density_ratio=slip.density,
        solids_ratio=slip.solids.value,
        clay_water_fraction=slip.cast_water.value,
        leather_water_fraction=slip.leather_water,
    )
