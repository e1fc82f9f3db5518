"""The surface that parts a side piece from the main ones, as other steps ask it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from claybed.geometry.carving import Solid, moved
from claybed.geometry.mesh import Floats
from claybed.geometry.nearby import Shaft
from claybed.mold.side_seam import Dip


@dataclass(frozen=True, slots=True, eq=False)
class Interface:
    """The surface that parts a side piece from the main ones, in the frame where its pull is z.

    `rotation` (3, 3) from the block's frame; `level_mm` of the flat part; `tool` all that lies beyond it, in
    the block's frame; `seam_mm` closed polylines (n, 3) on the object, block frame; `pockets` the shafts of
    the object's pockets that it reaches into; `plug` what reaches on from there into space that locks, None
    when there is none; `dip` how the interface dips from its level to its seam, None where it stays level,
    and `skirt` what the tool takes there, where the pull is z.
    """

    rotation: Floats
    level_mm: float
    tool: Solid
    seam_mm: tuple[Floats, ...]
    pockets: tuple[Shaft, ...]
    plug: Solid | None = None
    dip: Dip | None = None
    skirt: Solid | None = None

    @property
    def shafts(self) -> tuple[Shaft, ...]:
        """Where the tool reaches below its level, keys apart."""
        found = list(self.pockets)
        if self.plug is not None:
            found.append(Shaft.around(moved(self.plug, self.rotation)))
        if self.skirt is not None:
            found.append(Shaft.around(self.skirt))
        return tuple(found)

    @property
    def pull(self) -> Floats:
        """The pull (3,), in the block's frame."""
        pull: Floats = self.rotation[2]
        return pull

    def normal(self, points_mm: Floats) -> Floats:
        """Unit normals (n, 3) of the interface beside points (n, 3), both in the block's frame, towards the
        side piece; plug and keys apart.
        """
        if self.dip is None:
            return np.broadcast_to(self.pull, points_mm.shape)
        found: Floats = self.dip.normal(points_mm @ self.rotation.T) @ self.rotation
        return found

    def over_mm(self, points_mm: Floats) -> Floats:
        """How far points (n, 3) of the block's frame lie beyond the interface, plug and keys apart (n,)."""
        placed = points_mm @ self.rotation.T
        level_mm = self.level_mm if self.dip is None else self.dip.height_mm(placed)
        over: Floats = placed[:, 2] - level_mm
        return over
