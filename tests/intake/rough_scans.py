"""A scan as a scanner leaves it: an object on a table, with a hole, noise, scraps and a wall behind."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from intake_shapes import Arrays, together

from claybed.geometry.mesh import Floats
from claybed.making.turning import turned
from claybed.records.form import Form, Reading

VASE = Form(
    tuple(
        Reading(z, d, d)
        for z, d in ((0, 62), (12, 70), (40, 98), (70, 112), (100, 104), (130, 72), (150, 58), (165, 66))
    )
)


@dataclass(frozen=True)
class Rough:
    """What the scanner did: each may be left out. `tilt_deg` of the table, `noise_mm` of every point."""

    table: bool = True
    scraps: bool = True
    wall: bool = True
    hole: bool = True
    noise_mm: float = 0.1
    tilt_deg: float = 25.0


def scanned(rough: Rough = Rough()) -> tuple[Arrays, float]:
    """The triangles of a rough scan, mm, and the volume of the true object, mm³."""
    mesh = turned(VASE, "vase").mesh
    points, faces = np.array(mesh.vertices_mm), mesh.faces.astype(np.int64)
    points, faces = evened((points, faces), 5.0)
    middle = points[faces].mean(axis=1)
    keep = middle[:, 2] > 1e-6  # nobody sees the foot
    if rough.hole:
        keep &= ~(
            (middle[:, 2] > 60.0) & (middle[:, 2] < 75.0) & (np.abs(middle[:, 1]) < 9.0) & (middle[:, 0] > 0)
        )
    parts: list[Arrays] = [(points, faces[keep])]
    if rough.table:
        parts.append(sheet(np.array([-150.0, -150.0, 0.0]), np.eye(3)[0] * 300.0, np.eye(3)[1] * 300.0))
    if rough.wall:
        parts.append(sheet(np.array([-100.0, 170.0, 30.0]), np.eye(3)[0] * 200.0, np.eye(3)[2] * 90.0))
    if rough.scraps:
        for at in ((120.0, 0.0, 60.0), (-90.0, -60.0, 140.0)):
            parts.append(sheet(np.array(at), np.array([6.0, 0.0, 2.0]), np.array([0.0, 5.0, 1.0])))
    points, faces = together(*parts)
    points = points + np.random.default_rng(4).normal(0.0, rough.noise_mm, points.shape)
    return (points @ tilted(rough.tilt_deg).T + np.array([30.0, -20.0, 200.0]), faces), mesh.volume_mm3


def tilted(degrees: float) -> Floats:
    """A turn about an axis that is none of the file's."""
    a = np.array([1.0, 2.0, 0.5]) / np.linalg.norm([1.0, 2.0, 0.5])
    t = np.radians(degrees)
    k = np.array([[0, -a[2], a[1]], [a[2], 0, -a[0]], [-a[1], a[0], 0]])
    return np.asarray(np.eye(3) + np.sin(t) * k + (1.0 - np.cos(t)) * k @ k)


def sheet(corner: Floats, along: Floats, across: Floats, count: int = 40) -> Arrays:
    """A flat grid facing along x across."""
    u, v = (m.ravel() for m in np.meshgrid(np.linspace(0, 1, count), np.linspace(0, 1, count), indexing="ij"))
    at = np.arange(count * count).reshape(count, count)
    a, b, c, d = at[:-1, :-1].ravel(), at[1:, :-1].ravel(), at[1:, 1:].ravel(), at[:-1, 1:].ravel()
    faces = np.concatenate([np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)])
    return corner + u[:, None] * along + v[:, None] * across, faces


def evened(arrays: Arrays, longest_mm: float) -> Arrays:
    """The same surface in triangles about as large as a scanner makes them."""
    import trimesh

    vertices, faces = trimesh.remesh.subdivide_to_size(arrays[0], arrays[1], longest_mm, max_iter=12)
    welded = trimesh.Trimesh(vertices, faces, process=False)
    welded.merge_vertices(digits_vertex=7)
    return np.array(welded.vertices), np.array(welded.faces, np.int64)


CLEAN = replace(Rough(), table=False, scraps=False, wall=False, hole=False, noise_mm=0.0, tilt_deg=0.0)
