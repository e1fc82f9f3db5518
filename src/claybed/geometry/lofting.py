"""Closed meshes from a stack of rings, and their sums and differences."""

from __future__ import annotations

from collections.abc import Sequence

import manifold3d
import numpy as np
from numpy.typing import NDArray

from claybed.geometry.mesh import Floats, Mesh

Rows = NDArray[np.int64]


def loft(rings: Sequence[Floats], start_mm: Floats, end_mm: Floats, *, frame: str = "object") -> Mesh:
    """A closed mesh through `rings`, each (k, 3) with corresponding points, ended by fans to two points (3,).

    Rings turn counter-clockwise seen from the end; a ring like the one before it is left out. Raises
    ValueError for fewer than two rings, rings of different length, or a mesh that encloses nothing.
    """
    kept = [np.asarray(rings[0], np.float64)]
    for ring in rings[1:]:
        if ring.shape != kept[0].shape:
            raise ValueError(f"rings must have the same points, got {ring.shape} and {kept[0].shape}")
        if not np.allclose(ring, kept[-1], rtol=0.0, atol=1e-9):
            kept.append(np.asarray(ring, np.float64))
    if len(kept) < 2:
        raise ValueError("a loft needs two rings that differ")
    count, k = len(kept), len(kept[0])
    j, i = np.meshgrid(np.arange(count - 1), np.arange(k), indexing="ij")
    a, b = (j * k + i).ravel(), (j * k + (i + 1) % k).ravel()
    c, d = a + k, b + k
    at, after = np.arange(k), (np.arange(k) + 1) % k
    first, last = np.full(k, count * k), np.full(k, count * k + 1)
    faces = np.concatenate(
        [
            np.stack([a, b, d], axis=1),
            np.stack([a, d, c], axis=1),
            np.stack([first, after, at], axis=1),
            np.stack([last, (count - 1) * k + at, (count - 1) * k + after], axis=1),
        ]
    )
    points = np.concatenate([*kept, np.reshape(start_mm, (1, 3)), np.reshape(end_mm, (1, 3))])
    mesh = _welded(points, faces, frame)
    volume_mm3 = mesh.volume_mm3
    if abs(volume_mm3) < 1e-9:
        raise ValueError("the rings enclose nothing")
    return mesh if volume_mm3 > 0 else Mesh.make(mesh.vertices_mm, mesh.faces[:, ::-1], frame=frame)


def sum_of(meshes: Sequence[Mesh]) -> Mesh:
    """The union of closed meshes of one frame. Raises ArithmeticError when it is no solid."""
    return _plain(
        manifold3d.Manifold.batch_boolean([_solid(m) for m in meshes], manifold3d.OpType.Add), meshes
    )


def difference(body: Mesh, tools: Sequence[Mesh]) -> Mesh:
    """What is left of a closed mesh without the tools. Raises ArithmeticError when that is no solid."""
    solids = [_solid(m) for m in (body, *tools)]
    return _plain(manifold3d.Manifold.batch_boolean(solids, manifold3d.OpType.Subtract), [body])


def common_mm3(one: Mesh, other: Mesh) -> float:
    """The volume two closed meshes have in common, mm³."""
    return float((_solid(one) ^ _solid(other)).volume())


def bodies_count(mesh: Mesh) -> int:
    """How many separate bodies a closed mesh consists of."""
    return len(_solid(mesh).decompose())


def revolution(contours_mm: Sequence[Floats], sides: int, *, frame: str = "object") -> Mesh:
    """A body of revolution about z from closed outlines (n, 2) of radius and height, mm.

    What lies at negative radius is cut off. Raises ArithmeticError when nothing is left.
    """
    section = manifold3d.CrossSection(list(contours_mm), manifold3d.FillRule.EvenOdd)
    return _plain(section.revolve(sides), [], frame)


def _solid(mesh: Mesh) -> manifold3d.Manifold:
    return manifold3d.Manifold(
        manifold3d.Mesh64(np.array(mesh.vertices_mm), np.ascontiguousarray(mesh.faces).astype(np.uint64))
    )


def _plain(solid: manifold3d.Manifold, like: Sequence[Mesh], frame: str = "object") -> Mesh:
    if solid.status() != manifold3d.Error.NoError or solid.is_empty():
        raise ArithmeticError(f"the solids do not combine to a solid ({solid.status().name})")
    out = solid.to_mesh64()
    points = np.asarray(out.vert_properties)[:, :3]
    return _welded(points, np.asarray(out.tri_verts).astype(np.int64), like[0].frame if like else frame)


def _welded(points: Floats, faces: Rows, frame: str) -> Mesh:
    """Equal points made one and faces without area dropped."""
    unique, inverse = np.unique(points + 0.0, axis=0, return_inverse=True)
    named = inverse.reshape(-1)[faces]
    whole = (named[:, 0] != named[:, 1]) & (named[:, 1] != named[:, 2]) & (named[:, 2] != named[:, 0])
    return Mesh.make(unique, named[whole], frame=frame)
