"""A plan's mold under slip: what the stages work out, in order, and the document that says it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from claybed.errors import InputError
from claybed.flow.cast_figures import Figures, soil
from claybed.geometry.mesh import Bytes, Floats, Mesh
from claybed.records.soaked import Airing, Cast, CastOrder, PlasterGrid, Pocket
from claybed.soaking.airing import open_faces_mm2
from claybed.soaking.clearing import pockets
from claybed.soaking.grid import build_grid
from claybed.soaking.reading import at_corners, beside_gate
from claybed.soaking.simulate import Soaking, reached_outside, run_casts

Progress = Callable[[str, float], None]
MOST_CELLS = 6_000_000
USUAL_CELL_MM = 1.5


@dataclass(frozen=True, slots=True, eq=False)
class CastMap:
    """A finished map.

    The grid and the casts; wall (mm) and pull of the plaster at the corners of the wall mesh, cast by cast;
    which corners are ware; plaster open to the air in a rest (cm²); whether water reached the block's
    outside; the slip that stays when it is drained; and, only if water reached the outside, casts and walls
    with `thicker_mm` more plaster there.
    """

    figures: Figures
    grid: PlasterGrid
    casts: tuple[Cast, ...]
    wall_mm: tuple[Floats, ...]
    pull_share: tuple[Floats, ...]
    ware: np.ndarray
    open_cm2: float
    reached_outside: bool
    thicker_mm: float
    stays_ml: float
    pockets: tuple[Pocket, ...]
    thicker: tuple[tuple[Cast, ...], tuple[Floats, ...]] | None


def map_casts(
    pieces: list[Mesh],
    model: Mesh,
    on_outside: Bytes,
    figures: Figures,
    *,
    gate_at_mm: Floats | None,
    bore_mm: float | None,
    parting_mm2: float,
    cell_mm: float | None,
    thicker_mm: float,
    progress: Progress,
) -> CastMap:
    """Cast in a closed mold as often as the figures say; lengths in mm, in the block's frame.

    `on_outside` as in soaking.build_grid; `gate_at_mm` (3,) where the gate meets the object, None when all of
    the wall is ware; `parting_mm2` the faces that the pieces touch with. `cell_mm` None takes 1.5 mm, larger
    where the mold would need over six million cells. Raises InputError for cells so small that more would be
    needed.
    """
    side = usual_cell_mm(pieces) if cell_mm is None else within_memory_mm(pieces, cell_mm)
    wall_mm = (figures.rate_mm2_per_min * figures.minutes_min) ** 0.5
    progress("cells", 0.0)
    grid = build_grid(pieces, model, on_outside, side, bend_reach_mm=1.5 * wall_mm)
    progress("cells", 1.0)
    coefficients = soil(figures)
    order, open_cm2 = _order(figures, grid, parting_mm2)
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
                Soaking(wide, coefficients),
                _order(figures, wide, parting_mm2)[0],
                progress=lambda _, done: progress("thicker plaster", done),
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
        open_cm2=open_cm2,
        reached_outside=outside,
        thicker_mm=thicker_mm,
        stays_ml=stays_ml,
        pockets=places,
        thicker=thicker,
    )


def _order(figures: Figures, grid: PlasterGrid, parting_mm2: float) -> tuple[CastOrder, float]:
    """What the casts are, with the air that a grid's open faces rest in; and those faces, cm², 0 without."""
    order = CastOrder(figures.casts, figures.minutes_min, figures.release_min, figures.rest_min)
    if figures.rest_min <= 0.0 or figures.casts < 2:
        return order, 0.0
    area_mm2 = open_faces_mm2(grid, apart=figures.opened, parting_mm2=parting_mm2)
    # A gram of water is a millilitre here, and g/(m² h) then a millimetre in a thousand hours.
    airing = Airing(area_mm2, figures.face_rate.value / 3.6e6, figures.critical_share)
    return replace(order, airing=airing), float(area_mm2.sum()) / 100.0


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
