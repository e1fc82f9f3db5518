"""One rendered picture to an object, and two to a blend."""

from __future__ import annotations

import math

import numpy as np
import pytest

from claybed.errors import CannotError, InputError
from claybed.photos.blended import blended_object, section_area_ratio
from claybed.photos.picture import Picture, open_picture
from claybed.photos.seeing import find_mat
from claybed.photos.shot import (
    Shot,
    aim,
    drawn_outline,
    outline_of,
    outline_points,
    print_scale,
    read_points,
)
from claybed.photos.turned import turned_mesh, turned_object
from tests.photos.rendering import Light, looking_at, photograph
from tests.photos.rings import LENS, SIZE, as_jpeg, bottle, bottle_camera, bottle_picture, mug, taken

TRUE_ML = 576.319  # of the exact solid, tests/pieces/README.md
TRUE_SCALE = print_scale(150.0, None)


def bottle_shot(azimuth_deg: float = -90.0, **options: float) -> Shot:
    """The bottle's picture, aimed."""
    data = bottle_picture(azimuth_deg, options.get("printed_at", 1.0))
    return aim(open_picture(data, "bottle.jpg"), print_scale(options.get("bar_mm"), None))


def test_camera_is_found_in_a_rendered_picture() -> None:
    """Place of the camera within 1 %, markers' corners within half a pixel of the true projection."""
    shot = bottle_shot()
    true = bottle_camera()
    assert np.linalg.norm(shot.camera.eye_mm - true.eye_mm) < 0.01 * np.linalg.norm(true.eye_mm)
    corners = shot.seen.points_mm(shot.mat).reshape(-1, 3)
    off = np.linalg.norm(shot.seen.corners_px.reshape(-1, 2) - true.project(corners), axis=1)
    assert np.median(off) < 0.25
    assert np.percentile(off, 95) < 1.0


def test_bottle_comes_out_of_one_picture() -> None:
    """Volume within its stated band and 3 %, height and width within 1.5 %, sides nearly alike."""
    made, outline = turned_object(bottle_shot(), TRUE_SCALE, name="bottle")
    assert made.volume_ml == pytest.approx(TRUE_ML, rel=0.03)
    band = made.measuring.band
    assert made.volume_ml * (1 - band.smaller_share) < TRUE_ML < made.volume_ml * (1 + band.larger_share)
    assert 0.005 < band.larger_share < 0.12
    assert made.extent_mm is not None
    assert made.extent_mm[2] == pytest.approx(198.0, rel=0.015)
    assert made.extent_mm[0] == pytest.approx(70.0, rel=0.02)
    assert made.measuring.kind == "photo"
    assert any("round" in one for one in made.measuring.cannot_tell)
    assert made.mesh is not None
    assert made.mesh.volume_mm3 > 0
    assert outline.faint_share < 0.1


def test_a_measured_height_settles_the_scale() -> None:
    """With a height by ruler the object has that height, and a wrong print shows as a finding."""
    shot = bottle_shot(printed_at=0.94)
    made, _ = turned_object(shot, print_scale(None, None), name="bottle", height_mm=198.0)
    assert made.extent_mm is not None
    assert made.extent_mm[2] == pytest.approx(198.0, abs=0.6)
    assert made.volume_ml == pytest.approx(TRUE_ML, rel=0.04)
    assert "scale_disagrees" in {finding.id for finding in made.findings}


def test_print_scale_comes_from_the_check_bar() -> None:
    """A mat printed at 94 % makes all lengths 6 % too large, unless the bar's measure says so."""
    wrong, _ = turned_object(bottle_shot(printed_at=0.94), print_scale(None, None), name="bottle")
    right, _ = turned_object(
        bottle_shot(printed_at=0.94, bar_mm=141.0), print_scale(141.0, None), name="bottle"
    )
    assert wrong.extent_mm is not None
    assert right.extent_mm is not None
    assert wrong.extent_mm[2] / right.extent_mm[2] == pytest.approx(1.0 / 0.94, rel=2e-3)
    assert right.volume_ml == pytest.approx(TRUE_ML, rel=0.04)
    assert "print_unchecked" in {finding.id for finding in wrong.findings}
    assert "print_unchecked" not in {finding.id for finding in right.findings}


def test_print_scales_that_cannot_be_are_refused() -> None:
    """A bar of 15 mm, and a bar and marker that disagree, are refused."""
    with pytest.raises(InputError, match="cannot be what is drawn"):
        print_scale(15.0, None)
    with pytest.raises(InputError, match=r"the bar says 100\.0 %"):
        print_scale(150.0, 21.0)
    assert print_scale(149.2, None).ratio == pytest.approx(149.2 / 150.0)
    assert print_scale(None, 23.5).ratio == pytest.approx(23.5 / 24.0)


def test_an_outline_can_be_saved_corrected_and_given_back() -> None:
    """Points written out and handed back give the same object; points moved out make it larger."""
    shot = bottle_shot(bar_mm=150.0)
    made, outline = turned_object(shot, TRUE_SCALE, name="bottle")
    points = outline_points(shot, outline)
    text = "x_px,y_px\n" + "\n".join(f"{x:.1f},{y:.1f}" for x, y in points)
    again, given = turned_object(shot, TRUE_SCALE, name="bottle", points_px=read_points(text, "o.csv"))
    assert given.corrected
    assert again.volume_ml == pytest.approx(made.volume_ml, rel=0.01)
    middle = points.mean(axis=0)
    wider = np.column_stack([middle[0] + 1.05 * (points[:, 0] - middle[0]), points[:, 1]])
    larger, _ = turned_object(shot, TRUE_SCALE, name="bottle", points_px=wider)
    assert larger.volume_ml == pytest.approx(made.volume_ml * 1.05**2, rel=0.02)


@pytest.mark.parametrize(
    ("text", "says"),
    [("x,y\n1,2\nthree,4\n", "line 3"), ("x,y\n1,2\n3,4\n", "needs 8 or more"), ("1,2\n3,nan\n", "line 2")],
)
def test_points_files_are_checked(text: str, says: str) -> None:
    """A line that is no point, or too few points, is named."""
    with pytest.raises(InputError, match=says):
        outline_of(bottle_shot(), read_points(text, "o.csv"), "o.csv")


def test_points_outside_the_picture_are_refused() -> None:
    """Points must lie in the picture as a person sees it."""
    turn = np.linspace(0.0, 2.0 * np.pi, 20, endpoint=False)
    far = np.column_stack([5000 + 100 * np.cos(turn), 300 + 100 * np.sin(turn)])
    with pytest.raises(InputError, match="outside the picture"):
        outline_of(bottle_shot(), far, "o.csv")


def test_the_outline_is_drawn_over_the_picture() -> None:
    """The check picture differs from the photo along the edge only."""
    shot = bottle_shot()
    outline = outline_of(shot)
    drawn = drawn_outline(shot, outline)
    changed = (drawn != shot.picture.rgb).any(axis=2)
    assert drawn.shape == shot.picture.rgb.shape
    assert 0.001 < changed.mean() < 0.05


def test_turned_mesh_has_the_volume_of_the_round() -> None:
    """A cone's solid is pi r² h / 3 within a thousandth, though its sides are flat."""
    height = np.linspace(0.0, 90.0, 200)
    mesh = turned_mesh(height, 40.0 * (1.0 - height / 90.0))
    assert mesh.volume_mm3 == pytest.approx(np.pi * 40.0**2 * 90.0 / 3.0, rel=1.5e-3)


def spoilt(**light: float) -> Picture:
    """The mug in bad light."""
    camera = looking_at(LENS, 40.0, 27.0, 500.0, (0.0, 0.0, 42.0))
    return Picture("bad.jpg", taken(mug(), camera, SIZE, light=Light(**light)), 1.0, None, "")  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("light", "says"),
    [
        ({"blur_px": 9.0}, "blurred"),
        ({"gain": 14.0, "noise": 1.0}, "overexposed"),
        ({"gain": 0.1, "noise": 0.5}, "dark|no mat"),
    ],
)
def test_spoilt_pictures_say_what_spoilt_them(light: dict[str, float], says: str) -> None:
    """Blur, too much light and too little are each called by name, with what to do."""
    with pytest.raises(InputError, match=says) as refused:
        find_mat(spoilt(**light))
    assert refused.value.remedy


def test_a_picture_without_mat_says_how_to_get_one() -> None:
    """Without the mat nothing can be measured, and the message names the command."""
    rng = np.random.default_rng(3)
    noise = rng.integers(0, 255, (800, 1000, 3), dtype=np.uint8)
    with pytest.raises(InputError, match="claybed mat"):
        find_mat(Picture("wall.jpg", noise, 1.0, None, ""))


def test_an_empty_mat_says_that_nothing_stands_there() -> None:
    """A mat with nothing on it is no object."""
    speck = np.array([[400.0, 400.0, 1.0], [401.0, 400.0, 1.0], [400.0, 401.0, 2.0]])
    rgb = photograph(speck, np.array([[0, 1, 2]]), bottle_camera(), (960, 1280))
    shot = aim(Picture("empty.jpg", rgb, 1.0, None, ""), TRUE_SCALE)
    with pytest.raises(InputError, match="stands out on the cross"):
        outline_of(shot)


def faint_shot(clay: tuple[float, float, float]) -> Shot:
    """The bottle in a clay that is much like the table."""
    rgb = taken(bottle(), bottle_camera(), (960, 1280), light=Light(clay=clay))
    return aim(open_picture(as_jpeg(rgb), "grey.jpg"), TRUE_SCALE)


def test_an_outline_that_cannot_be_seen_is_refused() -> None:
    """Grey on grey-blue: the outline would run across the bottle, so there is no volume but advice."""
    with pytest.raises(InputError, match="leaves the outline open") as refused:
        turned_object(faint_shot((115.0, 132.0, 148.0)), TRUE_SCALE, name="bottle")
    assert "--outline" in str(refused.value.remedy)
    assert "background" in str(refused.value.remedy)


def test_an_outline_that_hardly_shows_widens_the_band() -> None:
    """Where part of the edge is faint the band grows by that part, is said to, and holds the truth."""
    made, outline = turned_object(faint_shot((104.0, 118.0, 130.0)), TRUE_SCALE, name="bottle")
    band = made.measuring.band
    assert outline.faint_share > 0.03
    assert band.larger_share > outline.faint_share
    assert made.volume_ml * (1 - band.smaller_share) < TRUE_ML < made.volume_ml * (1 + band.larger_share)
    assert "outline_faint" in {finding.id for finding in made.findings}


def test_section_areas_are_those_of_closed_forms() -> None:
    """A circle has pi, a diamond 2, and a square 4 of its half widths multiplied."""
    assert section_area_ratio(2.0) == pytest.approx(math.pi, rel=1e-12)
    assert section_area_ratio(1.0) == pytest.approx(2.0, rel=1e-12)
    assert section_area_ratio(400.0) == pytest.approx(4.0, rel=1e-3)


def test_front_and_side_blend_to_the_bottle() -> None:
    """The blend of a round thing is near it, and its band reaches to the rectangle's 4/pi, never less."""
    front, side = bottle_shot(-90.0), bottle_shot(0.0)
    made, _ = blended_object(front, side, TRUE_SCALE, name="bottle")
    assert made.volume_ml == pytest.approx(TRUE_ML, rel=0.04)
    assert made.measuring.kind == "photos"
    assert made.measuring.band.larger_share >= 4.0 / math.pi - 1.0
    assert any("not the object" in one for one in made.measuring.cannot_tell)
    squarer, _ = blended_object(front, side, TRUE_SCALE, name="bottle", exponent_ratio=6.0)
    assert squarer.volume_ml / made.volume_ml == pytest.approx(section_area_ratio(6.0) / math.pi, rel=0.01)


def test_each_outline_of_a_blend_can_be_given() -> None:
    """The side's outline drawn narrower by a third makes the blend smaller by a third."""
    front, side = bottle_shot(-90.0), bottle_shot(0.0)
    made, (first, second) = blended_object(front, side, TRUE_SCALE, name="bottle")
    points = outline_points(side, second)
    middle = points[:, 0].mean()
    narrow = np.column_stack([middle + (points[:, 0] - middle) * 2.0 / 3.0, points[:, 1]])
    drawn, (kept, given) = blended_object(
        front, side, TRUE_SCALE, name="bottle", points_px=(outline_points(front, first), narrow)
    )
    assert kept.corrected
    assert given.corrected
    assert drawn.volume_ml == pytest.approx(made.volume_ml * 2.0 / 3.0, rel=0.03)


def test_an_outline_that_crosses_itself_is_refused() -> None:
    """Two points swapped across the bottle leave a bow tie, which is told with its place."""
    shot = bottle_shot()
    points = outline_points(shot, outline_of(shot))
    half = len(points) // 2
    bow = np.concatenate([points[:half], points[half:][::-1]])
    with pytest.raises(InputError, match="crosses itself near"):
        outline_of(shot, bow, "o.csv")
    slip = points.copy()
    slip[[10, 11]] = slip[[11, 10]]  # what a hand does in passing
    assert outline_of(shot, slip, "o.csv").corrected


def test_two_pictures_from_the_same_side_are_refused() -> None:
    """A blend needs a quarter turn between its pictures."""
    with pytest.raises(CannotError, match="quarter turn"):
        blended_object(bottle_shot(-90.0), bottle_shot(-90.0), TRUE_SCALE, name="bottle")


def test_bottle_is_the_one_of_the_table() -> None:
    """The rendered bottle is the solid whose volume these tests compare with, to its facets."""
    assert bottle().volume / 1000.0 == pytest.approx(TRUE_ML, rel=3e-3)
