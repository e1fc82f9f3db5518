"""Whether the plinth of a hump reaches far enough past the rim, and is thick enough above it."""

from __future__ import annotations

import numpy as np

from claybed.geometry.flagged import marked_corners
from claybed.geometry.lattice import Z_PER_MM, lattice_mm
from claybed.proof.places import in_words
from claybed.proof.plaster import WALL_GRACE_MM, off_planes, outer_planes
from claybed.records.assembly import Assembly
from claybed.records.finding import Check

# A face within this of an outer plane lies in it, also when another program wrote the file.
IN_PLANE_MM = 0.002


def plinth(assembly: Assembly) -> Check:
    """The check `wall` of a hump: least plaster past the rim to each side, and above it to the top.

    Told by where faces lie, so that it holds of files that name no origins.
    """
    model = assembly.model
    outer = outer_planes(assembly)
    off = off_planes(model.points, outer)
    below = model.points[:, 2][model.faces].min(axis=1) < round(assembly.level_mm * Z_PER_MM) - 1
    for row, plane in zip(off, outer, strict=True):
        below &= marked_corners(model.faces, np.abs(row) <= IN_PLANE_MM * plane[3]) < 3
    corners = np.unique(model.faces[below])
    limit_mm = assembly.wall_mm - WALL_GRACE_MM
    how = "least distance from the rim, and the inside below it, to the sides and the top of the plinth"
    if not len(corners):
        return Check("wall", False, 0.0, limit_mm, "mm", "least", "there is no hollow", how, "Plan again.")
    # The first plane is the board's, on which the vessel stands.
    gap = off[1:, corners] / np.array([plane[3] for plane in outer[1:]])[:, None]
    side, nearest = (int(v) for v in np.unravel_index(int(np.argmin(gap)), gap.shape))
    x, y, z = (float(v) for v in lattice_mm(model.points[corners[nearest]][None])[0])
    ok = bool(gap[side, nearest] >= limit_mm)
    return Check(
        id="wall",
        ok=ok,
        measured=float(gap[side, nearest]),
        limit=limit_mm,
        unit="mm",
        sense="least",
        where=f"towards the {outer[side + 1][2]}, {in_words((x, y, z), assembly)}",
        how=how,
        remedy="" if ok else "Make the plinth larger on this side.",
        at_mm=(x, y, z),
    )
