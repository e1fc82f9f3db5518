"""A seam of a side piece that no level gives: the object's surface near its end is parted by a least cut, and
the interface dips to the seam.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from claybed.geometry.barred import Barred, chord_mm
from claybed.geometry.cutting_apart import parted
from claybed.geometry.depth import DepthRaster
from claybed.geometry.halfedges import match_sides
from claybed.geometry.level_lines import bends
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.plugging import Floor, widen
from claybed.geometry.reach import Skyline
from claybed.geometry.refining import refined
from claybed.mold.seam_prices import leaves, seam_prices, sharpest_deg, uphill
from claybed.mold.side_level import BARRED_LEAST_MM, practice

Flags = NDArray[np.bool_]
Pairs = NDArray[np.int64]
Z = np.array([0.0, 0.0, 1.0])
# Sides of the faces that are parted, mm: the berth that forbidden places are given is a little more than half
# of that.
SIDE_MM = 2.5
# A face belongs to what is free along the pull when a point this far off it is.
OFF_MM = 0.1
RASTER = 384
SAMPLE_MM = 0.25
GRID_MM = 0.8
# Within the object the interface falls away from the seam, so far that nothing of the object's end lies under
# it.
FALLS_MM = 4.0
MOST_LINES = 220
# Where the slope of an interface beside the object is read, off the seam and within the collar.
OUT_MM = 1.5
# Ends of lines nearer than this are one.
LINK_MM = 1e-5


@dataclass(frozen=True, slots=True, eq=False)
class Dip:
    """How an interface dips to its seam: `floor` its height over the plan, inf where it is level; `level_mm`
    of the rest; `lines_mm` (k, 2, 3) of the seam on the object, `length_mm` of it, `hidden_mm` what an outer
    edge hides, and `sharp_mm` where plaster ends too sharp; all where the pull is z.
    """

    floor: Floor
    level_mm: float
    lines_mm: Floats
    length_mm: float = 0.0
    hidden_mm: float = 0.0
    sharp_mm: float = 0.0

    def height_mm(self, points_mm: Floats) -> Floats:
        """Height of the interface (n,) over plan points (n, 2 or 3)."""
        return _between(self.floor, points_mm, self.level_mm)

    def normal(self, points_mm: Floats) -> Floats:
        """Upward unit normals (n, 3) of the interface over plan points (n, 2 or 3)."""
        across_mm = float(self.floor.x_mm[1] - self.floor.x_mm[0])
        rise = [
            self.height_mm(points_mm[:, :2] + step) - self.height_mm(points_mm[:, :2] - step)
            for step in across_mm / 2.0 * np.eye(2)
        ]
        normal = np.column_stack([-rise[0], -rise[1], np.full(len(points_mm), across_mm)])
        found: Floats = normal / np.linalg.norm(normal, axis=1, keepdims=True)
        return found

    @property
    def middle_mm(self) -> float:
        """Mean height of the seam."""
        length = np.linalg.norm(self.lines_mm[:, 1] - self.lines_mm[:, 0], axis=1)
        return float(np.average(self.lines_mm[:, :, 2].mean(axis=1), weights=length))

    def loops_mm(self) -> list[Floats]:
        """The seam as polylines (n, 3), closed ones with their first point again at the end."""
        keys = np.rint(self.lines_mm.reshape(-1, 3) / LINK_MM).astype(np.int64)
        _, first, number = np.unique(keys, axis=0, return_index=True, return_inverse=True)
        places = self.lines_mm.reshape(-1, 3)[first]
        beside: dict[int, list[int]] = {}
        for a, b in number.reshape(-1, 2).tolist():
            if a != b:
                beside.setdefault(a, []).append(b)
                beside.setdefault(b, []).append(a)
        loops = []
        while beside:
            here = next((a for a, ways in beside.items() if len(ways) == 1), next(iter(beside)))
            run = [here]
            while beside.get(here):
                following = beside[here].pop()
                beside[following].remove(here)
                run.append(following)
                here = following
            for a in set(run):
                if not beside.get(a, [0]):
                    del beside[a]
            loops.append(places[run])
        return loops


def dipping(
    thing: Mesh, *, low_mm: float, high_mm: float, hollow: Flags, barred: Barred, over: Mesh | None = None
) -> Dip | None:
    """The interface through the cheapest seam between two levels that keeps out of `barred`, and rises or
    falls nowhere more steeply than a parting surface may; None when there is none.

    `thing` the object with its pull along z, or what earlier side pieces left of its surface; `hollow` (m,)
    its faces in hollows that the side piece fills from above; `over` the whole object, which the side piece
    has to leave, `thing` itself when None. What looks away from the pull by more than rounding, or lies under
    something, is left to the main pieces. Source: materials/practice.
    """
    band = _band(thing, low_mm, high_mm, hollow)
    if band is None:
        return None
    corner = band.corners_mm
    middle = corner.mean(axis=1)
    across = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    size = np.maximum(np.linalg.norm(across, axis=1), 1e-12)
    unit = across / size[:, None]
    whole = thing if over is None else over
    free = Skyline(DepthRaster(whole, RASTER), Z).free(middle + OFF_MM * unit) & leaves(corner, unit)
    side = corner[:, :, 2].max(axis=1) >= high_mm
    main = (middle[:, 2] <= low_mm) | (~free & ~side)
    mate = match_sides(band.faces, len(band.vertices_mm)).mate
    pairs, cost = seam_prices(band, mate, unit, barred, high_mm)
    label = parted(len(middle), pairs, cost, first=side, second=main, implied=uphill(band, middle))
    if label is None or not label.any() or label.all():
        return None
    points, outward, fixed, edges = _border(band, mate, label, unit)
    dip = _laid(*_smoothed(points, outward, fixed, edges), high_mm)
    if dip is None:
        return None
    found, of = _lines(band, dip)
    taken = middle[:, 2] > _between(dip.floor, middle, dip.level_mm)
    held_mm2 = float((0.5 * size * np.maximum(-unit[:, 2], 0.0))[taken & ~free & ~side].sum())
    p, q = np.ascontiguousarray(found[:, 0]), np.ascontiguousarray(found[:, 1])
    barred_mm = sum(chord_mm(a, b, barred.balls, barred.layers) for a, b in zip(p, q, strict=True))
    if not len(found) or held_mm2 > practice("side_seam_held_most_mm2") or barred_mm > BARRED_LEAST_MM:
        return None
    length = np.linalg.norm(q - p, axis=1)
    hidden_mm = float(length[_hidden((p + q) / 2.0, *_edges(band, mate, high_mm))].sum())
    # The interface as it leaves the object: within it, it falls.
    out = unit[of] / np.maximum(np.hypot(unit[of, 0], unit[of, 1]), 1e-9)[:, None]
    normal = dip.normal((p + q)[:, :2] / 2.0 + OUT_MM * out[:, :2])
    sharp = sharpest_deg(normal, unit[of], unit[of]) < practice("edge_angle_flag_deg")
    return Dip(
        dip.floor, dip.level_mm, found, float(length.sum()), hidden_mm, sharp_mm=float(length[sharp].sum())
    )


def ridden_mm(thing: Mesh, low_mm: float, high_mm: float) -> float:
    """Length of the object's outer edges between two levels that a seam of a side piece could follow, mm."""
    z = thing.corners_mm[:, :, 2]
    part = _part(thing, (z.max(axis=1) > low_mm) & (z.min(axis=1) < high_mm))
    a, b = _edges(part, match_sides(part.faces, len(part.vertices_mm)).mate, high_mm)
    along = b - a
    climbs = np.abs(along[:, 2]) / np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-9)
    ridden = (climbs <= practice("collar_steepest_ratio")) & (np.minimum(a[:, 2], b[:, 2]) > low_mm)
    return float(np.linalg.norm(along[ridden], axis=1).sum())


def _edges(band: Mesh, mate: NDArray[np.int32], high_mm: float) -> tuple[Floats, Floats]:
    """The ends (k, 3) of outer edges that lie under a level."""
    turn = bends(band.vertices_mm, band.faces, mate, practice("seam_crease_least_deg"))
    face, column = np.divmod(np.flatnonzero((turn > 0) & (np.arange(len(mate)) < mate)), 3)
    a, b = (band.vertices_mm[band.faces[face, (column + k) % 3]] for k in (0, 1))
    under = np.maximum(a[:, 2], b[:, 2]) < high_mm
    return a[under], b[under]


def _hidden(spots: Floats, a: Floats, b: Floats) -> Flags:
    """Which spots (n, 3) lie beside one of the edges between a and b (k, 3)."""
    if not len(a):
        return np.zeros(len(spots), bool)
    share = np.linspace(0.0, 1.0, 9)[:, None, None]
    samples = (a + share * (b - a)).reshape(-1, 3)
    away, _ = cKDTree(samples).query(spots, distance_upper_bound=practice("side_seam_hidden_within_mm"))
    hidden: Flags = np.isfinite(away)
    return hidden


def _band(thing: Mesh, low_mm: float, high_mm: float, hollow: Flags) -> Mesh | None:
    """The object's outer surface that comes between two levels, with short sides."""
    z = thing.corners_mm[:, :, 2]
    own = (z.max(axis=1) > low_mm) & (z.min(axis=1) < high_mm) & ~hollow
    if not own.any():
        return None
    short = refined(_part(thing, own), SIDE_MM)
    # What lies all under the lower level is no matter, but for what the border's other side is.
    return _part(short, short.corners_mm[:, :, 2].max(axis=1) > low_mm - SIDE_MM)


def _part(mesh: Mesh, own: Flags) -> Mesh:
    """Some faces (m,) of a mesh."""
    used, place = np.unique(mesh.faces[own], return_inverse=True)
    return Mesh.make(mesh.vertices_mm[used], place.reshape(-1, 3), frame=mesh.frame)


def _border(
    band: Mesh, mate: NDArray[np.int32], label: Flags, unit: Floats
) -> tuple[Floats, Floats, Flags, Pairs]:
    """Corners (n, 3) of the border between two labels, the way out of the object there in plan (n, 2), which
    of them lie on edges of the object (n,), and the border's edges (k, 2) among them.
    """
    side = np.flatnonzero(mate >= 0)
    here, there = side // 3, mate[side] // 3
    border = side[label[here] & ~label[there]]
    ends = np.stack(
        [band.faces[border // 3, border % 3], band.faces[border // 3, (border % 3 + 1) % 3]], axis=1
    )
    used, place = np.unique(ends, return_inverse=True)
    edges = place.reshape(-1, 2).astype(np.int64)
    turn = bends(band.vertices_mm, band.faces, mate, practice("seam_crease_least_deg"))[border] > 0
    fixed = np.zeros(len(used), bool)
    fixed[edges[turn].reshape(-1)] = True
    outward = np.zeros((len(used), 2))
    for k in (0, 1):
        np.add.at(outward, edges[:, k], unit[mate[border] // 3, :2])
    outward /= np.maximum(np.linalg.norm(outward, axis=1, keepdims=True), 1e-9)
    return band.vertices_mm[used], outward, fixed, edges


def _smoothed(points: Floats, outward: Floats, fixed: Flags, edges: Pairs) -> tuple[Floats, Floats]:
    """Samples (k, 3) along a border, evened out where it follows no edge of the object, and the way out of
    the object at each (k, 2).
    """
    n = len(points)
    graph = coo_matrix((np.ones(len(edges)), edges.T), shape=(n, n)).tocsr()
    graph = graph + graph.T
    degree = np.maximum(np.asarray(graph.sum(axis=1)).reshape(-1), 1.0)
    length = float(np.linalg.norm(points[edges[:, 1]] - points[edges[:, 0]], axis=1).mean())
    place = points.copy()
    for _ in range(max(1, round((practice("side_seam_smooth_mm") / max(length, 0.1)) ** 2))):
        even = 0.5 * place + 0.5 * (graph @ place) / degree[:, None]
        place[~fixed] = even[~fixed]
    # Height is evened out; in plan the border stays on the wall.
    place[:, :2] = points[:, :2]
    a, b = place[edges[:, 0]], place[edges[:, 1]]
    parts = np.maximum(1, np.ceil(np.linalg.norm(b - a, axis=1) / SAMPLE_MM)).astype(np.int64)
    edge = np.repeat(np.arange(len(edges)), parts)
    share = (np.arange(len(edge)) - (np.cumsum(parts) - parts)[edge]) / parts[edge]
    samples: Floats = a[edge] + share[:, None] * (b - a)[edge]
    return samples, outward[edges[:, 0]][edge]


def _laid(seam: Floats, outward: Floats, high_mm: float) -> Dip | None:
    """The interface through seam samples: as high as the nearest of them for a collar, then rising to its
    level; within the object it falls.
    """
    level_mm = min(float(seam[:, 2].max()), high_mm)
    steep = practice("collar_steepest_ratio")
    collar_mm = practice("collar_outer_mm")
    reach_mm = collar_mm + (level_mm - float(seam[:, 2].min())) / steep + 3.0 * GRID_MM
    low, high = seam[:, :2].min(axis=0) - reach_mm, seam[:, :2].max(axis=0) + reach_mm
    step_mm = max(GRID_MM, float((high - low).max()) / MOST_LINES)
    x, y = (np.arange(low[k], high[k] + step_mm, step_mm) for k in (0, 1))
    plan = np.stack(np.meshgrid(x, y), axis=2).reshape(-1, 2)
    away, nearest = cKDTree(seam[:, :2]).query(plan)
    inside = np.einsum("ij,ij->i", plan - seam[nearest, :2], outward[nearest]) < 0.0
    rise = np.where(
        inside, -steep * np.minimum(away, FALLS_MM / steep), steep * np.maximum(0.0, away - collar_mm)
    )
    height = (seam[nearest, 2] + rise).reshape(len(y), len(x))
    # Where the seam itself climbs too steeply the interface goes lower beside it.
    widen(height, steep * step_mm)
    height = np.where(height < level_mm, height, np.inf)
    if not np.isfinite(height).any():
        return None
    floor = Floor(np.eye(3), x, y, height, float((level_mm - height[np.isfinite(height)]).sum()) * step_mm**2)
    return Dip(floor, level_mm, np.zeros((0, 2, 3)), 0.0)


def _between(floor: Floor, points: Floats, level_mm: float) -> Floats:
    """Height of a floor under a level at plan points, even between its lines."""
    step_mm = float(floor.x_mm[1] - floor.x_mm[0])
    field = np.minimum(floor.height_mm, level_mm)
    u = np.clip((points[:, 0] - floor.x_mm[0]) / step_mm, 0.0, len(floor.x_mm) - 1.001)
    v = np.clip((points[:, 1] - floor.y_mm[0]) / step_mm, 0.0, len(floor.y_mm) - 1.001)
    i, j = u.astype(int), v.astype(int)
    u, v = u - i, v - j
    low = field[j, i] * (1.0 - u) + field[j, i + 1] * u
    high = field[j + 1, i] * (1.0 - u) + field[j + 1, i + 1] * u
    height: Floats = low * (1.0 - v) + high * v
    return height


def _lines(band: Mesh, dip: Dip) -> tuple[Floats, Pairs]:
    """Where the interface meets a surface: lines (k, 2, 3) mm, and the face of each (k,)."""
    points = band.vertices_mm
    over = points[:, 2] - _between(dip.floor, points, dip.level_mm)
    value = over[band.faces]
    above = value >= 0.0
    crossed = np.flatnonzero(above.any(axis=1) & ~above.all(axis=1))
    ends = []
    for k in range(3):
        a, b = band.faces[crossed, k], band.faces[crossed, (k + 1) % 3]
        cut = above[crossed, k] != above[crossed, (k + 1) % 3]
        share = np.where(cut, over[a] / np.where(cut, over[a] - over[b], 1.0), np.nan)
        ends.append(points[a] + share[:, None] * (points[b] - points[a]))
    three = np.stack(ends, axis=1)
    whole = ~np.isnan(three[:, :, 0])
    lines: Floats = three[whole].reshape(-1, 2, 3)
    return lines, crossed[whole.sum(axis=1) == 2]


def hollows(thing: Mesh, level_mm: float, low_mm: float, inside: Flags) -> Flags:
    """Faces (m,) between two levels that hang together with one that is `inside` (m,) a hollow at the upper
    one.
    """
    z = thing.corners_mm[:, :, 2]
    own = np.flatnonzero((z.max(axis=1) > low_mm) & (z.min(axis=1) < level_mm))
    mate = match_sides(thing.faces, len(thing.vertices_mm)).mate.reshape(-1, 3)
    number = np.full(len(thing.faces), -1, np.int64)
    number[own] = np.arange(len(own))
    face = np.repeat(own, 3)
    other = mate[own].reshape(-1) // 3
    both = (mate[own].reshape(-1) >= 0) & (number[other] >= 0)
    graph = coo_matrix(
        (np.ones(int(both.sum()), np.int8), (number[face[both]], number[other[both]])), shape=(len(own),) * 2
    )
    _, part = connected_components(graph, directed=False)
    found: Flags = np.zeros(len(thing.faces), bool)
    found[own] = np.isin(part, np.unique(part[inside[own]]))
    return found
