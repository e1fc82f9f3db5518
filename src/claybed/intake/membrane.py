"""A surface spanned over a closed loop: flat over a level one, drawn like a skin over an uneven one."""

from __future__ import annotations

from collections.abc import Callable

import mapbox_earcut
import numpy as np
import shapely
from scipy.sparse import coo_matrix
from scipy.sparse.linalg import spsolve
from scipy.spatial import Delaunay

from claybed.intake.planes import plane_axes, turning
from claybed.intake.soup import Points, Triples

LEVEL_WITHIN = 1e-4  # of the loop's width
MOST_INNER = 3_000
_ROUNDS = 6

# Heights (n,) at places (n, 2) of the plane of `plane_axes`.
Swell = Callable[[Points], Points]


def span(loop: Points, up: Points, swell: Swell | None = None) -> tuple[Points, Triples] | None:
    """Span a loop (k, 3), ordered counter-clockwise seen from the unit vector `up`.

    Returns further points (j, 3) and faces (m, 3) over the loop's points followed by those; the loop's points
    are used as they are. The surface is a height field along `up`, between the lowest and highest point of
    the loop; with `swell`, heights over the plane across `up`, it is spanned over what of the loop departs
    from that and then raised by it. None when the loop crosses itself seen from above.
    """
    axes = plane_axes(up)
    flat = loop @ axes
    polygon = shapely.Polygon(flat)
    if not polygon.is_valid or polygon.area <= 0:
        return None
    heights = loop @ up if swell is None else loop @ up - swell(flat)
    if swell is None and np.ptp(heights) <= LEVEL_WITHIN * float(np.ptp(flat, axis=0).max()):
        faces = _ears(flat)
        return None if faces is None else (np.zeros((0, 3)), faces)
    inner = _inner_points(polygon, flat)
    faces = _meshed(flat, inner, polygon)
    if faces is None:
        faces = _ears(flat)
        return None if faces is None else (np.zeros((0, 3)), faces)
    raised = _relaxed(np.concatenate([flat, inner]), faces, heights)
    if swell is not None:
        raised = raised + swell(inner)
    return inner @ axes.T + raised[:, None] * up, faces


def _ears(flat: Points) -> Triples | None:
    cut = (
        mapbox_earcut.triangulate_float64(flat, np.array([len(flat)], np.uint32))
        .astype(np.int64)
        .reshape(-1, 3)
    )
    if len(cut) != len(flat) - 2:
        return None
    ears: Triples = cut if turning(flat, cut) > 0 else cut[:, ::-1]
    return ears


def _inner_points(polygon: shapely.Polygon, flat: Points) -> Points:
    """A triangular grid inside the loop that keeps off its edges."""
    length = np.linalg.norm(np.roll(flat, -1, axis=0) - flat, axis=1)
    step = max(float(np.median(length)), float(np.sqrt(polygon.area / MOST_INNER)))
    low, high = flat.min(axis=0), flat.max(axis=0)
    rows = np.arange(low[1], high[1], step * np.sqrt(3.0) / 2.0)
    columns = np.arange(low[0], high[0], step)
    x = columns[None, :] + np.where(np.arange(len(rows)) % 2 == 0, 0.0, 0.5 * step)[:, None]
    points = np.column_stack([x.ravel(), np.repeat(rows, len(columns))])
    # A point inside the circle over an edge would cut that edge out of the triangulation.
    reach = max(0.6 * step, 0.51 * float(length.max()))
    shapely.prepare(polygon)
    points = points[shapely.contains_xy(polygon, points[:, 0], points[:, 1])]
    clear = shapely.distance(polygon.exterior, shapely.points(points)) > reach
    kept: Points = points[clear]
    return kept


def _meshed(flat: Points, inner: Points, polygon: shapely.Polygon) -> Triples | None:
    points = np.concatenate([flat, inner])
    if len(points) < 4:
        return None
    faces = Delaunay(points).simplices.astype(np.int64)
    middle = points[faces].mean(axis=1)
    faces = faces[shapely.contains_xy(polygon, middle[:, 0], middle[:, 1])]
    a, b = points[faces[:, 1]] - points[faces[:, 0]], points[faces[:, 2]] - points[faces[:, 0]]
    sense = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    faces = np.where((sense < 0)[:, None], faces[:, ::-1], faces)
    # Three loop points in a line make a triangle of nothing outside the loop.
    faces = faces[np.abs(sense) > 1e-9 * float(np.abs(sense).max())]
    return faces if _bordered(faces, len(flat)) and len(np.unique(faces)) == len(points) else None


def _bordered(faces: Triples, count: int) -> bool:
    """Whether the open sides of the faces are exactly the sides of the loop of the first `count` points."""
    start, end = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    sides = set(zip(start.tolist(), end.tolist(), strict=True))
    border = {(a, b) for a, b in sides if (b, a) not in sides}
    return len(sides) == faces.size and border == {(k, (k + 1) % count) for k in range(count)}


def _relaxed(points: Points, faces: Triples, heights: Points) -> Points:
    """Heights of the inner points at which the membrane over plane triangles has least area, nearly."""
    n, fixed = len(points), len(heights)
    inner = np.arange(fixed, n)
    if len(inner) == 0:
        return np.zeros(0)
    ends = [(faces[:, k], faces[:, (k + 1) % 3], faces[:, (k + 2) % 3]) for k in range(3)]
    cots = []
    for i, j, o in ends:
        u, v = points[i] - points[o], points[j] - points[o]
        cots.append(0.5 * (u * v).sum(axis=1) / np.abs(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]))
    rows = np.concatenate([index for i, j, _ in ends for index in (i, j, i, j)])
    columns = np.concatenate([index for i, j, _ in ends for index in (j, i, i, j)])
    raised = np.concatenate([heights, np.full(len(inner), heights.mean())])
    stretch = np.ones(len(faces))
    for _ in range(_ROUNDS):
        # Steeper triangles pull less for their plan: with that weight the balance is that of least area.
        values = np.concatenate([sign * cot / stretch for cot in cots for sign in (-1.0, -1.0, 1.0, 1.0)])
        matrix = coo_matrix((values, (rows, columns)), shape=(n, n)).tocsr()[inner]
        solved: Points = spsolve(matrix[:, inner].tocsc(), -(matrix[:, :fixed] @ heights))
        raised[inner] = np.clip(solved, heights.min(), heights.max())
        stretch = _stretch(points, faces, raised)
    result: Points = raised[inner]
    return result


def _stretch(points: Points, faces: Triples, heights: Points) -> Points:
    """Area over plan area of each face."""
    spatial = np.column_stack([points, heights])
    a, b = spatial[faces[:, 1]] - spatial[faces[:, 0]], spatial[faces[:, 2]] - spatial[faces[:, 0]]
    normal = np.cross(a, b)
    ratio: Points = np.linalg.norm(normal, axis=1) / np.maximum(np.abs(normal[:, 2]), 1e-30)
    return ratio
