"""Edges at which a solid touches itself, opened by a hair.

Where more than two faces share an edge, two of them at a time are led past it over a point of their own, a
lattice step or two aside. The surface stays closed; what moves is less than the lattice's rounding.
"""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.lattice import Lattice
from claybed.geometry.mesh import Bytes
from claybed.geometry.slab import LatticeSolid, odd_faced_edges

# Each pass leads every face past one edge at most.
PASSES = 12
# Lattice points around one, the nearest first.
STEPS_ASIDE = sorted(itertools.product((0, 1, -1, 2, -2), repeat=3), key=lambda s: sum(map(abs, s)))[1:]


def edges_parted(solid: LatticeSolid) -> LatticeSolid:
    """The solid with no edge that more than two faces share, when every edge has as many faces one way as the
    other; a solid without such edges is returned as it is.
    """
    for _ in range(PASSES):
        _, crowded = odd_faced_edges(solid)
        if not len(crowded):
            break
        solid = _led_past(solid, crowded)
    return solid


def step_aside(point: Lattice, taken: set[tuple[int, ...]]) -> tuple[int, ...]:
    """The nearest lattice point beside one (3,) that is not taken; the point itself when all are."""
    for step in STEPS_ASIDE:
        moved = tuple((point + np.array(step)).tolist())
        if moved not in taken:
            return moved
    return tuple(point.tolist())


def _led_past(solid: LatticeSolid, crowded: NDArray[np.int64]) -> LatticeSolid:
    points = [tuple(row) for row in solid.points.tolist()]
    taken = set(points)
    faces, origin = solid.faces.astype(np.int64), solid.origin
    count = len(solid.points)
    ends = np.stack([faces, np.roll(faces, -1, axis=1)], axis=2).reshape(-1, 2)
    key = ends.min(axis=1) * count + ends.max(axis=1)
    order = np.argsort(key, kind="stable")
    ranked = key[order]
    touched: set[int] = set()
    dropped: list[int] = []
    added: list[tuple[int, int, int]] = []
    marks: list[int] = []
    for u, v in crowded.tolist():
        code = min(u, v) * count + max(u, v)
        sides = order[np.searchsorted(ranked, code) : np.searchsorted(ranked, code, side="right")]
        ahead = [int(s) for s in sides if ends[s, 0] == u]
        back = [int(s) for s in sides if ends[s, 0] == v]
        for pair in list(zip(ahead, back, strict=False))[1:]:
            own = {s // 3 for s in pair}
            if own & touched or len(own) < 2:
                continue
            touched |= own
            middle = np.rint((solid.points[u] + solid.points[v]) / 2.0).astype(np.int64)
            spot = step_aside(middle, taken)
            taken.add(spot)
            points.append(spot)
            for side in pair:
                face, corner = divmod(side, 3)
                a, b, c = (int(faces[face, (corner + k) % 3]) for k in range(3))
                added += [(a, len(points) - 1, c), (len(points) - 1, b, c)]
                marks += [int(origin[face])] * 2
                dropped.append(face)
    kept = np.ones(len(faces), bool)
    kept[dropped] = False
    more: Bytes = np.array(marks, np.uint8)
    return LatticeSolid(
        np.array(points, np.int64),
        np.concatenate([faces[kept], np.array(added, np.int64).reshape(-1, 3)]).astype(np.int32),
        np.concatenate([origin[kept], more]),
    )
