"""The block cut along the sheets: pieces and model, in the block's frame, exactly filling it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.labelling import mark_fill
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM, Lattice, LatticeMesh, lattice_mm, twice_plan_area
from claybed.geometry.mesh import Origin
from claybed.geometry.outside import closed_loops
from claybed.geometry.sheet import Sheet, joined, rim_edges
from claybed.geometry.slab import LatticeSolid, odd_faced_edges, solid_between
from claybed.geometry.uncrowding import CrowdedError
from claybed.materials import shelf
from claybed.records.assembly import Assembly, BlockKey, Gate, Piece
from claybed.records.parted import Layout, Parting

OUTSIDE = int(Origin.OUTSIDE)


def cut_block(
    parting: Parting,
    layout: Layout,
    gate: Gate,
    source: LatticeMesh,
    *,
    top_units: int | None,
    square_mm: float,
) -> Assembly:
    """Cut the block in one piece or two.

    `gate` in the pull frame; `source` the object with its gate on the pull frame's lattice, to tell fill from
    object; `top_units` fixes the block's top (a gate along the pull, an open face), else the wall does.
    The block is turned over when that makes the bed of the first pour shallower. Raises CrowdedError when
    a solid touches itself along an edge, ArithmeticError when the sheets do not make closed solids.
    """
    wall = round(layout.wall_mm * Z_PER_MM)
    above = joined(parting.top, parting.outside)
    below = joined(parting.bottom, parting.outside)
    for sheet in (above, below):
        refuse_unless_tiled(sheet, layout.footprint)
    if layout.pieces == 1:
        return _one_piece(parting, layout, gate, source, below, wall, square_mm)
    top = int(max(above.heights.max(), below.heights.max())) + wall if top_units is None else top_units
    bottom = int(min(below.heights.min(), above.heights.min())) - wall
    slack = -(top - bottom) % _ruler_units()
    if top_units is None:
        top += slack // 2
        slack -= slack // 2
    bottom -= slack
    model = solid_between(parting.bottom, parting.top, wall_origin=int(Origin.OBJECT))
    # Where the model touches itself the pieces need not be made yet.
    _refuse_crowded([model])
    upper = _under_plane(above, top)
    lower = _under_plane(below, bottom, flip=True)
    first_up = not poured_turned(parting, top_units)
    solids = [model, upper, lower] if first_up else [model, lower, upper]
    _refuse_crowded(solids[1:])
    solids[0] = mark_fill(model, source, layout.footprint)
    solids = [_in_block(s, bottom, top, turned=not first_up) for s in solids]
    pieces = (
        Piece("A", 1, (0.0, 0.0, 1.0), solids[1]),
        Piece("B", 2, (0.0, 0.0, -1.0), solids[2]),
    )
    return _assembly(
        parting, layout, gate, solids[0], pieces, bottom, top, turned=not first_up, square_mm=square_mm
    )


def poured_turned(parting: Parting, top_units: int | None) -> bool:
    """Whether the block is poured turned over: when that makes the bed of the first pour shallower."""
    below = parting.level - int(parting.bottom.heights.min())
    above = int(parting.top.heights.max()) - parting.level
    return top_units is None and below > above


def _one_piece(
    parting: Parting,
    layout: Layout,
    gate: Gate,
    source: LatticeMesh,
    below: Sheet,
    wall: int,
    square_mm: float,
) -> Assembly:
    top = int(parting.top.heights.max())
    bottom = int(below.heights.min()) - wall
    bottom -= -(top - bottom) % _ruler_units()
    level = Sheet(
        parting.top.plan, parting.top.faces, np.full_like(parting.top.heights, top), parting.top.origin
    )
    model = solid_between(parting.bottom, level, wall_origin=int(Origin.OBJECT))
    outside = parting.outside
    flat = Sheet(
        outside.plan, outside.faces, np.full_like(outside.heights, top), np.full_like(outside.origin, OUTSIDE)
    )
    lower = _under_plane(joined(parting.bottom, flat), bottom, flip=True)
    # It is poured face down on the board, so the block stands turned over.
    _refuse_crowded([model, lower])
    model = mark_fill(model, source, layout.footprint)
    solids = [_in_block(s, bottom, top, turned=True) for s in (model, lower)]
    pieces = (Piece("A", 1, (0.0, 0.0, 1.0), solids[1]),)
    return _assembly(parting, layout, gate, solids[0], pieces, bottom, top, turned=True, square_mm=square_mm)


def _ruler_units() -> int:
    """The step in which heights of blocks are rounded up, lattice units. Source: materials/practice."""
    return round(shelf.value("practice", "ruler_step_mm").value * Z_PER_MM)


def refuse_unless_tiled(sheet: Sheet, footprint: Lattice) -> None:
    """Raise ArithmeticError unless the plan triangles tile the footprint exactly.

    All areas positive, each edge mated but on the frame, and the areas summing to the footprint's in whole
    numbers: then no plan point is covered twice, and what rests on the sheet can leave along the pull.
    """
    area = twice_plan_area(sheet.plan, sheet.faces)
    ring = np.stack(
        [np.zeros(len(footprint), np.int64), np.arange(len(footprint)), np.arange(len(footprint))], axis=1
    )
    ring[:, 2] = np.roll(ring[:, 1], -1)
    whole = int(twice_plan_area(footprint, ring).sum())
    rim = rim_edges(sheet)
    ends = sheet.plan[rim]
    framed = np.zeros(len(rim), bool)
    for one, two in zip(footprint, np.roll(footprint, -1, axis=0), strict=True):
        along = two - one
        off = along[0] * (ends[:, :, 1] - one[1]) - along[1] * (ends[:, :, 0] - one[0])
        framed |= (off == 0).all(axis=1)
    if int(area.min()) <= 0 or int(area.sum()) != whole or not framed.all():
        raise ArithmeticError("the plan triangles do not tile the block")


def _refuse_crowded(solids: list[LatticeSolid]) -> None:
    """Raise CrowdedError when a solid touches itself along an edge: a file read elsewhere would not be a
    clean solid.
    """
    ends = [s.points[odd_faced_edges(s)[1]] for s in solids]
    if any(len(e) for e in ends):
        raise CrowdedError(np.concatenate(ends))


def _under_plane(sheet: Sheet, level: int, *, flip: bool = False) -> LatticeSolid:
    """The solid between a sheet and a level plane over it (or under it, with `flip`)."""
    on_plane = (sheet.heights == level).all(axis=1)
    if on_plane.any():
        plan = sheet.plan
        cap = Sheet(
            plan, sheet.faces, np.full_like(sheet.heights, level), np.full_like(sheet.origin, OUTSIDE)
        )
    else:
        rim = rim_edges(sheet)
        plan = np.concatenate([sheet.plan, np.zeros((1, 2), np.int64)])
        middle = np.full(len(rim), len(plan) - 1)
        fan = np.stack([rim[:, 0], rim[:, 1], middle], axis=1).astype(np.int32)
        cap = Sheet(plan, fan, np.full((len(fan), 3), level), np.full(len(fan), OUTSIDE, np.uint8))
    body = Sheet(plan, sheet.faces, sheet.heights, sheet.origin)
    pair = (cap, body) if flip else (body, cap)
    return solid_between(*pair, wall_origin=OUTSIDE)


def _in_block(solid: LatticeSolid, bottom: int, top: int, *, turned: bool) -> LatticeSolid:
    p = solid.points
    if turned:
        points = np.stack([p[:, 0], -p[:, 1], top - p[:, 2]], axis=1)
    else:
        points = p - np.array([0, 0, bottom])
    return LatticeSolid(points, solid.faces, solid.origin)


def _assembly(
    parting: Parting,
    layout: Layout,
    gate: Gate,
    model: LatticeSolid,
    pieces: tuple[Piece, ...],
    bottom: int,
    top: int,
    *,
    turned: bool,
    square_mm: float,
) -> Assembly:
    flip = np.diag([1.0, -1.0, -1.0]) if turned else np.eye(3)
    lift = np.array([0.0, 0.0, (top if turned else -bottom) / Z_PER_MM])
    footprint = layout.footprint * np.array([1, -1]) if turned else layout.footprint
    if turned:
        footprint = footprint[::-1]
    height = top - bottom
    outer = (*layout.outer_plan_mm, height / Z_PER_MM)

    def place(p: NDArray[np.float64]) -> NDArray[np.float64]:
        moved: NDArray[np.float64] = p @ flip.T + lift
        return moved

    keys = []
    surface = parting.outside
    for key in parting.keys:
        gap = np.hypot(*(surface.plan / XY_PER_MM - [key.x_mm, key.y_mm]).T)
        ring = (np.abs(gap - key.diameter_mm / 2.0) < 0.01)[surface.faces]
        z = float(surface.heights[ring].mean()) / Z_PER_MM
        x, y, z = place(np.array([key.x_mm, key.y_mm, z]))
        keys.append(BlockKey((float(x), float(y), float(z)), key.diameter_mm, key.depth_mm, "A"))
    at = place(np.array(gate.at_mm))
    out = np.array(gate.out) @ flip.T
    return Assembly(
        shape=layout.shape,
        outer_mm=outer if layout.shape == "boxed" else (layout.outer_plan_mm[0], height / Z_PER_MM),
        footprint=np.ascontiguousarray(footprint),
        height=height,
        wall_mm=layout.wall_mm,
        wall_reason=layout.wall_reason,
        model=model,
        pieces=pieces,
        contacts=(("A", "B"),) if len(pieces) == 2 else (),
        keys=tuple(keys),
        gate=replace(
            gate,
            at_mm=(float(at[0]), float(at[1]), float(at[2])),
            out=(float(out[0]), float(out[1]), float(out[2])),
            laps_mm=gate.laps_mm if flip[2, 2] > 0.0 else gate.laps_mm[::-1],
        ),
        seam_loops=tuple(place(loop) for loop in _seam_loops(parting)),
        seam_length_mm=parting.seam_length_mm,
        seam_flat=parting.flat,
        off_plane_mm=parting.off_plane_mm,
        level_mm=float(place(np.array([0.0, 0.0, parting.level / Z_PER_MM]))[2]),
        to_block=flip @ layout.rotation,
        shift_mm=flip @ layout.shift_mm + lift,
        stance=layout.stance,
        square_mm=square_mm,
        hidden_faces=parting.hidden_faces,
    )


def _seam_loops(parting: Parting) -> list[NDArray[np.float64]]:
    """The seam as polylines (n, 3) mm in the pull frame."""
    plan: Lattice = parting.outside.plan
    height = dict(zip(parting.rim.reshape(-1).tolist(), parting.seam_z.reshape(-1).tolist(), strict=True))
    number = {
        tuple(p): i
        for i, p in zip(np.unique(parting.rim).tolist(), plan[np.unique(parting.rim)].tolist(), strict=True)
    }
    loops = []
    for loop in closed_loops(np.concatenate([plan[parting.rim[:, 0]], plan[parting.rim[:, 1]]], axis=1)):
        z = np.array([height[number[tuple(p)]] for p in loop.tolist()])
        loops.append(lattice_mm(np.concatenate([loop, z[:, None]], axis=1)))
    if not all(math.isfinite(float(v)) for loop in loops for v in loop.ravel()):
        raise ArithmeticError("the seam is not finite")
    return loops
