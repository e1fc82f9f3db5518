"""What a case bears and takes: liquid plaster against its walls, lift, plastic, hours of printing."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from claybed.geometry.mesh import Floats
from claybed.physics.buoyancy import weight_on_top_kg
from claybed.physics.forms import plate_deflection_m, strip_deflection_m
from claybed.physics.pressure import board_force_N, head_pressure_Pa
from claybed.physics.vessels import ring_growth_m, upright_deflection_m
from claybed.records.cases import CASE_FRAME, Case, CasePart

# Walls that a nozzle of 0.4 mm prints in whole lines, thinnest first.
WALLS_MM = (3.2, 4.0, 4.8, 6.0, 8.0)
# A plan of more corners than this is a ring, not plates.
_MOST_PLATES = 8


@dataclass(frozen=True, slots=True)
class Wall:
    """How a wall bears the liquid: `head_mm` of it, `base_kpa` at its foot, `bow_mm` outwards, and the
    formula that gave it.
    """

    head_mm: float
    base_kpa: float
    bow_mm: float
    formula: str


@dataclass(frozen=True, slots=True)
class Taken:
    """Plastic of a part: `volume_ml` as printed, `solid_ml` of its shape, `skin_ml` of solid lines."""

    volume_ml: float
    solid_ml: float
    skin_ml: float


def wall_under_liquid(
    wall_mm: float,
    stay_mm: float,
    head_mm: float,
    *,
    radius_mm: float,
    corners: int,
    modulus_pa: float,
    slurry_kg_per_m3: float,
) -> Wall:
    """The bow of a case's wall full of liquid: the least of what three ways to hold it would allow.

    `stay_mm` the longest straight stretch between corners or flanges, `head_mm` of liquid over the lowest
    rim; `radius_mm` of a round plan with more than eight `corners`, which grows as a ring as well. Each way
    leaves out some of the support, so the least of them still says too much.
    """
    head, stay, thick, modulus = head_mm / 1e3, stay_mm / 1e3, wall_mm / 1e3, modulus_pa
    base_Pa = head_pressure_Pa(head, liquid_kg_per_m3=slurry_kg_per_m3)
    found = [
        (
            upright_deflection_m(
                head, thickness_m=thick, modulus_Pa=modulus, liquid_kg_per_m3=slurry_kg_per_m3
            ),
            "p h⁴ / (30 E I), an upright strip held at its foot",
        ),
        (
            strip_deflection_m(base_Pa, stay, thickness_m=thick, modulus_Pa=modulus),
            "5 p L⁴ / (384 E I), a level strip between corners or flanges",
        ),
    ]
    if 0.5 <= stay / head <= 3.0:
        bow_m = plate_deflection_m(
            stay, head, thickness_m=thick, modulus_Pa=modulus, liquid_kg_per_m3=slurry_kg_per_m3
        )
        found.append((bow_m, "c p h⁴ / D, a plate held at its foot and both ends"))
    bow_m, formula = min(found)
    if corners > _MOST_PLATES:
        bow_m += ring_growth_m(base_Pa, radius_mm / 1e3, thickness_m=thick, modulus_Pa=modulus)
        formula += " + p r² / (E t), the ring as a whole"
    return Wall(head_mm, base_Pa / 1e3, 1e3 * bow_m, formula)


def bolt_pull_newtons(case: Case, slurry_kg_per_m3: float) -> float:
    """Pull in one bolt of a flange when liquid presses the wall's two halves apart, N; 0 without flanges."""
    if not case.bolts:
        return 0.0
    head_m = (case.poured.top_mm - case.poured.low_mm) / 1e3
    ends = 2 * (len(case.cuts_x_mm) + len(case.cuts_y_mm))
    wide_m = max(case.outer_mm[:2]) / 1e3
    return board_force_N(wide_m, head_m, liquid_kg_per_m3=slurry_kg_per_m3) / 2.0 / (case.bolts / ends)


def hold_down_g(case: Case, plastic_g: float, slurry_kg_per_m3: float) -> tuple[float, float]:
    """Weight that keeps the case down if slurry creeps under it, g, and the room its floor takes, ml.

    Sealed to the board it feels no lift; with slurry on all sides it lifts by the room that floor and model
    take from the slurry under the fill line.
    """
    poured, low_mm2, top_mm2 = case.poured, *(_area(ring) for ring in _outlines(case))
    leaning_mm = poured.top_mm - poured.low_mm
    room_mm3 = low_mm2 * (poured.low_mm + case.shape.floor_mm) + leaning_mm * (low_mm2 + top_mm2) / 2.0
    taken_ml = max((room_mm3 - poured.solid.volume_mm3) / 1e3, 1.0)
    kg = weight_on_top_kg(plastic_g / 1e3, taken_ml / 1e6, liquid_kg_per_m3=slurry_kg_per_m3)
    return 1e3 * max(kg, 0.0), taken_ml


def _outlines(case: Case) -> tuple[Floats, Floats]:
    return case.poured.low_outline_mm, case.poured.top_outline_mm


def _area(ring: Floats) -> float:
    x, y = ring.T
    return abs(float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())) / 2.0


def plastic_taken(part: CasePart, skin_mm: float, infill_fraction: float) -> Taken:
    """Plastic of a part: `skin_mm` of solid lines on every surface, and `infill_fraction` within."""
    solid_ml = part.solid.volume_mm3 / 1e3
    skin_ml = min(part.solid.mesh(CASE_FRAME).area_mm2 * skin_mm / 1e3, solid_ml)
    return Taken(skin_ml + infill_fraction * (solid_ml - skin_ml), solid_ml, skin_ml)


def time_class(hours: float) -> str:
    """A printing time in the words a person plans by."""
    for most, words in ((4.0, "an afternoon"), (10.0, "a night"), (24.0, "a day")):
        if hours <= most:
            return words
    return f"{math.ceil(hours / 24.0)} days"
