"""The table under a scanned object: found, and cut away."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from claybed.intake.skin import Skin, areas_of, used_points
from claybed.intake.soup import Points, Triples

TRIES: Final = 300
MOST_ASKED: Final = 20_000
NEAR_SHARE: Final = 0.004  # of the scan's size, within which a face may belong to the plane
LEAST_SHARE: Final = 0.04  # of the scan's surface, below which a plane is no table
ABOVE_SHARE: Final = 0.96  # of the rest of the surface that must stand on one side
PLANES: Final = 3  # the largest may be a wall, which nothing touches
TOUCHES: Final = 4.0  # times the plane's own band, within which what stands on it begins
_ALIGNED: Final = 0.9


@dataclass(frozen=True, slots=True, eq=False)
class Table:
    """A plane that an object stands on: `up` unit vector towards the object, `level_mm` its height along it,
    `noise_mm` how rough it was scanned (standard deviation), `area_mm2` of it that was scanned.
    """

    up: Points
    level_mm: float
    noise_mm: float
    area_mm2: float


def find_table(skin: Skin) -> Table | None:
    """The largest plane that faces the rest of a scan, or None when there is none.

    An object's own flat base faces away from the rest, so it is not taken for a table. `skin` mm, its faces
    turned outward by and large.
    """
    corners = skin.vertices[skin.faces]
    doubled = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.linalg.norm(doubled, axis=1) / 2.0
    good = area > 0.0
    normal = np.zeros_like(doubled)
    normal[good] = doubled[good] / (2.0 * area[good])[:, None]
    middle = corners.mean(axis=1)
    near_mm = NEAR_SHARE * skin.size_mm
    candidate = good.copy()
    # The same scan gives the same table: the faces tried are drawn from a fixed stream.
    chance = np.random.default_rng(20)
    for _ in range(PLANES):
        part = area * candidate
        if part.sum() < LEAST_SHARE * area.sum():
            return None
        best = _largest_plane(middle, normal, part, near_mm, chance)
        if part[best].sum() < LEAST_SHARE * area.sum():
            return None
        up, level = _fitted(middle[best], part[best], normal[best])
        best = _within(middle, normal, up, level, near_mm) & candidate
        if not best.any():
            return None
        up, level = _fitted(middle[best], area[best], normal[best])
        heights = middle @ up - level
        if _stood_on(heights, area, best, near_mm):
            noise = float(np.sqrt((area[best] * heights[best] ** 2).sum() / area[best].sum()))
            return Table(up, level, noise, float(area[best].sum()))
        candidate &= ~best
    return None


def _largest_plane(
    middle: Points, normal: Points, area: Points, near_mm: float, chance: np.random.Generator
) -> np.ndarray:
    """The faces of the plane with the most area, among planes through faces tried by their area."""
    tried = chance.choice(len(area), size=TRIES, p=area / area.sum())
    # Faces drawn by their area stand for all of it: a fine scan has a million.
    if len(area) > MOST_ASKED:
        asked = chance.choice(len(area), size=MOST_ASKED, p=area / area.sum())
        share = np.ones(MOST_ASKED)
    else:
        asked, share = np.arange(len(area)), area
    of, to = middle[asked], normal[asked]
    best, most = -1, 0.0
    for k in tried.tolist():
        found = float(share[_within(of, to, normal[k], float(middle[k] @ normal[k]), near_mm)].sum())
        if found > most:
            best, most = k, found
    if best < 0:
        return np.zeros(len(area), bool)
    return _within(middle, normal, normal[best], float(middle[best] @ normal[best]), near_mm)


def _stood_on(heights: Points, area: Points, plane: np.ndarray, near_mm: float) -> bool:
    """Whether the rest of a scan stands on a plane: nearly all above it, and right down to it."""
    rest = ~plane & (np.abs(heights) > near_mm)
    above = rest & (heights > 0.0)
    if not above.any() or area[above].sum() < ABOVE_SHARE * area[rest].sum():
        return False
    return bool(heights[above].min() < TOUCHES * near_mm)


def cut_off(skin: Skin, up: Points, from_mm: float, to_mm: float) -> Skin:
    """The skin above the height `from_mm` along `up`, its new rim carried down to `to_mm`.

    Faces that cross the plane are cut; nothing else moves. What was scanned below is gone.
    """
    above = skin.vertices @ up - from_mm
    above = np.where(np.abs(above) < 1e-9, 1e-9, above)
    side = above > 0.0
    count = side[skin.faces].sum(axis=1)
    whole = skin.faces[count == 3]
    crossing = skin.faces[(count == 1) | (count == 2)]
    if len(crossing) == 0:
        return Skin.of(skin.vertices, whole).trimmed()
    alone = np.where(side[crossing].sum(axis=1)[:, None] == 1, side[crossing], ~side[crossing]).argmax(axis=1)
    rows = np.arange(len(crossing))
    a, b, c = (crossing[rows, (alone + k) % 3] for k in range(3))
    points, ab, ac = _crossings(skin.vertices, above, a, b, c)
    points = points + (to_mm - from_mm) * up
    n = len(skin.vertices)
    ab, ac = ab + n, ac + n
    one = side[a]
    cut = np.concatenate(
        [
            np.stack([a, ab, ac], axis=1)[one],
            np.stack([ab, b, c], axis=1)[~one],
            np.stack([ab, c, ac], axis=1)[~one],
        ]
    )
    return Skin.of(np.concatenate([skin.vertices, points]), np.concatenate([whole, cut])).trimmed()


def _within(middle: Points, normal: Points, n: Points, level: float, near_mm: float) -> np.ndarray:
    return (np.abs(middle @ n - level) < near_mm) & (normal @ n > _ALIGNED)


def _fitted(middle: Points, area: Points, normal: Points) -> tuple[Points, float]:
    """The plane through face middles, by area: least squares, turned the way the faces look."""
    weight = area / area.sum()
    centre = weight @ middle
    away = middle - centre
    _, _, rows = np.linalg.svd((away * weight[:, None]).T @ away)
    up = rows[2]
    if float(weight @ (normal @ up)) < 0.0:
        up = -up
    return up, float(centre @ up)


def _crossings(
    vertices: Points, above: Points, a: Triples, b: Triples, c: Triples
) -> tuple[Points, Triples, Triples]:
    """Points where the sides a-b and a-c pass the plane, each shared side once, and their numbers."""
    ends = np.concatenate([np.stack([a, b], axis=1), np.stack([a, c], axis=1)])
    ends.sort(axis=1)
    unique, inverse = np.unique(ends, axis=0, return_inverse=True)
    low, high = unique.T
    part = above[low] / (above[low] - above[high])
    points: Points = vertices[low] + part[:, None] * (vertices[high] - vertices[low])
    number = inverse.reshape(-1).astype(np.int64)
    return points, number[: len(a)], number[len(a) :]


def share_of_plane(skin: Skin) -> float:
    """How thin a skin is across its flattest direction, as a share of its size: 0 is a plane."""
    used = skin.vertices[used_points(skin.faces, len(skin.vertices))]
    area = areas_of(skin.vertices, skin.faces)
    middle = skin.vertices[skin.faces].mean(axis=1)
    weight = area / area.sum()
    away = middle - weight @ middle
    spread = np.linalg.svd((away * weight[:, None]).T @ away, compute_uv=False)
    return float(np.sqrt(spread[2])) / float(np.linalg.norm(np.ptp(used, axis=0)))
