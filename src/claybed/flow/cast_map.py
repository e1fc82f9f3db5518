"""A plan's mold under slip: what the stages work out, in order, and the document that says it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from claybed.errors import InputError
from claybed.geometry.mesh import Bytes, Floats, Mesh
from claybed.materials import shelf
from claybed.physics.cake import water_lost_kg_per_kg, water_sent_ratio
from claybed.physics.clay import clay_density_kg_per_m3, clay_solids_volume_fraction
from claybed.physics.porosity import porosity_fraction
from claybed.physics.slip import solids_volume_fraction
from claybed.physics.slurry import dry_density_kg_per_m3
from claybed.pours.mixing import densities_kg_per_m3
from claybed.records.reckoned import Reckoned
from claybed.records.soaked import Cast, CastOrder, MapAsk, PlasterGrid, Pocket, Soil
from claybed.soaking.clearing import pockets
from claybed.soaking.grid import build_grid
from claybed.soaking.reading import at_corners, beside_gate
from claybed.soaking.simulate import Soaking, reached_outside, run_casts
from claybed.soaking.soil import soil_of

Progress = Callable[[str, float], None]
MOST_CELLS = 6_000_000
USUAL_CELL_MM = 1.5


@dataclass(frozen=True, slots=True)
class Figures:
    """What a map is worked out with, every choice made; names and units as in MapAsk and Soil.

    `rate` is the working of the casting rate, None for the usual one.
    """

    rate_mm2_per_min: float
    minutes_min: float
    casts: int
    slip_ratio: float
    cast_water_fraction: float
    leather_water_fraction: float
    slowdown_fraction: float | None
    sorptivity_mm_per_sqrt_min: float | None
    suction_kpa: float
    moisture_fraction: float
    release_min: float
    rest_min: float
    consistency_per_100: float
    fillable_fraction: float
    wet_share: float
    water_per_cake_ratio: float
    release_ratio: float
    rate: Reckoned | None


@dataclass(frozen=True, slots=True, eq=False)
class CastMap:
    """A finished map.

    The grid and the casts; wall (mm) and pull of the plaster at the corners of the wall mesh, cast by cast;
    which corners are ware; whether water reached the block's outside; the slip that stays when it is drained;
    and, only if water reached the outside, casts and walls with `thicker_mm` more plaster there.
    """

    figures: Figures
    grid: PlasterGrid
    casts: tuple[Cast, ...]
    wall_mm: tuple[Floats, ...]
    pull_share: tuple[Floats, ...]
    ware: np.ndarray
    reached_outside: bool
    thicker_mm: float
    stays_ml: float
    pockets: tuple[Pocket, ...]
    thicker: tuple[tuple[Cast, ...], tuple[Floats, ...]] | None


def figures_of(ask: MapAsk, *, consistency_per_100: float, ware_wall_mm: float) -> Figures:
    """Settle what was left open, from the shelf and the plan. Raises InputError where a formula does."""

    slip_ratio = _settled(ask.slip_ratio, "slip", "slip_density_ratio")
    solids_ratio = _settled(ask.solids_ratio, "slip", "slip_solids_ratio")
    cast_water = _settled(ask.cast_water_fraction, "slip", "cast_water_fraction")
    leather_water = _settled(ask.leather_water_fraction, "slip", "leather_water_fraction")
    rate = _settled(None if ask.rate is None else ask.rate.value, "slip", "casting_rate_mm2_per_min")
    wall_mm = ware_wall_mm if ask.wall_mm is None else ask.wall_mm
    minutes = wall_mm**2 / rate if ask.minutes_min is None else ask.minutes_min
    plaster_kg_per_m3, water_kg_per_m3 = densities_kg_per_m3()
    dry_kg_per_m3 = dry_density_kg_per_m3(
        consistency_per_100, plaster_kg_per_m3=plaster_kg_per_m3, water_kg_per_m3=water_kg_per_m3
    )
    gypsum = 1000.0 * shelf.value("plaster", "gypsum_density_g_per_ml").value
    fillable = shelf.value("plaster", "uptake_fraction").value * porosity_fraction(
        dry_kg_per_m3, gypsum_kg_per_m3=gypsum
    )
    dry_clay_g_per_ml = clay_density_kg_per_m3(cast_water, solids_kg_per_m3=1000.0 * solids_ratio) / 1000.0
    dry_clay_g_per_ml *= 1.0 - cast_water
    slowdown = ask.slowdown_fraction
    if slowdown is None and ask.sorptivity_mm_per_sqrt_min is None:
        slowdown = shelf.value("slip", "damp_slope_ratio").value
    release = shelf.value("slip", "release_factor").value * minutes
    return Figures(
        rate_mm2_per_min=rate,
        minutes_min=minutes,
        casts=ask.casts,
        slip_ratio=slip_ratio,
        cast_water_fraction=cast_water,
        leather_water_fraction=leather_water,
        slowdown_fraction=slowdown,
        sorptivity_mm_per_sqrt_min=None if slowdown is not None else ask.sorptivity_mm_per_sqrt_min,
        suction_kpa=_settled(ask.suction_kpa, "plaster", "mold_suction_kPa"),
        moisture_fraction=ask.moisture_fraction,
        release_min=release if ask.release_min is None else ask.release_min,
        rest_min=ask.rest_min,
        consistency_per_100=consistency_per_100,
        fillable_fraction=fillable,
        wet_share=min(ask.moisture_fraction * dry_kg_per_m3 / (water_kg_per_m3 * fillable), 1.0),
        water_per_cake_ratio=water_sent_ratio(
            solids_volume_fraction(slip_ratio, solids_ratio),
            clay_solids_volume_fraction(cast_water, solids_ratio=solids_ratio),
        ),
        release_ratio=water_lost_kg_per_kg(cast_water, leather_water) * dry_clay_g_per_ml,
        rate=ask.rate,
    )


def _settled(given: float | None, file: str, name: str) -> float:
    return shelf.value(file, name).value if given is None else given


def soil(figures: Figures) -> Soil:
    """The coefficients of the simulation."""
    return soil_of(
        rate_mm2_per_min=figures.rate_mm2_per_min,
        water_per_cake_ratio=figures.water_per_cake_ratio,
        fillable_fraction=figures.fillable_fraction,
        wet_share=figures.wet_share,
        slowdown_fraction=figures.slowdown_fraction,
        sorptivity_mm_per_sqrt_min=figures.sorptivity_mm_per_sqrt_min,
        suction_kPa=figures.suction_kpa,
        slip_g_per_ml=figures.slip_ratio,
        release_ratio=figures.release_ratio,
        spread_mm2_per_s=shelf.value("plaster", "water_spread_mm2_per_s").value,
    )


def map_casts(
    pieces: list[Mesh],
    model: Mesh,
    on_outside: Bytes,
    figures: Figures,
    *,
    gate_at_mm: Floats | None,
    bore_mm: float | None,
    cell_mm: float | None,
    thicker_mm: float,
    progress: Progress,
) -> CastMap:
    """Cast in a closed mold as often as the figures say; lengths in mm, in the block's frame.

    `on_outside` as in soaking.build_grid; `gate_at_mm` (3,) where the gate meets the object, None when all of
    the wall is ware. `cell_mm` None takes 1.5 mm, larger where the mold would need over six million cells.
    Raises InputError for cells so small that more would be needed.
    """
    side = usual_cell_mm(pieces) if cell_mm is None else within_memory_mm(pieces, cell_mm)
    wall_mm = (figures.rate_mm2_per_min * figures.minutes_min) ** 0.5
    progress("cells", 0.0)
    grid = build_grid(pieces, model, on_outside, side, bend_reach_mm=1.5 * wall_mm)
    progress("cells", 1.0)
    coefficients = soil(figures)
    order = CastOrder(figures.casts, figures.minutes_min, figures.release_min, figures.rest_min)
    state = Soaking(grid, coefficients)
    casts = tuple(run_casts(state, order, progress=progress))
    progress("draining", 0.0)
    stays_ml, places = pockets(grid, casts[0])
    thicker = None
    outside = reached_outside(state)
    if thicker_mm > 0.0 and outside:
        wide = build_grid(pieces, model, on_outside, side, bend_reach_mm=1.5 * wall_mm, extra_mm=thicker_mm)
        more = tuple(
            run_casts(
                Soaking(wide, coefficients), order, progress=lambda _, done: progress("thicker plaster", done)
            )
        )
        thicker = (more, tuple(at_corners(wide, cast.wall_mm) for cast in more))
    ware = np.ones(len(grid.wall.vertices_mm), bool)
    if gate_at_mm is not None:
        ware = ~beside_gate(grid, gate_at_mm, bore_mm)
        ware = ware if ware.any() else ~ware
    return CastMap(
        figures=figures,
        grid=grid,
        casts=casts,
        wall_mm=tuple(at_corners(grid, cast.wall_mm) for cast in casts),
        pull_share=tuple(at_corners(grid, cast.pull_share) for cast in casts),
        ware=ware,
        reached_outside=outside,
        thicker_mm=thicker_mm,
        stays_ml=stays_ml,
        pockets=places,
        thicker=thicker,
    )


def usual_cell_mm(pieces: list[Mesh]) -> float:
    """1.5 mm, or what fills the pieces' box with MOST_CELLS if that is more."""
    least_mm: float = (_box_mm3(pieces) / MOST_CELLS) ** (1.0 / 3.0)
    return max(USUAL_CELL_MM, least_mm)


def within_memory_mm(pieces: list[Mesh], cell_mm: float) -> float:
    """The cell asked for. Raises InputError, naming one that fits, when it needs over MOST_CELLS."""
    needed = _box_mm3(pieces) / cell_mm**3
    if needed <= MOST_CELLS:
        return cell_mm
    fits_mm = math.ceil(10.0 * (_box_mm3(pieces) / MOST_CELLS) ** (1.0 / 3.0) - 1e-9) / 10.0
    raise InputError(
        f"cells of {cell_mm:g} mm would be {needed / 1e6:.0f} million in this block, and "
        f"{MOST_CELLS / 1e6:.0f} million fit.",
        where="--cell",
        remedy=f"Use --cell {fits_mm:g}mm or more.",
    )


def _box_mm3(pieces: list[Mesh]) -> float:
    low = np.min([piece.bounds_mm[0] for piece in pieces], axis=0)
    high = np.max([piece.bounds_mm[1] for piece in pieces], axis=0)
    return float(np.prod(high - low))
