"""Parting things into two sides so that what is paid where the sides meet is least: a minimum cut."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, maximum_flow

from claybed.geometry.mesh import Floats

Flags = NDArray[np.bool_]
Pairs = NDArray[np.int64]
# Costs are counted in hundredths; what may not be cut costs more than all that may.
PER_UNIT = 100.0
NEVER = 500_000_000


def parted(
    count: int, pairs: Pairs, cost: Floats, *, first: Flags, second: Flags, implied: Pairs | None = None
) -> Flags | None:
    """Which of `count` things belong to the first side, (count,), so that the cost between sides is least.

    `pairs` (k, 2) things that meet, each pair at most once, and what it costs (k,) >= 0 when they part, or
    (k, 2) with the first of a pair on the first side and with the second; costs are rounded to hundredths and
    may sum to 4 million along a border. `first` and `second` (count,) what has to be on a
    side; `implied` (j, 2): when the one is on the first side, the other is as well. None when no parting
    obeys. Of equal partings it is the one with the smallest first side. Source: max flow, min cut (Ford and
    Fulkerson, 1956).
    """
    if (_with_implied(first, implied) & second).any():
        return None
    whole = np.rint(np.column_stack([cost, cost] if cost.ndim == 1 else [cost]) * PER_UNIT).astype(np.int64)
    source, sink = count, count + 1
    ends = [pairs, pairs[:, ::-1]]
    price = [whole[:, 0], whole[:, 1]]
    if implied is not None and len(implied):
        ends.append(implied)
        price.append(np.full(len(implied), NEVER, np.int64))
    own, other = np.flatnonzero(first), np.flatnonzero(second)
    ends += [
        np.stack([np.full(len(own), source), own], axis=1),
        np.stack([other, np.full(len(other), sink)], axis=1),
    ]
    price += [np.full(len(own) + len(other), NEVER, np.int64)]
    row, column = np.concatenate(ends).T
    # Arcs both ways between two things are one entry each; an implied one swallows the price beside it.
    shape = (count + 2, count + 2)
    paid = csr_array((np.concatenate(price), (row, column)), shape=shape)
    paid.data = np.minimum(paid.data, NEVER)
    paid = paid.astype(np.int32)
    flow = maximum_flow(paid, source, sink)
    left = (paid - flow.flow).tocsr()
    left.data = np.where(left.data > 0, left.data, 0)
    left.eliminate_zeros()
    reached = breadth_first_order(left, source, return_predecessors=False)
    side: Flags = np.zeros(count + 2, bool)
    side[reached] = True
    return side[:count]


def _with_implied(first: Flags, implied: Pairs | None) -> Flags:
    """What is on the first side, and all that this implies."""
    if implied is None or not len(implied):
        return first
    n = len(first)
    own = np.flatnonzero(first)
    row = np.concatenate([implied[:, 0], np.full(len(own), n)])
    column = np.concatenate([implied[:, 1], own])
    graph = csr_array((np.ones(len(row), np.int8), (row, column)), shape=(n + 1, n + 1))
    reached = breadth_first_order(graph, n, return_predecessors=False)
    side: Flags = np.zeros(n + 1, bool)
    side[reached] = True
    return side[:n]
