"""What lies under faces down to a level, as one solid.

Faces that hang together are taken as one sheet, dropped to the level along its rim. A sheet that lies over
itself in plan is parted into halves until none does; where only its grown rim does, as in a crack between two
faces, the faces beside are dropped one by one. All are united. So no space is enclosed twice, which a boolean
would take for outside, or leave as a slit in what it cuts.
"""

from __future__ import annotations

import manifold3d
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from claybed.geometry.carving import Solid
from claybed.geometry.halfedges import NONE, bodies_of, match_sides
from claybed.geometry.mesh import Floats

# An outward corner is cut off where its tip would be moved further than so many times the growth, and an
# inward one is filled no further than that.
MOST_PUSH = 2.0
MOST_INWARDS = 20.0
# How far the plan's outline may be off by rounding, and by how much of its growth squared two parts of a
# grown rim may lie over one another.
OUTLINE_MM = 1e-6
OVER_SHARE = 1e-4

Numbers = NDArray[np.int64]


def shadow(corners_mm: Floats, floor_mm: float, more_mm: float) -> Solid:
    """What lies under triangles (k, 3, 3) down to a level, grown by `more_mm` sideways and up.

    None of the triangles stands upright; an empty solid for none. Raises ValueError when a triangle reaches
    down to the level.
    """
    corner = np.array(corners_mm, np.float64)
    if len(corner) and float(corner[:, :, 2].min()) <= floor_mm:
        raise ValueError(f"what lies under faces needs a level lower than they are, got {floor_mm} mm")
    first, second = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    area = (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]) / 2.0
    corner[area < 0.0] = corner[area < 0.0][:, ::-1]
    corner, area = corner[area != 0.0], np.abs(area[area != 0.0])
    if not len(corner):
        return Solid()
    _, place = np.unique(corner.reshape(-1, 3), axis=0, return_inverse=True)
    faces = place.reshape(-1, 3)
    sides = match_sides(faces, int(faces.max()) + 1)
    mate = sides.mate.astype(np.int64)
    mate[sides.twice] = NONE
    paired = mate != NONE
    paired[paired] = mate[mate[paired]] == np.flatnonzero(paired)
    mate[~paired] = NONE
    sheet, count = bodies_of(mate.astype(np.int32))
    order = np.argsort(sheet, kind="stable")
    waiting = np.split(order, np.searchsorted(sheet[order], np.arange(1, count)))
    solids = []
    number = np.full(len(corner), NONE, np.int64)
    while waiting:
        own = waiting.pop()
        number[own] = np.arange(len(own))
        back = mate.reshape(-1, 3)[own]
        back = np.where(back == NONE, NONE, 3 * number[back // 3] + back % 3)
        back = np.where(number[mate.reshape(-1, 3)[own] // 3] == NONE, NONE, back)
        known = float(area[own].sum()) if len(own) > 1 else None
        one, crowded = _dropped(corner[own], back.reshape(-1), known, floor_mm, more_mm)
        number[own] = NONE
        if one is not None:
            solids.append(one)
        elif 0 < len(crowded) < len(own):
            waiting += [np.delete(own, crowded), *own[crowded][:, None]]
        elif len(own) > 1:
            middle = corner[own].mean(axis=1)
            across = middle[:, int(np.argmax(np.ptp(middle, axis=0)))]
            half = np.argsort(across, kind="stable")
            waiting += [own[half[: len(own) // 2]], own[half[len(own) // 2 :]]]
    return manifold3d.Manifold.batch_boolean(solids, manifold3d.OpType.Add)


def _dropped(
    corner: Floats, mate: Numbers, area_mm2: float | None, floor_mm: float, more_mm: float
) -> tuple[Solid | None, Numbers]:
    """One sheet of triangles (k, 3, 3), turned up and joined along mated sides (3 k,), dropped to a level.

    None when it lies over itself, told by the area of its faces in plan where that is given; where only its
    grown rim does, the faces beside (j,) come with it.
    """
    k = len(corner)
    here = np.flatnonzero(mate != NONE)
    row, column = np.divmod(here, 3)
    far_row, far_column = np.divmod(mate[here], 3)
    # A side and its mate run between the same two points: their corners are one, fan by fan.
    one = np.concatenate([here, 3 * row + (column + 1) % 3])
    other = np.concatenate([3 * far_row + (far_column + 1) % 3, mate[here]])
    graph = coo_matrix((np.ones(len(one), np.int8), (one, other)), shape=(3 * k, 3 * k))
    count, fan = connected_components(graph, directed=False)
    number = fan.astype(np.int64)
    top = np.zeros((count, 3))
    top[number] = corner.reshape(-1, 3)
    rim = np.flatnonzero(mate == NONE)
    u, v = number[rim], number[3 * (rim // 3) + (rim % 3 + 1) % 3]
    if area_mm2 is not None and not _simple(top[:, :2], u, v, area_mm2):
        return None, np.zeros(0, np.int64)
    top, far_u, far_v, corners = _grown(top, u, v, more_mm)
    rims = np.concatenate(
        [np.stack([u, far_u, far_v], axis=1), np.stack([u, far_v, v], axis=1), corners.reshape(-1, 3)]
    )
    if area_mm2 is not None and more_mm > 0.0:
        beside = rim[np.argsort(u)[np.searchsorted(np.sort(u), rims[:, 0])]] // 3
        crowded = _crowded(top[rims, :2], OVER_SHARE * more_mm**2)
        if len(crowded):
            return None, np.unique(beside[crowded])
    cover = np.concatenate([number.reshape(-1, 3), rims])
    low = top.copy()
    top[:, 2] += more_mm
    low[:, 2] = floor_mm
    down = len(top)
    far_u = np.concatenate([far_u, corners[:, :, 1].reshape(-1)])
    far_v = np.concatenate([far_v, corners[:, :, 2].reshape(-1)])
    walls = [
        np.stack([far_v, far_u, far_u + down], axis=1),
        np.stack([far_v, far_u + down, far_v + down], axis=1),
    ]
    every = np.concatenate([cover, cover[:, ::-1] + down, *walls])
    solid = Solid(manifold3d.Mesh64(np.concatenate([top, low]), every.astype(np.uint64)))
    return (solid if solid.status() == manifold3d.Error.NoError else None), np.zeros(0, np.int64)


def _simple(plan: Floats, u: Numbers, v: Numbers, area_mm2: float) -> bool:
    """Whether the plan inside a rim that runs from points u to v covers as much as its faces do."""
    following = dict(zip(u.tolist(), v.tolist(), strict=True))
    rings = []
    while following:
        at, ring = next(iter(following)), []
        while at in following:
            ring.append(at)
            at = following.pop(at)
        rings.append(np.ascontiguousarray(plan[ring]))
    covered = manifold3d.CrossSection(rings, manifold3d.FillRule.Positive).area()
    rim_mm = float(np.linalg.norm(plan[v] - plan[u], axis=1).sum())
    return bool(abs(covered - area_mm2) <= OUTLINE_MM * rim_mm)


def _grown(top: Floats, u: Numbers, v: Numbers, more_mm: float) -> tuple[Floats, Numbers, Numbers, Numbers]:
    """Points (n, 3) with those a rim grown by `more_mm` runs through, level with the ones it grew from.

    The rim runs from points u to v, each once. Next where the grown side beside each of its sides begins and
    ends, and the triangles (j, 2, 3) that go round its sharp corners.
    """
    # The faces stay where they are, and a level skirt goes round them: steep ones would lose height aside.
    n = len(top)
    along = top[v, :2] - top[u, :2]
    along /= np.maximum(np.linalg.norm(along, axis=1), 1e-300)[:, None]
    leaves, enters, ahead = np.zeros((n, 2)), np.zeros((n, 2)), np.zeros((n, 2))
    leaves[u] = enters[v] = np.stack([along[:, 1], -along[:, 0]], axis=1)
    ahead[v] = along
    middle = enters + leaves
    length = np.linalg.norm(middle, axis=1)
    outwards = enters[:, 0] * leaves[:, 1] > enters[:, 1] * leaves[:, 0]
    # Two unit normals whose sum is s long stand off both their sides by one at 2 / s along it.
    reach = 2.0 / np.maximum(length, 1e-12)
    sharp = np.flatnonzero((reach > MOST_PUSH) & (outwards | (length < 1e-9)) & (leaves != 0.0).any(axis=1))
    blunt = np.setdiff1d(u, sharp)
    reach = np.minimum(reach, MOST_INWARDS) / np.maximum(length, 1e-12)
    tip = np.where(length[:, None] < 1e-9, ahead, middle / np.maximum(length, 1e-12)[:, None])
    push = [(middle * reach[:, None])[blunt], enters[sharp], tip[sharp], leaves[sharp]]
    begins, ends = np.zeros(n, np.int64), np.zeros(n, np.int64)
    begins[blunt] = ends[blunt] = n + np.arange(len(blunt))
    first = n + len(blunt) + np.arange(len(sharp))
    ends[sharp], begins[sharp] = first, first + 2 * len(sharp)
    beside = top[np.concatenate([blunt, sharp, sharp, sharp])]
    beside[:, :2] += more_mm * np.concatenate(push)
    way = np.stack([first, first + len(sharp), first + 2 * len(sharp)], axis=1)
    corners = np.stack([np.column_stack([sharp, way[:, :2]]), np.column_stack([sharp, way[:, 1:]])], axis=1)
    return np.concatenate([top, beside]), begins[u], ends[v], corners


def _crowded(plan: Floats, least_mm2: float) -> Numbers:
    """Which triangles (k, 3, 2) of a grown rim are turned over or lie over others, by more than an area."""
    first, second = plan[:, 1] - plan[:, 0], plan[:, 2] - plan[:, 0]
    turned = np.flatnonzero(first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0] < 0.0)
    areas = shapely.polygons(plan)
    one, other = shapely.STRtree(areas).query(areas, predicate="intersects")
    one, other = one[one < other], other[one < other]
    over = shapely.area(shapely.intersection(areas[one], areas[other])) > least_mm2
    found: Numbers = np.unique(np.concatenate([turned, one[over], other[over]])).astype(np.int64)
    return found
