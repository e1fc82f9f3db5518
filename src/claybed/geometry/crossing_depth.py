"""By how much two triangles cross over their plan overlap; whether they do is for claybed.geometry.clearance
to say.
"""

from __future__ import annotations

import numpy as np

from claybed.geometry.lattice import Lattice
from claybed.geometry.mesh import Floats


def deepest_crossing(a: Lattice, za: Lattice, b: Lattice, zb: Lattice) -> int:
    """By how many lattice units triangle a must rise to clear triangle b over their plan overlap, rounded up
    by one or two.

    `a`, `b` (6,) plan corners, counter-clockwise; `za`, `zb` (3,) heights.
    """
    p, q = a.reshape(3, 2).astype(np.float64), b.reshape(3, 2).astype(np.float64)
    overlap = p
    for k in range(3):
        edge = q[(k + 1) % 3] - q[k]
        side = edge[0] * (overlap[:, 1] - q[k, 1]) - edge[1] * (overlap[:, 0] - q[k, 0])
        kept = []
        for i in range(len(overlap)):
            j = (i + 1) % len(overlap)
            if side[i] >= 0:
                kept.append(overlap[i])
            if (side[i] >= 0) != (side[j] >= 0):
                kept.append(overlap[i] + side[i] / (side[i] - side[j]) * (overlap[j] - overlap[i]))
        if not kept:
            return 1
        overlap = np.array(kept)
    deficit = _on_plane(overlap, q, zb) - _on_plane(overlap, p, za)
    return max(int(np.ceil(deficit.max())) + 1, 1)


def _on_plane(at: Floats, corner: Floats, z: Lattice) -> Floats:
    """Heights of a triangle's plane at plan points inside it, kept between its corners' heights."""
    u, v, w = corner[1] - corner[0], corner[2] - corner[0], at - corner[0]
    area = u[0] * v[1] - u[1] * v[0]
    s = (w[:, 0] * v[1] - w[:, 1] * v[0]) / area
    t = (u[0] * w[:, 1] - u[1] * w[:, 0]) / area
    height: Floats = np.clip(z[0] + s * (z[1] - z[0]) + t * (z[2] - z[0]), z.min(), z.max())
    return height
