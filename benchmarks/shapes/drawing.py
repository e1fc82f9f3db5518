"""What the objects of the benchmarks are drawn from, in mm: turned profiles, balls, rods, tubes, sheaths."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from pathlib import Path

import manifold3d
import numpy as np

Solid = manifold3d.Manifold
Point = tuple[float, float]
Spot = tuple[float, float, float]
ROW = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def turned(*profile: Point, sides: int = 96) -> Solid:
    """A solid of revolution about z from (radius, height) points, both ends joined to the axis."""
    radii = [(0.0, profile[0][1]), *profile, (0.0, profile[-1][1])]
    return Solid.revolve(manifold3d.CrossSection([np.array(radii)]), sides)


def ball(radius: float, x: float, y: float, z: float) -> Solid:
    """A ball."""
    return Solid.sphere(radius, 64).translate((x, y, z))


def egg(radii: Spot, at: Spot, sides: int = 64) -> Solid:
    """An ellipsoid with its axes along x, y and z."""
    return Solid.sphere(1.0, sides).scale(radii).translate(at)


def rod(radius: float, length: float, at: Spot, turn: Spot) -> Solid:
    """A rod that starts at a point and runs along z turned by degrees."""
    return Solid.cylinder(length, radius, radius, 48).rotate(turn).translate(at)


def ring(radius: float, wire: float, at: Spot) -> Solid:
    """A ring standing on edge, its hole along y."""
    section = manifold3d.CrossSection.circle(wire, 32).translate((radius, 0.0))
    return Solid.revolve(section, 64).rotate((90.0, 0.0, 0.0)).translate(at)


def box(x: float, y: float, z: float, at: Spot = (0.0, 0.0, 0.0)) -> Solid:
    """A box standing on a point, middle in plan."""
    return Solid.cube((x, y, z), True).translate((at[0], at[1], at[2] + z / 2.0))


def drawn_up(outline: Sequence[Point], height: float, taper: float = 1.0) -> Solid:
    """An outline in plan drawn up, its end as many times as large."""
    section = manifold3d.CrossSection([np.array(outline)])
    return Solid.extrude(section, height, 0, 0.0, (taper, taper))


def rounded(x: float, y: float, corner: float, sides: int = 32) -> list[Point]:
    """The outline of a rectangle with round corners, middle at the origin."""
    turn = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False) + np.pi / sides
    points = corner * np.stack([np.cos(turn), np.sin(turn)], axis=1)
    return [tuple(p) for p in points + np.sign(points) * (np.array([x, y]) / 2.0 - corner)]


def tube(radius: float, *way: Spot, sides: int = 24) -> Solid:
    """A round bar with round ends along a line of points, thinning to nothing nowhere."""
    end = Solid.sphere(radius, sides)
    return Solid.batch_boolean(
        [Solid.hull(end.translate(a) + end.translate(b)) for a, b in pairwise(way)], manifold3d.OpType.Add
    )


def bar(section: Solid, *way: Spot) -> Solid:
    """A bar along a line of points, hull after hull of one small solid that is not turned."""
    return Solid.batch_boolean(
        [Solid.hull(section.translate(a) + section.translate(b)) for a, b in pairwise(way)],
        manifold3d.OpType.Add,
    )


def sheath(radius: Callable[[np.ndarray, float], np.ndarray], heights: Sequence[float], sides: int) -> Solid:
    """A solid about z whose radius is given at each angle (radians) and height, closed flat at both ends."""
    turn = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False)
    rings = [
        np.stack([r * np.cos(turn), r * np.sin(turn), np.full(sides, z)], axis=1)
        for z in heights
        for r in [radius(turn, z)]
    ]
    points = np.concatenate([*rings, [(0.0, 0.0, heights[0]), (0.0, 0.0, heights[-1])]])
    here = np.arange(sides)
    beside = (here + 1) % sides
    faces = [np.stack([beside, here, np.full(sides, len(points) - 2)], axis=1)]
    for k in range(len(heights) - 1):
        low, high = k * sides, (k + 1) * sides
        faces += [
            np.stack([low + here, low + beside, high + beside], axis=1),
            np.stack([low + here, high + beside, high + here], axis=1),
        ]
    top = (len(heights) - 1) * sides
    faces.append(np.stack([top + here, top + beside, np.full(sides, len(points) - 1)], axis=1))
    return Solid(manifold3d.Mesh(points.astype(np.float32), np.concatenate(faces).astype(np.uint32)))


def write_stl(solid: Solid, path: Path) -> Path:
    """Write a solid as binary STL."""
    out = solid.to_mesh()
    corners = np.asarray(out.vert_properties)[:, :3][np.asarray(out.tri_verts)]
    rows = np.zeros(len(corners), ROW)
    rows["corners"] = corners
    path.write_bytes(b" " * 80 + np.uint32(len(rows)).tobytes() + rows.tobytes())
    return path
