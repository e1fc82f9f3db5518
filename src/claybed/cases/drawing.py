"""Which way a piece is drawn out of its case: near square to its back, with draft on its inner walls."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from claybed.cases.leaning import ON_PLANE_MM, outside, sides_of
from claybed.cases.standing import back_up, held_mm2
from claybed.geometry.lattice import lattice_mm
from claybed.geometry.mesh import Floats
from claybed.geometry.slab import LatticeSolid
from claybed.geometry.slanting import whole_pull

# How many times the way square to the back is added to the pull or to the leaning way, the most first.
_MORE = (16, 8, 4, 2, 1)
_LEAST_HELD_MM2 = 0.5
_LITTLE_MM2 = 1.0
_HAIR_DEG = 1e-3


def drawn_along(
    solid: LatticeSolid,
    pull: Sequence[float],
    leaves: Sequence[float] | None,
    *,
    draft_deg: float,
    aslant_deg: float,
) -> tuple[float, float, float]:
    """The unit vector in the block's frame along which a piece is drawn out of its case.

    That is its `pull`, unless the mold opens another way: a piece that `leaves` aslant, so that its walls
    have draft, is drawn between both, as near to its pull as gives `draft_deg` on the walls that the aslant
    way gives it to. A piece whose pull is more than `aslant_deg` off every side of the block is drawn as
    square to its back as its own faces let it.
    """
    back = back_up(pull)
    square = back.T @ np.array([0.0, 0.0, 1.0])
    far = np.degrees(np.arccos(np.clip(float(square @ np.asarray(pull, dtype=np.float64)), -1.0, 1.0)))
    if leaves is None and far <= aslant_deg:
        return _unit(np.asarray(pull, dtype=np.float64))
    points = lattice_mm(solid.points) @ back.T
    end = np.array(whole_pull(pull if leaves is None else leaves), dtype=np.float64)
    begin = square if leaves is None else np.array(whole_pull(pull), dtype=np.float64)
    tried = [begin, *(end + more * begin for more in _MORE), end]
    upright = [_upright_mm2(points, solid, back @ np.array(_unit(way)), draft_deg) for way in tried]
    if leaves is None:
        held = [held_mm2(points, solid.faces, (back @ np.array(_unit(way))).tolist()) for way in tried]
        free = [k for k in range(len(tried)) if held[k] <= _LEAST_HELD_MM2] or [len(tried) - 1]
    else:
        # Both ends let the piece leave, and so does all that lies between them.
        free = list(range(len(tried)))
    least = min(upright[k] for k in free)
    return _unit(tried[next(k for k in free if upright[k] <= least + _LITTLE_MM2)])


def _upright_mm2(points: Floats, solid: LatticeSolid, way: Floats, draft_deg: float) -> float:
    """Area of a piece's inner faces, neither outside nor back, that lean less than `draft_deg` to a way."""
    _, outer = outside(points, solid.faces, sides_of(points, points, (0.0, 0.0, 1.0), draft_deg))
    corner = points[solid.faces]
    back = (corner[:, :, 2] > points[:, 2].max() - ON_PLANE_MM).all(axis=1)
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    size = np.linalg.norm(normal, axis=1)
    low = -(normal @ way) < np.sin(np.radians(draft_deg - _HAIR_DEG)) * size
    return float(size[low & ~outer & ~back].sum() / 2.0)


def _unit(way: Floats) -> tuple[float, float, float]:
    x, y, z = (way / float(np.linalg.norm(way))).tolist()
    return x + 0.0, y + 0.0, z + 0.0
