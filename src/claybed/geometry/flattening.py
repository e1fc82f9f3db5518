"""Open surfaces laid flat with as little stretch as can be, and how much stretch is left."""

from __future__ import annotations

import igl
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix, diags
from scipy.sparse.csgraph import connected_components, dijkstra
from scipy.sparse.linalg import splu

from claybed.geometry.mesh import Floats

Faces = NDArray[np.int64]
ROUNDS = 30
MOST_REPEATS = 8
SETTLED = 0.02
ON_LINE_MM = 0.15
# Defects of a surface that unrolls sum to less than this, in steradians; more is curved for good.
UNROLLS_SR = 1e-6


def loops(faces: Faces) -> list[NDArray[np.int64]]:
    """Boundary loops of a surface, each a run of corner numbers, longest first."""
    found = [np.array(loop, np.int64) for loop in igl.boundary_loop_all(faces)]
    return sorted(found, key=len, reverse=True)


def is_disk(points_mm: Floats, faces: Faces) -> bool:
    """Whether a surface is in one part with one boundary and no handle, so that it can be laid flat."""
    edges = np.sort(np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]]), axis=1)
    count = len(np.unique(edges, axis=0))
    used = len(np.unique(faces))
    return used == len(points_mm) and used - count + len(faces) == 1 and len(loops(faces)) == 1


def defects_sr(points_mm: Floats, faces: Faces) -> Floats:
    """Curvature at each corner (n,) in steradians: 2 pi less the angles round it; 0 on the boundary."""
    corners = points_mm[faces]
    defect = np.full(len(points_mm), 2.0 * np.pi)
    for k in range(3):
        a, b = corners[:, (k + 1) % 3] - corners[:, k], corners[:, (k + 2) % 3] - corners[:, k]
        angle = np.arctan2(np.linalg.norm(np.cross(a, b), axis=1), np.einsum("ij,ij->i", a, b))
        np.subtract.at(defect, faces[:, k], angle)
    for loop in loops(faces):
        defect[loop] = 0.0
    used = np.zeros(len(points_mm), bool)
    used[faces] = True
    return np.where(used, defect, 0.0)


def spread_out(values: Floats, faces: Faces, rounds: int) -> Floats:
    """Values at corners (n,) shared out among neighbours, `rounds` times; their sum stays.

    Ups and downs of a scan cancel; what a region holds altogether remains.
    """
    n = len(values)
    sides = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    near = coo_matrix((np.ones(len(sides)), (sides[:, 0], sides[:, 1])), shape=(n, n)).tocsr()
    near = near.maximum(near.T)
    near.data[:] = 1.0
    degree = np.maximum(np.asarray(near.sum(axis=1)).ravel(), 1.0)
    share = near @ diags(0.5 / degree)
    for _ in range(rounds):
        values = np.asarray(share @ values) + np.where(near.getnnz(axis=1) > 0, 0.5, 1.0) * values
    return values


def flattened(points_mm: Floats, faces: Faces) -> Floats:
    """The disk (n, 3), (m, 3) laid flat, (n, 2) mm, no face turned over, seen from its outside.

    A surface that bends without stretching is unrolled face by face, which is exact; any other is mapped
    into a circle and eased by the scalable locally injective mapping of libigl under the symmetric Dirichlet
    energy. Raises ValueError for a surface that is no disk.
    """
    if not is_disk(points_mm, faces):
        raise ValueError("only a surface with one boundary can be laid flat")
    if np.abs(defects_sr(points_mm, faces)).sum() < UNROLLS_SR:
        return _unrolled(points_mm, faces)
    loop = loops(faces)[0]
    circle = igl.map_vertices_to_circle(points_mm, loop)
    start = _in_circle(faces, loop, np.asarray(circle)[:, :2], len(points_mm))
    wide, flat = _areas(points_mm, faces).sum(), _areas(np.pad(start, ((0, 0), (0, 1))), faces).sum()
    start = start * np.sqrt(wide / flat)
    state = igl.slim_precompute(
        np.asfortranarray(points_mm),
        np.asfortranarray(faces.astype(np.int32)),
        np.asfortranarray(start),
        igl.MappingEnergyType.SYMMETRIC_DIRICHLET,
        np.zeros(0, np.int32),
        np.zeros((0, 2), order="F"),
        0.0,
    )
    laid: Floats = np.asarray(igl.slim_solve(state, ROUNDS), np.float64)[:, :2]
    for _ in range(MOST_REPEATS):
        before = stretches(points_mm, faces, laid)
        laid = np.asarray(igl.slim_solve(state, ROUNDS), np.float64)[:, :2]
        after = stretches(points_mm, faces, laid)
        if np.abs(np.log(after / before)).max() < SETTLED:
            break
    return laid


def stretches(points_mm: Floats, faces: Faces, laid_mm: Floats) -> Floats:
    """How much longer each face (m, 2) is flat than on the surface, along its longest and shortest way."""
    a, b, c = (points_mm[faces[:, k]] for k in range(3))
    across = np.linalg.norm(b - a, axis=1)
    x = (b - a) / across[:, None]
    along = np.einsum("ij,ij->i", c - a, x)
    high = np.linalg.norm(c - a - along[:, None] * x, axis=1)
    p, q = laid_mm[faces[:, 1]] - laid_mm[faces[:, 0]], laid_mm[faces[:, 2]] - laid_mm[faces[:, 0]]
    first = p / across[:, None]
    second = (q - first * along[:, None]) / high[:, None]
    found: Floats = np.linalg.svd(np.stack([first, second], axis=2), compute_uv=False)
    return found


def split_by_plane(
    points_mm: Floats, faces: Faces, through_mm: Floats, normal: Floats
) -> tuple[Floats, Faces, NDArray[np.bool_]]:
    """The surface with faces cut where they cross a plane, and which faces (m,) then lie in front of it.

    Corners closer to the plane than ON_LINE_MM count as on it, which keeps splinters away.
    """
    return split_by_values(points_mm, faces, (points_mm - through_mm) @ (normal / np.linalg.norm(normal)))


def split_by_values(
    points_mm: Floats, faces: Faces, values_mm: Floats
) -> tuple[Floats, Faces, NDArray[np.bool_]]:
    """As split_by_plane, along the line where values at the corners (n,) change sign; front is above 0."""
    side = np.where(np.abs(values_mm) < ON_LINE_MM, 0.0, values_mm)
    sides = np.stack([faces, np.roll(faces, -1, axis=1)], axis=2)
    crosses = side[sides[..., 0]] * side[sides[..., 1]] < 0.0
    pairs = np.sort(sides[crosses], axis=1)
    unique, which = np.unique(pairs, axis=0, return_inverse=True)
    share = side[unique[:, 0]] / (side[unique[:, 0]] - side[unique[:, 1]])
    fresh = points_mm[unique[:, 0]] + share[:, None] * (points_mm[unique[:, 1]] - points_mm[unique[:, 0]])
    middle = np.full(faces.shape, -1, np.int64)
    middle[crosses] = len(points_mm) + which.reshape(-1)
    points = np.concatenate([points_mm, fresh])
    out = [faces[(middle < 0).all(axis=1)]]
    for f, m in zip(faces[(middle >= 0).any(axis=1)], middle[(middle >= 0).any(axis=1)], strict=True):
        ring = [int(v) for k in range(3) for v in (f[k], m[k]) if v >= 0]
        # From one cut to the other: a triangle on one side, the rest on the other.
        start = next(k for k, v in enumerate(ring) if v >= len(points_mm))
        ring = ring[start:] + ring[:start]
        if len(ring) == 4:
            out.append(np.array([[ring[0], ring[1], ring[2]], [ring[0], ring[2], ring[3]]]))
        else:
            second = next(k for k in range(1, 5) if ring[k] >= len(points_mm))
            one, two = ring[: second + 1], [*ring[second:], ring[0]]
            out += [
                np.array([[part[0], part[k], part[k + 1]]])
                for part in (one, two)
                for k in range(1, len(part) - 1)
            ]
    new = np.concatenate(out)
    level = np.concatenate([side, np.zeros(len(fresh))])[new]
    return points, new, np.asarray(level.sum(axis=1) > 0.0)


def parts(points_mm: Floats, faces: Faces, *, crease_deg: float = 180.0) -> list[tuple[Floats, Faces]]:
    """A surface taken apart into what hangs together by edges, each with corners of its own.

    Edges at which the surface turns by more than `crease_deg` part it.
    """
    sides = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    owner = np.tile(np.arange(len(faces)), 3)
    order = np.lexsort(np.sort(sides, axis=1).T)
    ordered = np.sort(sides, axis=1)[order]
    same = (ordered[1:] == ordered[:-1]).all(axis=1)
    a, b = owner[order][1:][same], owner[order][:-1][same]
    if crease_deg < 180.0:
        c = points_mm[faces]
        normal = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])
        normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-12)[:, None]
        smooth = np.einsum("ij,ij->i", normal[a], normal[b]) > np.cos(np.radians(crease_deg))
        a, b = a[smooth], b[smooth]
    n = len(faces)
    count, label = connected_components(coo_matrix((np.ones(len(a)), (a, b)), shape=(n, n)), directed=False)
    found = []
    for k in range(count):
        mine = faces[label == k]
        # A corner at which a part touches itself is parted too, so that the boundary is one line.
        used, local = np.unique(mine, return_inverse=True)
        found.append((points_mm[used], local.reshape(-1, 3).astype(np.int64)))
    return found


def slit(points_mm: Floats, faces: Faces, corner: int) -> tuple[Floats, Faces]:
    """The disk cut open along its edges from a corner inside to the nearest place of its boundary."""
    n = len(points_mm)
    sides = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    length = np.linalg.norm(points_mm[sides[:, 0]] - points_mm[sides[:, 1]], axis=1)
    graph = coo_matrix((length, (sides[:, 0], sides[:, 1])), shape=(n, n)).tocsr()
    graph = graph.maximum(graph.T)
    walked = dijkstra(graph, indices=[corner], return_predecessors=True)
    far, before = walked[0][0], walked[1][0]
    rim = loops(faces)[0]
    here = int(rim[np.argmin(far[rim])])
    path = set()
    while here != corner:
        path.add((min(here, int(before[here])), max(here, int(before[here]))))
        here = int(before[here])
    cuts = np.array(
        [[(min(a, b), max(a, b)) in path for a, b in zip(f, np.roll(f, -1), strict=True)] for f in faces]
    )
    points, new, _ = igl.cut_mesh(points_mm, faces, cuts)
    return np.asarray(points), np.asarray(new, np.int64)


def _in_circle(faces: Faces, loop: NDArray[np.int64], circle: Floats, count: int) -> Floats:
    """Every corner inside at the mean of its neighbours: no face turns over (Tutte, 1963)."""
    sides = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    near = coo_matrix((np.ones(len(sides)), (sides[:, 0], sides[:, 1])), shape=(count, count)).tocsr()
    near = near.maximum(near.T)
    near.data[:] = 1.0
    inner = np.setdiff1d(np.arange(count), loop)
    placed: Floats = np.zeros((count, 2))
    placed[loop] = circle
    if len(inner):
        whole = diags(np.asarray(near.sum(axis=1)).ravel()).tocsr() - near
        right = -np.asarray(whole[inner][:, loop] @ circle)
        placed[inner] = np.asarray(splu(whole[inner][:, inner].tocsc()).solve(right))
    return placed


def _areas(points: Floats, faces: Faces) -> Floats:
    c = points[faces]
    found: Floats = np.linalg.norm(np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0]), axis=1) / 2.0
    return found


def _unrolled(points_mm: Floats, faces: Faces) -> Floats:
    """Face after face laid beside the one before, from its true side lengths."""
    laid = np.full((len(points_mm), 2), np.nan)
    beside: dict[tuple[int, int], tuple[int, int]] = {}
    for k, f in enumerate(faces.tolist()):
        for j in range(3):
            beside[f[j], f[(j + 1) % 3]] = (k, f[(j + 2) % 3])
    a, b, _ = faces[0].tolist()
    laid[a] = 0.0
    laid[b] = [np.linalg.norm(points_mm[b] - points_mm[a]), 0.0]
    done = np.zeros(len(faces), bool)
    waiting = [(a, b), (b, a)]
    for start, end in waiting:
        known = beside.get((start, end))
        if known is None or done[known[0]]:
            continue
        face, third = known
        done[face] = True
        if np.isnan(laid[third, 0]):
            base = points_mm[end] - points_mm[start]
            whole = np.linalg.norm(base)
            rest = points_mm[third] - points_mm[start]
            along = float(rest @ base) / whole
            high = float(np.linalg.norm(rest - along / whole * base))
            x = (laid[end] - laid[start]) / np.linalg.norm(laid[end] - laid[start])
            laid[third] = laid[start] + along * x + high * np.array([-x[1], x[0]])
        waiting += [(third, end), (start, third)]
    return laid
