"""Cross lines through the strips beside a seam: short cells, nothing crossed, the same tiles as without."""

from __future__ import annotations

import numpy as np
import shapely

from claybed.geometry import outside
from claybed.geometry.bridging import bridges
from claybed.geometry.lattice import Lattice
from claybed.geometry.outside import tile_outside

FRAME = 60_000 * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]], dtype=np.int64)


def wavy(radius: float, corners: int, deep: float = 0.0) -> Lattice:
    """A closed ring of lattice points, counter-clockwise, with waves."""
    turn = 2.0 * np.pi * np.arange(corners) / corners
    r = radius + deep * np.sin(9.0 * turn)
    return np.rint(np.stack([r * np.cos(turn), r * np.sin(turn)], axis=1)).astype(np.int64)


def edges(ring: Lattice) -> Lattice:
    """Directed edges (k, 4) of a ring."""
    return np.concatenate([ring, np.roll(ring, -1, axis=0)], axis=1)


def bow() -> Lattice:
    """A ring that runs three quarters round and back beside itself."""
    turn = 1.5 * np.pi * np.arange(400) / 399.0
    unit = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    return np.rint(np.concatenate([42_000 * unit, 40_500 * unit[::-1]])).astype(np.int64)


def cells_of(lines: Lattice) -> list[shapely.Polygon]:
    """What lines enclose."""
    return list(
        shapely.get_parts(shapely.polygonize(shapely.linestrings(lines.reshape(-1, 2, 2).astype(float))))
    )


def test_strips_are_cut_short_and_nothing_is_crossed() -> None:
    """Cells between seam, rings and a ring that turns back have few corners and cover the same area."""
    rim, ring, turned = wavy(30_000, 900, 2_000.0), wavy(34_500, 500, 2_000.0), bow()
    lines = np.concatenate([edges(rim), edges(ring), edges(turned)])
    across = bridges([ring, turned], [rim], lines)
    every = np.concatenate([lines, across])
    noded = shapely.node(shapely.multilinestrings(every.reshape(-1, 2, 2).astype(float)))
    assert shapely.get_num_geometries(noded) == len(every)
    before, after = cells_of(lines), cells_of(every)
    # The first line from ring to seam, and the first to the other ring, make no new cell.
    assert len(after) == len(before) + len(across) - 2
    sizes = [shapely.get_num_coordinates(c) for c in after if not c.contains(shapely.Point(0, 0))]
    assert max(sizes) < 150


def test_a_line_that_would_cross_another_is_left_out() -> None:
    """With a wall between seam and ring, no line leads through it."""
    rim, ring, wall = wavy(30_000, 300), wavy(34_000, 300), wavy(32_000, 300)
    across = bridges([ring], [rim], np.concatenate([edges(rim), edges(ring), edges(wall)]))
    assert not len(across)
    assert len(bridges([ring], [rim], np.concatenate([edges(rim), edges(ring)]))) > 10


def test_tiles_are_nearly_those_of_uncut_strips(monkeypatch) -> None:  # type: ignore[no-untyped-def]
    """A triangulation of the whole strip has almost every triangle that its parts have, so none is worse."""
    rim, ring = edges(wavy(30_000, 600, 1_500.0)), wavy(33_500, 300, 1_500.0)
    cut = tile_outside(rim, FRAME, 5_000, [ring]).triangles
    monkeypatch.setattr(outside, "bridges", lambda *_: np.zeros((0, 4), np.int64))
    plain = tile_outside(rim, FRAME, 5_000, [ring]).triangles
    one, two = ({tuple(sorted(map(tuple, t))) for t in tiles.tolist()} for tiles in (cut, plain))
    assert len(one) == len(two)
    assert len(one & two) > 0.97 * len(two)
