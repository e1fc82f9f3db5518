"""How to hold the closed mold so that it fills without trapping air and drains without keeping slip."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from claybed.gate.along import practice
from claybed.gate.draining import WAYS_ROUND, Drained, drained
from claybed.geometry.cast_solid import NeckShape, solid_parts, starved_parts
from claybed.geometry.directions import around
from claybed.geometry.growing_wall import Neck, grown_in, liquid_in, shut_off
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.nearness import distances_mm
from claybed.geometry.pooling import LEAST_CELLS, Cavity, Pocket, caught, caught_ml, cavity_of
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.brief import Brief
from claybed.records.flowed import Flow, Hold, Place, Shut, Solid, SolidEnd, Starved

COARSE_CELLS = 56
FINE_CELLS = 110
TILTS_DEG = (15.0, 30.0, 45.0)
MOST_HOLDS = 8
MOST_NECKS = 3
# So little of what a wall shuts in is left where a thicker one makes it solid.
SOLID_SHARE = 0.1
# Walls are asked for in halves of a millimetre, and so many tried where slip stays at the one asked for.
HALF_MM = 0.5
MOST_WALLS = 4


def flow_of(assembly: Assembly, brief: Brief) -> Flow | None:
    """Measure filling and draining of a closed mold; None when it is not for slip or has no gate.

    Reads `use` and `ware_wall_mm` of the brief. Air: cells from which no way rises to the gate. Slip: the
    same of what the wall leaves of the cavity, for a mold that is turned over. The gate counts as filled
    with the mold held so that it opens upwards, within 45 degrees.
    """
    if brief.use != "slip" or assembly.gate.kind == "none":
        return None
    plan = assembly.footprint / XY_PER_MM
    low = np.array([*plan.min(axis=0), 0.0])
    high = np.array([*plan.max(axis=0), assembly.height / Z_PER_MM])
    model = assembly.model.mesh(BLOCK_FRAME)
    coarse = cavity_of(model, low, high, COARSE_CELLS)
    fine = cavity_of(model, low, high, FINE_CELLS)
    if not coarse.opening.any() or not fine.opening.any():
        return None
    out = np.array(assembly.gate.out, dtype=np.float64)
    ways = ways_off(out, TILTS_DEG)
    up = best_way(coarse, ways, keeps_share=practice("tilt_air_gain_least_fraction"))
    least_ml = max(LEAST_CELLS, practice("bubble_fraction") * float(fine.inside.sum())) * fine.cell_ml
    air = caught(fine, up, less_than_ml=least_ml)
    hollow, turns_mm = grown_in(fine, brief.ware_wall_mm)

    def run_off(slip: Cavity, wall_mm: float) -> Drained | None:
        if not slip.opening.any():
            return None
        return drained(
            slip,
            liquid_in(coarse, wall_mm),
            lambda seen: best_way(seen, ways),
            lambda: cavity_of(model, low, high, 2 * FINE_CELLS),
            wall_mm,
            less_than_ml=least_ml,
        )

    run = run_off(hollow, brief.ware_wall_mm)
    closed = shut_off(fine, hollow, brief.ware_wall_mm, less_than_ml=least_ml, most_necks=MOST_NECKS)
    told = [neck.at_mm for _, neck in closed if neck is not None]
    solid, ends = solid_parts(
        fine,
        hollow,
        turns_mm,
        brief.ware_wall_mm,
        shape=_neck_shape(),
        less_than_ml=least_ml,
        told_mm=told,
    )
    late = starved_parts(
        fine,
        hollow,
        turns_mm,
        brief.ware_wall_mm,
        less_than_ml=least_ml,
        later_ratio=practice("starved_later_least_ratio"),
    )
    flow = Flow(
        cell_mm=fine.cell_mm,
        wall_mm=brief.ware_wall_mm,
        cavity_ml=float(fine.inside.sum()) * fine.cell_ml,
        fill_up=_vector(up),
        air=_holds(air),
        drain_down=_vector(out if run is None else run.down),
        slip_ml=0.0 if run is None else run.slip_ml,
        slip=() if run is None else _holds(run.slip),
        turn_down=None if run is None or run.turn is None else _vector(run.turn),
        turned_ml=0.0 if run is None else run.turned_ml,
        closed=tuple(_shut(part, neck, model, fine.cell_mm) for part, neck in closed[:MOST_HOLDS]),
        solid=tuple(
            Solid(
                plug.volume_ml,
                plug.at_mm,
                _clear_mm(plug.at_mm, model, plug.wide_mm, fine.cell_mm),
                plug.closes_mm,
            )
            for plug in solid[:MOST_NECKS]
        ),
        ends=tuple(SolidEnd(end.volume_ml, end.at_mm, end.thick_mm) for end in ends[:MOST_HOLDS]),
        slugs=() if run is None else tuple(run.slugs[:MOST_HOLDS]),
        starved=tuple(Starved(part.slip_ml, part.at_mm, part.closes_mm) for part in late[:MOST_HOLDS]),
        slip_cell_mm=fine.cell_mm if run is None else run.cell_mm,
    )
    most_ml = practice("slip_left_most_fraction") * flow.cavity_ml

    def holds(wall_mm: float, *, shut_most_ml: float) -> bool:
        slip = liquid_in(fine, wall_mm)
        shut = shut_off(fine, slip, wall_mm, less_than_ml=least_ml, most_necks=0)
        off = run_off(slip, wall_mm)
        stays_ml = 0.0 if off is None else min(off.slip_ml, off.turned_ml)
        shut_ml = sum(part.volume_ml for part, _ in shut)
        return shut_ml <= shut_most_ml and stays_ml + shut_ml <= most_ml

    if flow.left_ml + flow.shut_ml <= most_ml:
        return flow
    thinner, thicker = _walls_beside(flow)
    return replace(
        flow,
        thinner_mm=next((wall for wall in thinner if holds(wall, shut_most_ml=most_ml)), None),
        solid_mm=next(
            (wall for wall in thicker if holds(wall, shut_most_ml=SOLID_SHARE * flow.shut_ml)), None
        ),
    )


def _walls_beside(flow: Flow) -> tuple[list[float], list[float]]:
    """Walls that may let out what stays at the one asked for, mm: thinner ones, which leave a neck open that
    shuts, and thicker ones, at which what is shut in is clay; the nearest first, in halves of a millimetre.

    Source: materials/practice (neck_open_fraction, ware_wall_least_mm).
    """
    most_mm = flow.wall_mm - HALF_MM
    if flow.closed and flow.closed[0].closes_at_wall_mm is not None:
        most_mm = min(most_mm, practice("neck_open_fraction") * flow.closed[0].closes_at_wall_mm)
    first, least = math.floor(most_mm / HALF_MM), math.ceil(practice("ware_wall_least_mm") / HALF_MM)
    thinner = [HALF_MM * n for n in range(first, max(least, first - MOST_WALLS + 1) - 1, -1)]
    above = math.floor(flow.wall_mm / HALF_MM) + 1
    return thinner, [HALF_MM * n for n in range(above, above + MOST_WALLS)] if flow.closed else []


def _neck_shape() -> NeckShape:
    return NeckShape(
        far_factor=practice("neck_far_factor"),
        reach_least_ratio=practice("neck_reach_least_ratio"),
        volume_most_ratio=practice("neck_volume_most_ratio"),
        taper_least_ratio=practice("neck_taper_least_ratio"),
    )


def ways_off(out: Floats, tilts_deg: tuple[float, ...]) -> Floats:
    """The gate's own direction (3,) first, then directions tilted off it by so many degrees, (n, 3)."""
    return np.concatenate([out[None], *(around(out, tilt, WAYS_ROUND) for tilt in tilts_deg)])


def best_way(cavity: Cavity, ways: Floats, *, keeps_share: float = 1.0) -> Floats:
    """The first of the ways (n, 3) that catches next to least; straight, the first of all, where leaning
    still catches more than `keeps_share` of what that does, since vents have to see to that anyway.
    """
    straight: Floats = ways[0]
    worth_ml = practice("tilt_gain_least_fraction") * float(cavity.inside.sum()) * cavity.cell_ml
    at_first = caught_ml(cavity, straight)
    if at_first <= worth_ml:
        return straight
    held = [at_first, *(caught_ml(cavity, way) for way in ways[1:])]
    if min(held) > keeps_share * at_first:
        return straight
    best: Floats = ways[next(k for k, ml in enumerate(held) if ml <= min(held) + worth_ml)]
    return best


def _holds(pockets: list[Pocket]) -> tuple[Hold, ...]:
    return tuple(Hold(p.volume_ml, p.at_mm) for p in pockets[:MOST_HOLDS])


def _shut(part: Pocket, neck: Neck | None, model: Mesh, cell_mm: float) -> Shut:
    if neck is None:
        return Shut(part.volume_ml, part.at_mm)
    clear_mm = _clear_mm(neck.at_mm, model, neck.clear_mm, cell_mm)
    return Shut(part.volume_ml, part.at_mm, neck.at_mm, clear_mm, neck.closes_at_wall_mm)


def _clear_mm(at_mm: Place, model: Mesh, least_mm: float, cell_mm: float) -> float:
    # Cells know a width to a cell; from the neck's middle the surface itself tells it.
    clear_mm = 2.0 * float(distances_mm(np.array([at_mm]), model)[0])
    return min(max(clear_mm, least_mm), least_mm + 2.0 * cell_mm)


def _vector(v: Floats) -> Place:
    x, y, z = (float(c) + 0.0 for c in v)
    return x, y, z
