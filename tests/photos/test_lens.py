"""Lens and pose from known points, against OpenCV's own projection of them."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from claybed.errors import InputError
from claybed.photos.camera import Camera, Lens
from claybed.photos.lens import settle_together, solve_pose
from claybed.photos.mat import lay_out_mat
from tests.photos.rendering import looking_at

SIZE = (1600, 1200)
MIDDLE = ((SIZE[0] - 1) / 2.0, (SIZE[1] - 1) / 2.0)


def corners_mm() -> np.ndarray:
    """Corners of all markers of a mat, (n, 3) mm."""
    half = lay_out_mat("a4").marker_mm / 2.0
    turn = np.array([[-half, half, 0.0], [half, half, 0.0], [half, -half, 0.0], [-half, -half, 0.0]])
    return np.concatenate([np.array([m.x_mm, m.y_mm, 0.0]) + turn for m in lay_out_mat("a4").markers])


def seen_by(camera: Camera, points: np.ndarray) -> np.ndarray:
    """Where OpenCV projects points, with the lens's distortion."""
    turn, _ = cv2.Rodrigues(camera.rotation)
    pixels, _ = cv2.projectPoints(points, turn, camera.shift_mm, camera.lens.matrix, camera.lens.distortion)
    return np.asarray(pixels).reshape(-1, 2)


@pytest.mark.parametrize("focal_px", [1100.0, 1600.0, 3200.0])
@pytest.mark.parametrize("elevation_deg", [15.0, 30.0, 50.0])
@pytest.mark.parametrize("k1", [0.0, -0.12, 0.06])
def test_pose_is_recovered_from_exact_corners(focal_px: float, elevation_deg: float, k1: float) -> None:
    """Focal length, distortion and place of the camera come back."""
    camera = looking_at(
        Lens(focal_px, *MIDDLE, k1), 40.0, elevation_deg, 0.42 * focal_px, (0.0, 0.0, 10.0), 4.0
    )
    got = solve_pose(corners_mm(), seen_by(camera, corners_mm()), SIZE, None)
    assert got.camera.lens.focal_px == pytest.approx(focal_px, rel=2e-3)
    assert got.camera.lens.k1_ratio == pytest.approx(k1, abs=0.02)
    assert np.linalg.norm(got.camera.eye_mm - camera.eye_mm) < 2e-3 * np.linalg.norm(camera.eye_mm)
    assert got.rms_px < 0.02


def test_stated_spread_covers_what_noise_does() -> None:
    """Over noisy corners the focal length is off by no more than its stated spread allows."""
    camera = looking_at(Lens(1500.0, *MIDDLE, -0.05), -70.0, 27.0, 560.0, (0.0, 0.0, 20.0))
    exact = seen_by(camera, corners_mm())
    rng = np.random.default_rng(5)
    scores = []
    for _ in range(12):
        got = solve_pose(corners_mm(), exact + rng.normal(0.0, 0.3, exact.shape), SIZE, None)
        scores.append((got.camera.lens.focal_px / 1500.0 - 1.0) / got.focal_rel_fraction)
        drawn = [one.lens.focal_px for one in got.vary()]
        assert np.std(np.log(drawn)) == pytest.approx(got.focal_rel_fraction, rel=0.15)
    assert np.abs(scores).max() < 3.5
    assert np.sqrt(np.mean(np.square(scores))) > 0.2  # and the spread is not idle caution


def test_straight_from_above_needs_a_note_of_the_lens() -> None:
    """Seen straight from above a mat leaves the focal length open: that is said, unless the file notes it."""
    camera = looking_at(Lens(1500.0, *MIDDLE), 0.0, 89.5, 900.0, (0.0, 0.0, 0.0))
    pixels = seen_by(camera, corners_mm()) + np.random.default_rng(2).normal(0.0, 0.3, (96, 2))
    with pytest.raises(InputError, match="leaves the lens open"):
        solve_pose(corners_mm(), pixels, SIZE, None, "one.jpg")
    assert solve_pose(corners_mm(), pixels, SIZE, 1500.0).camera.lens.focal_px == pytest.approx(
        1500.0, rel=0.06
    )


def test_points_of_no_flat_mat_are_refused() -> None:
    """Corners that no camera can see on a flat sheet are refused."""
    camera = looking_at(Lens(1500.0, *MIDDLE), 20.0, 30.0, 500.0, (0.0, 0.0, 0.0))
    bent = corners_mm()
    bent[:, 2] = 25.0 * np.sin(bent[:, 0] / 25.0)
    with pytest.raises(InputError, match="flat mat"):
        solve_pose(corners_mm(), seen_by(camera, bent), SIZE, None)


def test_pictures_of_one_camera_share_a_lens_with_its_middle() -> None:
    """Six pictures find the lens's middle too, which one cannot; another camera's keeps its own."""
    lens, other = Lens(1500.0, MIDDLE[0] + 14.0, MIDDLE[1] - 9.0, -0.08, 0.02), Lens(2100.0, *MIDDLE)
    cameras = [
        looking_at(
            lens if k < 7 else other, 50.0 * k, 20.0 + 8.0 * (k % 3), 500.0, (0.0, 0.0, 0.0), 90.0 * (k % 4)
        )
        for k in range(8)
    ]
    pixels = [seen_by(camera, corners_mm()) for camera in cameras]
    points = [corners_mm()] * 8
    alone = [solve_pose(p, x, SIZE, None) for p, x in zip(points, pixels, strict=True)]
    same = settle_together(alone[:7], points[:7], pixels[:7], SIZE)
    assert same[0].camera.lens.middle_x_px == pytest.approx(lens.middle_x_px, abs=0.3)
    assert same[0].camera.lens.middle_y_px == pytest.approx(lens.middle_y_px, abs=0.3)
    assert max(np.linalg.norm(s.camera.eye_mm - c.eye_mm) for s, c in zip(same, cameras, strict=False)) < 0.3
    mixed = settle_together(alone, points, pixels, SIZE)
    assert mixed[7].camera.lens.focal_px == pytest.approx(2100.0, rel=5e-3)


def test_freed_pixels_are_those_of_the_straight_camera() -> None:
    """Taking distortion out of a projected point gives the projection of the same camera without any."""
    camera = looking_at(Lens(1500.0, *MIDDLE, -0.1, 0.03), 10.0, 25.0, 500.0, (0.0, 0.0, 0.0))
    points = np.random.default_rng(1).uniform(-90.0, 90.0, (40, 3))
    assert np.abs(camera.freed(camera.project(points)) - camera.straight().project(points)).max() < 0.02
    rays = camera.straight().rays(camera.straight().project(points))
    to = points - camera.eye_mm
    assert np.abs(np.cross(rays, to / np.linalg.norm(to, axis=1, keepdims=True))).max() < 1e-9
