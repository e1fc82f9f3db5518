"""Closed solids with known properties, in millimetres, frame "object", faces outward.

Limits quoted in the docstrings are of the smooth shapes; the meshes are inscribed in them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

import manifold3d
import numpy as np
import trimesh
from numpy.typing import NDArray

from claybed.geometry.mesh import Floats, Mesh

_AXES = {"x": 0, "y": 1, "z": 2}


def from_manifold(solid: manifold3d.Manifold) -> Mesh:
    """A manifold3d solid as a welded mesh."""
    got = solid.to_mesh64()
    vertices = np.asarray(got.vert_properties)[:, :3]
    faces = np.asarray(got.tri_verts).astype(np.int64)
    kept, inverse = np.unique(vertices, axis=0, return_inverse=True)
    faces = inverse.reshape(-1)[faces]
    whole = (faces[:, 0] != faces[:, 1]) & (faces[:, 1] != faces[:, 2]) & (faces[:, 2] != faces[:, 0])
    return Mesh.make(kept, faces[whole], frame="object")


def to_manifold(mesh: Mesh) -> manifold3d.Manifold:
    """A mesh as a manifold3d solid."""
    return manifold3d.Manifold(
        manifold3d.Mesh64(
            vert_properties=np.array(mesh.vertices_mm), tri_verts=np.array(mesh.faces).astype(np.uint64)
        )
    )


def box(x_mm: float, y_mm: float, z_mm: float) -> Mesh:
    """A box centred on the origin."""
    return from_manifold(manifold3d.Manifold.cube([x_mm, y_mm, z_mm], center=True))


def cylinder(radius_mm: float, height_mm: float, *, sides: int = 128) -> Mesh:
    """An upright cylinder centred on the origin."""
    return frustum(radius_mm, radius_mm, height_mm, sides=sides)


def frustum(low_mm: float, high_mm: float, height_mm: float, *, sides: int = 128) -> Mesh:
    """An upright frustum of radii `low_mm` at the bottom and `high_mm` at the top, centred on the origin."""
    return from_manifold(manifold3d.Manifold.cylinder(height_mm, low_mm, high_mm, sides, True))


def cone(radius_mm: float, height_mm: float, *, sides: int = 128) -> Mesh:
    """An upright cone on its base at z = 0."""
    return revolved(np.array([[0.0, 0.0], [radius_mm, 0.0], [0.0, height_mm]]), sides=sides)


def sphere(radius_mm: float, *, subdivisions: int = 4) -> Mesh:
    """A sphere of 20 x 4**subdivisions faces."""
    ball = trimesh.creation.icosphere(subdivisions=subdivisions, radius=radius_mm)
    return Mesh.make(ball.vertices, ball.faces, frame="object")


def lumpy_sphere(triangles: int, *, radius_mm: float = 50.0) -> Mesh:
    """A ball with lumps and dents, undercut from every side, of at least `triangles` faces.

    A longitude and latitude grid with one vertex at each pole, so that any count can be met closely.
    """
    rows = max(4, int(np.ceil(np.sqrt(triangles / 4.0))))
    columns = 2 * rows
    polar = np.pi * np.arange(1, rows + 1) / (rows + 1)
    round_ = 2.0 * np.pi * np.arange(columns) / columns
    t, p = np.meshgrid(polar, round_, indexing="ij")
    ring = np.stack([np.sin(t) * np.cos(p), np.sin(t) * np.sin(p), np.cos(t)], axis=-1).reshape(-1, 3)
    unit = np.vstack([ring, [[0.0, 0.0, 1.0]], [[0.0, 0.0, -1.0]]])
    lump = 0.09 * np.sin(5.0 * unit[:, 0] + 1.0) * np.sin(6.0 * unit[:, 1]) * np.cos(4.0 * unit[:, 2])
    lump += 0.03 * np.sin(13.0 * unit[:, 0]) * np.sin(11.0 * unit[:, 2] + 0.5)
    vertices = unit * (radius_mm * (1.0 + lump))[:, None]
    n = rows * columns
    j, i = np.meshgrid(np.arange(rows - 1), np.arange(columns), indexing="ij")
    a, b = j * columns + i, j * columns + (i + 1) % columns
    c, d = a + columns, b + columns
    sides = np.concatenate([np.stack([a, c, d], -1).reshape(-1, 3), np.stack([a, d, b], -1).reshape(-1, 3)])
    k = np.arange(columns)
    north = np.stack([np.full(columns, n), k, (k + 1) % columns], axis=1)
    last = (rows - 1) * columns
    south = np.stack([np.full(columns, n + 1), last + (k + 1) % columns, last + k], axis=1)
    return Mesh.make(vertices, np.concatenate([sides, north, south]), frame="object")


def revolved(profile_mm: NDArray[np.floating], *, sides: int = 128) -> Mesh:
    """A solid of revolution about z from a closed outline (n, 2) of (radius, height), radii >= 0."""
    section = manifold3d.CrossSection([np.asarray(profile_mm, dtype=np.float64)], manifold3d.FillRule.NonZero)
    return from_manifold(section.revolve(sides))


def tube(
    centre: Callable[[Floats], Floats], radius_mm: float | Floats, *, along: int, sides: int, closed: bool
) -> Mesh:
    """A round tube swept along a curve: `centre` maps parameters (n,) in 0..1 to points (n, 3) mm.

    Open tubes end in fans; `radius_mm` may vary along the tube.
    """
    t = np.linspace(0.0, 1.0, along, endpoint=not closed)
    points = centre(t)
    step = 1e-5
    ahead = centre(t + step) - centre(t - step)
    ahead /= np.linalg.norm(ahead, axis=1)[:, None]
    side = np.empty_like(points)
    first = np.eye(3)[int(np.argmin(np.abs(ahead[0])))]
    side[0] = np.cross(ahead[0], first)
    for k in range(1, along):
        side[k] = side[k - 1] - ahead[k] * (ahead[k] @ side[k - 1])
        side[k] /= np.linalg.norm(side[k])
    side[0] /= np.linalg.norm(side[0])
    turn = np.zeros(along)
    if closed:  # spread the twist the frame picked up, so that the last ring meets the first
        back = side[-1] - ahead[0] * (ahead[0] @ side[-1])
        back /= np.linalg.norm(back)
        twist = np.arctan2(np.cross(side[0], back) @ ahead[0], side[0] @ back)
        turn = -twist * t
    other = np.cross(ahead, side)
    angle = 2.0 * np.pi * np.arange(sides) / sides + turn[:, None]
    radius = np.broadcast_to(np.asarray(radius_mm, dtype=np.float64), (along,))[:, None, None]
    ring = np.cos(angle)[..., None] * side[:, None] + np.sin(angle)[..., None] * other[:, None]
    vertices = (points[:, None] + radius * ring).reshape(-1, 3)
    spans = along if closed else along - 1
    j, i = np.meshgrid(np.arange(spans), np.arange(sides), indexing="ij")
    a, b = j * sides + i, j * sides + (i + 1) % sides
    c, d = (j + 1) % along * sides + i, (j + 1) % along * sides + (i + 1) % sides
    faces = [np.stack([a, b, d], -1).reshape(-1, 3), np.stack([a, d, c], -1).reshape(-1, 3)]
    if not closed:
        k = np.arange(sides)
        n, last = along * sides, (along - 1) * sides
        vertices = np.vstack([vertices, points[:1], points[-1:]])
        faces.append(np.stack([np.full(sides, n), (k + 1) % sides, k], axis=1))
        faces.append(np.stack([np.full(sides, n + 1), last + k, last + (k + 1) % sides], axis=1))
    return Mesh.make(vertices, np.concatenate(faces), frame="object")


def torus(R_mm: float, r_mm: float, *, around: int = 256, sides: int = 64) -> Mesh:
    """A torus about z: two-part castable at a tilt th off z exactly when r <= R cos(th)**2."""

    def centre(t: Floats) -> Floats:
        a = 2.0 * np.pi * t
        return R_mm * np.stack([np.cos(a), np.sin(a), np.zeros_like(a)], axis=1)

    return tube(centre, r_mm, along=around, sides=sides, closed=True)


def trefoil_tube(
    radius_mm: float = 6.0, *, scale_mm: float = 15.0, along: int = 360, sides: int = 24
) -> Mesh:
    """A knotted tube: it leaves a mold in two parts along no axis."""

    def centre(t: Floats) -> Floats:
        a = 2.0 * np.pi * t
        x = np.sin(a) + 2.0 * np.sin(2.0 * a)
        y = np.cos(a) - 2.0 * np.cos(2.0 * a)
        return scale_mm * np.stack([x, y, -np.sin(3.0 * a)], axis=1)

    return tube(centre, radius_mm, along=along, sides=sides, closed=True)


def helix_tube(
    a_mm: float, pitch_mm: float, r_mm: float, *, turns: float = 2.3, along: int = 600, sides: int = 32
) -> Mesh:
    """A coil about z of radius a, with b = pitch / 2 pi <= a and more than one turn.

    Never castable along z; castable sideways exactly when r <= b**2 / a.
    """

    def centre(t: Floats) -> Floats:
        w = 2.0 * np.pi * turns * t
        return np.stack([a_mm * np.cos(w), a_mm * np.sin(w), pitch_mm * turns * t], axis=1)

    return tube(centre, r_mm, along=along, sides=sides, closed=False)


def three_rods(radius_mm: float = 10.0, spread_mm: float = 50.0, length_mm: float = 40.0) -> Mesh:
    """Three loose upright rods at 90, 210 and 330 degrees, `spread_mm` off the z axis, centred on z = 0.

    The three outward directions reach every rod's whole surface, yet the space between the rods is locked.
    """
    rods = [
        manifold3d.Manifold.cylinder(length_mm, radius_mm, radius_mm, 96, True).translate(
            [spread_mm * np.cos(np.radians(a)), spread_mm * np.sin(np.radians(a)), 0.0]
        )
        for a in (90.0, 210.0, 330.0)
    ]
    return from_manifold(manifold3d.Manifold.batch_boolean(rods, manifold3d.OpType.Add))


def cube_with_blind_holes(
    sides: Iterable[str] = ("+x", "+y", "+z"),
    *,
    side_mm: float = 60.0,
    hole_mm: float = 8.0,
    deep_mm: float = 15.0,
    taper_deg: float = 0.0,
    corners: int = 96,
) -> Mesh:
    """A cube centred on the origin with a round blind hole in each named side, such as "+x": of radius
    `hole_mm` half way down, its flat walls, as many as `corners`, opening by `taper_deg` each.
    """
    widens_mm = 0.5 * deep_mm * np.tan(np.radians(taper_deg)) / np.cos(np.pi / corners)
    solid = manifold3d.Manifold.cube([side_mm] * 3, center=True)
    for name in sides:
        out = np.zeros(3)
        out[_AXES[name[1]]] = 1.0 if name[0] == "+" else -1.0
        drill = manifold3d.Manifold.cylinder(
            2.0 * deep_mm, hole_mm - widens_mm, hole_mm + 3.0 * widens_mm, corners, True
        )
        helper = np.eye(3)[(_AXES[name[1]] + 1) % 3]
        columns = np.stack([helper, np.cross(out, helper), out, out * side_mm / 2.0], axis=1)
        solid = solid - drill.transform(columns)
    return from_manifold(solid)


def drum(recesses: int = 3, *, radius_mm: float = 30.0, height_mm: float = 60.0, corners: int = 96) -> Mesh:
    """A cylinder of so many `corners` standing on z = 0 with tapered blind `recesses` at equal angles at half
    its height, the first along x: 16 mm wide at its skin, 14 mm at their floors 10 mm deeper.
    """
    solid = manifold3d.Manifold.cylinder(height_mm, radius_mm, radius_mm, corners)
    drill = manifold3d.Manifold.cylinder(20.0, 7.0, 9.0, 64).rotate([0.0, 90.0, 0.0])
    drill = drill.translate([radius_mm - 10.0, 0.0, height_mm / 2.0])
    for k in range(recesses):
        solid = solid - drill.rotate([0.0, 0.0, 360.0 * k / recesses])
    return from_manifold(solid)


def tumbler(
    *, foot_mm: float = 30.0, rim_mm: float = 40.0, height_mm: float = 100.0, wall_mm: float | None = None
) -> Mesh:
    """A drafted tumbler standing on z = 0: solid, or a vessel with walls `wall_mm` thick."""
    if wall_mm is None:
        profile = [[0.0, 0.0], [foot_mm, 0.0], [rim_mm, height_mm], [0.0, height_mm]]
    else:
        profile = [
            [0.0, 0.0],
            [foot_mm, 0.0],
            [rim_mm, height_mm],
            [rim_mm - wall_mm, height_mm],
            [foot_mm - wall_mm, wall_mm],
            [0.0, wall_mm],
        ]
    return revolved(np.array(profile))


def cup_with_handle(*, radius_mm: float = 40.0, height_mm: float = 90.0) -> Mesh:
    """A solid cup, barrel shaped, with a ring handle in the plane y = 0: castable along y, not along z."""
    z = np.linspace(0.0, height_mm, 41)
    r = radius_mm * (0.8 + 0.2 * np.sin(np.pi * z / height_mm))
    body = np.vstack([[[0.0, 0.0]], np.stack([r, z], axis=1), [[0.0, height_mm]]])
    ring = to_manifold(torus(0.3 * height_mm, 0.06 * height_mm)).rotate([90.0, 0.0, 0.0])
    ring = ring.translate([radius_mm + 0.12 * height_mm, 0.0, 0.5 * height_mm])
    return from_manifold(to_manifold(revolved(body)) + ring)


def crescent(R_mm: float = 40.0, r_mm: float = 10.0, *, arc_deg: float = 220.0) -> Mesh:
    """A crescent in the plane y = 0 with its two horns up, thick in the middle."""
    half = np.radians(arc_deg) / 2.0

    def centre(t: Floats) -> Floats:
        a = -np.pi / 2.0 + half * (2.0 * t - 1.0)
        return R_mm * np.stack([np.cos(a), np.zeros_like(a), np.sin(a)], axis=1)

    t = np.linspace(0.0, 1.0, 161)
    return tube(centre, r_mm * (0.15 + 0.85 * np.sin(np.pi * t)), along=161, sides=48, closed=False)
