"""Lens and pose from the mat: what the corners of known markers say about the camera."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import cv2
import numpy as np
from scipy.optimize import least_squares

from claybed.errors import InputError
from claybed.geometry.mesh import Floats
from claybed.photos.camera import Camera, Lens

# How far an equivalent focal length is off, as a fraction: it is rounded to whole mm, and telephones crop.
NOTED_FOCAL_SPREAD: Final = 0.03
CORNER_SPREAD_PX: Final = 0.3
LOOSE_FOCAL: Final = 0.05
# Before an upright mat the scale is the mat's own, and the lens only carries it forward by a radius or so.
LOOSE_FOCAL_UPRIGHT: Final = 0.2
# Squarer than this to the mat, nothing converges, and a wrong lens can fit as well as the right one.
SQUARE_RAD: Final = float(np.radians(6.0))
FIRST_GUESSES: Final = (0.75, 1.0, 1.5, 2.5, 4.5)  # focal length over the longer side
MOST_K1: Final = 0.6
_WORST_RMS: Final = 0.004  # of the longer side: more is no flat mat of ours


@dataclass(frozen=True, slots=True, eq=False)
class Posed:
    """A camera with how well it is known.

    `rms_px` of the corners; `spread` (m, 8) draws of the unknowns about their solution, as `vary` takes them.
    """

    camera: Camera
    rms_px: float
    focal_rel_fraction: float
    spread: Floats

    def vary(self) -> list[Camera]:
        """Cameras that fit the corners about as well; their scatter is what the pose does not know."""
        return [_camera(row, self.camera.lens) for row in self.spread]


def solve_pose(
    points_mm: Floats, pixels: Floats, size_px: tuple[int, int], focal_px: float | None, name: str = "",
    *, upright: bool = False,
) -> Posed:  # fmt: skip
    """Camera from points (n, 3) on the mat and their pixels (n, 2) in a picture of `size_px`.

    `focal_px` is the camera's own note, or None. Unknown are focal length, first distortion term and pose;
    the lens's middle is taken at the picture's. Raises InputError when the points do not fit a flat mat, or
    when the mat was seen so straight from above that the focal length stays open.
    """
    longer = float(max(size_px))
    middle = (size_px[0] - 1) / 2.0, (size_px[1] - 1) / 2.0
    guesses = [focal_px] if focal_px is not None else [share * longer for share in FIRST_GUESSES]
    starts = [_start(points_mm, pixels, Lens(f, *middle)) for f in guesses]
    best = min((start for start in starts if start is not None), key=lambda s: s[0], default=None)
    if best is None:
        raise _unfit(name)
    start = best[1]
    model = Lens(1.0, *middle)

    def misses(u: Floats) -> Floats:
        camera = _camera(u, model)
        off = (camera.project(points_mm) - pixels).ravel() / CORNER_SPREAD_PX
        prior = [u[1] / 0.15]
        if focal_px is not None:
            prior.append((u[0] - np.log(focal_px)) / NOTED_FOCAL_SPREAD)
        return np.concatenate([off, prior])

    low = np.full(8, -np.inf)
    high = np.full(8, np.inf)
    low[0], high[0] = np.log(0.3 * longer), np.log(20.0 * longer)
    low[1], high[1] = -MOST_K1, MOST_K1
    start[0] = np.clip(start[0], low[0] + 1e-6, high[0] - 1e-6)
    found = least_squares(
        misses, start, bounds=(low, high), x_scale=_sizes(start), loss="soft_l1", f_scale=3.0, max_nfev=80
    )
    camera = _camera(found.x, model)
    rms = float(np.sqrt(((camera.project(points_mm) - pixels) ** 2).sum(axis=1).mean()))
    if rms > _WORST_RMS * longer:
        raise _unfit(name)
    jacobian = np.asarray(found.jac, dtype=np.float64)
    scale = max(1.0, rms / CORNER_SPREAD_PX / np.sqrt(2.0)) ** 2
    covariance = np.linalg.pinv(jacobian.T @ jacobian) * scale
    focal_spread = float(np.sqrt(covariance[0, 0]))
    if focal_px is None and upright and abs(float(camera.rotation[2, 2])) > np.cos(SQUARE_RAD):
        raise InputError(
            "leaves the lens open: it looks square at the mat, and its camera noted no focal length.",
            where=name,
            remedy="Use the picture as the camera made it, with its notes, or take it from "
            "farther to one side.",
        )
    if focal_px is None and focal_spread > (LOOSE_FOCAL_UPRIGHT if upright else LOOSE_FOCAL):
        raise InputError(
            f"leaves the lens open: its focal length is known to {100.0 * focal_spread:.0f} % only.",
            where=name,
            remedy="Use the picture as the camera made it, with its notes, or take it from "
            + ("farther to one side." if upright else "lower down."),
        )
    return Posed(camera, rms, focal_spread, _draws(found.x, covariance))


def settle_together(
    posed: Sequence[Posed], points: Sequence[Floats], pixels: Sequence[Floats], size_px: tuple[int, int]
) -> list[Posed]:
    """One lens for several pictures of the same camera, poses settled anew; as they were where it fits worse.

    `points` (n, 3) mm and `pixels` (n, 2) of each picture. From six pictures on, the lens's middle and a
    second distortion term are found as well.
    """
    if len(posed) < 3:
        return list(posed)
    focal = float(np.median([p.camera.lens.focal_px for p in posed]))
    start = replace(posed[0].camera.lens, focal_px=focal)
    fixed = (
        cv2.CALIB_USE_INTRINSIC_GUESS
        | cv2.CALIB_FIX_ASPECT_RATIO
        | cv2.CALIB_ZERO_TANGENT_DIST
        | cv2.CALIB_FIX_K3
    )
    if len(posed) < 6:
        fixed |= cv2.CALIB_FIX_PRINCIPAL_POINT | cv2.CALIB_FIX_K2
    _, matrix, distortion, turns, shifts = cv2.calibrateCamera(
        [p.astype(np.float32) for p in points],
        [p.astype(np.float32) for p in pixels],
        size_px,
        start.matrix.copy(),
        np.zeros(5),
        flags=fixed,
    )
    k1, k2 = (float(k) for k in np.asarray(distortion).ravel()[:2])
    lens = Lens(float(matrix[0, 0]), float(matrix[0, 2]), float(matrix[1, 2]), k1, k2)
    off_middle = np.hypot(lens.middle_x_px - start.middle_x_px, lens.middle_y_px - start.middle_y_px)
    if off_middle > 0.05 * max(size_px) or abs(k1) > MOST_K1 or abs(k2) > 2.0:
        return list(posed)
    out = []
    for one, p, x, turn, shift in zip(posed, points, pixels, turns, shifts, strict=True):
        camera = Camera(lens, cv2.Rodrigues(turn)[0], np.asarray(shift, np.float64).ravel())
        rms = float(np.sqrt(((camera.project(p) - x) ** 2).sum(axis=1).mean()))
        # A picture that the shared lens fits much worse came from another camera or another zoom.
        fits = rms <= max(1.5 * one.rms_px, one.rms_px + 0.3)
        out.append(replace(one, camera=camera, rms_px=rms) if fits else one)
    return out


def _start(points_mm: Floats, pixels: Floats, lens: Lens) -> tuple[float, Floats] | None:
    found, turns, shifts, off = cv2.solvePnPGeneric(
        points_mm.reshape(-1, 1, 3), pixels.reshape(-1, 1, 2), lens.matrix, None, flags=cv2.SOLVEPNP_IPPE
    )
    if not found:
        return None
    ahead = [k for k in range(len(shifts)) if float(np.asarray(shifts[k]).ravel()[2]) > 0.0]
    if not ahead:
        return None
    k = min(ahead, key=lambda i: float(np.asarray(off[i]).ravel()[0]))
    u = np.concatenate(
        [[np.log(lens.focal_px), 0.0], np.asarray(turns[k]).ravel(), np.asarray(shifts[k]).ravel()]
    )
    return float(np.asarray(off[k]).ravel()[0]), u


def _camera(u: Floats, model: Lens) -> Camera:
    lens = Lens(float(np.exp(u[0])), model.middle_x_px, model.middle_y_px, float(u[1]))
    return Camera(lens, cv2.Rodrigues(np.asarray(u[2:5]))[0], np.asarray(u[5:8], dtype=np.float64))


def _sizes(start: Floats) -> Floats:
    away = max(1.0, float(np.linalg.norm(start[5:8])))
    return np.array([0.1, 0.1, 0.1, 0.1, 0.1, 0.1 * away, 0.1 * away, 0.1 * away])


def _draws(solution: Floats, covariance: Floats) -> Floats:
    values, vectors = np.linalg.eigh((covariance + covariance.T) / 2.0)
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    # Plus and minus along each direction in turn: their scatter is the covariance, and no chance is needed.
    count = len(solution)
    signs = np.concatenate([np.eye(count), -np.eye(count)]) * np.sqrt(count)
    draws: Floats = solution + signs @ root.T
    return draws


def _unfit(name: str) -> InputError:
    return InputError(
        "shows markers that do not lie as on a flat mat.",
        where=name,
        remedy="Lay the mat on something flat, let nothing curl it, and take the picture again.",
    )
