"""Plane figures in space: axes of a plane, and which way round triangles in it go."""

from __future__ import annotations

import numpy as np

from claybed.intake.soup import Points, Triples


def plane_axes(normal: Points) -> Points:
    """Two unit vectors as columns (3, 2) that span the plane across `normal`, turning counter-clockwise about
    it.
    """
    n = normal / np.linalg.norm(normal)
    lead = np.zeros(3)
    lead[int(np.abs(n).argmin())] = 1.0
    u = np.cross(lead, n)
    u /= np.linalg.norm(u)
    return np.stack([u, np.cross(n, u)], axis=1)


def turning(points: Points, faces: Triples) -> float:
    """Twice the signed area of plane triangles (m, 3) over points (n, 2)."""
    a, b = points[faces[:, 1]] - points[faces[:, 0]], points[faces[:, 2]] - points[faces[:, 0]]
    return float((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum())
