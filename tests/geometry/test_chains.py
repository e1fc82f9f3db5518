"""Chains of plan edges: what runs back is gone, loops are cut off, outlines are told by what differs."""

from __future__ import annotations

from collections import Counter

import numpy as np

from claybed.geometry.chains import cut_short, outlines, summed, without_loops
from claybed.geometry.sheet import Sheet


def sheet(faces: list[tuple[int, int, int]]) -> Sheet:
    """A level sheet over a three by three grid of plan points."""
    plan = 100 * np.stack(np.meshgrid([0, 1, 2], [0, 1, 2], indexing="ij"), axis=-1).reshape(-1, 2)
    return Sheet(
        plan, np.array(faces, np.int32), np.zeros((len(faces), 3), np.int64), np.zeros(len(faces), np.uint8)
    )


def test_an_edge_and_its_opposite_cancel() -> None:
    """Sums keep a sign as a direction, and how often an edge occurs."""
    one, other = Counter({(0, 1): 2, (1, 2): 1}), Counter({(1, 0): 1, (2, 1): 1})
    assert summed(one, other, 1) == {(0, 1): 1}
    assert summed(one, other, -1) == {(0, 1): 3, (1, 2): 2}


def test_what_closes_in_itself_is_left_out() -> None:
    """Of a path with a loop on its way only the path is left, and of a loop alone nothing."""
    path, loop = [(0, 1), (1, 2), (2, 3)], [(1, 5), (5, 6), (6, 1)]
    assert without_loops(Counter(path + loop)) == Counter(path)
    assert without_loops(Counter(loop)) == Counter()


def test_a_chain_cut_short_keeps_its_ends() -> None:
    """Each part from a beginning to an end becomes one edge, and what closes in itself none; two parts that
    cross go from either beginning to one of the ends.
    """
    path, loop = [(0, 1), (1, 2), (2, 3)], [(1, 5), (5, 6), (6, 1)]
    assert cut_short(Counter(path + loop)) == {(0, 3): 1}
    assert cut_short(Counter(loop)) == Counter()
    crossed = cut_short(Counter([*path, (7, 1), (2, 8)]) + Counter([(1, 2)]))
    assert sorted(u for u, _ in crossed) == [0, 7]
    assert sorted(v for _, v in crossed) == [3, 8]


def test_outlines_are_told_where_they_differ() -> None:
    """Two sheets with one outline leave nothing; a cell that only one has leaves its free edges, and an edge
    that occurs twice stays.
    """
    square = [(0, 3, 4), (0, 4, 1)]
    turned = [(0, 3, 1), (3, 4, 1)]
    assert outlines(sheet(square), sheet(turned)) == (Counter(), Counter())
    more = [*square, (3, 6, 4)]
    one, two = outlines(sheet(more), sheet(turned))
    assert one == Counter([(3, 6), (6, 4)])
    assert two == Counter([(3, 4)])
    one, two = outlines(sheet([*square, (0, 3, 7)]), sheet(square))
    assert one[0, 3] == 2 and two[0, 3] == 1
