"""What lies under faces down to a level, as one solid.

Faces that hang together are taken as one sheet, dropped to the level along its rim. A sheet that lies over
itself in plan is parted into halves until none does, and all are united.
"""

from __future__ import annotations

import manifold3d
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from claybed.geometry.carving import Solid
from claybed.geometry.halfedges import NONE, bodies_of, match_sides
from claybed.geometry.mesh import Floats

# A rim that doubles back is moved no further than so many times the growth.
MOST_PUSH = 2.0
# How far the plan's outline may be off by rounding.
OUTLINE_MM = 1e-6

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
        one = _dropped(corner[own], back.reshape(-1), known, floor_mm, more_mm)
        number[own] = NONE
        if one is not None:
            solids.append(one)
        elif len(own) > 1:
            middle = corner[own].mean(axis=1)
            across = middle[:, int(np.argmax(np.ptp(middle, axis=0)))]
            half = np.argsort(across, kind="stable")
            waiting += [own[half[: len(own) // 2]], own[half[len(own) // 2 :]]]
    return manifold3d.Manifold.batch_boolean(solids, manifold3d.OpType.Add)


def _dropped(
    corner: Floats, mate: Numbers, area_mm2: float | None, floor_mm: float, more_mm: float
) -> Solid | None:
    """One sheet of triangles (k, 3, 3), turned up and joined along mated sides (3 k,), dropped to a level;
    None when it lies over itself, told by the area of its faces in plan where that is given.
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
        return None
    along = top[v, :2] - top[u, :2]
    out = np.stack([along[:, 1], -along[:, 0]], axis=1)
    out /= np.maximum(np.linalg.norm(out, axis=1), 1e-300)[:, None]
    push = np.zeros((count, 2))
    np.add.at(push, u, out)
    np.add.at(push, v, out)
    push[u] += 1e-9 * out
    length = np.linalg.norm(push, axis=1)
    # Two unit normals whose sum is s long stand off both their sides by one at 2 / s along it.
    reach = np.minimum(2.0 / np.maximum(length, 1e-12), MOST_PUSH)
    push *= (more_mm * reach / np.maximum(length, 1e-12))[:, None]
    # The faces stay where they are, and a level skirt goes round them: steep ones would lose height aside.
    skirt = np.flatnonzero(length > 0.0)
    place = np.zeros(count, np.int64)
    place[skirt] = count + np.arange(len(skirt))
    beside = top[skirt] + np.column_stack([push[skirt], np.zeros(len(skirt))])
    top = np.concatenate([top, beside])
    far_u, far_v = place[u], place[v]
    rims = [np.stack([u, far_u, far_v], axis=1), np.stack([u, far_v, v], axis=1)]
    cover = np.concatenate([number.reshape(-1, 3), *rims])
    low = top.copy()
    top[:, 2] += more_mm
    low[:, 2] = floor_mm
    down = len(top)
    walls = [
        np.stack([far_v, far_u, far_u + down], axis=1),
        np.stack([far_v, far_u + down, far_v + down], axis=1),
    ]
    every = np.concatenate([cover, cover[:, ::-1] + down, *walls])
    solid = Solid(manifold3d.Mesh64(np.concatenate([top, low]), every.astype(np.uint64)))
    return solid if solid.status() == manifold3d.Error.NoError else None


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
