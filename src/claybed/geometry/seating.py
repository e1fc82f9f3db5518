"""A vessel's inside seated in a level bed: the surface that a hump is cast against."""

from __future__ import annotations

from dataclasses import dataclass

import mapbox_earcut
import numpy as np
from numpy.typing import NDArray

from claybed.geometry.halfedges import match_sides, side_ends
from claybed.geometry.mesh import Floats, Mesh, Origin

# Closer than this to the highest place of the rim, nothing is built up on it.
LEVEL_MM = 1e-4


@dataclass(frozen=True, slots=True, eq=False)
class Seated:
    """A closed solid with the inside sunk into its top, in the frame of the inside.

    `mesh`: faces of the inside as they are, Origin.PARTING for the level ledge round it, Origin.FILL where a
    strip of clay brings the rim up to it, Origin.OUTSIDE else. `ledge_mm` height of the ledge; `rise_mm` how
    far the rim lies below it at most; `rim_mm` (k, 3) the rim.
    """

    mesh: Mesh
    ledge_mm: float
    rise_mm: float
    rim_mm: Floats


def seated(filling: Mesh, outline_mm: Floats, *, under_mm: float) -> Seated:
    """Seat the inside of a vessel, standing with its opening towards z, in a bed with a level top.

    `filling` the solid that fills the inside, its open face of Origin.MOUTH; the bed has the plan
    `outline_mm` (n, 2), convex, counter-clockwise and round all of it, and reaches `under_mm` below it.
    Raises ValueError for no open face or several rims, or a rim that crosses itself seen from above.
    """
    inner = filling.faces[filling.origin != Origin.MOUTH][:, ::-1]
    own = filling.origin[filling.origin != Origin.MOUTH]
    ring = _ring(inner, len(filling.vertices_mm))
    rim = filling.vertices_mm[ring]
    ledge = float(rim[:, 2].max())
    points = [filling.vertices_mm]
    count = len(filling.vertices_mm)
    low = ledge - rim[:, 2] > LEVEL_MM
    raised = np.where(low, count + np.cumsum(low) - 1, ring)
    points.append(np.column_stack([rim[low, :2], np.full(int(low.sum()), ledge)]))
    count += int(low.sum())
    # The rim runs counter-clockwise seen from above, with the inside on its left.
    after, raised_after = np.roll(ring, -1), np.roll(raised, -1)
    strip = np.concatenate(
        [np.stack([after, ring, raised], axis=1), np.stack([after, raised, raised_after], axis=1)]
    )
    strip = strip[(strip[:, 0] != strip[:, 1]) & (strip[:, 1] != strip[:, 2]) & (strip[:, 2] != strip[:, 0])]
    bottom = float(filling.vertices_mm[:, 2].min()) - under_mm
    n = len(outline_mm)
    upper = count + np.arange(n)
    lower = upper + n
    points += [np.column_stack([outline_mm, np.full(n, z)]) for z in (ledge, bottom)]
    plan = np.concatenate([outline_mm, rim[:, :2]])
    cells = mapbox_earcut.triangulate_float64(plan, np.array([n, n + len(rim)], dtype=np.uint32))
    number = np.concatenate([upper, raised])
    everywhere = np.concatenate(points)
    ledges = _upward(number[cells.astype(np.int64).reshape(-1, 3)], everywhere)
    following = np.roll(np.arange(n), -1)
    sides = np.concatenate(
        [
            np.stack([upper, lower, lower[following]], axis=1),
            np.stack([upper, lower[following], upper[following]], axis=1),
            np.stack([np.full(n - 2, lower[0]), lower[2:], lower[1:-1]], axis=1),
        ]
    )
    _refuse_unless_filled(everywhere, ledges, outline_mm, rim)
    faces = np.concatenate([inner, strip, ledges, sides])
    origin = np.concatenate(
        [
            own,
            np.full(len(strip), int(Origin.FILL)),
            np.full(len(ledges), int(Origin.PARTING)),
            np.full(len(sides), int(Origin.OUTSIDE)),
        ]
    )
    mesh = Mesh.make(everywhere, faces, frame=filling.frame, origin=origin)
    return Seated(mesh, ledge, float(ledge - rim[:, 2].min()), rim)


def _ring(faces: NDArray[np.integer], count: int) -> NDArray[np.int64]:
    """The one border of faces, in order, faces on its left."""
    ends = side_ends(faces, match_sides(np.ascontiguousarray(faces, dtype=np.int32), count).lone)
    after = dict(ends.tolist())
    if not len(ends) or len(after) != len(ends):
        raise ValueError("the inside needs one rim that nowhere touches itself")
    ring = [int(ends[0, 0])]
    while (following := after[ring[-1]]) != ring[0]:
        ring.append(int(following))
    if len(ring) != len(ends):
        raise ValueError("the inside needs one rim, and it has several")
    return np.array(ring, np.int64)


def _upward(faces: NDArray[np.int64], points: Floats) -> NDArray[np.int64]:
    """The faces, turned so that they look up."""
    twice = _twice_plan(faces, points)
    turned: NDArray[np.int64] = np.where((twice < 0.0)[:, None], faces[:, ::-1], faces)
    return turned


def _twice_plan(faces: NDArray[np.int64], points: Floats) -> Floats:
    a, b, c = (points[faces[:, k]][:, :2] for k in range(3))
    u, v = b - a, c - a
    twice: Floats = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    return twice


def _refuse_unless_filled(points: Floats, ledges: NDArray[np.int64], outline: Floats, rim: Floats) -> None:
    """Raise ValueError unless the ledge covers what lies between outline and rim, once."""
    whole, inside = _twice_round(outline), _twice_round(rim[:, :2])
    found = float(np.abs(_twice_plan(ledges, points)).sum())
    if inside <= 0.0 or abs(found - (whole - inside)) > 1e-9 * whole:
        raise ValueError("the rim crosses itself seen from above")


def _twice_round(ring: Floats) -> float:
    x, y = ring.T
    return float((x * np.roll(y, -1) - y * np.roll(x, -1)).sum())
