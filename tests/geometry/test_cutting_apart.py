"""The least cut against every parting there is, and against networkx."""

from __future__ import annotations

from itertools import combinations

import networkx as nx
import numpy as np
import pytest

from claybed.geometry.cutting_apart import parted


def paid(side: np.ndarray, pairs: np.ndarray, cost: np.ndarray) -> float:
    """What a parting costs."""
    return float(cost[side[pairs[:, 0]] != side[pairs[:, 1]]].sum())


@pytest.mark.parametrize("seed", range(6))
def test_no_parting_costs_less(seed: int) -> None:
    """On eight things, half of the pairs joined: of all partings that obey, none is cheaper; without implied
    ones the price is networkx's least cut.
    """
    draw = np.random.default_rng(seed)
    n = 8
    every = np.array(list(combinations(range(n), 2)))
    pairs = every[draw.random(len(every)) < 0.5]
    cost = np.round(draw.random(len(pairs)) * 10.0, 2)
    first, second = np.arange(n) == 0, np.arange(n) == n - 1
    implied = np.array([[1, 2], [3, 4], [4, 5]])
    for also in (None, implied):
        side = parted(n, pairs, cost, first=first, second=second, implied=also)
        assert side is not None
        best = np.inf
        for bits in range(2**n):
            tried = (bits >> np.arange(n)) & 1 == 1
            if not tried[0] or tried[-1]:
                continue
            if also is not None and (tried[also[:, 0]] & ~tried[also[:, 1]]).any():
                continue
            best = min(best, paid(tried, pairs, cost))
        assert paid(side, pairs, cost) == pytest.approx(best, abs=1e-9)
        assert side[0]
        assert not side[-1]
        if also is not None:
            assert not (side[also[:, 0]] & ~side[also[:, 1]]).any()
    graph = nx.Graph()
    graph.add_nodes_from(range(n))
    graph.add_edges_from(
        (int(a), int(b), {"capacity": float(c)}) for (a, b), c in zip(pairs, cost, strict=True)
    )
    value, _ = nx.minimum_cut(graph, 0, n - 1)
    side = parted(n, pairs, cost, first=first, second=second)
    assert side is not None
    assert paid(side, pairs, cost) == pytest.approx(value, abs=1e-6)


def test_what_cannot_be_obeyed_gives_none() -> None:
    """A thing on both sides, or one that implies another that is on the other side."""
    pairs, cost = np.array([[0, 1], [1, 2]]), np.ones(2)
    one, other = np.array([True, False, False]), np.array([False, False, True])
    assert parted(3, pairs, cost, first=one, second=one) is None
    assert parted(3, pairs, cost, first=one, second=other, implied=np.array([[0, 2]])) is None
    assert parted(3, pairs, cost, first=one, second=other, implied=np.array([[1, 2]])) is not None


def test_what_is_paid_may_hang_on_which_side_is_which() -> None:
    """Four things in a row, the first and last given: each border costs what its own way round does."""
    pairs = np.array([[0, 1], [2, 1], [2, 3]])
    cost = np.array([[5.0, 0.0], [9.0, 1.0], [4.0, 4.0]])
    ends = np.eye(4, dtype=bool)
    got = parted(4, pairs, cost, first=ends[0], second=ends[3])
    assert got is not None
    # Between 1 and 2 the one on the first side is 1, the second of its pair: 1 is paid.
    assert got.tolist() == [True, True, False, False]
    turned = parted(4, pairs, cost, first=ends[3], second=ends[0])
    assert turned is not None
    # From the other end that border costs 9, the one next to 0 nothing.
    assert turned.tolist() == [False, True, True, True]
