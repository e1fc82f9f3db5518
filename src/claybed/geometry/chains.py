"""Chains of directed plan edges, with how often each occurs: an edge and its opposite cancel."""

from __future__ import annotations

from collections import Counter
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from claybed.geometry.halfedges import side_ends
from claybed.geometry.lattice import Lattice
from claybed.geometry.sheet import Sheet, sides_of

Edge = tuple[int, int]
Chain = Counter[Edge]


def summed(one: Chain, other: Chain, times: int) -> Chain:
    """One chain and so many times the other; what runs back and forth is gone."""
    total: Chain = Counter()
    for chain, sign in ((one, 1), (other, times)):
        for (u, v), n in chain.items():
            key, way = ((u, v), 1) if u < v else ((v, u), -1)
            total[key] += sign * way * n
    return Counter({(e if n > 0 else e[::-1]): abs(n) for e, n in total.items() if n})


def without_loops(chain: Chain) -> Chain:
    """The edges that lead from where a chain begins to where it ends; what closes in itself is left out."""
    kept: Chain = Counter()
    for path in _paths(chain):
        kept.update(pairwise(path))
    return kept


def clear_of(chain: Chain, every: Chain, plan: Lattice) -> list[Edge]:
    """The edges that occur in `every` in both directions, each once, and meet a chain that closes in itself
    at their own ends only; `plan` (n, 2).
    """
    edges = [(u, v) for u, v in every if u < v and (v, u) in every]
    if not edges or not chain:
        return []
    lines = shapely.linestrings(plan[np.array(edges)].astype(np.float64))
    around = shapely.multilinestrings(plan[np.array(list(chain))].astype(np.float64))
    clear = shapely.relate_pattern(lines, around, "FF*******")
    return [edge for edge, free in zip(edges, clear.tolist(), strict=True) if free]


def cut_short(chain: Chain) -> Chain:
    """One edge from where a chain begins to where it ends, for each such part of it."""
    return Counter((path[0], path[-1]) for path in _paths(chain) if path[0] != path[-1])


def _paths(chain: Chain) -> list[list[int]]:
    following: dict[int, list[int]] = {}
    excess: Counter[int] = Counter()
    for (u, v), n in chain.items():
        following.setdefault(u, []).extend([v] * n)
        excess[u] += n
        excess[v] -= n
    paths = []
    for start in [u for u, n in excess.items() for _ in range(n)]:
        path, here = [start], start
        while following.get(here) and not (excess[here] < 0 and len(path) > 1):
            here = following[here].pop()
            if here in path:
                del path[path.index(here) + 1 :]
            else:
                path.append(here)
        excess[here] += 1
        paths.append(path)
    return paths


def outlines(top: Sheet, bottom: Sheet) -> tuple[Chain, Chain]:
    """The outlines of two sheets, without the edges that both have alike, once each."""
    ends = [_outline(sheet) for sheet in (top, bottom)]
    n = len(top.plan)
    alone = []
    for u, v in (e.T for e in ends):
        way = np.minimum(u, v) * n + np.maximum(u, v)
        _, place, times = np.unique(way, return_inverse=True, return_counts=True)
        alone.append(times[place.reshape(-1)] == 1)
    codes = [e[:, 0] * n + e[:, 1] for e in ends]
    chains: list[Chain] = []
    for k in (0, 1):
        alike = alone[k] & np.isin(codes[k], codes[1 - k][alone[1 - k]])
        chains.append(summed(Counter(map(tuple, ends[k][~alike].tolist())), Counter(), 1))
    return chains[0], chains[1]


def _outline(sheet: Sheet) -> NDArray[np.int64]:
    """Directed edges (k, 2) with nothing beyond, and those that occur twice with what runs back there."""
    sides = sides_of(sheet)
    if not len(sides.twice):
        return side_ends(sheet.faces, sides.lone)
    own = np.union1d(sides.lone, sides.twice)
    back = np.unique(sides.mate[own][sides.mate[own] >= 0]).astype(np.int64)
    return side_ends(sheet.faces, np.union1d(own, back))
