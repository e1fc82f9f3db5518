"""A height sheet: plan triangles that carry a surface seen along the pull."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.halfedges import match_sides, side_ends
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


def edge_keys(faces: NDArray[np.integer], count: int) -> tuple[Lattice, Lattice]:
    """Directed edges of triangles as (from * count + to) and of their mates, each (3 m,) in edge order 01 12
    20 by column.
    """
    a = faces.astype(np.int64)
    b = np.roll(a, -1, axis=1)
    return (a * count + b).T.reshape(-1), (b * count + a).T.reshape(-1)


def unmated(faces: NDArray[np.integer], count: int) -> Lattice:
    """Directed edges (coded from * count + to, ascending) whose opposite no triangle has."""
    return _codes(faces, match_sides(faces, count).lone, count)


def used_twice(faces: NDArray[np.integer], count: int) -> Lattice:
    """Directed edges (coded) that more than one triangle has."""
    return _codes(faces, match_sides(faces, count).twice, count)


def _codes(faces: NDArray[np.integer], sides: NDArray[np.int64], count: int) -> Lattice:
    ends = side_ends(faces, sides)
    return distinct(ends[:, 0] * count + ends[:, 1])


def rim_edges(sheet: Sheet) -> NDArray[np.int64]:
    """Directed plan edges (k, 2) with the sheet on their left and nothing on their right."""
    n = len(sheet.plan)
    alone = unmated(sheet.faces, n)
    return np.stack([alone // n, alone % n], axis=1)
