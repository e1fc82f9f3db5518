"""Holes closed: flat where a rim is flat, ring-shaped where two rims lie in one plane, and like a skin drawn
over it where a large rim is uneven.

Ears cut off an uneven rim would enclose more or less with every change of the rim's points.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

import mapbox_earcut
import numpy as np
from shapely import Polygon

from claybed.geometry.mesh import Origin
from claybed.intake.membrane import span
from claybed.intake.planes import plane_axes, turning
from claybed.intake.skin import Skin, areas_of, edges_of
from claybed.intake.soup import Points, Triples
from claybed.records.finding import Amount, Finding
from claybed.records.measured import Repair
from claybed.units import say_count

FLAT_WITHIN = 2e-3  # of the rim's own width
LIP_WITHIN = 1e-2  # how far two rims of one wall may stand apart along their normal, of the outer width
MOST_WALLS = 40  # rims, largest first, among which rings are looked for
MOST_HOLES = 2_000
NOTABLE_CM2 = 1.0
_SLIT = 1e-7  # area of a rim over its length squared below which it is a slit


@dataclass(frozen=True, slots=True, eq=False)
class Rim:
    """One open rim, ordered so that a face filling it looks outward: `ring` (k,) vertex numbers, its `normal`
    (length = twice the area), `middle`, `width_mm`, and whether it lies in a plane."""

    ring: Triples
    normal: Points
    middle: Points
    width_mm: float
    flat: bool

    @property
    def slit(self) -> bool:
        """Whether the rim encloses next to nothing."""
        return float(np.linalg.norm(self.normal)) < _SLIT * max(self.width_mm, 1e-12) ** 2


def rims_of(skin: Skin) -> list[Rim]:
    """All open rims of a consistently oriented skin, longest first."""
    edges = edges_of(skin.faces, len(skin.vertices))
    sides = np.argwhere(edges.open[edges.of_side])
    start = skin.faces[sides[:, 0], sides[:, 1]]
    end = skin.faces[sides[:, 0], (sides[:, 1] + 1) % 3]
    rings = _rings(end, start)
    return sorted(
        (_rim(skin.vertices, ring) for ring in rings), key=lambda r: (-r.width_mm, int(r.ring.min()))
    )


def cap_holes(skin: Skin) -> tuple[Skin, Repair | None, list[Finding]]:
    """Close every open rim that can be closed without crossing itself; others stay open.

    New faces carry Origin.MEND and use the rim's own points, with others across a large uneven rim. Holes of
    a square centimetre and more are told apart.
    """
    rims = rims_of(skin)
    if not rims or len(rims) > MOST_HOLES:
        return skin, None, []
    pieces: list[Triples] = []
    findings: list[Finding] = []
    vertices = skin.vertices
    for group in _in_one_plane(rims):
        drawn = _drawn_over(vertices, group)
        if drawn is None:
            faces = _filled(vertices, group)
        else:
            more, faces = drawn
            vertices = np.concatenate([vertices, more])
        if faces is None:
            continue
        pieces.append(faces)
        area_cm2 = float(areas_of(vertices, faces).sum()) / 100.0
        if area_cm2 >= NOTABLE_CM2:
            findings.append(_told(group[0], area_cm2))
    if not pieces:
        return skin, None, []
    added = np.concatenate(pieces)
    area = float(areas_of(vertices, added).sum())
    says = f"Closed {say_count(len(pieces), 'hole')}, {area / 100:.3g} cm² in all."
    closed = skin.with_faces(added, Origin.MEND, vertices[len(skin.vertices) :])
    return closed, Repair("fill_hole", len(pieces), area, "mm2", says), findings


def _rings(start: Triples, end: Triples) -> list[Triples]:
    """Closed walks along directed edges; a walk that meets itself is split there."""
    following: dict[int, list[int]] = defaultdict(list)
    for a, b in zip(start.tolist(), end.tolist(), strict=True):
        following[a].append(b)
    rings: list[Triples] = []
    for first in sorted(following):
        while following[first]:
            path = [first]
            place = {first: 0}
            while following[path[-1]]:
                after = following[path[-1]].pop()
                if after in place:
                    at = place[after]
                    rings.append(np.array(path[at:], np.int64))
                    for gone in path[at + 1 :]:
                        del place[gone]
                    path = path[: at + 1]
                    if len(path) == 1:
                        break
                    continue
                place[after] = len(path)
                path.append(after)
    return [r for r in rings if len(r) >= 3]


def _rim(vertices: Points, ring: Triples) -> Rim:
    points = vertices[ring]
    middle = points.mean(axis=0)
    away = points - middle
    normal = np.cross(away, np.roll(away, -1, axis=0)).sum(axis=0)
    width = float(np.linalg.norm(np.ptp(points, axis=0)))
    length = float(np.linalg.norm(normal))
    off = float(np.abs(away @ (normal / length)).max()) if length > 0 else 0.0
    return Rim(ring, normal, middle, width, off <= FLAT_WITHIN * width)


def _in_one_plane(rims: list[Rim]) -> list[list[Rim]]:
    """Rims grouped so that each group is one outer rim and the rims of opposite sense inside it."""
    order = sorted(rims, key=lambda r: -float(np.linalg.norm(r.normal)))
    walls: list[list[Rim]] = []
    others: list[list[Rim]] = [[rim] for rim in order[MOST_WALLS:]]
    for rim in order[:MOST_WALLS]:
        if rim.slit or not rim.flat:
            others.append([rim])
            continue
        home = next((group for group in walls if _is_hole_in(rim, group[0])), None)
        if home is None:
            walls.append([rim])
        else:
            home.append(rim)
    return walls + others


def _is_hole_in(rim: Rim, outer: Rim) -> bool:
    """Whether two flat rims look opposite ways in about one plane, the first within the second."""
    u, v = (r.normal / np.linalg.norm(r.normal) for r in (rim, outer))
    lifted = abs(float((rim.middle - outer.middle) @ v))
    within = float(np.linalg.norm(rim.middle - outer.middle)) < outer.width_mm / 2
    return float(u @ v) < -0.999 and lifted <= LIP_WITHIN * outer.width_mm and within


def _drawn_over(vertices: Points, group: list[Rim]) -> tuple[Points, Triples] | None:
    """A skin over one large uneven rim: further points, and faces over the points of `vertices` and those.

    None for any other rim, and where none can be drawn.
    """
    outer = group[0]
    if len(group) > 1 or outer.flat or outer.slit or np.linalg.norm(outer.normal) < 200.0 * NOTABLE_CM2:
        return None
    spanned = span(vertices[outer.ring], outer.normal / np.linalg.norm(outer.normal))
    if spanned is None:
        return None
    more, faces = spanned
    places = np.concatenate([outer.ring, len(vertices) + np.arange(len(more))])
    return more, places[faces]


def _filled(vertices: Points, group: list[Rim]) -> Triples | None:
    """Triangles for one outer rim and its holes, or None when the rim crosses itself as seen from above."""
    outer = group[0]
    ring = outer.ring
    if len(ring) == 3 and len(group) == 1:
        return ring[None, :]
    if outer.slit:
        fan = np.arange(1, len(ring) - 1)
        return np.stack([np.full(len(fan), ring[0]), ring[fan], ring[fan + 1]], axis=1)
    axes = plane_axes(outer.normal)
    flat = [vertices[r.ring] @ axes for r in group]
    polygon = Polygon(flat[0], [f for f in flat[1:] if len(f) >= 3])
    if not polygon.is_valid:
        return None
    ends = np.cumsum([len(f) for f in flat]).astype(np.uint32)
    cut = mapbox_earcut.triangulate_float64(np.concatenate(flat), ends).astype(np.int64).reshape(-1, 3)
    if len(cut) != len(np.concatenate(flat)) + 2 * (len(group) - 1) - 2:
        return None
    points = np.concatenate(flat)
    if turning(points, cut) < 0:
        cut = cut[:, ::-1]
    filled: Triples = np.concatenate([r.ring for r in group])[cut]
    return filled


def _told(rim: Rim, area_cm2: float) -> Finding:
    x, y, z = (float(c) for c in rim.middle)
    kind = "a flat face" if rim.flat else "a face across its uneven rim"
    return Finding(
        "hole_closed",
        "look",
        f"near {x:z.0f}, {y:z.0f}, {z:z.0f} mm",
        f"An opening of {area_cm2:.3g} cm² was closed with {kind}.",
        "Look whether the object is meant to be closed there.",
        Amount(area_cm2, "cm2"),
        (x, y, z),
    )
