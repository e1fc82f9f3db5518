"""Ware that is draped over a hump: its inside, the clay that lies on it, and when it must come off."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from claybed.geometry.halfedges import match_sides
from claybed.geometry.mesh import Ints, Mesh, Origin
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.figure import Figure
from claybed.records.finding import Amount, Finding
from claybed.records.measured import HollowReading, MeasuredObject
from claybed.records.reckoned import Reckoned
from claybed.records.ware import Grip, Measures
from claybed.units import say_length, say_time
from claybed.ware.advice import CHIPS

DRAPED = (Origin.OBJECT, Origin.MEND, Origin.FILL)


def hump_measures(obj: MeasuredObject, hollow: HollowReading, measures: Measures) -> Measures:
    """The measures of a hump: its cavity is the vessel's inside, and its ware holds what that holds."""
    return replace(
        measures,
        cavity_ml=Reckoned(obj.solid_ml, Figure("ml", "inside of the vessel up to its rim", "geometry", {})),
        capacity_ml=Reckoned(
            hollow.holds_ml, Figure("ml", "inside of the vessel up to where it overflows", "geometry", {})
        ),
    )


def draped_cm2(assembly: Assembly, slab_mm: float) -> Reckoned:
    """Surface of a slab on a hump, cm², such that times its thickness it is the clay's volume.

    Area + mean curvature x t + total curvature x t² / 3 over the hump's own faces; curvature of edges and
    corners inside them. Source: Steiner's formula for parallel bodies, exact for a convex one.
    """
    mesh = assembly.pieces[0].solid.mesh(BLOCK_FRAME)
    skin = mesh.faces[np.isin(mesh.origin, [int(one) for one in DRAPED])]
    bare_mm2, bend_mm, turn_sr = _curved(mesh, skin)
    return Reckoned(
        (bare_mm2 + bend_mm * slab_mm + turn_sr * slab_mm**2 / 3.0) / 100.0,
        Figure(
            "cm2",
            "area of the hump + mean curvature x slab + total curvature x slab² / 3",
            "geometry",
            {"hump_mm2": bare_mm2, "mean_mm": bend_mm, "total_sr": turn_sr, "slab_mm": slab_mm},
        ),
    )


def _curved(mesh: Mesh, faces: Ints) -> tuple[float, float, float]:
    """Area mm², integral of the mean curvature mm and of the total curvature sr, bent outward positive."""
    points = mesh.vertices_mm
    c = points[faces]
    cross = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])
    twice = np.linalg.norm(cross, axis=1)
    normal = cross / np.maximum(twice, 1e-12)[:, None]
    mate = match_sides(faces, len(points)).mate.reshape(-1)
    side = np.flatnonzero(mate >= 0)
    own, corner = np.divmod(side, 3)
    other = mate[side] // 3
    edge = points[faces[own, (corner + 1) % 3]] - points[faces[own, corner]]
    length = np.linalg.norm(edge, axis=1)
    sine = np.einsum(
        "ij,ij->i", np.cross(normal[own], normal[other]), edge / np.maximum(length, 1e-12)[:, None]
    )
    bend = np.arctan2(sine, np.einsum("ij,ij->i", normal[own], normal[other]))
    # Each edge is met from both its sides; half of its bend is its mean curvature.
    mean_mm = float((length * bend).sum()) / 4.0
    around = np.zeros(len(points))
    for k in range(3):
        u, v = c[:, (k + 1) % 3] - c[:, k], c[:, (k + 2) % 3] - c[:, k]
        angle = np.arctan2(np.linalg.norm(np.cross(u, v), axis=1), np.einsum("ij,ij->i", u, v))
        np.add.at(around, faces[:, k], angle)
    inner = np.zeros(len(points), bool)
    inner[faces] = True
    alone = np.flatnonzero(mate < 0)
    rim, at = np.divmod(alone, 3)
    inner[faces[rim, at]] = False
    inner[faces[rim, (at + 1) % 3]] = False
    return float(twice.sum()) / 2.0, mean_mm, float((2.0 * math.pi - around[inner]).sum())


def hump_findings(grip: Grip) -> tuple[Finding, ...]:
    """What a person should know of draping: chips, and by when ware must be off the hump."""
    found = [Finding("wooden_tools", "note", "draping", CHIPS, "Wooden tools only; keep the ledge rounded.")]
    if grip.within_minutes is None:
        remedy = "It lies on so loosely that it may stay until it is leather-hard; lift it then."
        found.append(
            Finding(
                "hump_holds",
                "note",
                "draping",
                "Clay shrinks onto a hump, and cracks when it is left on.",
                remedy,
            )
        )
        return tuple(found)
    found.append(
        Finding(
            "hump_holds",
            "look",
            "draping",
            f"Clay shrinks onto the hump, by {say_length(grip.grip_mm.value)} until it is leather-hard, "
            f"and cracks when it is left on.",
            f"Take the ware off as soon as it keeps its shape, about "
            f"{say_time(grip.within_minutes.value)} after "
            "draping: a bat on its foot, turn both over, lift the hump out by its plinth. The time is common "
            "practice, no source: try one.",
            Amount(grip.grip_mm.value, "mm"),
        )
    )
    return tuple(found)
