"""Places of the object that a ruler finds again: its top, its ends, the places farthest out."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from claybed.geometry.mesh import Floats
from claybed.records.pose import Landmark

# What lies this near to the extreme looks the same to the eye.
SPOT_MM = 0.5
SAME_PLACE_MM = 5.0
# A spot that is this tall, and even within this, is a flat face.
FLAT_TALL_MM = 6.0
FLAT_MM = 0.05
# Within about 25 degrees two directions are called one.
SAME_WAY = 0.9


def landmarks(
    points_mm: Floats, faces: NDArray[np.int32], board_mm: float, up: Floats, gate_out: Floats | None
) -> tuple[Landmark, ...]:
    """The object's extreme places with their heights above the board.

    `points_mm` (n, 3) the object's corners in the block's frame, `faces` (m, 3) between them, `up` (3,) the
    direction that is up when it stands, `gate_out` (3,) the direction in which the gate leaves or None. The
    highest place comes first.
    """
    ways: list[tuple[str, Floats]] = [("highest place", np.array([0.0, 0.0, 1.0]))]
    sides = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "front": (0.0, -1.0), "back": (0.0, 1.0)}
    ways += [(f"farthest {name}", np.array([x, y, 0.0])) for name, (x, y) in sides.items()]
    named: list[tuple[str, Floats]] = []
    for name, way in ways:
        says = name
        if float(up @ way) > SAME_WAY:
            says = f"{name}: its top when it stands"
        elif float(up @ way) < -SAME_WAY:
            says = f"{name}: its foot"
        if gate_out is not None and float(gate_out @ way) > SAME_WAY:
            says += ", at the gate"
        named.append((says, way))
    for name, way in (("top when it stands", up), ("foot", -up)):
        lies_down = way[2] < -SAME_WAY
        if not lies_down and all(float(way @ other) <= SAME_WAY for _, other in ways):
            named.append((f"its {name}", way))
    found: list[Landmark] = []
    taken: list[Floats] = []
    for name, way in named:
        mark, middle = _mark(name, way, points_mm, faces, board_mm)
        if all(float(np.linalg.norm(middle - other)) > SAME_PLACE_MM for other in taken):
            found.append(mark)
            taken.append(middle)
    return tuple(found)


def _mark(
    name: str, way: Floats, points_mm: Floats, faces: NDArray[np.int32], board_mm: float
) -> tuple[Landmark, Floats]:
    reach = points_mm @ way
    tip = int(np.argmax(reach))
    # Of several spots equally far out, the one around the very farthest point is meant.
    spot = points_mm[_joined(reach >= reach.max() - SPOT_MM, faces, tip)]
    low, high = float(spot[:, 2].min()), float(spot[:, 2].max())
    middle = (spot.min(axis=0) + spot.max(axis=0)) / 2.0
    mark = Landmark(
        name,
        (float(middle[0]), float(middle[1])),
        (low + high) / 2.0 - board_mm,
        low - board_mm,
        high - board_mm,
        flat=high - low >= FLAT_TALL_MM and float(reach.max() - (spot @ way).min()) <= FLAT_MM,
    )
    return mark, np.asarray(middle)


def _joined(within: NDArray[np.bool_], faces: NDArray[np.int32], tip: int) -> NDArray[np.intp]:
    """The corners among those `within` that edges between them join to the corner `tip`."""
    edges = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    edges = edges[within[edges].all(axis=1)]
    chosen = np.flatnonzero(within)
    place = np.full(len(within), -1)
    place[chosen] = np.arange(len(chosen))
    links = coo_array(
        (np.ones(len(edges), np.int8), (place[edges[:, 0]], place[edges[:, 1]])), (len(chosen), len(chosen))
    )
    label = connected_components(links, directed=False)[1]
    joined: NDArray[np.intp] = chosen[label == label[place[tip]]]
    return joined
