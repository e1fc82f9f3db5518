"""How the object stands to the mat: on it, or before a mat that stands upright behind it.

Outlines are measured in the frame of the table: z up from where the object stands. On a lying mat that is the
mat's own frame. A mat upright behind the object has its lower edge on the table; x runs along that edge from
its middle, y away from the camera through the paper, and the object stands where y is negative.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from claybed.errors import InputError
from claybed.geometry.mesh import Floats
from claybed.materials import shelf
from claybed.photos.camera import Camera
from claybed.photos.mat import PAPERS
from claybed.records.mat import Mat

TOUCH_SPREAD_MM: Final = shelf.value("measuring", "touching_mm").value
FOOT_LEVEL_MM: Final = shelf.value("measuring", "sheet_level_mm").value
_OVERHANG: Final = 1.25
_LEANS_MOST: Final = 0.6  # cosine between the picture's up and the mat's
_BELOW_TABLE_MM: Final = 15.0
_STEEP_RAD: Final = float(np.radians(35.0))
_SQUARE_RAD: Final = float(np.radians(65.0))  # seen from higher, a lying mat shows no sides either
_ASIDE_MOST_RAD: Final = float(np.radians(60.0))
_UPRIGHT: Final = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])


@dataclass(frozen=True, slots=True)
class Stand:
    """Where the object stands: on the mat when `gap_mm` is None, else that far before an upright one.

    0 means that it touches the mat; the gap is between the mat and the object's nearest point.
    """

    gap_mm: float | None = None

    def in_table(self, camera: Camera, mat: Mat) -> Camera:
        """A camera of the mat's frame in the table's."""
        if self.gap_mm is None:
            return camera
        # A printer that scales keeps the middle of the sheet; the sheet's own edge stays where it was cut.
        sheet_mm = PAPERS[mat.paper][1]
        edge = np.array([0.0, -(mat.bottom_mm - mat.height_mm / 2.0 + sheet_mm / 2.0), 0.0])
        return Camera(camera.lens, camera.rotation @ _UPRIGHT.T, camera.shift_mm + camera.rotation @ edge)

    def room_mm(self, mat: Mat) -> Floats:
        """Corners (4, 2) of the table's part that an object may stand over."""
        x, y = mat.clear_x_mm * _OVERHANG, mat.clear_y_mm * _OVERHANG
        if self.gap_mm is None:
            return np.array([[-x, -y], [x, -y], [x, y], [-x, y]])
        near = -self.gap_mm - 2.0 * x
        return np.array([[-x, near], [x, near], [x, 0.0], [-x, 0.0]])

    def post_mm(self) -> Floats:
        """Ends (2, 3) of a short upright line that the object is taken to hide."""
        if self.gap_mm is None:
            return np.array([[0.0, 0.0, 3.0], [0.0, 0.0, 14.0]])
        away = -self.gap_mm - 15.0
        return np.array([[0.0, away, 8.0], [0.0, away, 24.0]])


ON_THE_MAT: Final = Stand()


def check_way_round(camera: Camera, mat: Mat, stand: Stand, name: str) -> None:
    """Refuse a picture whose mat lay when it is said to stand, or stood when it is said to lie.

    `camera` in the mat's frame, of an upright picture. Raises InputError.
    """
    up = -camera.rotation[1]
    if stand.gap_mm is None:
        # Up in the picture runs along the paper, across the line of sight: the paper stands.
        rise = camera.rotation @ np.array([0.0, 0.0, 1.0])
        rolled = abs(rise[0]) > -rise[1] * np.tan(_ASIDE_MOST_RAD)
        upright = float(up[1]) > np.cos(_STEEP_RAD) and camera.elevation_rad > _SQUARE_RAD
        if upright or (rolled and camera.elevation_rad > _STEEP_RAD):
            raise InputError(
                "shows the mat as if it stood upright behind the object.",
                where=name,
                remedy="If it did, add --mat behind; if it lay on the table, turn the picture upright and "
                "take it from lower down.",
            )
        return
    eye = stand.in_table(camera, mat).eye_mm
    aside = float(np.arctan2(abs(eye[0]), -eye[1]))
    if up[1] < _LEANS_MOST or eye[2] < -_BELOW_TABLE_MM or aside > _ASIDE_MOST_RAD:
        raise InputError(
            "does not show the mat upright behind the object, seen from the front.",
            where=name,
            remedy="If the mat lay under the object, leave out --mat behind; else stand it upright with the "
            "bar at the bottom, and take the picture from before it, camera level.",
        )
