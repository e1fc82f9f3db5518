"""A camera in the mat's frame: where it stands, how it looks, and what its lens does."""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from claybed.geometry.mesh import Floats


@dataclass(frozen=True, slots=True, eq=False)
class Lens:
    """Focal length and middle in pixels, and radial distortion k1 and k2 as OpenCV defines them."""

    focal_px: float
    middle_x_px: float
    middle_y_px: float
    k1_ratio: float = 0.0
    k2_ratio: float = 0.0

    @property
    def matrix(self) -> Floats:
        """The matrix K (3, 3)."""
        f = self.focal_px
        return np.array([[f, 0.0, self.middle_x_px], [0.0, f, self.middle_y_px], [0.0, 0.0, 1.0]])

    @property
    def distortion(self) -> Floats:
        """k1, k2, p1, p2, k3 for OpenCV (5,)."""
        return np.array([self.k1_ratio, self.k2_ratio, 0.0, 0.0, 0.0])

    def scaled(self, factor: float) -> Lens:
        """The lens for the same picture at `factor` times its size, without distortion.

        Pixel middles lie at whole numbers, as OpenCV counts them.
        """
        x, y = ((middle + 0.5) * factor - 0.5 for middle in (self.middle_x_px, self.middle_y_px))
        return Lens(self.focal_px * factor, x, y)


@dataclass(frozen=True, slots=True, eq=False)
class Camera:
    """A lens with its pose: `rotation` (3, 3) and `shift_mm` (3,) take the mat's frame to the camera's.

    The camera's frame has x right, y down, z ahead.
    """

    lens: Lens
    rotation: Floats
    shift_mm: Floats

    @property
    def eye_mm(self) -> Floats:
        """Where the camera stands, (3,) in the mat's frame."""
        eye: Floats = -self.rotation.T @ self.shift_mm
        return eye

    @property
    def elevation_rad(self) -> float:
        """How far above the mat's plane it stands, seen from the origin."""
        eye = self.eye_mm
        return float(np.arctan2(eye[2], np.hypot(eye[0], eye[1])))

    @property
    def azimuth_rad(self) -> float:
        """Where round the mat it stands, from x towards y."""
        eye = self.eye_mm
        return float(np.arctan2(eye[1], eye[0]))

    def project(self, points_mm: NDArray[np.floating]) -> Floats:
        """Pixels (n, 2) of points (n, 3) in the mat's frame, lens distortion included."""
        turn, _ = cv2.Rodrigues(self.rotation)
        points = np.ascontiguousarray(points_mm, dtype=np.float64).reshape(-1, 1, 3)
        pixels, _ = cv2.projectPoints(points, turn, self.shift_mm, self.lens.matrix, self.lens.distortion)
        flat: Floats = np.asarray(pixels, dtype=np.float64).reshape(-1, 2)
        return flat

    def straight(self, factor: float = 1.0) -> Camera:
        """The camera of the picture freed from distortion, at `factor` times its size."""
        return Camera(self.lens.scaled(factor), self.rotation, self.shift_mm)

    def cut(self, x_px: int, y_px: int) -> Camera:
        """The camera of the part of its picture that begins at pixel (x, y)."""
        lens = replace(
            self.lens, middle_x_px=self.lens.middle_x_px - x_px, middle_y_px=self.lens.middle_y_px - y_px
        )
        return replace(self, lens=lens)

    def freed(self, pixels: NDArray[np.floating]) -> Floats:
        """Where pixels (n, 2) of the picture lie once distortion is taken out, (n, 2)."""
        points = np.ascontiguousarray(pixels, dtype=np.float64).reshape(-1, 1, 2)
        matrix = self.lens.matrix
        out = cv2.undistortPoints(points, matrix, self.lens.distortion, P=matrix)
        flat: Floats = np.asarray(out, dtype=np.float64).reshape(-1, 2)
        return flat

    def rays(self, pixels: NDArray[np.floating]) -> Floats:
        """Unit directions (n, 3) in the mat's frame through pixels (n, 2) of a picture without distortion."""
        p = np.asarray(pixels, dtype=np.float64)
        lens = self.lens
        ahead = np.stack(
            [
                (p[:, 0] - lens.middle_x_px) / lens.focal_px,
                (p[:, 1] - lens.middle_y_px) / lens.focal_px,
                np.ones(len(p)),
            ],
            axis=1,
        )
        rays: Floats = ahead @ self.rotation
        rays /= np.linalg.norm(rays, axis=1, keepdims=True)
        return rays
