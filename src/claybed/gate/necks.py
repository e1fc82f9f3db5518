"""Whether a closed object may be hollow ware drawn without its inside: it ends flat and round on top."""

from __future__ import annotations

import math

import numpy as np
from scipy.spatial import ConvexHull

from claybed.gate.along import practice
from claybed.gate.tips import END_MM
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.pooling import Cavity


def mouth_end_mm(placed: Mesh, cells: Cavity, up: Floats) -> float | None:
    """How wide the flat round end is to which an object narrows towards a level `up` (3,), mm; None where it
    is no such object.

    `cells` is the object in the same frame. Source: materials/practice (gate_neck_...).
    """
    height = placed.vertices_mm @ up
    aside = np.stack([np.cross([0.0, 0.0, 1.0], up), [0.0, 0.0, 1.0]])
    end = placed.vertices_mm[height >= height.max() - END_MM] @ aside.T
    foot = placed.vertices_mm[height <= height.min() + END_MM] @ aside.T
    if min(len(end), len(foot)) < 6 or min(np.ptp(end, axis=0).min(), np.ptp(foot, axis=0).min()) < END_MM:
        return None
    hull, stands = ConvexHull(end), ConvexHull(foot)
    # In a plane a hull's volume is its area, and its area the way round it.
    round_share = 4.0 * math.pi * hull.volume / hull.area**2
    tall_mm, wide_mm = float(np.ptp(height)), float(np.ptp(placed.vertices_mm @ aside.T, axis=0).max())
    if (
        round_share < practice("gate_neck_round_least_fraction")
        or stands.volume < hull.volume
        or tall_mm < practice("gate_neck_tall_least_ratio") * wide_mm
    ):
        return None
    middles = cells.at_mm(np.argwhere(cells.inside)) @ up
    steps = np.arange(height.min(), height.max(), 2.0 * cells.cell_mm)
    count, _ = np.histogram(middles, bins=np.r_[steps, height.max()])
    area_mm2 = count * cells.cell_mm**3 / np.diff(np.r_[steps, height.max()])
    neck = area_mm2[
        steps
        >= height.max() - max(practice("gate_neck_height_least_fraction") * tall_mm, 2.0 * cells.cell_mm)
    ]
    if not len(neck) or float(neck.max()) > practice("gate_neck_section_most_fraction") * float(
        area_mm2.max()
    ):
        return None
    flat = float(hull.volume) >= practice("gate_neck_flat_least_fraction") * float(neck[-1])
    return 2.0 * math.sqrt(hull.volume / math.pi) if flat else None


def round_top_mm(mesh: Mesh, up: Floats) -> float | None:
    """How wide the flat round place is in which an object ends towards `up` (3,), mm; None where its end is
    not flat or not round. Source: materials/practice (gate_neck_round_least_fraction).
    """
    up = up / np.linalg.norm(up)
    height = mesh.vertices_mm @ up
    high = height >= height.max() - END_MM
    faces = mesh.vertices_mm[mesh.faces[high[mesh.faces].all(axis=1)]]
    flat_mm2 = 0.5 * float((np.cross(faces[:, 1] - faces[:, 0], faces[:, 2] - faces[:, 0]) @ up).sum())
    aside = np.cross(up, np.eye(3)[int(np.argmin(np.abs(up)))])
    aside /= np.linalg.norm(aside)
    end = mesh.vertices_mm[high] @ np.stack([aside, np.cross(up, aside)], axis=1)
    if len(end) < 6 or float(np.ptp(end, axis=0).min()) < END_MM:
        return None
    hull = ConvexHull(end)
    least = practice("gate_neck_round_least_fraction")
    round_share = 4.0 * math.pi * hull.volume / hull.area**2
    if round_share < least or flat_mm2 < least * hull.volume:
        return None
    return 2.0 * math.sqrt(hull.volume / math.pi)
