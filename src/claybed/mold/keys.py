"""Where the keys go: level places clear of cavity and edge, far apart, in an arrangement that closes one way
only.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from claybed.geometry.depth import DepthRaster
from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM
from claybed.geometry.mesh import Mesh
from claybed.geometry.registration import closing_miss_mm
from claybed.materials import shelf
from claybed.mold.key_sizes import key_sizes
from claybed.records.parted import Key, Layout, Parting

MOST_PLACES = 500
# How closely the plan is looked at for room: lines across the object, and places apart.
PLAN_LINES = 128
PLAN_STEP_MM = 1.0


def place_keys(parting: Parting, layout: Layout) -> tuple[Key, ...]:
    """Three or four keys on the parting surface, or none when nothing fits.

    The largest size is taken for which at least three keys fit and no wrong closing comes nearer than a key's
    radius. Source: materials/practice (key sizes and distances).
    """

    def practice(name: str) -> float:
        return shelf.value("practice", name).value

    for diameter, depth in key_sizes():
        places = _places(
            parting,
            layout,
            clear_mm=diameter / 2.0 + practice("key_to_cavity_least_mm"),
            edge_mm=diameter / 2.0 + practice("key_to_edge_least_mm"),
            reach_mm=diameter / 2.0 + 2.0,
        )
        chosen = _choose(places, layout, diameter, int(practice("key_count")))
        if len(chosen) >= 3:
            return tuple(Key(float(x), float(y), diameter, depth) for x, y in chosen)
    return ()


def places_in_plan(mesh: Mesh, layout: Layout) -> bool:
    """Whether the plan has room for three keys of the smallest size, whatever heights the parting surface
    has; `mesh` is the object in its own frame. Room so narrow that it falls between the places that are
    looked at counts as none.
    """
    diameter = key_sizes()[-1].diameter_mm
    edge_mm, clear_mm = (
        diameter / 2.0 + shelf.value("practice", name).value
        for name in ("key_to_edge_least_mm", "key_to_cavity_least_mm")
    )
    seen = DepthRaster(mesh, PLAN_LINES).columns(layout.rotation[2])
    pixel = np.flatnonzero(seen.covered.reshape(-1))
    covered = seen.grid.object_mm(pixel, np.zeros(len(pixel))) @ layout.rotation.T + layout.shift_mm
    corners = layout.footprint / XY_PER_MM
    x, y = (
        np.arange(*ends, PLAN_STEP_MM) for ends in zip(corners.min(axis=0), corners.max(axis=0), strict=True)
    )
    at = np.stack(np.meshgrid(x, y), axis=2).reshape(-1, 2)
    at = at[_inwards_mm(at, corners) >= edge_mm]
    # A line tells of half its spacing round about.
    clear_mm += seen.grid.spacing_mm / 2.0
    away_mm, _ = cKDTree(covered[:, :2]).query(at, distance_upper_bound=clear_mm)
    at = at[away_mm >= clear_mm]
    return len(_choose(at, layout, diameter, 3)) >= 3


def _inwards_mm(at_mm: NDArray[np.float64], corners_mm: NDArray[np.float64]) -> NDArray[np.float64]:
    """How far plan points (n, 2) lie inside a convex outline (k, 2) that turns to the left (n,)."""
    inwards = np.full(len(at_mm), np.inf)
    for a, b in zip(corners_mm, np.roll(corners_mm, -1, axis=0), strict=True):
        along = (b - a) / np.linalg.norm(b - a)
        inwards = np.minimum(inwards, along[0] * (at_mm[:, 1] - a[1]) - along[1] * (at_mm[:, 0] - a[0]))
    return inwards


def _places(
    parting: Parting, layout: Layout, *, clear_mm: float, edge_mm: float, reach_mm: float
) -> NDArray[np.float64]:
    """Plan points (k, 2) mm where a key of the given reach may stand."""
    outside = parting.outside
    plan = outside.plan / XY_PER_MM
    faces = outside.faces
    nodes = np.unique(faces)
    seam = _dense(plan[parting.rim])
    at = plan[nodes]
    if len(seam):
        at = at[cKDTree(seam).query(at)[0] >= clear_mm]
    at = at[_inwards_mm(at, layout.footprint / XY_PER_MM) >= edge_mm]
    if not len(at):
        return at
    p = plan[faces]
    z = outside.heights / Z_PER_MM
    u, v = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
    area = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    dz1, dz2 = z[:, 1] - z[:, 0], z[:, 2] - z[:, 0]
    slope = np.hypot(dz1 * v[:, 1] - dz2 * u[:, 1], dz2 * u[:, 0] - dz1 * v[:, 0]) / np.abs(area)
    steep = p[slope > shelf.value("practice", "key_slope_most_ratio").value].mean(axis=1)
    if len(steep):
        at = at[cKDTree(steep).query(at)[0] > reach_mm]
    return at


def _dense(edges: NDArray[np.float64]) -> NDArray[np.float64]:
    """Points along plan edges (k, 2, 2), one at least every millimetre."""
    length = np.linalg.norm(edges[:, 1] - edges[:, 0], axis=1)
    parts = [edges[:, 0]]
    for k in np.flatnonzero(length > 1.0):
        t = np.linspace(0.0, 1.0, int(length[k]) + 2)[1:-1, None]
        parts.append(edges[k, 0] + t * (edges[k, 1] - edges[k, 0]))
    return np.concatenate(parts) if len(edges) else np.zeros((0, 2))


def _choose(
    places: NDArray[np.float64], layout: Layout, diameter_mm: float, count: int
) -> NDArray[np.float64]:
    if len(places) < 3:
        return places[:0]
    if len(places) > MOST_PLACES:
        places = places[np.linspace(0, len(places) - 1, MOST_PLACES).astype(int)]
    chosen = [places[int(np.argmax(np.linalg.norm(places, axis=1)))]]
    for _ in range(2):
        gap = np.min([np.linalg.norm(places - c, axis=1) for c in chosen], axis=0)
        far = int(np.argmax(gap))
        if gap[far] < 2.0 * diameter_mm:
            return places[:0]
        chosen.append(places[far])
    base = np.array(chosen)
    best, best_gap = places[:0], -1.0
    footprint = layout.footprint / XY_PER_MM
    gap = np.min([np.linalg.norm(places - c, axis=1) for c in base], axis=0)
    if count >= 4:
        for k in np.argsort(-gap)[:120]:
            if gap[k] < 2.0 * diameter_mm or gap[k] <= best_gap:
                break
            keys = np.vstack([base, places[k]])
            if closing_miss_mm(keys, footprint, diameter_mm / 2.0) >= diameter_mm / 2.0:
                best, best_gap = keys, float(gap[k])
        if len(best):
            return best
    # Three keys, the third moved until the triangle has no twin.
    order = np.argsort(-np.min([np.linalg.norm(places - c, axis=1) for c in base[:2]], axis=0))
    for k in order[:200]:
        keys = np.vstack([base[:2], places[k]])
        apart = np.linalg.norm(base[:2] - places[k], axis=1).min()
        if (
            apart >= 2.0 * diameter_mm
            and closing_miss_mm(keys, footprint, diameter_mm / 2.0) >= diameter_mm / 2.0
        ):
            return keys
    return places[:0]
