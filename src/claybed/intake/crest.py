"""The rim of a vessel: where the flood from inside and the flood from outside would meet."""

from __future__ import annotations

import heapq

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from claybed.intake.basin import Basin, neighbours
from claybed.intake.skin import Edges, Flags, Skin, areas_of, edges_of
from claybed.intake.soup import Triples

_INSIDE, _OUTSIDE, _CREST = 1, 2, 3
_SAME_LEVEL = 1e-4  # of the height: closer points count as level, so that a flat lip is parted along its edge
_ISLAND = 0.05  # of the inside's area
_MENDS = 20


def inside_faces(skin: Skin, basin: Basin) -> Flags:
    """Faces (m,) of the inside, up to the crest of the rim all round.

    Below the overflow level the pool decides. Above it, both floods rise together and points that both reach
    at once are the crest; the inside ends there.
    """
    label = _flooded(skin, basin)
    corners = label[skin.faces]
    inside: Flags = (corners != _OUTSIDE).all(axis=1) & (corners == _INSIDE).any(axis=1)
    edges = edges_of(skin.faces, len(skin.vertices))
    for _ in range(_MENDS):
        inside = _in_one_piece(skin, edges, inside, basin)
        pinched = _pinches(skin, edges, inside)
        if not pinched.any():
            break
        inside &= ~pinched[skin.faces].any(axis=1)
    return inside


def _flooded(skin: Skin, basin: Basin) -> Triples:
    """Label of each point (n,): inside, outside or crest."""
    heights = basin.heights_mm
    label = np.where(basin.wet, _INSIDE, np.where(heights < basin.level_mm, _OUTSIDE, 0)).astype(np.int64)
    graph = neighbours(skin)
    start, near = graph.indptr.tolist(), graph.indices.tolist()
    quantum = _SAME_LEVEL * float(np.ptp(heights))
    rank = np.floor((heights - basin.level_mm) / quantum + 0.5).astype(np.int64).tolist()
    known = label.tolist()
    queue: list[tuple[int, int, int]] = []
    shore = np.unique(graph.indices[np.repeat(label > 0, np.diff(graph.indptr))])
    for v in shore[label[shore] == 0].tolist():
        heapq.heappush(queue, (rank[v], 0, v))
    while queue:
        level, round_ = queue[0][:2]
        batch: list[int] = []
        while queue and queue[0][:2] == (level, round_):
            v = heapq.heappop(queue)[2]
            if not known[v]:
                batch.append(v)
        # All of a batch look at what was known before it, so that neither flood gets ahead on a level lip.
        named = [(v, _name({known[w] for w in near[start[v] : start[v + 1]]})) for v in dict.fromkeys(batch)]
        for v, name in named:
            known[v] = name
        for v, _ in named:
            for w in near[start[v] : start[v + 1]]:
                if not known[w]:
                    higher = rank[w] > level
                    heapq.heappush(queue, (rank[w], 0, w) if higher else (level, round_ + 1, w))
    return np.array(known, np.int64)


def _name(around: set[int]) -> int:
    if _INSIDE in around:
        return _CREST if _OUTSIDE in around else _INSIDE
    return _OUTSIDE


def _in_one_piece(skin: Skin, edges: Edges, inside: Flags, basin: Basin) -> Flags:
    """The piece of the inside that holds the pool, with small islands of outside in it taken in."""
    area = areas_of(skin.vertices, skin.faces)
    pool = basin.wet[skin.faces].any(axis=1)
    piece = _pieces(edges, inside)
    weight = np.bincount(piece[inside & pool], weights=area[inside & pool], minlength=int(piece.max()) + 1)
    inside = inside & (piece == int(weight.argmax()))
    piece = _pieces(edges, ~inside)
    size = np.bincount(piece[~inside], weights=area[~inside], minlength=int(piece.max()) + 1)
    island = (size < _ISLAND * area[inside].sum()) & (np.arange(len(size)) != int(size.argmax()))
    filled: Flags = inside | (island[piece] & ~inside)
    return filled


def _pieces(edges: Edges, chosen: Flags) -> Triples:
    """Number of the edge-connected piece of each face (m,); faces not chosen are alone."""
    flat = edges.of_side.ravel()
    order = np.argsort(flat, kind="stable")
    pairs = np.repeat(np.arange(len(edges.of_side)), 3)[order].reshape(-1, 2)
    both = chosen[pairs].all(axis=1)
    a, b = pairs[both].T
    graph = coo_matrix((np.ones(len(a), np.int8), (a, b)), shape=(len(chosen), len(chosen)))
    return connected_components(graph, directed=False)[1].astype(np.int64)


def _pinches(skin: Skin, edges: Edges, inside: Flags) -> Flags:
    """Points (n,) at which the border of the inside meets itself."""
    on_edge = np.bincount(edges.of_side[inside].ravel(), minlength=len(edges.count))
    border = edges.ends[on_edge == 1]
    pinched: Flags = np.bincount(border.ravel(), minlength=len(skin.vertices)) > 2
    return pinched
