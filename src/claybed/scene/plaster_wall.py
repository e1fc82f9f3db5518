"""How much plaster stands between the cavity and the outside of the block, for the 3D view.

The distance to the outside is the least distance to the block's outer planes, as the check of the wall
measures it; the page works it out at every pixel from those planes, so that a large flat face shows it as
well as a finely divided one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from claybed.assets.palette import WALL_RAMP
from claybed.geometry.mesh import Floats, Mesh, Origin

WALLED = (Origin.OBJECT, Origin.MEND, Origin.FILL)
# A face with all corners this near to one outer plane is the block's outside, not cavity.
ON_PLANE_MM = 1e-3
MOST_PLANES = 160
MOST_LINES = 7
_STEPS_MM = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)


def wall_scene(plan: Mapping[str, Any], pieces: Sequence[Mesh], model: Mesh) -> dict[str, Any] | None:
    """What the page needs to colour the plaster's thickness; None when there is no cavity to colour.

    `outer` planes (nx, ny, nz, d) of the block, mm: n . p - d is the distance inward; `low` and `high` the
    least and largest thickness, `thin` and `thick` where they are; `step` between contour lines; `ramp` the
    colours from thin to thick. The plane in which a mold of one piece is open does not count.
    """
    points = np.concatenate([mesh.vertices_mm for mesh in pieces])
    planes = outer_planes(points)
    if ((plan["mold"].get("gate") or {}).get("kind")) == "face":
        planes = np.delete(planes, _open_plane(planes, model), axis=0)
    faces = model.faces[np.isin(model.origin, WALLED)]
    off = model.vertices_mm @ planes[:, :3].T - planes[:, 3]
    on_plane: NDArray[np.bool_] = np.abs(off[faces]) < ON_PLANE_MM
    faces = faces[~np.any(np.all(on_plane, axis=1), axis=1)]
    # Corners of the gate run out to the block's side and would always be the thinnest.
    gate = np.unique(model.faces[model.origin == Origin.GATE])
    corners = np.setdiff1d(faces, gate)
    if not len(corners) or len(planes) > MOST_PLANES:
        return None
    thick = off[corners].min(axis=1)
    least, most = int(np.argmin(thick)), int(np.argmax(thick))
    low, high = float(thick[least]), float(thick[most])
    return {
        "outer": planes.round(6).tolist(),
        "walled": [int(kind) for kind in WALLED],
        "low": low,
        "high": high,
        "step": next((s for s in _STEPS_MM if (high - low) / s <= MOST_LINES), _STEPS_MM[-1]),
        "thin": model.vertices_mm[corners[least]].tolist(),
        "thick": model.vertices_mm[corners[most]].tolist(),
        "ramp": list(WALL_RAMP),
    }


def outer_planes(points_mm: Floats) -> Floats:
    """The planes (k, 4) of an upright block's outside from its corners (n, 3) mm: inward unit normal and
    offset, top and board first.
    """
    low, high = float(points_mm[:, 2].min()), float(points_mm[:, 2].max())
    hull = ConvexHull(points_mm[:, :2])
    sides: NDArray[np.float64] = np.unique(np.round(-hull.equations, 6), axis=0)
    level = np.array([[0.0, 0.0, 1.0, low], [0.0, 0.0, -1.0, -high]])
    zero = np.zeros(len(sides))
    upright = np.stack([sides[:, 0], sides[:, 1], zero, -sides[:, 2]], axis=1)
    planes: Floats = np.concatenate([level, upright])
    return planes


def _open_plane(planes: Floats, model: Mesh) -> int:
    """The plane in which a mold of one piece is open: the one that most corners of the model lie in."""
    away = np.abs(model.vertices_mm @ planes[:, :3].T - planes[:, 3])
    return int(np.argmax((away < ON_PLANE_MM).sum(axis=0)))
