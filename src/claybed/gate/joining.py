"""Joining the gate to the object, in the pull frame, run past the block so that it is cut off flush."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from claybed.gate.along import bore_place, practice, widening_mm
from claybed.gate.bore_end import (
    beyond_ml,
    end_cells,
    lap_mm,
    longest_mm,
    most_taken_mm,
    taken_by,
    widest_sparing,
)
from claybed.gate.tips import end_beside, end_of
from claybed.geometry.joining import carry_mouth, frustum, unite_end
from claybed.geometry.lattice import XY_PER_MM, lattice_mesh
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.geometry.overlap import facing
from claybed.materials import shelf
from claybed.records.gated import GatePlan
from claybed.records.parted import Layout

PULL_FRAME = "pull"
PAST_BLOCK_MM = 6.0
OFF_OBJECT_MM = (1.0,)
# More than the lattice may move a corner.
ROUND_MM = 0.01
HALFWAY_MM = 0.5
# No narrower bore is asked about.
NARROWEST_MM = 4
# Places across the bore at which the object's thickness is asked, denser towards its edges.
ACROSS = np.cos(np.linspace(0.0, np.pi, 11))


@dataclass(frozen=True, slots=True, eq=False)
class GatedModel:
    """The object with its gate in the pull frame, and where the gate meets it.

    `at_mm` (3,) on the object; `out` (3,) unit; `spare_ml` what the gate holds between object and block;
    `closes_at_wall_mm` the ware wall that closes it; `laps_mm` how far a bore's inner end laps over the
    object, above and below (in z); of a bore along the pull `bore_mm` how wide it was made at its narrowest,
    and `at_object_mm` at the object, else None; `beyond_ml` what of a bore stands on the far side of what it
    goes through; `taken_mm`, `taken_ml` and `sparing_mm` as in `records.assembly.Gate`.
    """

    mesh: Mesh
    at_mm: Floats
    out: Floats
    spare_ml: float
    closes_at_wall_mm: float
    laps_mm: tuple[float, float] = (0.0, 0.0)
    bore_mm: float | None = None
    at_object_mm: float | None = None
    beyond_ml: float = 0.0
    taken_mm: float = 0.0
    taken_ml: float = 0.0
    sparing_mm: float | None = None


def join_gate(mesh: Mesh, layout: Layout, plan: GatePlan, *, top_mm: float) -> GatedModel:
    """Place the object in the pull frame and join its gate.

    `mesh` in the object's frame; `top_mm` height of the block's top in the pull frame, where a gate along the
    pull ends.
    """
    placed = mesh.moved(layout.rotation, layout.shift_mm, frame=PULL_FRAME)
    out = layout.rotation @ np.asarray(plan.out)
    if plan.kind == "bore" and plan.along_pull:
        return _bore_along(placed, layout, plan, top_mm)
    if plan.kind == "bore":
        return _bore(placed, layout, plan, out)
    if plan.kind == "mouth":
        return _mouth(placed, layout, plan, out, top_mm)
    middle = placed.vertices_mm.mean(axis=0)
    closes = math.inf if plan.kind == "face" else math.nan
    return GatedModel(placed, middle, out, 0.0, closes)


def flare_ratio(kind: Literal["bore", "mouth"]) -> float:
    """How much a gate widens on each side, mm per mm of its length. Source: materials/practice."""
    return math.tan(math.radians(shelf.value("practice", f"gate_{kind}_flare_deg").value))


def _mouth(placed: Mesh, layout: Layout, plan: GatePlan, out: Floats, top_mm: float) -> GatedModel:
    rim = placed.vertices_mm[np.unique(placed.faces[placed.origin == 1])]
    at = rim.mean(axis=0)
    if plan.along_pull:
        up = np.array([0.0, 0.0, math.copysign(1.0, out[2])])
        length = abs(top_mm - float((rim @ up).max()) * up[2])
        joined = carry_mouth(placed, up, length, flare_ratio=0.0)
    else:
        # A rim that leans is carried to one level: all of its end must come out of the block's side.
        length = _to_frame(layout, at, out) + PAST_BLOCK_MM
        beyond = length - float((rim @ out).max() - at @ out)
        joined = carry_mouth(placed, out, beyond, flare_ratio=flare_ratio("mouth"))
    across = rim - at - np.outer((rim - at) @ out, out)
    width = 2.0 * float(np.linalg.norm(across, axis=1).max())
    grown = joined.volume_mm3 - placed.volume_mm3
    spare = grown * max(0.0, 1.0 - (0.0 if plan.along_pull else PAST_BLOCK_MM / length)) / 1000.0
    return GatedModel(joined, at, out, spare, width / shelf.value("practice", "closing_bore_factor").value)


def _bore(placed: Mesh, layout: Layout, plan: GatePlan, out: Floats) -> GatedModel:
    radius = plan.bore_mm / 2.0
    # Where the object stands furthest out, the seam passes: that is where slip can enter at the parting
    # surface.
    at = end_of(placed, out)
    if plan.at_mm is not None:
        at = layout.rotation @ np.asarray(plan.at_mm) + layout.shift_mm
    if plan.beside:
        wide = radius + (_to_frame(layout, at, out) + PAST_BLOCK_MM) * flare_ratio("bore")
        at = end_beside(placed, at, out, wide, [layout.rotation @ np.asarray(side) for side in plan.beside])
    found = _bury(placed, at, out, radius, plan.slot_mm)
    depth = radius if found is None else found
    if plan.at_base and layout.plane_mm is not None:
        # Half of it runs into the object, and half under it as far as it is wide, so that slip has its way.
        at, depth = np.array([at[0], at[1], layout.plane_mm]), radius
    elif layout.plane_mm is not None and abs(float(out[2])) < 1e-9:
        # In a seam that was laid in a plane the bore belongs into that plane, if it meets the object there.
        in_plane = np.array([at[0], at[1], layout.plane_mm])
        there = _bury(placed, in_plane, out, radius, plan.slot_mm)
        if there is not None:
            at, found = in_plane, there
            depth = there
    far = _to_frame(layout, at, out)
    flare = flare_ratio("bore")
    if found is None and not plan.at_base:
        depth = lap_mm(end_cells(placed, at, out, radius, radius, flare), radius)
    wide = radius + (far + PAST_BLOCK_MM) * flare
    # A ring just off the object keeps the many corners of their common line away from the block's side.
    length = depth + far + PAST_BLOCK_MM
    stops = [(depth + off) / length for off in OFF_OBJECT_MM if off < far]
    tool = frustum(at - depth * out, at + (length - depth) * out, radius, wide, frame=PULL_FRAME, stops=stops)
    joined = unite_end(placed, tool, out)
    share = frustum(at, at + far * out, radius, radius + far * flare, frame=PULL_FRAME)
    spare_mm3 = share.volume_mm3
    if plan.at_base:  # some of it runs under the object
        ends = (at + far * out, at + (length - depth) * out)
        past = frustum(*ends, radius + (wide - radius) * (depth + far) / length, wide, frame=PULL_FRAME)
        spare_mm3 = joined.volume_mm3 - placed.volume_mm3 - past.volume_mm3
    closes = plan.bore_mm / shelf.value("practice", "closing_bore_factor").value
    laps = _laps(joined, at, out)
    end = end_cells(placed, at, out, radius, depth, flare)
    taken = taken_by(end, radius, depth, at_base=plan.at_base)
    past_ml = beyond_ml(end, radius, depth)
    gated = GatedModel(
        joined,
        at,
        out,
        spare_mm3 / 1000.0,
        closes,
        laps,
        beyond_ml=past_ml,
        taken_mm=taken.long_mm,
        taken_ml=taken.volume_ml,
    )
    if taken.long_mm <= most_taken_mm(plan.bore_mm, longest_mm(placed)):
        return gated
    narrower = [float(bore) for bore in range(math.ceil(plan.bore_mm) - 1, NARROWEST_MM - 1, -1)]
    sparing_mm, _ = widest_sparing(placed, at, out, narrower, plan.slot_mm, at_base=plan.at_base)
    return replace(gated, sparing_mm=sparing_mm)


def _bore_along(placed: Mesh, layout: Layout, plan: GatePlan, top_mm: float) -> GatedModel:
    """A bore from a flat place of the object to the block's top, narrower there; see `gate.along`."""
    up = np.array([0.0, 0.0, 1.0])
    length = top_mm - float(placed.vertices_mm[:, 2].max())
    sides = [layout.rotation @ np.asarray(side) for side in plan.beside]
    if plan.at_mm is None:
        at, bore = bore_place(placed, sides, length_mm=length, bore_mm=plan.bore_mm, least_mm=plan.least_mm)
    else:
        at, bore = layout.rotation @ np.asarray(plan.at_mm) + layout.shift_mm, plan.bore_mm
    length = top_mm - float(at[2])
    end, wide, narrow = at + length * up, bore / 2.0 + widening_mm(length), bore / 2.0
    buried = practice("gate_buried_mm")
    whole = length + buried
    start_wide = narrow + (wide - narrow) * whole / length
    stops = [(buried + off) / whole for off in OFF_OBJECT_MM if off < length]
    tool = frustum(at - buried * up, end, start_wide, narrow, frame=PULL_FRAME, stops=stops)
    joined = unite_end(placed, tool, up)
    spare_mm3 = joined.volume_mm3 - placed.volume_mm3
    closes = bore / shelf.value("practice", "closing_bore_factor").value
    cells = end_cells(placed, at, up, wide, buried, 0.0)
    taken = taken_by(cells, wide, buried)
    return GatedModel(
        joined,
        at,
        up,
        spare_mm3 / 1000.0,
        closes,
        bore_mm=bore,
        at_object_mm=2.0 * wide,
        beyond_ml=beyond_ml(cells, wide, buried),
        taken_mm=taken.long_mm,
        taken_ml=taken.volume_ml,
    )


def _laps(joined: Mesh, at: Floats, out: Floats) -> tuple[float, float]:
    """How far the bore's surface reaches over the object above and below its middle, mm."""
    corners = joined.vertices_mm[np.unique(joined.faces[joined.origin == int(Origin.GATE)])] - at
    reach, up = np.maximum(-(corners @ out), 0.0), corners[:, 2]
    # A corner at half its height belongs to both halves and tells neither from the other.
    halves = reach[up > HALFWAY_MM], reach[up < -HALFWAY_MM]
    above, below = (float(half.max(initial=0.0)) for half in halves)
    return above, below


def _bury(placed: Mesh, at: Floats, out: Floats, radius: float, slot_mm: float) -> float | None:
    """How deep the bore must start inside the object for slip to run freely out of it there, mm: where its
    inner end is all inside. Where that is more than a radius in, as far as what of it is inside is `slot_mm`
    thick will do (thinner towards the bore's edges, as the bore is). None when the object stays too thin for
    two diameters. Source: materials/practice (gate_buried_most_ratio).
    """
    most = practice("gate_buried_most_ratio") * radius
    reach = most * np.outer([0.0, 1.0], -out)[:, :2] + at[:2]
    low, high = reach.min(axis=0) - radius - ROUND_MM, reach.max(axis=0) + radius + ROUND_MM
    plan = placed.vertices_mm[:, :2]
    # Only what may lie over or under the bore is asked.
    missed = (plan < low) @ np.array([1, 2]) + (plan > high) @ np.array([4, 8])
    near = np.bitwise_and.reduce(missed[placed.faces], axis=1) == 0
    units = np.array([XY_PER_MM, XY_PER_MM, 4096.0])
    points = np.rint(placed.vertices_mm * units).astype(np.int64)
    lat = lattice_mesh(points, placed.faces[near], placed.origin[near])
    _, above = facing(lat, up=True)
    _, below = facing(lat, up=False)
    side = np.cross([0.0, 0.0, 1.0], out)
    half = radius * np.sqrt(1.0 - ACROSS**2)
    share = min(1.0, slot_mm / (2.0 * radius))
    thick: float | None = None
    for depth in np.arange(1.0, most, 0.5):
        p = at - depth * out + radius * ACROSS[:, None] * side
        thirds = np.rint(3 * XY_PER_MM * p[:, :2]).astype(np.int64)
        face_high, high = above.extreme_at(thirds, highest=True)
        face_low, low = below.extreme_at(thirds, highest=False)
        inside = np.minimum(high / 4096.0 - at[2], half) - np.maximum(low / 4096.0 - at[2], -half)
        inside[(face_high < 0) | (face_low < 0)] = -math.inf
        if bool((inside >= 2.0 * half - ROUND_MM).all()):
            return float(depth if thick is None or depth <= radius else thick)
        if thick is None and bool((inside >= share * 2.0 * half - ROUND_MM).all()):
            thick = float(depth)
    return thick


def _to_frame(layout: Layout, at: Floats, out: Floats) -> float:
    """Distance from a point to the block's side along a horizontal direction, mm."""
    corners = layout.footprint / XY_PER_MM
    best = math.inf
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        normal = np.array([b[1] - a[1], a[0] - b[0]])
        speed = float(normal @ out[:2])
        if speed > 1e-9:
            best = min(best, float(normal @ (a - at[:2])) / speed)
    return max(best, 0.0)
