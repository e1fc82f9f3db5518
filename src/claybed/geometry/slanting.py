"""Releases along any pull of small whole numbers, decided in integers like those along z.

The lattice is sheared so that the pull stands upright: plan coordinates become whole combinations of the old
ones, heights stay in order along every line of the pull, and no corner is rounded.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.clearance import FREE, Lock, crossing_pairs, lock_along, measured
from claybed.geometry.lattice import UNITS_PER_MM, XY_PER_MM, Z_PER_MM, Lattice, pull_rotation
from claybed.geometry.looking import looking
from claybed.geometry.mesh import Floats
from claybed.geometry.overlap_depth import clip_pairs
from claybed.geometry.slab import LatticeSolid

MOST_COMPONENT = 32
SAME_DIRECTION = 1e-9
UP = (0.0, 0.0, 1.0)
# The finest step, in which all three coordinates are whole numbers.
FINE_PER_MM = Z_PER_MM
_TO_FINE = np.array([Z_PER_MM // XY_PER_MM, Z_PER_MM // XY_PER_MM, 1], np.int64)


def whole_pull(pull: Sequence[float]) -> tuple[int, int, int]:
    """The smallest whole-number vector along a unit `pull`.

    Raises ValueError when none with components up to 32 points that way to a billionth.
    """
    d = np.asarray(pull, dtype=np.float64)
    length = float(np.linalg.norm(d))
    if not length > 0.0:
        raise ValueError("a pull must have a length")
    d = d / length
    for most in range(1, MOST_COMPONENT + 1):
        v = np.rint(d / np.abs(d).max() * most)
        if float(np.abs(v / np.linalg.norm(v) - d).max()) <= SAME_DIRECTION:
            return int(v[0]), int(v[1]), int(v[2])
    raise ValueError(f"only pulls of small whole numbers are decided on the lattice, got {tuple(pull)}")


def nearest_whole_pull(pull: Sequence[float], most: int = 16) -> tuple[float, float, float]:
    """The unit vector nearest to `pull` among those of whole numbers up to `most`."""
    d = np.asarray(pull, dtype=np.float64)
    d = d / np.linalg.norm(d)
    tried = [np.rint(d / np.abs(d).max() * k) for k in range(1, most + 1)]
    units = [v / np.linalg.norm(v) for v in tried]
    best = units[int(np.argmax([float(u @ d) + 1e-12 / (k + 1) for k, u in enumerate(units)]))]
    return float(best[0]) + 0.0, float(best[1]) + 0.0, float(best[2]) + 0.0


def lock_toward(
    mover: LatticeSolid, obstacles: Sequence[LatticeSolid], pull: Sequence[float], *, slack_mm: float = 0.0
) -> Lock:
    """What keeps `mover` from going along `pull` for ever past resting `obstacles`; exact whether it does.

    `pull` is a unit vector along small whole numbers. With `slack_mm`, faces that reach into one another by
    no more than that, measured square to the flatter of the two, are taken for rounding and left out.
    Across a slanted pull `lateral_mm` is measured square to the lattice axis nearest to it, which is never
    less than square to the pull. Raises ValueError for another pull.
    """
    p, q, r = whole_pull(pull)
    if (p, q) == (0, 0) and not slack_mm:
        return lock_along(mover, obstacles, (0.0, 0.0, float(np.sign(r))))
    major = int(np.argmax(np.abs((p, q, r))))
    order = [(major + 1) % 3, (major + 2) % 3, major]
    p, q, r = ((p, q, r)[k] for k in order)
    turned = r < 0
    straight = (p, q) == (0, 0) and major == 2
    if turned:
        q, r = -q, -r

    def upright(solid: LatticeSolid) -> LatticeSolid:
        if straight:
            return replace(solid, points=solid.points * np.array([1, -1, -1])) if turned else solid
        x, y, z = (solid.points * _TO_FINE)[:, order].T
        if turned:
            y, z = -y, -z
        return replace(solid, points=np.stack([r * x - p * z, r * y - q * z, z], axis=1))

    rise = math.sqrt(p * p + q * q + r * r) / r
    lock = _lock(upright(mover), [upright(o) for o in obstacles], mover, obstacles, pull, slack_mm / rise)
    if not lock.pairs:
        return lock
    at = None
    if straight:
        if lock.at_mm is not None:
            x, y, z = lock.at_mm
            at = (x, -y, -z) if turned else (x, y, z)
        return Lock(lock.pairs, lock.height_mm, lock.lateral_mm, at)
    scale = FINE_PER_MM / XY_PER_MM * r
    if lock.at_mm is not None:
        z = lock.at_mm[2] * Z_PER_MM
        x = (lock.at_mm[0] * XY_PER_MM + p * z) / r
        y = (lock.at_mm[1] * XY_PER_MM + q * z) / r
        if turned:
            y, z = -y, -z
        place = np.empty(3)
        place[order] = np.array([x, y, z]) / FINE_PER_MM
        at = (float(place[0]), float(place[1]), float(place[2]))
    return Lock(lock.pairs, lock.height_mm * rise, lock.lateral_mm / scale, at)


def _lock(
    above: LatticeSolid,
    below: Sequence[LatticeSolid],
    mover: LatticeSolid,
    obstacles: Sequence[LatticeSolid],
    pull: Sequence[float],
    slack_mm: float,
) -> Lock:
    """The lock of upright copies; faces of the solids as they stand say how flat they lie across the pull."""
    if not slack_mm:
        return lock_along(above, below, UP)
    own, a, za = looking(above, UP, along=False)
    seen = [looking(one, UP, along=True) for one in below]
    b, zb = np.concatenate([plan for _, plan, _ in seen]), np.concatenate([z for _, _, z in seen])
    if not len(a) or not len(b):
        return FREE
    pairs = crossing_pairs(a, za, b, zb)
    if not len(pairs):
        return FREE
    flat_a = _flatness(mover, own, pull)
    flat_b = np.concatenate(
        [_flatness(o, which, pull) for o, (which, _, _) in zip(obstacles, seen, strict=True)]
    )
    i, j = pairs.T
    into_mm = _overlap_heights(a[i], za[i], b[j], zb[j]) / Z_PER_MM * np.minimum(flat_a[i], flat_b[j])
    i, j = pairs[into_mm > slack_mm].T
    return measured(a[i], za[i], b[j], zb[j], UP) if len(i) else FREE


def faces_under(
    above: LatticeSolid, below: LatticeSolid, pull: Sequence[float], *, slack_mm: float
) -> NDArray[np.int64]:
    """The faces of `above` that look back against `pull` and under which faces of `below` look along it.

    Faces that reach under by no more than `slack_mm`, measured square to the flatter of the two, do not
    count, and all of them count only where they reach that far sideways. Surfaces need not be closed.
    Raises ValueError for a pull that is not along z.
    """
    own, b, zb = looking(above, pull, along=False)
    other, a, za = looking(below, pull, along=True)
    if not len(own) or not len(other):
        return np.zeros(0, np.int64)
    j, i = crossing_pairs(a, za, b, zb).T
    if not len(i):
        return np.zeros(0, np.int64)
    flat = np.minimum(_flatness(above, own, pull)[i], _flatness(below, other, pull)[j])
    deep = _overlap_heights(a[j], za[j], b[i], zb[i]) / Z_PER_MM * flat > slack_mm
    j, i = j[deep], i[deep]
    if not len(i) or measured(a[j], za[j], b[i], zb[i], pull).lateral_mm <= slack_mm:
        return np.zeros(0, np.int64)
    found: NDArray[np.int64] = own[np.unique(i)]
    return found


def _overlap_heights(a: Lattice, za: Lattice, b: Lattice, zb: Lattice) -> Floats:
    """How far triangles a (k, 6) at heights `za` (k, 3) lie below triangles b at most, each pair, steps."""
    shift = np.tile(a[0, :2], 3)
    depth: Floats = clip_pairs(
        (a - shift).astype(np.float64),
        za.astype(np.float64),
        (b - shift).astype(np.float64),
        zb.astype(np.float64),
    )[2]
    return depth


def _flatness(solid: LatticeSolid, faces: NDArray[np.int64], pull: Sequence[float]) -> Floats:
    """How square to the pull faces lie: 1 across it, 0 along it."""
    corner = (solid.points / UNITS_PER_MM)[solid.faces[faces]]
    normal = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
    flat: Floats = np.abs(normal @ np.asarray(pull)) / np.maximum(np.linalg.norm(normal, axis=1), 1e-12)
    return flat


def upright_copy(solid: LatticeSolid, pull: Sequence[float]) -> LatticeSolid:
    """The solid turned so that `pull` is z, corners rounded to the lattice: for measuring, not for proof."""
    placed = (solid.points / UNITS_PER_MM) @ pull_rotation(np.asarray(pull, dtype=np.float64)).T
    return replace(solid, points=np.rint(placed * UNITS_PER_MM).astype(np.int64))
