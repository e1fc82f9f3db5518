"""Cones and cylinders unrolled exactly, in one sheet with one joint."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from claybed.geometry.flattening import Faces, loops
from claybed.geometry.mesh import Floats
from claybed.patterns.laying import Laid

# A form counts as a cone or cylinder when no corner strays from it by more than this share of its radius.
TRUE_SHARE = 0.005
STEPS = 180


@dataclass(frozen=True, slots=True)
class Wrap:
    """The flat sheet of a cone's or cylinder's wall between two circles.

    `slant_mm` along the wall; `turn_rad` the angle of the sector, 0 for a cylinder; `inner_mm` and `outer_mm`
    radii of its arcs, infinite for a cylinder; `short_mm` and `long_mm` the lengths of its curved edges.
    """

    slant_mm: float
    turn_rad: float
    inner_mm: float
    outer_mm: float
    short_mm: float
    long_mm: float


def wrap_of(low_mm: float, high_mm: float, height_mm: float) -> Wrap:
    """The sheet of a wall of radii `low_mm` and `high_mm` (0 or more), `height_mm` > 0 apart.

    Slant s = sqrt(height² + (difference of radii)²); the sector turns by 2 pi (difference of radii) / s.
    Closed form. Raises ValueError for radii below 0 or no height and no difference.
    """
    slant = math.hypot(height_mm, high_mm - low_mm)
    if min(low_mm, high_mm) < 0.0 or slant <= 0.0:
        raise ValueError("radii must not be below 0, and the wall must have a length")
    short, long_ = sorted((low_mm, high_mm))
    edges = 2.0 * math.pi * short, 2.0 * math.pi * long_
    if long_ - short < 1e-9 * max(long_, 1.0):
        return Wrap(slant, 0.0, math.inf, math.inf, *edges)
    turn = 2.0 * math.pi * (long_ - short) / slant
    return Wrap(slant, turn, edges[0] / turn, edges[1] / turn, *edges)


def sheet(wrap: Wrap, around: Floats, up_share: Floats) -> Floats:
    """Flat places (n, 2) mm: `around` (n,) in turns, `up_share` (n,) from the short edge to the long one."""
    if wrap.turn_rad == 0.0:
        return np.stack([around * wrap.long_mm, up_share * wrap.slant_mm], axis=1)
    radius = wrap.inner_mm + up_share * wrap.slant_mm
    angle = (around - 0.5) * wrap.turn_rad
    return np.stack([radius * np.sin(angle), radius * np.cos(angle)], axis=1)


def wrapped(points_mm: Floats, faces: Faces) -> Laid | None:
    """The sheet of a part that is the whole wall of a cone or cylinder; None when it is not."""
    rings = loops(faces)
    if len(rings) != 2:
        return None
    ends = [points_mm[ring] for ring in rings]
    centres = [_middle(end, np.roll(end, -1, axis=0)) for end in ends]
    axis = centres[1] - centres[0]
    height = float(np.linalg.norm(axis))
    if height < 1e-6:
        return None
    axis = axis / height
    radii = [float(np.mean(_off_axis(end, centres[0], axis))) for end in ends]
    along = (points_mm - centres[0]) @ axis
    wanted = radii[0] + (radii[1] - radii[0]) * along / height
    if np.abs(_off_axis(points_mm, centres[0], axis) - wanted).max() > TRUE_SHARE * max(radii):
        return None
    if along.min() < -TRUE_SHARE * max(radii) or along.max() > height + TRUE_SHARE * max(radii):
        return None
    return _drawn(centres, axis, radii)


def _middle(a: Floats, b: Floats) -> Floats:
    length = np.linalg.norm(b - a, axis=1)
    middle: Floats = ((a + b) / 2.0 * length[:, None]).sum(axis=0) / length.sum()
    return middle


def _off_axis(points: Floats, centre: Floats, axis: Floats) -> Floats:
    away = points - centre
    return np.asarray(np.linalg.norm(away - (away @ axis)[:, None] * axis, axis=1))


def _drawn(centres: list[Floats], axis: Floats, radii: list[float]) -> Laid:
    """The true wall as a strip of narrow faces whose flat places come from the closed form."""
    short, long_ = (0, 1) if radii[0] <= radii[1] else (1, 0)
    wrap = wrap_of(radii[short], radii[long_], float(np.linalg.norm(centres[1] - centres[0])))
    first = np.cross(axis, [1.0, 0.0, 0.0] if abs(axis[0]) < 0.8 else [0.0, 1.0, 0.0])
    first /= np.linalg.norm(first)
    second = np.cross(axis, first) if short == 0 else np.cross(first, axis)
    turn = np.linspace(0.0, 1.0, STEPS + 1)
    around = np.cos(2.0 * np.pi * turn)[:, None] * first + np.sin(2.0 * np.pi * turn)[:, None] * second
    points = np.concatenate([centres[k] + radii[k] * around for k in (short, long_)])
    laid = sheet(wrap, np.tile(turn, 2), np.repeat([0.0, 1.0], STEPS + 1))
    k = np.arange(STEPS)
    low, high = k, k + STEPS + 1
    faces = np.concatenate([np.stack([low, low + 1, high + 1], 1), np.stack([low, high + 1, high], 1)])
    if wrap.turn_rad > 0.0:
        # Seen from outside the sector turns the other way.
        laid = laid * np.array([-1.0, 1.0])
        faces = faces[:, ::-1]
    return Laid(points, faces.astype(np.int64), laid, 1, 0, 0.0, 0.0)
