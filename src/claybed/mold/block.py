"""The block around the object: how it is turned, boxed or round, and how much plaster stands around the
cavity.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.spatial import ConvexHull

from claybed.errors import InputError
from claybed.geometry.directions import first_level
from claybed.geometry.encircling import least_circle
from claybed.geometry.lattice import XY_PER_MM, Lattice, pull_rotation
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.materials import shelf
from claybed.mold.owned import Around, owned_shape, ruled
from claybed.records.brief import Brief
from claybed.records.gated import GatePlan
from claybed.records.parted import Layout

ROUND_CORNERS = 96


def lay_out(
    mesh: Mesh,
    pull: tuple[float, float, float],
    gate: GatePlan,
    brief: Brief,
    *,
    pieces: int,
    key_room_mm: float = 0.0,
    sides: Sequence[tuple[float, float, float]] = (),
) -> Layout:
    """Lay the block out around an object that is pulled along `pull`, side pieces along `sides` (object
    frame).

    `key_room_mm` is added to the wall beside the cavity so that keys fit. Reads `wall_mm`, `use`, `shape`,
    `boards` and `bands` of the brief. Raises InputError for a wall thinner than practice allows,
    CannotError when nothing the studio owns goes round the block. Source: materials/practice (walls by
    size and use).
    """
    wall_mm, reason = choose_wall(mesh, brief)
    if key_room_mm:
        wall_mm, reason = wall_mm + key_room_mm, f"{reason}, and {key_room_mm:g} mm more so that keys fit"
    turn = _turn(mesh, pull, gate, sides)
    rotation = pull_rotation(pull, turn_rad=turn)
    placed = mesh.vertices_mm @ rotation.T
    lo, hi = placed.min(axis=0), placed.max(axis=0)
    middle = (lo + hi) / 2.0
    box = [ruled(float(hi[k] - lo[k]) + 2.0 * wall_mm) for k in (0, 1)]
    hull = placed[ConvexHull(placed[:, :2]).vertices][:, :2]
    centre, radius = least_circle(hull)
    diameter = ruled(2.0 * (radius + wall_mm))
    side_gate = gate.kind in ("bore", "mouth") and not gate.along_pull
    shape: str = brief.shape
    if shape == "auto":
        most = shelf.value("practice", "round_area_most_fraction").value
        saves = math.pi * diameter**2 / 4.0 < most * box[0] * box[1]
        shape = "round" if saves and not side_gate else "boxed"
    if brief.boards or brief.bands:
        x_mm, y_mm, z_mm = (float(side) for side in hi - lo)
        around = Around((x_mm, y_mm, z_mm), diameter, wall_mm, pieces)
        shape = owned_shape(shape, around, brief)
    if shape == "round":
        middle[:2] = centre
        outline = _round_outline(diameter / 2.0, _gate_width(mesh, gate, diameter) if side_gate else 0.0)
        outer = (diameter, diameter)
    else:
        x, y = box[0] / 2.0, box[1] / 2.0
        outline = np.array([[-x, -y], [x, -y], [x, y], [-x, y]])
        outer = (box[0], box[1])
    footprint: Lattice = np.rint(outline * XY_PER_MM).astype(np.int64)
    return Layout(
        rotation=rotation,
        shift_mm=-middle,
        footprint=footprint,
        shape=shape,
        outer_plan_mm=outer,
        wall_mm=wall_mm,
        wall_reason=reason,
        pieces=pieces,
        stance=_stance(shape, side_gate, pieces),
    )


def choose_wall(mesh: Mesh, brief: Brief) -> tuple[float, str]:
    """Least plaster around the cavity, mm, and the reason for it.

    Raises InputError for a wall under the least that practice knows.
    """

    def practice(name: str) -> float:
        return shelf.value("practice", name).value

    least = practice("wall_least_mm")
    if brief.wall_mm is not None:
        if brief.wall_mm < least:
            raise InputError(
                f"a wall of {brief.wall_mm:g} mm is thinner than plaster molds are made.",
                where="--wall",
                remedy=f"Ask for at least {least:g} mm.",
            )
        return brief.wall_mm, "as asked"
    if brief.hump:
        return practice("hump_ledge_mm"), "usual for the ledge and the plinth of a hump"
    size = float((mesh.bounds_mm[1] - mesh.bounds_mm[0]).max())
    if brief.use == "press":
        return practice("wall_press_mm"), "usual for a press mold"
    if size <= practice("object_small_mm"):
        return practice("wall_small_mm"), f"usual for an object of {size:.0f} mm"
    if size <= practice("object_medium_mm"):
        return practice("wall_medium_mm"), f"usual for an object of {size:.0f} mm"
    return practice("wall_large_mm"), f"usual for an object of {size:.0f} mm"


def _turn(
    mesh: Mesh,
    pull: tuple[float, float, float],
    gate: GatePlan,
    sides: Sequence[tuple[float, float, float]],
) -> float:
    """Turn of the plan about the pull: a gate through the side looks along y, else the first side piece that
    leaves level looks along a side of the block, else the box is the smallest.
    """
    base = pull_rotation(pull)
    if gate.kind in ("bore", "mouth") and not gate.along_pull:
        x, y, _ = base @ np.asarray(gate.out)
        return math.atan2(y, x) - math.pi / 2.0
    level = first_level(sides, pull)
    if level is not None:
        x, y, _ = base @ level
        return math.atan2(y, x) % (math.pi / 2.0)
    plan = mesh.vertices_mm @ base.T[:, :2]
    corners = plan[ConvexHull(plan).vertices]
    step = np.roll(corners, -1, axis=0) - corners
    angles = np.unique(np.r_[0.0, np.round(np.arctan2(step[:, 1], step[:, 0]) % (math.pi / 2.0), 9)])
    best, best_area = 0.0, math.inf
    for angle in angles:
        c, s = math.cos(angle), math.sin(angle)
        turned = corners @ np.array([[c, -s], [s, c]])
        area = float(np.prod(turned.max(axis=0) - turned.min(axis=0)))
        if area < best_area * (1.0 - 1e-6):
            best, best_area = float(angle), area
    return best


def _gate_width(mesh: Mesh, gate: GatePlan, diameter_mm: float) -> float:
    """Room for a gate at the block's side, mm: the bore or mouth, widened on the way out, and a little
    more.
    """
    if gate.kind == "bore":
        return gate.bore_mm + 0.4 * diameter_mm
    rim = mesh.vertices_mm[np.unique(mesh.faces[mesh.origin == int(Origin.MOUTH)])]
    return float(np.linalg.norm(np.ptp(rim, axis=0))) + 0.1 * diameter_mm


def _round_outline(radius_mm: float, flat_mm: float) -> Floats:
    """Corners (k, 2) of a round block, counter-clockwise; towards +y it has a flat of at least `flat_mm` for
    a gate.

    Corners lie outside the circle so that the polygon nowhere cuts into the wall asked for; the flat is a
    chord.
    """
    turns = np.arange(ROUND_CORNERS) * 2.0 * np.pi / ROUND_CORNERS
    outline: Floats = (
        np.stack([np.cos(turns), np.sin(turns)], axis=1) * radius_mm / math.cos(math.pi / ROUND_CORNERS)
    )
    half = min(flat_mm / 2.0, 0.8 * radius_mm)
    if half > 0.0:
        # The flat touches the circle and its ends run on as tangents, so that no wall is thinned.
        kept = 2.0 * math.atan2(half, radius_mm)
        angle = np.arctan2(outline[:, 1], outline[:, 0]) % (2.0 * np.pi)
        outside = np.abs(angle - math.pi / 2.0) > kept
        outline, angle = outline[outside], angle[outside]
        at = int(np.searchsorted(angle, math.pi / 2.0))
        outline = np.insert(outline, at, [[half, radius_mm], [-half, radius_mm]], axis=0)
    return outline


def _stance(shape: str, side_gate: bool, pieces: int) -> str:
    if pieces == 1:
        return "stands on its closed end, open face up"
    if side_gate:
        return (
            "stands on the flat side opposite the gate"
            if shape == "boxed"
            else "rolls: put it in a cradle to cast"
        )
    return "lies flat, gate or seam level"
