"""Places where no seam may run, as a body of balls and layers that moves with the frame it is seen in."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numba import njit
from numpy.typing import NDArray

from claybed.geometry.mesh import Floats


def _none(width: int) -> Floats:
    return np.zeros((0, width))


@dataclass(frozen=True, slots=True, eq=False)
class Barred:
    """Forbidden places in one frame, mm: `balls` (b, 4) of middle and radius, `layers` (l, 5) of unit
    direction, from and to.
    """

    balls: Floats = field(default_factory=lambda: _none(4))
    layers: Floats = field(default_factory=lambda: _none(5))

    def __bool__(self) -> bool:
        return bool(len(self.balls) + len(self.layers))

    def placed(self, rotation: Floats, shift_mm: Floats) -> Barred:
        """The same places where every point p is rotation (3, 3) @ p + shift_mm (3,)."""
        balls, layers = self.balls.copy(), self.layers.copy()
        balls[:, :3] = self.balls[:, :3] @ rotation.T + shift_mm
        layers[:, :3] = self.layers[:, :3] @ rotation.T
        layers[:, 3:] += (layers[:, :3] @ shift_mm)[:, None]
        return Barred(balls, layers)

    def holds(self, points_mm: Floats) -> NDArray[np.bool_]:
        """Which of the points (n, 3) mm lie in a forbidden place."""
        inside = np.zeros(len(points_mm), bool)
        for ball in self.balls:
            inside |= ((points_mm - ball[:3]) ** 2).sum(axis=1) <= ball[3] ** 2
        for layer in self.layers:
            at = points_mm @ layer[:3]
            inside |= (at >= layer[3]) & (at <= layer[4])
        return inside

    def ends_mm(self, corner_mm: Floats) -> Floats:
        """Heights (k,) between which levels cut some triangle (m, 3, 3) mm within a forbidden place: the
        lowest and the highest point of each triangle in each place.
        """
        found = [_ball_ends(corner_mm, ball) for ball in self.balls]
        found += [_layer_ends(corner_mm, layer) for layer in self.layers]
        return np.concatenate([np.zeros(0), *found])


def _ball_ends(corner: Floats, ball: Floats) -> Floats:
    """Heights of the ends of triangles in a ball: corners in it, where sides pierce it, and the ends of the
    circle in which it meets a triangle's plane.
    """
    a = corner - ball[:3]
    radius = ball[3]
    b = np.roll(a, -1, axis=1)
    along = b - a
    # |a + t along| = radius on each side.
    aa = np.einsum("fki,fki->fk", along, along)
    ab = np.einsum("fki,fki->fk", a, along)
    cc = np.einsum("fki,fki->fk", a, a) - radius**2
    root = np.sqrt(np.maximum(ab**2 - aa * cc, 0.0))
    meets = (ab**2 >= aa * cc) & (aa > 0.0)
    ends = []
    for sign in (-1.0, 1.0):
        t = (-ab + sign * root) / np.where(aa > 0.0, aa, 1.0)
        ends.append((a[..., 2] + t * along[..., 2])[meets & (t >= 0.0) & (t <= 1.0)])
    ends.append(a[..., 2][cc <= 0.0])
    normal = np.cross(a[:, 1] - a[:, 0], a[:, 2] - a[:, 0])
    size = np.linalg.norm(normal, axis=1)
    some = size > 0.0
    unit = normal[some] / size[some, None]
    off = np.einsum("fi,fi->f", unit, a[some, 0])
    reach = np.sqrt(np.maximum(radius**2 - off**2, 0.0))
    flat = np.linalg.norm(unit[:, :2], axis=1)
    slope = np.column_stack([-unit[:, 2, None] * unit[:, :2], flat**2]) / np.maximum(flat, 1e-30)[:, None]
    for sign in (-1.0, 1.0):
        spot = unit * off[:, None] + sign * reach[:, None] * slope
        inside = (np.abs(off) < radius) & (flat > 1e-9)
        for k in range(3):
            edge = along[some, k]
            inside &= np.einsum("fi,fi->f", np.cross(edge, spot - a[some, k]), unit) >= 0.0
        ends.append(spot[inside, 2])
    found: Floats = np.concatenate(ends) + ball[2]
    return found


def _layer_ends(corner: Floats, layer: Floats) -> Floats:
    """Heights of corners of triangles in a layer, and of where their sides enter and leave it."""
    at = corner @ layer[:3]
    z = corner[..., 2]
    ends = [z[(at >= layer[3]) & (at <= layer[4])]]
    after, z_after = np.roll(at, -1, axis=1), np.roll(z, -1, axis=1)
    for wall in layer[3:]:
        t = (wall - at) / np.where(after != at, after - at, 1.0)
        ends.append((z + t * (z_after - z))[(after != at) & (t >= 0.0) & (t <= 1.0)])
    return np.concatenate(ends)


@njit(cache=True, nogil=True)
def chord_mm(p: Floats, q: Floats, balls: Floats, layers: Floats) -> float:
    """Length of the straight line from p to q (3,) inside the places, mm; what lies in two counts for the
    one that holds more of it.
    """
    dx, dy, dz = q[0] - p[0], q[1] - p[1], q[2] - p[2]
    length = np.sqrt(dx * dx + dy * dy + dz * dz)
    most = 0.0
    if length == 0.0:
        return 0.0
    for k in range(len(balls)):
        x, y, z = p[0] - balls[k, 0], p[1] - balls[k, 1], p[2] - balls[k, 2]
        b = (x * dx + y * dy + z * dz) / length
        c = x * x + y * y + z * z - balls[k, 3] ** 2
        if b * b > c:
            root = np.sqrt(b * b - c)
            most = max(most, min(length, -b + root) - max(0.0, -b - root))
    for k in range(len(layers)):
        ux, uy, uz, low, high = layers[k]
        from_mm = p[0] * ux + p[1] * uy + p[2] * uz - low
        run = dx * ux + dy * uy + dz * uz
        if abs(run) < 1e-12:
            if 0.0 < from_mm < high - low:
                most = length
            continue
        enters, leaves = -from_mm / run, (high - low - from_mm) / run
        if enters > leaves:
            enters, leaves = leaves, enters
        most = max(most, length * (min(1.0, leaves) - max(0.0, enters)))
    return float(max(0.0, most))
