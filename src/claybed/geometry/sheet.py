"""A height sheet: plan triangles that carry a surface seen along the pull."""

from __future__ import annotations

from dataclasses import dataclass
from weakref import ref

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.halfedges import Sides, match_sides, side_ends
from claybed.geometry.lattice import Lattice, distinct
from claybed.geometry.mesh import Bytes


@dataclass(frozen=True, slots=True, eq=False)
class Sheet:
    """Counter-clockwise plan triangles with a height at each corner.

    `plan` (n, 2) int64 plan points shared with other sheets; `faces` (m, 3) int32 into `plan`; `heights` (m,
    3) int64, so that neighbours may stand at different heights over a common edge; `origin` (m,) uint8.
    """

    plan: Lattice
    faces: NDArray[np.int32]
    heights: Lattice
    origin: Bytes


# A sheet never changes, so neither does how its sides meet; by the number of its array of faces.
_SIDES: dict[int, tuple[ref[NDArray[np.int32]], Sides]] = {}


def sides_of(sheet: Sheet) -> Sides:
    """How the sides of a sheet's triangles meet, worked out once as long as its faces live."""
    key = id(sheet.faces)
    known = _SIDES.get(key)
    if known is not None and known[0]() is sheet.faces:
        return known[1]
    sides = match_sides(sheet.faces, len(sheet.plan))
    _SIDES[key] = ref(sheet.faces, lambda _: _SIDES.pop(key, None)), sides
    return sides


# The faces of two sheets in one array, as long as those of both live.
_JOINED: dict[tuple[int, int], tuple[ref[NDArray[np.int32]], ref[NDArray[np.int32]], NDArray[np.int32]]] = {}


def joined(one: Sheet, two: Sheet) -> Sheet:
    """The cells of two sheets over the same plan points, first those of the one."""
    key = id(one.faces), id(two.faces)
    known = _JOINED.get(key)
    if known is not None and known[0]() is one.faces and known[1]() is two.faces:
        faces = known[2]
    else:
        faces = np.concatenate([one.faces, two.faces])
        gone = [ref(sheet.faces, lambda _: _JOINED.pop(key, None)) for sheet in (one, two)]
        _JOINED[key] = gone[0], gone[1], faces
    return Sheet(
        one.plan,
        faces,
        np.concatenate([one.heights, two.heights]),
        np.concatenate([one.origin, two.origin]),
    )


def edge_keys(faces: NDArray[np.integer], count: int) -> tuple[Lattice, Lattice]:
    """Directed edges of triangles as (from * count + to) and of their mates, each (3 m,) in edge order 01 12
    20 by column.
    """
    a = faces.astype(np.int64)
    b = np.roll(a, -1, axis=1)
    return (a * count + b).T.reshape(-1), (b * count + a).T.reshape(-1)


def unmated(faces: NDArray[np.integer], count: int) -> Lattice:
    """Directed edges (coded from * count + to, ascending) whose opposite no triangle has."""
    return edge_codes(faces, match_sides(faces, count).lone, count)


def edge_codes(faces: NDArray[np.integer], sides: NDArray[np.int64], count: int) -> Lattice:
    """The different directed edges along some sides, coded from * count + to, ascending."""
    ends = side_ends(faces, sides)
    return distinct(ends[:, 0] * count + ends[:, 1])


def rim_edges(sheet: Sheet) -> NDArray[np.int64]:
    """Directed plan edges (k, 2) with the sheet on their left and nothing on their right."""
    n = len(sheet.plan)
    alone = edge_codes(sheet.faces, sides_of(sheet).lone, n)
    return np.stack([alone // n, alone % n], axis=1)
