"""Parts of a lining joined again where the slab takes it: fewer pieces, fewer joints."""

from __future__ import annotations

from itertools import combinations

import numpy as np
from scipy.spatial import cKDTree

from claybed.geometry.flattening import Faces, is_disk, loops
from claybed.geometry.mesh import Floats
from claybed.patterns.laying import Laid, Surface, curvature_sr, lay

# Parts are cut along one line, so what they share agrees to far less than this.
TOUCH_MM = 1e-4
# Two parts that share less of the shorter rim than this would hang together by a strip.
LEAST_SHARED = 0.12


def merged(laid: list[Laid], stretch_fraction: float, most_sr: float) -> list[Laid]:
    """The parts, joined two by two as long as what comes of it lies flat within `stretch_fraction`.

    Pairs with least curvature first; none with more than `most_sr` together is tried. Parts told as copies,
    or slit by darts, stay as they are.
    """
    done = list(laid)
    refused: set[tuple[int, int]] = set()
    while True:
        found = _first_pair(done, stretch_fraction, most_sr, refused)
        if found is None:
            return done
        a, b, one = found
        done = [part for part in done if part is not a and part is not b] + [one]


def _first_pair(
    laid: list[Laid], stretch_fraction: float, most_sr: float, refused: set[tuple[int, int]]
) -> tuple[Laid, Laid, Laid] | None:
    whole = [one for one in laid if one.copies == 1 and one.darts == 0]
    pairs = sorted(combinations(whole, 2), key=lambda pair: pair[0].curvature_sr + pair[1].curvature_sr)
    for a, b in pairs:
        if a.curvature_sr + b.curvature_sr > most_sr:
            break
        if (id(a), id(b)) in refused:
            continue
        surface = joined((a.points_mm, a.faces), (b.points_mm, b.faces))
        if surface is not None and is_disk(*surface) and curvature_sr(*surface) <= most_sr:
            one = lay(surface)
            if one.spread_ratio <= stretch_fraction:
                return a, b, one
        refused.add((id(a), id(b)))
    return None


def joined(a: Surface, b: Surface) -> Surface | None:
    """Two parts of one surface as one, welded along the line that parted them; None when they hardly meet."""
    rims = loops(a[1])[0], loops(b[1])[0]
    near = [cKDTree(part[0][rim]) for part, rim in zip((a, b), rims, strict=True)]
    if not near[0].sparse_distance_matrix(near[1], TOUCH_MM).nnz:
        return None
    a, b = _with_corners(a, b[0][rims[1]]), _with_corners(b, a[0][rims[0]])
    points = np.concatenate([a[0], b[0]])
    faces = np.concatenate([a[1], b[1] + len(a[0])])
    same = np.arange(len(points))
    gap, twin = cKDTree(a[0]).query(b[0], distance_upper_bound=TOUCH_MM)
    on = np.isfinite(gap)
    same[len(a[0]) :][on] = np.asarray(twin)[on]
    faces = same[faces]
    used, local = np.unique(faces, return_inverse=True)
    local = local.reshape(-1, 3).astype(np.int64)
    shorter = min(_length(part[0][loops(part[1])[0]]) for part in (a, b))
    shared = (sum(_length(part[0][loops(part[1])[0]]) for part in (a, b)) - _rims(points[used], local)) / 2.0
    return (points[used], local) if shared >= LEAST_SHARED * shorter else None


def _rims(points: Floats, faces: Faces) -> float:
    return sum(_length(points[rim]) for rim in loops(faces))


def _length(ring: Floats) -> float:
    return float(np.linalg.norm(np.roll(ring, -1, axis=0) - ring, axis=1).sum())


def _with_corners(part: Surface, corners: Floats) -> Surface:
    """A part whose rim has a corner wherever one of `corners` (n, 3) mm lies on an edge of it."""
    points, faces = part
    rim = loops(faces)[0]
    start, end = points[rim], points[np.roll(rim, -1)]
    along = end - start
    length2 = np.maximum((along**2).sum(axis=1), 1e-18)
    share = np.einsum("nek,ek->ne", corners[:, None] - start, along) / length2
    off = np.linalg.norm(corners[:, None] - start - share[..., None] * along, axis=2)
    margin = TOUCH_MM / np.sqrt(length2)
    which, edge = np.nonzero((off < TOUCH_MM) & (share > margin) & (share < 1.0 - margin))
    if not len(which):
        return part
    owner = {(int(f[k]), int(f[(k + 1) % 3])): (m, k) for m, f in enumerate(faces) for k in range(3)}
    fresh = [points]
    extra: list[tuple[int, int, int]] = []
    new = faces.copy()
    count = len(points)
    for e in np.unique(edge):
        u, v = int(rim[e]), int(rim[(e + 1) % len(rim)])
        forward = (u, v) in owner
        m, k = owner[(u, v) if forward else (v, u)]
        mine = which[edge == e]
        order = mine[np.argsort(share[mine, e])]
        row = [int(count + j) for j in range(len(order))]
        fresh.append(corners[order])
        count += len(order)
        path = [u, *row, v] if forward else [v, *row[::-1], u]
        if (new[m] != faces[m]).any():
            return part  # a corner triangle with two rim edges, both split: left as it is
        tip = int(faces[m][(k + 2) % 3])
        new[m] = [path[0], path[1], tip]
        extra += [(path[j], path[j + 1], tip) for j in range(1, len(path) - 1)]
    return np.concatenate(fresh), np.concatenate([new, np.array(extra, np.int64)])
