"""Edges that no sound surface has."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.halfedges import match_sides
from claybed.geometry.lattice import Lattice
from claybed.geometry.sheet import edge_codes


def used_twice(faces: NDArray[np.integer], count: int) -> Lattice:
    """Directed edges of faces (n, 3) over `count` corners that more than one triangle has, coded as
    `edge_codes` does.
    """
    return edge_codes(faces, match_sides(faces, count).twice, count)
