"""Adding a gate to a closed mesh: a bore united with it, or its own mouth carried outwards."""

from __future__ import annotations

from collections.abc import Sequence

import manifold3d
import numpy as np
from numpy.typing import NDArray

from claybed.geometry.flagged import marked_corners
from claybed.geometry.halfedges import match_sides, side_ends
from claybed.geometry.mesh import Floats, Mesh, Origin

CORNERS = 48
# How far behind a tool's inner end the part of the body begins that is united with it.
BEHIND_MM = 0.25
# How far from the middle of a tool, in half widths of it, the body's faces are left out; and how far behind
# it, in heights of what is united, the rest is closed: a cone to there stays nearly upright.
BESIDE = 1.25
FAR_BEHIND = 10.0
GROWN_TIMES = 4


def frustum(
    start_mm: Floats,
    end_mm: Floats,
    start_radius_mm: float,
    end_radius_mm: float,
    *,
    frame: str,
    stops: Sequence[float] = (),
) -> Mesh:
    """A closed truncated cone between two points (3,), radii in mm, with a corner of its rings in the plane z
    = const.

    `stops` are shares of its length, between 0 and 1, at which it has further rings of corners.
    """
    axis = end_mm - start_mm
    axis = axis / np.linalg.norm(axis)
    up = np.array([0.0, 0.0, 1.0]) if abs(axis[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    side = np.cross(up, axis)
    side /= np.linalg.norm(side)
    rise = np.cross(axis, side)
    turn = np.arange(CORNERS) * 2.0 * np.pi / CORNERS
    spoke = np.cos(turn)[:, None] * side + np.sin(turn)[:, None] * rise
    shares = [0.0, *stops, 1.0]
    rings = [
        start_mm + t * (end_mm - start_mm) + (start_radius_mm + t * (end_radius_mm - start_radius_mm)) * spoke
        for t in shares
    ]
    v = np.concatenate([*rings, start_mm[None], end_mm[None]])
    i = np.arange(CORNERS)
    j = (i + 1) % CORNERS
    low, high = (np.full(CORNERS, len(v) - k) for k in (2, 1))
    faces = [np.stack([low, j, i], axis=1)]
    for step in range(0, CORNERS * (len(shares) - 1), CORNERS):
        a, b, c, d = i + step, j + step, j + step + CORNERS, i + step + CORNERS
        faces += [np.stack([a, b, c], axis=1), np.stack([a, c, d], axis=1)]
    last = CORNERS * (len(shares) - 1)
    faces.append(np.stack([high, i + last, j + last], axis=1))
    f = np.concatenate(faces)
    mesh = Mesh.make(v, f, frame=frame, origin=Origin.GATE)
    return mesh if mesh.volume_mm3 > 0 else Mesh.make(v, f[:, ::-1], frame=frame, origin=Origin.GATE)


def unite(body: Mesh, tool: Mesh) -> Mesh:
    """The union of two closed meshes of one frame; each face keeps the origin it had.

    Raises ValueError for different frames, ArithmeticError when the boolean does not give a solid.
    """
    if body.frame != tool.frame:
        raise ValueError(f"cannot unite meshes of frames {body.frame} and {tool.frame}")
    vertices, faces, first, source = _union(body.vertices_mm, body.faces, tool)
    origin = np.where(first, body.origin[np.where(first, source, 0)], tool.origin[np.where(first, 0, source)])
    return Mesh.make(vertices, faces, frame=body.frame, origin=origin)


def unite_end(body: Mesh, tool: Mesh, out: Floats) -> Mesh:
    """The same union for a tool that stands on one end of the body: only that end is computed, every other
    face stays as it was.

    `out` (3,) is the unit vector from the body to the free end of the tool. The faces near the tool are
    closed by a cone to a point far behind it, which the tool cannot touch, so that space round the tool is
    the same as for the whole body; the cone is taken off again. Where the ends do not fit together to the
    last bit, the whole body is united. Raises as `unite` does.
    """
    n = len(body.vertices_mm)
    near, apex = _near_end(body, tool, out)
    if body.frame != tool.frame or near.all() or not near.any():
        return unite(body, tool)
    for _ in range(GROWN_TIMES):
        patch = body.faces[near]
        rim = side_ends(patch, match_sides(patch, n).lone)
        twice = np.bincount(rim[:, 0], minlength=n) > 1
        if not twice.any():
            break
        # The rim may not meet itself, as its cone would: faces round such a corner are taken in.
        near |= marked_corners(body.faces, twice) > 0
    at_rim = body.vertices_mm[rim[:, 0]]
    number = {tuple(at): int(p) for at, p in zip(at_rim.tolist(), rim[:, 0].tolist(), strict=True)}
    if not len(rim) or len(number) < len(rim):  # a part by itself; a rim that still meets itself
        return unite(body, tool)
    used = np.zeros(n, bool)
    used[patch] = True
    kept = np.flatnonzero(used)
    place = np.full(n, -1, np.int64)
    place[kept] = np.arange(len(kept))
    cone = np.stack([place[rim[:, 1]], place[rim[:, 0]], np.full(len(rim), len(kept))], axis=1)
    end = np.concatenate([body.vertices_mm[kept], apex[None]])
    vertices, faces, first, source = _union(end, np.concatenate([place[patch], cone]), tool)
    own = ~first | (source < len(patch))
    faces, first, source = faces[own], first[own], source[own]
    found = side_ends(faces, match_sides(faces, len(vertices)).lone)
    back = np.array([number.get(tuple(at), -1) for at in vertices[found[:, 0]].tolist()], np.int64)
    new_place = n + np.arange(len(vertices))
    new_place[found[:, 0]] = back
    fits = set(map(tuple, new_place[found].tolist())) == set(map(tuple, rim.tolist()))
    if not fits or len(found) != len(rim):
        return unite(body, tool)
    origin = np.where(
        first, body.origin[near][np.where(first, source, 0)], tool.origin[np.where(first, 0, source)]
    )
    every = np.concatenate([body.faces[~near], new_place[faces]])
    points = np.concatenate([body.vertices_mm, vertices])
    used = np.zeros(len(points), bool)
    used[every] = True
    return Mesh.make(
        points[used],
        (np.cumsum(used) - 1)[every],
        frame=body.frame,
        origin=np.concatenate([body.origin[~near], origin]),
    )


def _near_end(body: Mesh, tool: Mesh, out: Floats) -> tuple[NDArray[np.bool_], Floats]:
    """Faces of a body (m,) that reach beyond a tool's inner end, and over it in the plan square to `out`; the
    tip (3,) of a cone that closes them behind the tool without touching it.

    The tip lies so far back that a line from it to a corner beside the tool keeps beside the tool. Where the
    tool's free end does not stand out beyond the body, faces beside it count as well.
    """
    side = np.cross(out, np.eye(3)[int(np.argmin(np.abs(out)))])
    side /= np.linalg.norm(side)
    frame = np.stack([side, np.cross(out, side), out])
    own, placed = tool.vertices_mm @ frame.T, body.vertices_mm @ frame.T
    level_mm = float(own[:, 2].min()) - BEHIND_MM
    near = marked_corners(body.faces, placed[:, 2] > level_mm) > 0
    middle = (own[:, :2].min(axis=0) + own[:, :2].max(axis=0)) / 2.0
    half_mm = float(np.abs(own[:, :2] - middle).max())
    rise_mm = max(float(placed[:, 2].max()), float(own[:, 2].max())) - level_mm
    apex = np.r_[middle, level_mm - FAR_BEHIND * rise_mm] @ frame
    if float(own[:, 2].max()) > float(placed[:, 2].max()):
        off = placed[:, :2] - middle
        missed = np.concatenate([off < -BESIDE * half_mm, off > BESIDE * half_mm], axis=1) @ [1, 2, 4, 8]
        near &= np.bitwise_and.reduce(missed[body.faces], axis=1) == 0
    return near, apex


def _union(
    vertices_mm: Floats, faces: NDArray[np.integer], tool: Mesh
) -> tuple[Floats, NDArray[np.int64], NDArray[np.bool_], NDArray[np.int64]]:
    """Corners and faces of the union of closed triangles with a tool, for each face whether it was one of the
    first, and which of its mesh's faces it comes from. Raises ArithmeticError when that gives no solid.
    """
    solids = []
    first_id = manifold3d.Manifold.reserve_ids(2)
    for number, (v, f) in enumerate(((vertices_mm, faces), (tool.vertices_mm, tool.faces))):
        solids.append(
            manifold3d.Manifold(
                manifold3d.Mesh64(
                    np.array(v),
                    f.astype(np.uint64),
                    run_index=np.array([0, 3 * len(f)], dtype=np.uint64),
                    run_original_id=np.array([first_id + number], dtype=np.uint32),
                    face_id=np.arange(len(f), dtype=np.uint64),
                )
            )
        )
    joined = solids[0] + solids[1]
    if joined.status() != manifold3d.Error.NoError or joined.is_empty():
        raise ArithmeticError(f"uniting the gate with the object failed ({joined.status()})")
    out = joined.to_mesh64()
    first = np.zeros(len(out.tri_verts), bool)
    for k, original in enumerate(out.run_original_id):
        first[int(out.run_index[k]) // 3 : int(out.run_index[k + 1]) // 3] = original == first_id
    corners: Floats = np.asarray(out.vert_properties)[:, :3]
    return corners, np.asarray(out.tri_verts, np.int64), first, np.asarray(out.face_id, np.int64)


def carry_mouth(mesh: Mesh, out: Floats, length_mm: float, *, flare_ratio: float) -> Mesh:
    """Carry the mouth of a closed vessel outwards as a tube, the spare.

    The faces of Origin.MOUTH move along the unit vector `out` (3,) into one plane, `length_mm` beyond the
    rim's highest point; their rim is joined to where it was by a tube of Origin.GATE that widens by
    `flare_ratio` (mm per mm). Raises ValueError when the mesh has no mouth or
    its rim is not one loop.
    """
    mouth = mesh.origin == Origin.MOUTH
    if not mouth.any():
        raise ValueError("the mesh has no mouth")
    faces = mesh.faces[mouth]
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]).astype(np.int64)
    n = len(mesh.vertices_mm)
    keys = edges[:, 0] * n + edges[:, 1]
    rim = edges[~np.isin(keys, edges[:, 1] * n + edges[:, 0])]
    used = np.unique(faces)
    place = np.full(n, -1, np.int64)
    place[used] = n + np.arange(len(used))
    at = mesh.vertices_mm[used]
    height = at @ out
    on_rim = np.isin(used, rim)
    middle = at[on_rim].mean(axis=0)
    across = at - middle - ((at - middle) @ out)[:, None] * out
    travel = height[on_rim].max() + length_mm - height
    reach = float(np.linalg.norm(across[on_rim], axis=1).mean())
    grown = 1.0 + flare_ratio * travel / max(reach, 1e-6)
    moved = at + travel[:, None] * out + across * (grown - 1.0)[:, None]
    a, b = rim[:, 0], rim[:, 1]
    tube = np.concatenate([np.stack([a, b, place[b]], axis=1), np.stack([a, place[b], place[a]], axis=1)])
    v = np.concatenate([mesh.vertices_mm, moved])
    f = np.concatenate([mesh.faces[~mouth], tube, place[faces]])
    origin = np.concatenate(
        [mesh.origin[~mouth], np.full(len(f) - int((~mouth).sum()), int(Origin.GATE), np.uint8)]
    )
    unique, index = np.unique(f, return_inverse=True)
    return Mesh.make(v[unique], index.reshape(-1, 3), frame=mesh.frame, origin=origin)
