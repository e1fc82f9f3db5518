"""Where a vessel holds water, and up to which level, read off the surface alone.

Water rises along the surface the way it rises on land: every point has a level at which the flood from the
foot of the object reaches it. Where that level lies above the point, water stands. The level of the largest
pool is where the vessel overflows.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.sparse import coo_matrix, csr_matrix
from scipy.sparse.csgraph import breadth_first_order, connected_components, minimum_spanning_tree

from claybed.intake.skin import Flags, Skin
from claybed.intake.soup import Points, Triples

LEAST_PART = 0.01  # of the bounding box, below which a pool is a dimple and no inside
RIVAL_PART = 0.2  # of the largest pool, above which another one is a second inside
_FLAT = 1e-7  # of the height


@dataclass(frozen=True, slots=True, eq=False)
class Basin:
    """The inside of a vessel: `wet` (n,) its points below `level_mm` along up, which holds `held_mm3`;
    `heights_mm` (n,) of all points; `rivals` how many other pools are of its kind."""

    wet: Flags
    level_mm: float
    held_mm3: float
    heights_mm: Points
    rivals: int


def neighbours(skin: Skin) -> csr_matrix:
    """Which points share a face side, (n, n), symmetric."""
    a, b = skin.faces.ravel(), np.roll(skin.faces, -1, axis=1).ravel()
    n = len(skin.vertices)
    graph = coo_matrix((np.ones(len(a), np.int8), (a, b)), shape=(n, n)).tocsr()
    return (graph + graph.T).tocsr()


def largest_basin(skin: Skin, up: Points, *, least_share: float = LEAST_PART) -> Basin | None:
    """The largest pool of a closed skin standing with the unit vector `up` (3,) upward, or None where it is
    less than `least_share` of the bounding box."""
    heights = skin.vertices @ up
    level = flood_levels(neighbours(skin), heights)
    wet = level > heights + _FLAT * np.ptp(heights)
    if not wet.any():
        return None
    pool = _pools(skin, wet)
    held = _held(skin, up, heights, level, pool)
    best = int(held.argmax())
    box = float(np.prod(np.ptp(skin.vertices, axis=0)))
    if held[best] < least_share * box:
        return None
    rivals = int((held > RIVAL_PART * held[best]).sum()) - 1
    own = pool == best
    return Basin(own, float(level[own][0]), float(held[best]), heights, rivals)


def flood_levels(graph: csr_matrix, heights: Points) -> Points:
    """The level (n,) at which a flood rising from the lowest point reaches each point: along the best way
    there, the highest point passed."""
    root = int(heights.argmin())
    edges = graph.tocoo()
    # The tree of least sills holds the best way between any two points; a sill of zero would count as no
    # edge.
    sill = np.maximum(heights[edges.row], heights[edges.col]) - heights[root] + 1.0
    tree = minimum_spanning_tree(coo_matrix((sill, (edges.row, edges.col)), shape=graph.shape).tocsr())
    _, before = breadth_first_order(tree, root, directed=False)
    before = before.astype(np.int64)
    before[before < 0] = np.flatnonzero(before < 0)
    level = heights.copy()
    # Pointer doubling: after k rounds each point knows the highest of the next 2**k points towards the root.
    while True:
        raised = np.maximum(level, level[before])
        further = before[before]
        if (further == before).all() and (raised == level).all():
            return level
        level, before = raised, further


def _pools(skin: Skin, wet: Flags) -> Triples:
    """Number of each point's pool (n,), -1 where dry."""
    a, b = skin.faces.ravel(), np.roll(skin.faces, -1, axis=1).ravel()
    both = wet[a] & wet[b]
    n = len(wet)
    graph = coo_matrix((np.ones(int(both.sum()), np.int8), (a[both], b[both])), shape=(n, n))
    _, label = connected_components(graph, directed=False)
    pool = np.full(n, -1, np.int64)
    _, pool[wet] = np.unique(label[wet], return_inverse=True)
    return pool


def _held(skin: Skin, up: Points, heights: Points, level: Points, pool: Triples) -> Points:
    """Water in each pool, mm³: depth times plan area, summed over the wetted parts of the faces."""
    of_face = pool[skin.faces].max(axis=1)
    touched = of_face >= 0
    faces, of_face = skin.faces[touched], of_face[touched]
    count = int(pool.max()) + 1
    surface = np.zeros(count)
    surface[pool[pool >= 0]] = level[pool >= 0]
    a, b, c = (skin.vertices[faces[:, k]] for k in range(3))
    plan = 0.5 * np.cross(b - a, c - a) @ up
    depth = np.sort(surface[of_face][:, None] - heights[faces], axis=1)
    water: Points = plan * _mean_positive(depth)
    held: Points = np.asarray(np.bincount(of_face, weights=water, minlength=count), np.float64)
    return held


def _mean_positive(depth: Points) -> Points:
    """Mean over a triangle of the positive part of a linear function with corner values (m, 3), ascending."""
    low, middle, high = depth.T
    mean = depth.sum(axis=1) / 3.0
    with np.errstate(divide="ignore", invalid="ignore"):
        one_wet = np.where(high > 0, high**3 / ((high - low) * (high - middle)) / 3.0, 0.0)
        one_dry = mean - np.where(low < 0, low**3 / ((low - middle) * (low - high)) / 3.0, 0.0)
    return np.where(low >= 0, mean, np.where(middle > 0, one_dry, one_wet))
