"""Which faces of a solid are cavity, which are joint, and what they touch."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.flagged import corners_of
from claybed.geometry.mesh import Bytes, Origin
from claybed.geometry.slab import LatticeSolid

Flags = NDArray[np.bool_]
CAVITY = (Origin.OBJECT, Origin.MOUTH, Origin.MEND, Origin.FILL, Origin.GATE)
JOINT = (Origin.PARTING, Origin.KEY)
# What lies nearer to a joint than the lattice rounds a slanted one meets it.
MEETS_MM = 0.02


def named(origin: Bytes, names: Sequence[Origin]) -> Flags:
    """Which faces (m,) have one of some origins."""
    known = np.zeros(256, bool)
    known[[int(name) for name in names]] = True
    return known[origin]


def touched(solid: LatticeSolid, which: Flags) -> Flags:
    """Which points (n,) are corners of some of the faces."""
    return corners_of(solid.faces, which, len(solid.points))
