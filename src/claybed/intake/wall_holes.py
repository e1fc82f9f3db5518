"""Holes through the wall of a vessel, closed flush with both its sides as a mold maker does with clay."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from claybed.geometry.mesh import Origin
from claybed.intake.basin import LEAST_PART, flood_levels, largest_basin, neighbours
from claybed.intake.bores import Bore
from claybed.intake.caps import Rim
from claybed.intake.crest import inside_faces
from claybed.intake.membrane import Swell, span
from claybed.intake.planes import plane_axes
from claybed.intake.skin import Flags, Skin, edges_of
from claybed.intake.soup import Points, Triples
from claybed.records.measured import WallHole

UPRIGHT = 0.7  # cosine between up and the way a rim looks, from which it may be a neck's
TOP_PART = 0.1  # of the height below the top in which a neck's rim lies
LEAST_UNDER = 1e-3  # of the bounding box, the least hollow under a foot whose ring may be pierced
STEEPEST = 0.5  # of half its width, how far a wall may bend away from a rim's plane and still be followed
FLAT_WITHIN = 1e-3  # of its width, the least bend that is followed


@dataclass(frozen=True, slots=True, eq=False)
class HolesClosed:
    """A skin with its holes closed, faces over them of Origin.MEND, and what was closed."""

    skin: Skin
    holes: tuple[WallHole, ...]


@dataclass(frozen=True, slots=True, eq=False)
class _Plug:
    """What fills one bore: further `points` (j, 3), and the faces over each rim, over the rim's own points
    (numbers below `count`) and those."""

    bore: Bore
    points: Points
    caps: tuple[Triples, Triples]


def close_holes(skin: Skin, bores: list[Bore], up: Points) -> HolesClosed:
    """Close every hole that leads out of the inside of a vessel, standing with `up` upward, or out of the
    hollow under its foot; `bores` are where to look.

    A hole is closed when, with it closed, one of its rims lies inside and the other outside: the hole of a
    flat handle has both outside and stays, and so does a strainer's, that leads on into a spout. With no such
    hole, or no inside with all closed, the skin is as it was.
    """
    plugs = _plugs(skin, _through(skin, bores, up))
    if not plugs:
        return HolesClosed(skin, ())
    tried, places = _with(skin, plugs)
    inside = _inside(tried, up, LEAST_PART)
    if inside is None:
        return HolesClosed(skin, ())
    heights = tried.vertices @ up
    wet = flood_levels(neighbours(tried), heights) > heights + FLAT_WITHIN * float(np.ptp(heights))
    elsewhere = wet[tried.faces].all(axis=1) & ~inside
    under = _inside(tried, -up, LEAST_UNDER)
    kept: list[tuple[_Plug, int]] = []
    for plug, both in zip(plugs, places, strict=True):
        if any(_mostly(elsewhere, cap) for cap in both):
            continue
        for hollow in (inside, under):
            if hollow is None:
                continue
            first, second = (_mostly(hollow, cap) for cap in both)
            if first != second:
                kept.append((plug, int(first)))
                break
    if not kept:
        return HolesClosed(skin, ())
    closed, _ = _with(skin, [plug for plug, _ in kept])
    return HolesClosed(closed, tuple(_told(skin, plug, outer) for plug, outer in kept))


def at_rim(skin: Skin, rim: Rim) -> WallHole:
    """An opening that is closed at a rim of its own, such as a spout's, as measured; it has no depth."""
    return _measured(skin.vertices[rim.ring], rim, 0.0, 0.0, skin)


def _mostly(flags: Flags, which: Triples) -> bool:
    return 2 * int(flags[which].sum()) > len(which)


def _inside(skin: Skin, up: Points, least_share: float) -> Flags | None:
    """Faces of the largest hollow that holds water with `up` upward, or None."""
    basin = largest_basin(skin, up, least_share=least_share)
    if basin is None:
        return None
    inside = inside_faces(skin, basin)
    return inside if inside.any() and not inside.all() else None


def _through(skin: Skin, bores: list[Bore], up: Points) -> list[Bore]:
    """The bores that can all be closed and leave the surface in one piece; of two ways into a hollow the one
    on top stays open, since it is the mouth."""
    if not bores:
        return []
    rest = ~np.logical_or.reduce([bore.faces for bore in bores])
    part = np.full(len(skin.faces), -1, np.int64)
    part[rest] = _parts(skin, rest)
    of_point = np.full(len(skin.vertices), -1, np.int64)
    of_point[skin.faces[rest]] = part[rest][:, None]
    heights = skin.vertices @ up
    top = float(heights.max()) - TOP_PART * float(np.ptp(heights))

    def is_neck(bore: Bore) -> bool:
        return any(
            float(rim.normal @ up) > UPRIGHT * float(np.linalg.norm(rim.normal))
            and float(rim.middle @ up) > top
            for rim in bore.rims
        )

    links = [tuple(int(of_point[rim.ring].max()) for rim in bore.rims) for bore in bores]
    order = sorted(range(len(bores)), key=lambda k: (is_neck(bores[k]), bores[k].width_mm, k))
    open_ = set(order)
    for k in order:
        if _reached(links[k][0], [links[other] for other in open_ - {k}], links[k][1]):
            open_.remove(k)
    return [bores[k] for k in order if k not in open_]


def _parts(skin: Skin, kept: Flags) -> Triples:
    faces = skin.faces[kept]
    edges = edges_of(faces, len(skin.vertices))
    sides = edges.of_side
    count = len(faces) + len(edges.count)
    own = np.repeat(np.arange(len(faces)), 3)
    graph = coo_matrix((np.ones(len(own), np.int8), (own, len(faces) + sides.ravel())), shape=(count, count))
    return connected_components(graph, directed=False)[1][: len(faces)].astype(np.int64)


def _reached(start: int, links: list[tuple[int, ...]], goal: int) -> bool:
    """Whether parts of the surface hang together over the bores that are left."""
    seen, new = {start}, {start}
    while new:
        new = {b for link in links for a, b in (link, link[::-1]) if a in new} - seen
        seen |= new
    return goal in seen


def _plugs(skin: Skin, bores: list[Bore]) -> list[_Plug]:
    """What fills each bore; one over which no surface can be spanned is left open."""
    made: list[_Plug] = []
    for bore in bores:
        count = len(skin.vertices)
        more: list[Points] = []
        caps: list[Triples] = []
        for rim in bore.rims:
            spanned = _flush(skin, bore, rim)
            if spanned is None:
                break
            points, faces = spanned
            number = np.concatenate([rim.ring, count + np.arange(len(points))])
            more.append(points)
            caps.append(number[faces])
            count += len(points)
        if len(caps) == 2:
            made.append(_Plug(bore, np.concatenate(more), (caps[0], caps[1])))
    return made


def _flush(skin: Skin, bore: Bore, rim: Rim) -> tuple[Points, Triples] | None:
    """A surface over a rim that goes on as the wall round it does."""
    up = rim.normal / np.linalg.norm(rim.normal)
    loop = skin.vertices[rim.ring]
    return span(loop, up, _swell(skin, bore, rim, up))


def _swell(skin: Skin, bore: Bore, rim: Rim, up: Points) -> Swell | None:
    """How a bent wall goes on over a rim: the paraboloid that its points, and the slopes of the faces beside
    it, fit best; None beside a flat wall."""
    axes = plane_axes(up)
    loop = (skin.vertices[rim.ring] - rim.middle) @ np.column_stack([axes, up])
    half = 0.5 * float(np.ptp(loop[:, :2], axis=0).max())
    on_rim = np.zeros(len(skin.vertices), bool)
    on_rim[rim.ring] = True
    beside = np.flatnonzero((on_rim[skin.faces].sum(axis=1) >= 2) & ~bore.faces)
    corners = skin.vertices[skin.faces[beside]]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal = normal @ np.column_stack([axes, up])
    looks_up = normal[:, 2] > 0.3 * np.linalg.norm(normal, axis=1)
    normal, corners = normal[looks_up], corners[looks_up]
    own = on_rim[skin.faces[beside][looks_up]]
    if len(normal) < 3:
        return None
    weight = own / own.sum(axis=1, keepdims=True)
    at = ((corners - rim.middle) * weight[:, :, None]).sum(axis=1) @ axes / half
    slope = -normal[:, :2] / normal[:, 2:]
    x, y = (loop[:, :2] / half).T
    one, none = np.ones_like, np.zeros_like
    u, v = at.T
    rows = np.concatenate(
        [
            np.stack([x * x, x * y, y * y, x, y, one(x)], axis=1),
            np.stack([2 * u, v, none(u), one(u), none(u), none(u)], axis=1),
            np.stack([none(u), u, 2 * v, none(u), one(u), none(u)], axis=1),
        ]
    )
    heights = np.concatenate([loop[:, 2] / half, slope[:, 0], slope[:, 1]])
    form = np.linalg.lstsq(rows, heights, rcond=None)[0]
    form[3:] = 0.0  # what tilts and lifts is the rim's own
    bend = float(np.abs(form[:3]).max())
    if not 2.0 * FLAT_WITHIN < bend < STEEPEST:
        return None
    centre = rim.middle @ axes
    xx, xy, yy = (form[:3] / half).tolist()

    def height(flat: Points) -> Points:
        a, b = (flat - centre).T
        raised: Points = xx * a * a + xy * a * b + yy * b * b
        return raised

    return height


def _with(skin: Skin, plugs: list[_Plug]) -> tuple[Skin, list[tuple[Triples, Triples]]]:
    """The skin with bores closed, and the faces over both rims of each."""
    kept = skin.kept(~np.logical_or.reduce([plug.bore.faces for plug in plugs]))
    before, faces = len(skin.vertices), len(kept.faces)
    added: list[Triples] = []
    places: list[tuple[Triples, Triples]] = []
    points = [np.zeros((0, 3))]
    shift = 0
    for plug in plugs:
        over = []
        for cap in plug.caps:
            added.append(np.where(cap >= before, cap + shift, cap))
            over.append(faces + np.arange(len(cap)))
            faces += len(cap)
        places.append((over[0], over[1]))
        points.append(plug.points)
        shift += len(plug.points)
    return kept.with_faces(np.concatenate(added), Origin.MEND, np.concatenate(points)), places


def _told(skin: Skin, plug: _Plug, outer: int) -> WallHole:
    """A closed hole as measured; `outer` says which rim lies outside."""
    rim, other = plug.bore.rims[outer], plug.bore.rims[1 - outer]
    points = np.concatenate([skin.vertices, plug.points])
    closed = np.concatenate([skin.faces[plug.bore.faces][:, ::-1], *plug.caps])
    a, b, c = (points[closed[:, k]] - rim.middle for k in range(3))
    depth_mm = float(np.linalg.norm(rim.middle - other.middle))
    volume_mm3 = float((a * np.cross(b, c)).sum()) / 6.0
    return _measured(plug.bore.narrow_mm, rim, depth_mm, volume_mm3 / 1000.0, skin)


def _measured(narrow_mm: Points, rim: Rim, depth_mm: float, volume_ml: float, skin: Skin) -> WallHole:
    out = rim.normal / np.linalg.norm(rim.normal)
    flat = shapely.Polygon(narrow_mm @ plane_axes(out))
    x, y = np.array(flat.minimum_rotated_rectangle.exterior.coords).T
    sides = sorted(float(s) for s in np.hypot(np.diff(x[:3]), np.diff(y[:3])))
    return WallHole(
        at_mm=_plain(rim.middle),
        out=_plain(out),
        width_mm=sides[0],
        length_mm=sides[1],
        area_mm2=float(flat.area),
        depth_mm=depth_mm,
        volume_ml=volume_ml,
        rim_mm=tuple(_plain(point) for point in skin.vertices[rim.ring]),
    )


def _plain(point: Points) -> tuple[float, float, float]:
    return float(point[0]), float(point[1]), float(point[2])
