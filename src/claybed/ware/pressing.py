"""Pressing clay into a mold: slabs, the coil along the seam, slip for scoring, and the wait."""

from __future__ import annotations

import math

from claybed.errors import InputError
from claybed.materials import shelf
from claybed.materials.bodies import Body
from claybed.materials.shelf import Constant
from claybed.physics import clay, pressing
from claybed.records.reckoned import Reckoned
from claybed.records.ware import Press
from claybed.ware.reckoning import Input, middle, reckon, taken


def slab_for(extent_mm: float) -> Constant:
    """Usual thickness of clay, mm, by the longest side of the piece. Source: common practice."""
    for size in ("small", "medium"):
        if extent_mm <= shelf.value("practice", f"press_{size}_mm").value:
            return shelf.value("practice", f"press_slab_{size}_mm")
    return shelf.value("practice", "press_slab_large_mm")


def plan_press(
    area_cm2: Input,
    *,
    slab_mm: Input,
    seam_mm: Input | None = None,
    pieces: int = 1,
    water: Constant | None = None,
    block_kg: float | None = None,
    wait_min: float | None = None,
    press_number: int = 1,
    body: Body | None = None,
) -> Press:
    """A pressing of `area_cm2` of clay `slab_mm` thick, in `pieces` slabs, joined along `seam_mm`.

    `water` of the plastic clay over wet mass; `block_kg` of a bag; `wait_min` usual wait for the usual slab;
    `press_number` in a row since the mold was dry. Raises InputError for what is not positive.
    """
    if middle(slab_mm) <= 0 or middle(area_cm2) <= 0:
        raise InputError("area and thickness must be above 0.", where="press", remedy="Give --area 600cm2.")
    water = water or (body.water if body is not None else shelf.value("clay", "plastic_water_fraction"))
    solids = shelf.value("clay", "clay_solids_density_g_per_ml")
    block = shelf.value("practice", "clay_block_kg") if block_kg is None else block_kg
    edge = shelf.value("practice", "slab_beyond_edge_mm")

    def density(water_fraction: float) -> float:
        return clay.clay_density_kg_per_m3(water_fraction, solids_kg_per_m3=1000 * solids.value)

    piece = reckon(
        lambda area_cm2, slab_mm, water_fraction: (
            area_cm2 / 10 * pressing.slab_kg_per_m2(slab_mm / 1000, clay_kg_per_m3=density(water_fraction))
        ),
        "g",
        "area x thickness x density of the clay",
        "moisture-bases",
        area_cm2=area_cm2,
        slab_mm=slab_mm,
        water_fraction=water,
    )
    slabs = reckon(
        lambda area_cm2, slabs, beyond_mm: slabs * (math.sqrt(area_cm2 / slabs) + 2 * beyond_mm / 10) ** 2,
        "cm2",
        "slabs x (side of a square slab + both edges)^2",
        "practice",
        area_cm2=area_cm2,
        slabs=float(pieces),
        beyond_mm=edge,
    )
    raw = reckon(
        lambda clay_g, raw_clay_factor: clay_g * raw_clay_factor,
        "g",
        "clay in the piece x usual factor",
        "practice",
        clay_g=piece.value,
        raw_clay_factor=shelf.value("practice", "raw_clay_factor"),
    )
    coil_mm = coil_g = scoring = None
    if seam_mm is not None and middle(seam_mm) > 0:
        coil = shelf.value("practice", "seam_coil_mm")
        coil_mm = taken(seam_mm, "mm", "length of the seam")
        coil_g = reckon(
            lambda seam_mm, coil_mm, water_fraction: (
                math.pi / 4 * coil_mm**2 * seam_mm * 1e-6 * density(water_fraction)
            ),
            "g",
            "seam x section of the coil x density of the clay",
            "practice",
            seam_mm=seam_mm,
            coil_mm=coil,
            water_fraction=water.value,
        )
        scoring = reckon(
            lambda seam_mm, ml_per_m: seam_mm / 1000 * ml_per_m,
            "ml",
            "seam x usual amount",
            "practice",
            seam_mm=seam_mm,
            ml_per_m=shelf.value("practice", "scoring_slip_ml"),
        )
    return Press(
        slab_mm=taken(slab_mm, "mm", "thickness of the slab"),
        clay_g=piece,
        raw_clay_g=raw,
        slab_area_cm2=slabs,
        slabs_per_block=reckon(
            lambda block_kg, slab_area_cm2, slab_mm, slabs, water_fraction: math.floor(
                1000 * block_kg / (slab_area_cm2 / slabs * slab_mm / 10 * density(water_fraction) / 1000)
            ),
            "-",
            "bag / clay of one slab, whole slabs",
            "practice",
            block_kg=block,
            slab_area_cm2=slabs.value,
            slab_mm=middle(slab_mm),
            slabs=float(pieces),
            water_fraction=water.value,
        ),
        blocks=reckon(
            lambda raw_clay_g, block_kg: raw_clay_g / 1000 / block_kg,
            "-",
            "raw clay / bag",
            "practice",
            raw_clay_g=raw.value,
            block_kg=middle(block),
        ),
        coil_mm=coil_mm,
        coil_g=coil_g,
        scoring_slip_ml=scoring,
        wait_minutes=_wait(slab_mm, wait_min, press_number),
    )


def _wait(slab_mm: Input, wait_min: float | None, press_number: int) -> Reckoned:
    usual = shelf.value("practice", "press_wait_min") if wait_min is None else wait_min
    least = shelf.value("practice", "press_wait_least_min")
    thick = shelf.value("practice", "press_slab_usual_mm")
    slope = shelf.value("slip", "damp_slope_ratio")
    return reckon(
        lambda slab_mm, usual_min, usual_slab_mm, least_min, damp_slope, earlier: (
            pressing.press_wait_s(
                slab_mm / 1000, usual_s=60 * usual_min, usual_m=usual_slab_mm / 1000, least_s=60 * least_min
            )
            / 60
            * (1 + damp_slope * earlier)
        ),
        "min",
        "usual wait x (slab / usual slab)^2, at least the floor, longer in a damp mold",
        "press-law",
        slab_mm=slab_mm,
        usual_min=usual,
        usual_slab_mm=thick.value,
        least_min=least.value,
        damp_slope=slope if press_number > 1 else 0.0,
        earlier=float(press_number - 1),
    )
