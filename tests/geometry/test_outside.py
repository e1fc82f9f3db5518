"""The plan outside a silhouette: tiled exactly, with the seam, the frame and the rings as edges."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.geometry.lattice import Lattice, twice_plan_area
from claybed.geometry.outside import closed_loops, silhouette_of, tile_outside

FRAME = 60_000 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], dtype=np.int64)


def circle(radius: float, corners: int, x: float = 0.0, y: float = 0.0) -> Lattice:
    """A closed ring of lattice points, counter-clockwise."""
    turn = 2.0 * np.pi * np.arange(corners) / corners
    return np.rint(np.stack([x + radius * np.cos(turn), y + radius * np.sin(turn)], axis=1)).astype(np.int64)


def edges(ring: Lattice) -> Lattice:
    """Directed edges (k, 4) of a ring."""
    return np.concatenate([ring, np.roll(ring, -1, axis=0)], axis=1)


def twice_ring_area(ring: Lattice) -> int:
    """Twice a ring's area."""
    x, y = ring.T
    return int((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())


RIMS = {
    "disc": edges(circle(30_000, 90)),
    "washer": np.concatenate([edges(circle(40_000, 120)), edges(circle(18_000, 60)[::-1])]),
    "two": np.concatenate([edges(circle(15_000, 50, -30_000)), edges(circle(15_000, 50, 30_000))]),
    "none": np.zeros((0, 4), np.int64),
}
FRAMES = {"square": FRAME, "round": circle(62_000, 96)}


@pytest.mark.parametrize("frame", sorted(FRAMES))
@pytest.mark.parametrize("name", sorted(RIMS))
def test_tiles_cover_what_the_silhouette_leaves(name: str, frame: str) -> None:
    """Areas are positive, add up to frame less silhouette, and every edge is mated but rim and frame."""
    rim, outline = RIMS[name], FRAMES[frame]
    ring = circle(3_000, 16, 50_000, 0.0) if name != "two" else circle(3_000, 16, 0.0, 40_000)
    tiles = tile_outside(rim, outline, 6_000, [ring]).triangles
    flat = tiles.reshape(-1, 2)
    area = twice_plan_area(flat, np.arange(len(flat)).reshape(-1, 3))
    inner = int((rim[:, 0] * rim[:, 3] - rim[:, 1] * rim[:, 2]).sum())
    assert area.min() > 0
    assert int(area.sum()) == twice_ring_area(outline) - inner
    have = {
        tuple(e) for k in range(3) for e in np.concatenate([tiles[:, k], tiles[:, (k + 1) % 3]], 1).tolist()
    }
    assert len(have) == 3 * len(tiles)
    alone = {e for e in have if (e[2], e[3], e[0], e[1]) not in have}
    assert {(x1, y1, x0, y0) for x0, y0, x1, y1 in rim.tolist()} <= alone
    assert {tuple(e) for e in edges(ring).tolist()} <= have
    assert sum(e[0] * e[3] - e[1] * e[2] for e in alone) == int(area.sum())


def test_loops_and_holes_of_a_silhouette() -> None:
    """A washer has two closed loops and the area of a disc less its hole."""
    loops = closed_loops(RIMS["washer"])
    assert sorted(len(loop) for loop in loops) == [61, 121]
    assert all((loop[0] == loop[-1]).all() for loop in loops)
    want = twice_ring_area(circle(40_000, 120)) - twice_ring_area(circle(18_000, 60))
    assert 2.0 * silhouette_of(RIMS["washer"]).area == pytest.approx(want, rel=1e-12)


def test_a_silhouette_that_touches_the_frame_shares_it() -> None:
    """A model cut off by the block's side leaves no tile there and no corner hanging."""
    half = np.array([[-20_000, -60_000], [20_000, -60_000], [20_000, 0], [-20_000, 0]], dtype=np.int64)
    tiles = tile_outside(edges(half), FRAME, 7_000).triangles
    flat = tiles.reshape(-1, 2)
    area = twice_plan_area(flat, np.arange(len(flat)).reshape(-1, 3))
    assert area.min() > 0
    assert int(area.sum()) == twice_ring_area(FRAME) - twice_ring_area(half)


def test_a_chain_that_leaves_the_block_stays_whole() -> None:
    """Edges that do not close come back as one chain from first to last, in whatever order they are given."""
    chain = np.array([[0, 0, 5, 0], [5, 0, 5, 5], [5, 5, 9, 9], [9, 9, 12, 9], [12, 9, 20, 9]], np.int64)
    for order in ([0, 1, 2, 3, 4], [4, 3, 2, 1, 0], [2, 4, 0, 3, 1]):
        loops = closed_loops(chain[order])
        assert [loop.tolist() for loop in loops] == [[[0, 0], [5, 0], [5, 5], [9, 9], [12, 9], [20, 9]]]
