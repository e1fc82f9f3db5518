"""What a case bears and takes: liquid plaster against its walls, lift, plastic, hours of printing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from claybed.cases.flanges import (
    FLANGE_OUT_MM,
    FLANGE_THICK_MM,
    HOLE_IN_MM,
    HOLE_MM,
    WASHER_MM,
    bolt_heights_mm,
)
from claybed.cases.sizes import size_mm
from claybed.cases.vessel import outer_body
from claybed.geometry.mesh import Floats
from claybed.physics.buoyancy import STANDARD_GRAVITY, weight_on_top_kg
from claybed.physics.forms import plate_deflection_m, strip_deflection_m
from claybed.physics.pressure import board_force_N, head_pressure_Pa
from claybed.physics.vessels import foot_moment_N, joint_gap_m, ring_growth_m, upright_deflection_m
from claybed.records.cases import CASE_FRAME, Case, CasePart, Poured

# Walls of whole lines, thinnest first.
_WALL_LINES = (8, 10, 12, 15, 20, 25, 30)
WALLS_MM = tuple(round(lines * size_mm("print_line"), 3) for lines in _WALL_LINES)
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


@dataclass(frozen=True, slots=True)
class Joint:
    """What holds the joint of a cut while the plaster is liquid.

    `where` in words, `level_mm` of a level cut; `head_mm` of liquid over its lowest place, `bolts` in the
    flange, at most `apart_mm` apart, `newtons` of pull in one, `load_n_per_m` that parts the flanges, and
    the `gap_mm` they open between two bolts.
    """

    where: str
    level_mm: float | None
    head_mm: float
    bolts: int
    apart_mm: float
    newtons: float
    load_n_per_m: float
    gap_mm: float


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


def joint_of_cut(
    wide_mm: float, head_mm: float, bolts: int, apart_mm: float, slurry_kg_per_m3: float, modulus_pa: float
) -> Joint:
    """The joint of an upright cut through two walls `wide_mm` apart at most, `bolts` in each flange.

    The liquid on half the wall between them pulls at each flange; at its foot, where most does, it bows
    between two bolts.
    """
    base_Pa = head_pressure_Pa(head_mm / 1e3, liquid_kg_per_m3=slurry_kg_per_m3)
    half_N = board_force_N(wide_mm / 1e3, head_mm / 1e3, liquid_kg_per_m3=slurry_kg_per_m3) / 2.0
    load_N_per_m = base_Pa * wide_mm / 2e3
    return Joint(
        "upright flanges", None, head_mm, bolts, apart_mm, half_N / bolts, load_N_per_m,
        _gap_mm(load_N_per_m, apart_mm, modulus_pa),
    )  # fmt: skip


def joint_of_level(
    level_mm: float,
    head_mm: float,
    ring_mm: float,
    bolts: int,
    apart_mm: float,
    slurry_kg_per_m3: float,
    modulus_pa: float,
    *,
    wall_mm: float,
    hung_kg: float,
) -> Joint:
    """The joint of a level cut with `head_mm` of liquid over it, `ring_mm` long all round.

    Bolts bear the liquid that creeps into the whole joint, the lean of the wall above it about the flange's
    rim, and `hung_kg` where the case is carried by what lies above.
    """
    base_Pa = head_pressure_Pa(head_mm / 1e3, liquid_kg_per_m3=slurry_kg_per_m3)
    lever_m = (FLANGE_OUT_MM - HOLE_IN_MM) / 1e3
    lean_N = foot_moment_N(head_mm / 1e3, liquid_kg_per_m3=slurry_kg_per_m3)
    load_N_per_m = base_Pa * (wall_mm + FLANGE_OUT_MM) / 1e3 + lean_N / lever_m
    load_N_per_m += hung_kg * STANDARD_GRAVITY / (ring_mm / 1e3)
    newtons = load_N_per_m * max(ring_mm / bolts, apart_mm) / 1e3
    return Joint(
        f"level flange {level_mm:.0f} mm up", level_mm, head_mm, bolts, apart_mm, newtons, load_N_per_m,
        _gap_mm(load_N_per_m, apart_mm, modulus_pa),
    )  # fmt: skip


def _gap_mm(load_N_per_m: float, apart_mm: float, modulus_pa: float) -> float:
    return 1e3 * joint_gap_m(
        load_N_per_m,
        apart_mm / 1e3,
        width_m=FLANGE_OUT_MM / 1e3,
        thickness_m=FLANGE_THICK_MM / 1e3,
        modulus_Pa=modulus_pa,
    )


def likely_gap_mm(poured: Poured, apart_mm: float, slurry_kg_per_m3: float, modulus_pa: float) -> float:
    """How far an upright cut of a piece's case would open between bolts `apart_mm` apart, mm."""
    wide_mm = float(np.ptp(poured.top_outline_mm, axis=0).max())
    head_mm = poured.top_mm - poured.low_mm
    return joint_of_cut(wide_mm, head_mm, 2, apart_mm, slurry_kg_per_m3, modulus_pa).gap_mm


def joints_of(case: Case, slurry_kg_per_m3: float, modulus_pa: float, full_kg: float) -> tuple[Joint, ...]:
    """Every joint of a case: that of its upright cuts, which are alike, and each level one from below."""
    poured, shape = case.poured, case.shape
    rim_mm = poured.top_mm + shape.floor_mm
    found = []
    flanges = 2 * (len(case.cuts_x_mm) + len(case.cuts_y_mm))
    if flanges:
        heights = bolt_heights_mm(rim_mm, case.levels_mm, shape.bolts_apart_mm)
        apart_mm = max((b - a for a, b in pairwise(heights)), default=rim_mm)
        wide_mm = max(float(np.ptp(poured.top_outline_mm, axis=0).max()), 1.0)
        head_mm = poured.top_mm - poured.low_mm
        found.append(
            joint_of_cut(wide_mm, head_mm, case.bolts // flanges, apart_mm, slurry_kg_per_m3, modulus_pa)
        )
    for level, ring_mm, bolts, apart in zip(
        case.levels_mm, case.rings_mm, case.level_bolts, case.level_apart_mm, strict=True
    ):
        found.append(
            joint_of_level(
                level, rim_mm - level, ring_mm, bolts, apart, slurry_kg_per_m3, modulus_pa,
                wall_mm=shape.wall_mm, hung_kg=full_kg if case.grips else 0.0,
            )
        )  # fmt: skip
    return tuple(found)


def washer_bears_newtons(bearing_kpa: float) -> float:
    """What a print bears under the washer of a bolt: its area, less the hole's, at `bearing_kpa`."""
    return bearing_kpa / 1e3 * math.pi / 4.0 * (WASHER_MM**2 - HOLE_MM**2)


def hold_down_g(case: Case, plastic_g: float, slurry_kg_per_m3: float) -> tuple[float, float]:
    """Weight that keeps the case down if slurry creeps under all of it, g, and the room it lifts by, ml.

    Sealed to the board it feels no lift. Slurry that comes through a joint and under the foot presses up
    there with the whole height of the liquid, and what stands in the case weighs down: it lifts by the column
    over its foot up to the fill line, less the plaster in it. Source: hydrostatics.
    """
    poured, floor_mm = case.poured, case.shape.floor_mm
    column_mm3 = _area(outer_body(poured, case.shape).low_mm) * (poured.top_mm + floor_mm)
    taken_ml = max((column_mm3 - poured.solid.volume_mm3) / 1e3, 1.0)
    kg = weight_on_top_kg(plastic_g / 1e3, taken_ml / 1e6, liquid_kg_per_m3=slurry_kg_per_m3)
    return 1e3 * max(kg, 0.0), taken_ml


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
    for most, words in ((1.0, "under an hour"), (4.0, "an afternoon"), (10.0, "a night"), (24.0, "a day")):
        if hours <= most:
            return words
    return f"{math.ceil(hours / 24.0)} days"
