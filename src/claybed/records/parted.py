"""Where the pieces meet: the block's layout in the pull frame, the seam and the parting surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.lattice import Lattice
from claybed.geometry.mesh import Floats
from claybed.geometry.sheet import Sheet


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """The block's place around the object, before it is cut.

    A point p of the object's frame stands at `rotation` @ p + `shift_mm` in the pull frame, whose z is the
    pull of the first piece and whose plan origin is the block's middle. `footprint` (k, 2) lattice units,
    convex, counter-clockwise.
    `shape` boxed or round; `outer_plan_mm` (x, y) or (diameter, diameter); `wall_mm` least plaster asked for
    and `wall_reason` why; `pieces` 1 or 2; `stance` how the closed mold stands, in words.
    `plane_mm` height of the plane in which the whole seam is laid by filling, None where it follows the
    object.
    """

    rotation: Floats
    shift_mm: Floats
    footprint: Lattice
    shape: str
    outer_plan_mm: tuple[float, float]
    wall_mm: float
    wall_reason: str
    pieces: int
    stance: str
    plane_mm: float | None = None


# An interval of heights that a seam keeps out of where it can, mm in the pull frame.
BarredHeights = tuple[float, float]


@dataclass(frozen=True, slots=True)
class BarredBall:
    """A ball that a seam keeps out of where it can: `centre_mm` in the pull frame, and `radius_mm`."""

    centre_mm: tuple[float, float, float]
    radius_mm: float


@dataclass(frozen=True, slots=True)
class Key:
    """One key: middle in plan (mm, pull frame), diameter and depth; a bump on the first piece, pressed into
    the bed.
    """

    x_mm: float
    y_mm: float
    diameter_mm: float
    depth_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class Parting:
    """The three sheets that cut the block, over one list of plan points, in the pull frame.

    `top` and `bottom` the model's highest and lowest surface; `outside` the parting surface; `rim` (k, 2)
    indices of plan points along the seam, silhouette on the left; `seam_z` (k, 2) heights at their ends,
    lattice units; `level` the height of the flat part; `flat` whether a horizontal plane fits the seam within
    0.1 mm, `off_plane_mm` the worst distance from it; `seam_length_mm`; `keys`; `hidden_faces` how many faces
    hide one another (0: no gap at all on the lattice).
    """

    top: Sheet
    bottom: Sheet
    outside: Sheet
    rim: NDArray[np.int64]
    seam_z: Lattice
    level: int
    flat: bool
    off_plane_mm: float
    seam_length_mm: float
    keys: tuple[Key, ...]
    hidden_faces: int
