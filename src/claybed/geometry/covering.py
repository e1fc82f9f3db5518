"""Whether faces lie on one another all over: region against region in each plane, however either side of it
is cut into triangles.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.flat_cover import bare_areas
from claybed.geometry.lattice import UNITS_PER_MM, Lattice

Flags = NDArray[np.bool_]
# Cuts are rounded to the lattice: a strip of so many of its steps may stay open along the edges of a face.
STRIP_STEPS = 2.0


def laid_on(faces: Lattice) -> Flags:
    """Which triangles (m, 3, 3) of several solids are covered by others in the very same plane that look the
    opposite way; lattice units, planes compared as whole numbers.

    Nothing between corners is left to chance: what of a triangle lies on none of the others may be no more
    than a strip of STRIP_STEPS along its edges. Triangles narrower than that count as covered, so their
    corners are for the caller to ask.
    """
    covered = np.zeros(len(faces), bool)
    if not len(faces):
        return covered
    planes = _planes(faces)
    # Of two sides of a plane the one whose normal begins with more than 0 is the upper.
    lead = np.take_along_axis(planes, np.argmax(planes[:, :3] != 0, axis=1)[:, None], axis=1)[:, 0]
    planes[lead < 0] *= -1
    _, plane = np.unique(planes, axis=0, return_inverse=True)
    order = np.argsort(plane.reshape(-1), kind="stable")
    ends = np.flatnonzero(np.diff(plane.reshape(-1)[order])) + 1
    for some in np.split(order, ends):
        upper = lead[some] > 0
        if upper.all() or not upper.any():
            continue
        kept = np.delete(np.arange(3), int(np.argmax(np.abs(planes[some[0], :3]))))
        flat = faces[some][:, :, kept]
        around_mm = np.linalg.norm((np.roll(flat, -1, axis=1) - flat) / UNITS_PER_MM[kept], axis=2).sum(
            axis=1
        )
        strip = STRIP_STEPS / float(UNITS_PER_MM.min()) * around_mm * UNITS_PER_MM[kept].prod()
        covered[some] = bare_areas(flat, upper, strip) <= strip
    return covered


def _planes(faces: Lattice) -> Lattice:
    """The plane of each triangle (m, 3, 3) in whole numbers (m, 4): normal without common divisor, and where
    along it the plane stands. Triangles without area have the normal 0.
    """
    a, b, c = (faces[:, k].astype(np.int64) for k in range(3))
    normal = np.cross(b - a, c - a)
    divisor = np.gcd.reduce(normal, axis=1)
    normal //= np.maximum(divisor, 1)[:, None]
    return np.column_stack([normal, np.einsum("ij,ij->i", normal, a)])
