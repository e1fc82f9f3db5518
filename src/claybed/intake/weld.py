"""Points that are meant to be one: equal ones exactly, near ones only along open edges."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from claybed.intake.skin import Skin, edges_of
from claybed.intake.soup import Points, Triples
from claybed.records.measured import Repair
from claybed.units import say_count

# Gaps tried, as parts of the object's diagonal; exporters round at 1e-7 to 1e-5, hand-stitched scans up to
# 3e-4.
_GAPS = (1e-7, 1e-6, 1e-5, 1e-4, 3e-4)
_PART_OF_EDGE = 0.3


def weld_equal(vertices: Points, faces: Triples) -> tuple[Points, Triples]:
    """Join points with the same coordinates; the first of each keeps its place. Nothing moves."""
    # Adding zero turns -0.0 into 0.0, so that equal numbers have equal bits.
    bits = np.ascontiguousarray(vertices + 0.0).view(np.uint64)
    mixed = bits[:, 0] * np.uint64(0x9E3779B97F4A7C15)
    mixed = (mixed ^ (mixed >> np.uint64(29))) + bits[:, 1] * np.uint64(0xBF58476D1CE4E5B9)
    mixed = (mixed ^ (mixed >> np.uint64(31))) + bits[:, 2] * np.uint64(0x94D049BB133111EB)
    mixed ^= mixed >> np.uint64(30)
    order = np.argsort(mixed)
    rows, keys = bits[order], mixed[order]
    new = np.concatenate([[True], keys[1:] != keys[:-1]])
    same = np.concatenate([[False], (rows[1:] == rows[:-1]).all(axis=1)])
    if not (new ^ same).all():
        # Two different points share a number: compare them in full instead.
        order = np.lexsort((bits[:, 2], bits[:, 1], bits[:, 0]))
        rows = bits[order]
        new = np.concatenate([[True], (rows[1:] != rows[:-1]).any(axis=1)])
    first = np.minimum.reduceat(order, np.flatnonzero(new))
    rank = np.empty(len(first), np.int64)
    rank[np.argsort(first)] = np.arange(len(first))
    number = np.empty(len(vertices), np.int64)
    number[order] = rank[np.cumsum(new) - 1]
    return vertices[np.sort(first)], number[faces]


def weld_near(skin: Skin) -> tuple[Skin, Repair | None, float]:
    """Join points on open edges that lie close together, with the smallest gap that closes the most.

    Returns the skin, the repair and the largest distance a point moved, mm.
    """
    edges = edges_of(skin.faces, len(skin.vertices))
    before = int(edges.open.sum())
    if before == 0:
        return skin, None, 0.0
    rim = np.unique(edges.ends[edges.open])
    lengths = np.linalg.norm(np.diff(skin.vertices[edges.ends], axis=1)[:, 0], axis=1)
    widest = _PART_OF_EDGE * float(np.median(lengths))
    tree = cKDTree(skin.vertices[rim])
    best, best_open, best_shift = skin, before, 0.0
    for part in _GAPS:
        gap = min(part * skin.size_mm, widest)
        pairs = tree.query_pairs(gap, output_type="ndarray")
        if len(pairs):
            tried, shift = _joined(skin, rim, pairs.astype(np.int64))
            left = int(edges_of(tried.faces, len(tried.vertices)).open.sum())
            if left < best_open:
                best, best_open, best_shift = tried, left, shift
        if best_open == 0 or gap >= widest:
            break
    if best is skin:
        return skin, None, 0.0
    joined = len(np.unique(skin.faces)) - len(np.unique(best.faces))
    says = f"Joined {say_count(joined, 'point')} along open edges; none moved more than {best_shift:.2g} mm."
    return best.trimmed(), Repair("weld", joined, best_shift, "mm", says), best_shift


def _joined(skin: Skin, rim: Triples, pairs: Triples) -> tuple[Skin, float]:
    graph = coo_matrix((np.ones(len(pairs), np.int8), (pairs[:, 0], pairs[:, 1])), shape=(len(rim), len(rim)))
    count, label = connected_components(graph, directed=False)
    size = np.bincount(label, minlength=count)
    middle = np.stack([np.bincount(label, skin.vertices[rim, k], count) / size for k in range(3)], axis=1)
    moved = skin.vertices.copy()
    alone = size[label] == 1
    moved[rim[~alone]] = middle[label[~alone]]
    shift = float(np.linalg.norm(moved[rim] - skin.vertices[rim], axis=1).max())
    first = np.full(count, len(skin.vertices), np.int64)
    np.minimum.at(first, label, rim)
    number = np.arange(len(skin.vertices))
    number[rim] = first[label]
    faces = number[skin.faces]
    whole = (faces != np.roll(faces, -1, axis=1)).all(axis=1)
    return Skin(moved, faces[whole], skin.origin[whole]), shift
