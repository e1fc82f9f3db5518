"""The block of a mold at another wall or outside, without cutting it anew: its size, and the plaster in it.

The plaster of a closed mold is the block less the model. The block is a prism over its footprint. The model
is the object, what is filled, and the gate as far as the block's side; only the last changes with the wall,
and it is joined and measured anew. Nothing is sampled.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from claybed.errors import CannotError
from claybed.flow.molding import Molded
from claybed.gate.joining import GatedModel, join_gate
from claybed.geometry.lattice import XY_PER_MM, pull_rotation
from claybed.geometry.levels import volume_above_mm3
from claybed.geometry.mesh import Floats
from claybed.materials import shelf
from claybed.mold.block import lay_out
from claybed.mold.owned import ruled
from claybed.records.brief import Brief
from claybed.records.gated import GatePlan
from claybed.records.measured import MeasuredObject
from claybed.records.parted import Layout

Shape = Literal["auto", "boxed", "round"]
SAME_MM = 1e-6


@dataclass(frozen=True, slots=True)
class Block:
    """A block that could be cut: `outer_mm` as in plan.json, `wall_mm` least plaster, `plaster_ml` of all its
    pieces together.
    """

    shape: str
    outer_mm: tuple[float, ...]
    wall_mm: float
    plaster_ml: float


def blocks_of(obj: MeasuredObject, molded: Molded, brief: Brief) -> Callable[[float, Shape], Block]:
    """What tells the block of a mold at any wall (mm) and outside; `molded` is the mold as it was cut.

    Raises CannotError when the block as it was cut cannot be told this way: a parting surface that stands
    out over the object decides its height. The function that is returned raises InputError and CannotError
    as laying out a block does, and CannotError for a wall of more than `wall_most_mm` (materials/practice).
    """
    made = molded.assembly
    if made.hump:
        raise CannotError("how large another plinth would be is only known once it is planned.")
    gate = molded.gate
    if molded.option.sides:
        gate = replace(gate, out=_as_made(obj, gate, molded))
    pieces = 1 if molded.option.kind == "one_piece" else 2

    def laid(wall_mm: float, shape: Shape) -> Layout:
        wished = replace(brief, wall_mm=wall_mm, shape=shape)
        if molded.option.sides and shape == "auto":
            wished = replace(wished, shape="boxed")
        option = molded.option
        return lay_out(obj.mesh, option.pull, gate, wished, pieces=pieces, sides=option.sides)

    first = laid(made.wall_mm, "boxed")
    placed = obj.mesh.vertices_mm @ first.rotation[2] + float(first.shift_mm[2])
    low_mm, high_mm = float(placed.min()), float(placed.max())

    def height_mm(wall_mm: float) -> float:
        if pieces == 1:
            return ruled(high_mm - low_mm + wall_mm)
        top_mm = float(np.ceil(high_mm + wall_mm)) if gate.along_pull else high_mm + wall_mm
        return ruled(top_mm - low_mm + wall_mm)

    def gate_ml(layout: Layout) -> float:
        """The object and its gate as far as the block's side, ml."""
        if gate.kind not in ("bore", "mouth"):
            return obj.mesh.volume_mm3 / 1000.0
        gated = join_gate(obj.mesh, layout, gate, top_mm=float(np.ceil(high_mm + layout.wall_mm)))
        whole_mm3 = gated.mesh.volume_mm3
        out, reach_mm = _way_out(gate, gated, layout, high_mm)
        turned = gated.mesh.moved(pull_rotation(_unit(out)), np.zeros(3), frame="gate")
        return (whole_mm3 - volume_above_mm3(turned, reach_mm)) / 1000.0

    shape: Shape = "round" if made.shape == "round" else "boxed"
    as_cut = laid(made.wall_mm, shape)
    block_ml = _area_mm2(as_cut) * made.outer_mm[-1] / 1000.0
    told_mm = (*_plan_mm(as_cut), height_mm(made.wall_mm))
    if any(abs(told - cut) > SAME_MM for told, cut in zip(told_mm, made.outer_mm, strict=True)):
        raise CannotError("how large another block would be is only known once it is planned.")
    model_ml = block_ml - sum(piece.solid.volume_mm3 for piece in made.pieces) / 1000.0
    fixed_ml = model_ml - gate_ml(as_cut)

    def at(wall_mm: float, shape: Shape) -> Block:
        most_mm = shelf.value("practice", "wall_most_mm").value
        if wall_mm > most_mm:
            raise CannotError(
                f"a wall of {wall_mm:g} mm is more than is tried here.",
                remedy=f"Choose at most {most_mm:g} mm.",
            )
        layout = laid(wall_mm, shape)
        tall_mm = height_mm(wall_mm)
        plaster_ml = _area_mm2(layout) * tall_mm / 1000.0 - fixed_ml - gate_ml(layout)
        return Block(layout.shape, (*_plan_mm(layout), tall_mm), wall_mm, plaster_ml)

    return at


def _plan_mm(layout: Layout) -> tuple[float, ...]:
    return layout.outer_plan_mm if layout.shape == "boxed" else layout.outer_plan_mm[:1]


def _area_mm2(layout: Layout) -> float:
    x, y = (layout.footprint / XY_PER_MM).T
    return float(abs(x @ np.roll(y, -1) - y @ np.roll(x, -1))) / 2.0


def _way_out(gate: GatePlan, gated: GatedModel, layout: Layout, high_mm: float) -> tuple[Floats, float]:
    """Unit way out of the gate in the pull frame, and how far along it the block's side lies, mm."""
    if gate.along_pull:
        sign = float(np.sign(gated.out[2])) or 1.0
        return np.array([0.0, 0.0, sign]), float(np.ceil(high_mm + layout.wall_mm))
    out = np.array([gated.out[0], gated.out[1], 0.0])
    out = out / np.linalg.norm(out)
    return out, float((layout.footprint / XY_PER_MM @ out[:2]).max())


def _as_made(obj: MeasuredObject, gate: GatePlan, molded: Molded) -> tuple[float, float, float]:
    """The way out of the gate as it was cut, object's frame: side pieces may have turned it round."""
    made = molded.assembly
    out = made.to_block.T @ np.array(made.gate.out) if made.gate.kind == "bore" else np.array(gate.out)
    return _unit(out)


def _unit(v: Floats) -> tuple[float, float, float]:
    x, y, z = (float(c) for c in v / np.linalg.norm(v))
    return x, y, z
