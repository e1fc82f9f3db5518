"""The one triangle mesh every stage hands on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from claybed.geometry.origins import Origin as Origin

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
Bytes = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, eq=False)
class Mesh:
    """Triangles in one named frame.

    `vertices_mm` (n, 3) float64 in millimetres; `faces` (m, 3) int32, counter-clockwise seen from outside;
    `origin` (m,) uint8 of `Origin`; `frame` names the coordinate frame, and meshes of different frames must
    not be mixed. Arrays are read-only.
    """

    vertices_mm: Floats
    faces: Ints
    origin: Bytes
    frame: str

    @staticmethod
    def make(
        vertices_mm: NDArray[np.floating],
        faces: NDArray[np.integer],
        *,
        frame: str,
        origin: NDArray[np.integer] | Origin = Origin.OBJECT,
    ) -> Mesh:
        """Build a mesh from arrays of shape (n, 3) and (m, 3); copies, then freezes them.

        `origin` is one `Origin` for all faces or an array (m,).
        Raises ValueError for wrong shapes or an index out of range.
        """
        v = np.array(vertices_mm, dtype=np.float64, order="C")
        f = np.array(faces, dtype=np.int32, order="C")
        if v.ndim != 2 or v.shape[1] != 3 or f.ndim != 2 or f.shape[1] != 3:
            raise ValueError(f"mesh arrays must be (n, 3) and (m, 3), got {v.shape} and {f.shape}")
        if f.size and (f.min() < 0 or f.max() >= len(v)):
            raise ValueError("a face names a vertex that does not exist")
        o = (
            np.full(len(f), int(origin), np.uint8)
            if isinstance(origin, Origin)
            else np.array(origin, np.uint8)
        )
        if o.shape != (len(f),):
            raise ValueError(f"origin must be ({len(f)},), got {o.shape}")
        for a in (v, f, o):
            a.setflags(write=False)
        return Mesh(v, f, o, frame)

    @property
    def corners_mm(self) -> Floats:
        """Triangle corners (m, 3, 3) in millimetres."""
        corners: Floats = self.vertices_mm[self.faces]
        return corners

    @property
    def volume_mm3(self) -> float:
        """Signed volume by the divergence theorem, mm³; positive when closed and outward."""
        c = self.corners_mm - self.vertices_mm.mean(axis=0)
        return float(np.einsum("ij,ij->i", c[:, 0], np.cross(c[:, 1], c[:, 2])).sum() / 6.0)

    @property
    def area_mm2(self) -> float:
        """Surface area, mm²."""
        c = self.corners_mm
        return float(np.linalg.norm(np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0]), axis=1).sum() / 2.0)

    @property
    def bounds_mm(self) -> Floats:
        """Lowest and highest corner, (2, 3) mm."""
        return np.stack([self.vertices_mm.min(axis=0), self.vertices_mm.max(axis=0)])

    def moved(self, rotation: Floats, shift_mm: Floats, *, frame: str) -> Mesh:
        """The mesh in another frame: `rotation` (3, 3) proper, applied first, then `shift_mm` (3,)."""
        return Mesh.make(
            self.vertices_mm @ rotation.T + shift_mm, self.faces, frame=frame, origin=self.origin
        )
