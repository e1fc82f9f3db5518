"""The picture of a cast's wall."""

from __future__ import annotations

import numpy as np
import pytest

from claybed.assets.palette import rgb
from claybed.sheets.wall_map import RAMP, contour_step, ramp_colours, wall_picture
from tests.pieces import solids

BALL = solids.sphere(40.0)
UP = np.array([0.0, 0.0, 1.0])


def lightness(colours: np.ndarray) -> np.ndarray:
    """CIE L* of sRGB colours 0..255."""
    c = colours / 255.0
    linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    y = linear @ np.array([0.2126, 0.7152, 0.0722])
    return np.where(y > 0.008856, 116.0 * np.cbrt(y) - 16.0, 903.3 * y)


def test_the_ramp_rises_evenly_from_slate_to_plaster() -> None:
    """Lightness rises all the way, no step more than a third wider than another, so no false bands."""
    steps = np.diff(lightness(ramp_colours(np.linspace(0.0, 1.0, 9))))
    assert (steps > 0.0).all() and steps.max() < 1.34 * steps.min()
    assert rgb(RAMP[0]) == rgb("#2A3036")


def test_thin_is_dark_and_thick_is_light() -> None:
    """On a ball whose wall grows upwards the lower half is darker, in both views."""
    picture = np.asarray(wall_picture(BALL, BALL.vertices_mm[:, 2] / 20.0 + 4.0, up=UP, title="ball"))
    shade = lightness(picture.astype(float))
    half = picture.shape[1] // 2
    for view in (shade[60:900, :half], shade[60:900, half:]):
        ball = view[300:600, 200:550]
        assert ball[:100].mean() > ball[200:].mean() + 10.0


def test_contours_are_round_and_few() -> None:
    """Contour lines stand at round distances, at most eight of them."""
    for low, high in ((1.9, 5.3), (0.0, 0.04), (3.0, 80.0)):
        step = contour_step(low, high)
        assert (high - low) / step <= 8.0
        assert step in (0.01, 0.5, 10.0)


def test_no_value_is_refused() -> None:
    """A surface without a single value has no picture."""
    with pytest.raises(ValueError, match="no corner"):
        wall_picture(BALL, np.full(len(BALL.vertices_mm), np.nan), up=UP, title="nothing")
