"""A mat upright behind the object: rendered pictures, closed forms, pictures of the other way."""

from __future__ import annotations

import numpy as np
import pytest
import trimesh

from claybed.errors import InputError
from claybed.photos.camera import Lens
from claybed.photos.lens import solve_pose
from claybed.photos.mat import lay_out_mat
from claybed.photos.outline import Outline
from claybed.photos.picture import open_picture
from claybed.photos.profile import read_profile
from claybed.photos.shot import Shot, aim, print_scale
from claybed.photos.standing import ON_THE_MAT, Stand, check_way_round
from claybed.photos.turned import turned_object
from tests.photos.rendering import looking_at, silhouette
from tests.photos.rings import before_camera, before_picture, bottle_picture

TRUE_ML = 576.319  # of the exact solid, tests/pieces/README.md
SCALE = print_scale(150.0, None)
MAT = lay_out_mat("a4")


def before_shot(gap_mm: float, aside_mm: float, told_mm: float | None = None) -> Shot:
    """The bottle before the mat, aimed with the gap that a person tells."""
    picture = open_picture(before_picture(gap_mm, aside_mm), "before.jpg")
    return aim(picture, SCALE, Stand(gap_mm if told_mm is None else told_mm))


@pytest.mark.parametrize(("gap_mm", "aside_mm"), [(0.0, 0.0), (12.0, 8.0)])
def test_bottle_comes_out_before_an_upright_mat(gap_mm: float, aside_mm: float) -> None:
    """Touching or off the mat: volume within 3 % and its band, height and width right, axis where it is."""
    shot = before_shot(gap_mm, aside_mm)
    check_way_round(shot.posed.camera, shot.mat, shot.stand, "before.jpg")
    made, outline = turned_object(shot, SCALE, name="bottle")
    band = made.measuring.band
    assert made.volume_ml == pytest.approx(TRUE_ML, rel=0.03)
    assert made.volume_ml * (1 - band.smaller_share) < TRUE_ML < made.volume_ml * (1 + band.larger_share)
    assert 0.01 < band.larger_share < 0.08
    assert made.extent_mm is not None
    assert made.extent_mm[2] == pytest.approx(198.0, rel=0.015)
    assert made.extent_mm[0] == pytest.approx(70.0, rel=0.02)
    axis = read_profile(outline, gap_mm=gap_mm).axis_mm
    assert axis == pytest.approx([aside_mm, -gap_mm - 35.0], abs=1.0)


def test_the_gap_sets_the_size() -> None:
    """The same picture told with 60 mm more of a gap gives a smaller object, as distances go."""
    near, _ = turned_object(before_shot(0.0, 0.0), SCALE, name="bottle")
    off, _ = turned_object(before_shot(0.0, 0.0, told_mm=60.0), SCALE, name="bottle")
    assert near.extent_mm is not None
    assert off.extent_mm is not None
    level_mm = float(np.hypot(*before_camera().eye_mm[:2]))
    ratio = off.extent_mm[0] / near.extent_mm[0]
    assert ratio == pytest.approx((level_mm - 95.0) / (level_mm - 35.0), rel=0.02)


@pytest.mark.parametrize("gap_mm", [0.0, 25.0])
def test_a_ball_touches_at_its_belly(gap_mm: float) -> None:
    """The axis of a ball of 40 mm lies 40 mm and the gap before the mat; volume 4/3 pi r³."""
    ball = trimesh.creation.icosphere(5, 40.0)
    camera = looking_at(Lens(1500.0, 479.5, 639.5), -80.0, 12.0, 600.0, (0.0, 0.0, 60.0))
    points = np.asarray(ball.vertices) + np.array([5.0, -gap_mm - 40.0, 40.0])
    seen = silhouette(points, np.asarray(ball.faces), camera, (960, 1280))
    profile = read_profile(Outline(seen.astype(np.float32), camera, 0.0, False), gap_mm=gap_mm)
    assert profile.axis_mm == pytest.approx([5.0, -gap_mm - 40.0], abs=0.5)
    assert profile.volume_mm3 == pytest.approx(4.0 / 3.0 * np.pi * 40.0**3, rel=0.02)


def test_table_and_mat_see_the_same() -> None:
    """A point of the sheet has the same pixel in the mat's frame and, lifted to the wall, in the table's."""
    camera = looking_at(Lens(1500.0, 479.5, 639.5), -60.0, 70.0, 600.0, (0.0, 0.0, 0.0))
    flat = np.array([[0.0, -MAT.bottom_mm, 0.0], [30.0, 10.0, 0.0], [-40.0, 90.0, 12.0]])
    lifted = np.column_stack([flat[:, 0], -flat[:, 2], flat[:, 1] + MAT.bottom_mm])
    table = Stand(0.0).in_table(camera, MAT)
    assert table.project(lifted) == pytest.approx(camera.project(flat), abs=1e-6)


def test_a_scaled_print_keeps_the_edge_of_the_sheet() -> None:
    """Printed at 94 % about its middle, the sheet's lower edge is still half a sheet below that middle."""
    small = MAT.printed_at(0.94)
    camera = looking_at(Lens(1500.0, 479.5, 639.5), -60.0, 70.0, 600.0, (0.0, 0.0, 0.0))
    middle = np.array([[0.0, (MAT.height_mm / 2.0 - MAT.bottom_mm) * 0.94, 0.0]])
    table = Stand(0.0).in_table(camera, small)
    lifted = np.array([[0.0, 0.0, MAT.height_mm / 2.0]])
    assert table.project(lifted) == pytest.approx(camera.project(middle), abs=1e-6)


def test_a_lying_mat_taken_as_upright_is_told() -> None:
    """A picture of the bottle on the mat, told as before it, is refused with the word to leave out."""
    shot = aim(open_picture(bottle_picture(), "lying.jpg"), SCALE, Stand(0.0))
    with pytest.raises(InputError, match="upright behind") as refused:
        check_way_round(shot.posed.camera, shot.mat, shot.stand, "lying.jpg")
    assert "leave out --mat behind" in str(refused.value.remedy)


def test_an_upright_mat_taken_as_lying_is_told() -> None:
    """The bottle before the mat, told as standing on it, is refused with the word to add."""
    shot = aim(open_picture(before_picture(), "upright.jpg"), SCALE)
    with pytest.raises(InputError, match="stood upright") as refused:
        check_way_round(shot.posed.camera, shot.mat, ON_THE_MAT, "upright.jpg")
    assert "add --mat behind" in str(refused.value.remedy)


@pytest.mark.parametrize("elevation_deg", [8.0, 25.0, 45.0, 62.0])
@pytest.mark.parametrize("azimuth_deg", [-90.0, 10.0, 135.0])
def test_a_lying_mat_is_not_mistaken(elevation_deg: float, azimuth_deg: float) -> None:
    """From any side and height that can be measured from, a lying mat passes as lying only."""
    camera = looking_at(Lens(1500.0, 479.5, 639.5), azimuth_deg, elevation_deg, 600.0, (0.0, 0.0, 60.0), 8.0)
    check_way_round(camera, MAT, ON_THE_MAT, "lying.jpg")
    with pytest.raises(InputError, match="does not show"):
        check_way_round(camera, MAT, Stand(0.0), "lying.jpg")


def corners_seen(elevation_deg: float, noise_px: float) -> tuple[np.ndarray, np.ndarray]:
    """All corners of the mat, and where a camera 620 mm from its middle sees them."""
    camera = looking_at(Lens(1500.0, 479.5, 639.5), -90.0, elevation_deg, 620.0, (0.0, 0.0, 0.0))
    half = MAT.marker_mm / 2.0
    turn = half * np.array([[-1, 1, 0], [1, 1, 0], [1, -1, 0], [-1, -1, 0]])
    points = np.concatenate([np.array([m.x_mm, m.y_mm, 0.0]) + turn for m in MAT.markers])
    noise = np.random.default_rng(5).normal(0.0, noise_px, (len(points), 2))
    return points, camera.project(points) + noise


def test_a_loose_lens_hardly_matters_before_the_mat() -> None:
    """A lens too loose for a lying mat still gives sizes 40 mm before an upright one to a percent."""
    points, pixels = corners_seen(83.0, 1.0)
    with pytest.raises(InputError, match="leaves the lens open"):
        solve_pose(points, pixels, (960, 1280), None, "mat.jpg")
    posed = solve_pose(points, pixels, (960, 1280), None, "mat.jpg", upright=True)
    away_mm = float(np.linalg.norm(posed.camera.eye_mm))
    assert (away_mm - 40.0) / away_mm == pytest.approx(580.0 / 620.0, rel=0.01)


def test_a_view_square_to_the_mat_needs_a_note_of_the_lens() -> None:
    """Square from the front a wrong lens fits as well: refused, unless the camera noted the focal length."""
    points, pixels = corners_seen(89.9, 0.3)
    with pytest.raises(InputError, match="square at the mat") as refused:
        solve_pose(points, pixels, (960, 1280), None, "square.jpg", upright=True)
    assert "to one side" in str(refused.value.remedy)
    posed = solve_pose(points, pixels, (960, 1280), 1520.0, "square.jpg", upright=True)
    assert np.linalg.norm(posed.camera.eye_mm) == pytest.approx(620.0, rel=0.05)
