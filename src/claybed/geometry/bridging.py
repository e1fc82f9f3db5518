"""Cross lines that cut a long strip of the plan into short cells.

Triangulating a cell takes longer than its corners are many: strips that run round a whole object are cheap
only in pieces. A cross line joins two corners that are there already, the one nearest to the other, as a
triangle's side would.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from claybed.geometry.lattice import Lattice

# So many corners of a ring lie between two cross lines.
CORNERS_BETWEEN = 16
# A ring that turns back along itself is crossed to its other side, no nearer along it than this, in corners.
OTHER_SIDE = 12


def bridges(rings: Sequence[Lattice], others: Sequence[Lattice], lines: Lattice) -> Lattice:
    """Cross lines (k, 4) from closed rings (r, 2) to the other side of each, to one another and to some other
    corners, each (n, 2).

    `lines` (m, 4) is every plan line that they may meet only at their own ends; they do not meet each other
    but there.
    """
    found = []
    for number, ring in enumerate(rings):
        start = ring[::CORNERS_BETWEEN]
        if len(ring) > 4 * OTHER_SIDE:
            found.append(_to_other_side(ring))
        for corners in (*others, *rings[number + 1 :]):
            if len(corners):
                found.append(np.concatenate([start, corners[cKDTree(corners).query(start)[1]]], axis=1))
    if not found:
        return np.zeros((0, 4), np.int64)
    across: Lattice = np.unique(np.concatenate(found), axis=0)
    clear = np.ones(len(across), bool)
    line = shapely.linestrings(across.reshape(-1, 2, 2).astype(np.float64))
    met = shapely.STRtree(shapely.linestrings(lines.reshape(-1, 2, 2).astype(np.float64)))
    own, other = met.query(line, predicate="intersects")
    clear[own[~_only_at_ends(across[own], lines[other])]] = False
    across, line = across[clear], line[clear]
    own, other = shapely.STRtree(line).query(line, predicate="intersects")
    crossed = (own > other) & ~_only_at_ends(across[own], across[other])
    kept: Lattice = np.delete(across, own[crossed], axis=0)
    return kept


def _to_other_side(ring: Lattice) -> Lattice:
    """Lines (k, 4) from corners of a long ring to the nearest ones that are far along it."""
    start = np.arange(0, len(ring), CORNERS_BETWEEN)
    near = np.asarray(cKDTree(ring).query(ring[start], k=2 * OTHER_SIDE)[1], np.int64)
    along = np.abs(near - start[:, None])
    far = np.minimum(along, len(ring) - along) > OTHER_SIDE
    some = far.any(axis=1)
    end = near[some, far[some].argmax(axis=1)]
    lines: Lattice = np.concatenate([ring[start[some]], ring[end]], axis=1)
    return lines


def _only_at_ends(one: Lattice, two: Lattice) -> NDArray[np.bool_]:
    """Whether lines (k, 4) that meet have an end in common and turn there, so that they meet nowhere else."""
    at_end = np.zeros(len(one), bool)
    for i in (0, 2):
        for j in (0, 2):
            at_end |= (one[:, i : i + 2] == two[:, j : j + 2]).all(axis=1)
    (ux, uy), (vx, vy) = ((e[:, 2:] - e[:, :2]).T for e in (one, two))
    turns: NDArray[np.bool_] = at_end & (ux * vy - uy * vx != 0)
    return turns
