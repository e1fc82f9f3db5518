"""Reliefs: the top follows the picture, the plate is closed and leaves its mold."""

from __future__ import annotations

import io
import math

import numpy as np
import pytest
from PIL import Image

from claybed.errors import InputError
from claybed.intake.picture import read_grey
from claybed.intake.skin import is_closed
from claybed.making.relief import relief
from tests.pieces.solids import to_manifold

SIZES = {"width_mm": 120.0, "raised_mm": 5.0, "base_mm": 8.0, "smooth_mm": 0.0, "draft_deg": 0.0}


def png(pixels: np.ndarray, **more: object) -> bytes:
    """A picture as PNG bytes."""
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "PNG", **more)
    return out.getvalue()


def ramp(rows: int = 61, columns: int = 121) -> np.ndarray:
    """Brightness that rises from 0 at the left to 1 at the right."""
    return np.tile(np.linspace(0.0, 1.0, columns), (rows, 1))


def test_a_ramp_is_a_wedge() -> None:
    """An even ramp makes a wedge: plan area times the mean height, exactly."""
    mesh = relief(ramp(), **SIZES)
    assert mesh.volume_mm3 == pytest.approx(120.0 * 60.0 * (8.0 + 2.5), rel=1e-9)
    assert is_closed(mesh.faces.astype(np.int64), len(mesh.vertices_mm))
    assert np.ptp(mesh.vertices_mm, axis=0) == pytest.approx((120.0, 60.0, 13.0))


def test_draft_spreads_the_plate() -> None:
    """A leaning plate gains a prismatoid's rim: h/6 (A0 + 4 Am + A1) under a flat picture."""
    mesh = relief(np.zeros((61, 121)), **(SIZES | {"draft_deg": 10.0}))
    out = 8.0 * math.tan(math.radians(10.0))
    areas = [(120.0 + 2.0 * out * part) * (60.0 + 2.0 * out * part) for part in (0.0, 0.5, 1.0)]
    assert mesh.volume_mm3 == pytest.approx(8.0 / 6.0 * (areas[0] + 4.0 * areas[1] + areas[2]), rel=1e-9)
    assert to_manifold(mesh).volume() == pytest.approx(mesh.volume_mm3, rel=1e-9)


def test_nothing_overhangs() -> None:
    """Seen from above every face of the top looks up, whatever the picture: it leaves in one piece."""
    grey = np.random.default_rng(5).random((40, 50))
    mesh = relief(grey, **(SIZES | {"draft_deg": 5.0}))
    c = mesh.corners_mm
    up = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])[:, 2]
    down = up < 0.0
    assert np.allclose(c[down][:, :, 2], 0.0)
    assert to_manifold(mesh).status().name == "NoError"


def test_the_picture_stands_the_right_way() -> None:
    """The top row lies at the back, the left column at the left."""
    grey = np.zeros((4, 4))
    grey[0, 3] = 1.0
    mesh = relief(grey, **SIZES)
    at = mesh.vertices_mm[mesh.vertices_mm[:, 2].argmax()]
    assert at == pytest.approx((60.0, 60.0, 13.0))


def test_smoothing_keeps_the_mean() -> None:
    """Smoothing a picture of even borders lowers its peaks and keeps its volume."""
    grey = np.zeros((61, 121))
    grey[30, 60] = 1.0
    sharp, soft = (relief(grey, **(SIZES | {"smooth_mm": s})) for s in (0.0, 3.0))
    assert soft.volume_mm3 == pytest.approx(sharp.volume_mm3, rel=1e-6)
    assert soft.bounds_mm[1, 2] < 8.1 < sharp.bounds_mm[1, 2]


def test_pictures_of_all_kinds() -> None:
    """Eight and sixteen bits, colour, palettes and see-through pictures give the same heights."""
    eight = (ramp(20, 30) * 255).round().astype(np.uint8)
    grey = read_grey(png(eight), "a.png", most_across=100)
    assert grey == pytest.approx(eight / 255.0, abs=1e-6)
    sixteen = read_grey(png(eight.astype(np.uint16) * 257), "a.png", most_across=100)
    assert sixteen == pytest.approx(grey, abs=1e-6)
    colour = read_grey(png(np.repeat(eight[:, :, None], 3, axis=2)), "a.png", most_across=100)
    assert colour == pytest.approx(grey, abs=1 / 255)
    clear = np.dstack([np.full((20, 30, 3), 255, np.uint8), np.zeros((20, 30), np.uint8)])
    assert read_grey(png(clear), "a.png", most_across=100) == pytest.approx(0.0)


def test_a_turned_photo_is_turned_back() -> None:
    """EXIF orientation is followed."""
    exif = Image.Exif()
    exif[0x0112] = 6  # shown turned a quarter clockwise
    grey = read_grey(png((ramp(10, 40) * 255).astype(np.uint8), exif=exif), "a.png", most_across=100)
    assert grey.shape == (40, 10)
    assert (np.diff(grey[:, 5]) >= 0.0).all()


def test_large_pictures_are_averaged() -> None:
    """A large picture comes in at the size asked for, its mean kept."""
    pixels = np.random.default_rng(2).integers(0, 256, (600, 900), np.uint8)
    grey = read_grey(png(pixels), "a.png", most_across=300)
    assert grey.shape == (200, 300)
    assert grey.mean() == pytest.approx(pixels.mean() / 255.0, rel=1e-3)
    assert grey[0, 0] == pytest.approx(pixels[:3, :3].mean() / 255.0, rel=1e-5)


def test_damaged_and_foreign_pictures() -> None:
    """Cut, empty, foreign and one-pixel files end in one sentence."""
    whole = png(np.random.default_rng(2).integers(0, 256, (200, 200), np.uint8))
    for data in (b"", b"hello", whole[: len(whole) // 2], png(np.zeros((1, 5), np.uint8))):
        with pytest.raises(InputError) as caught:
            read_grey(data, "a.png", most_across=100)
        assert "\n" not in str(caught.value)
        assert caught.value.remedy


@pytest.mark.parametrize(
    ("key", "value"), [("width_mm", 0.0), ("raised_mm", -1.0), ("base_mm", math.nan), ("draft_deg", 80.0)]
)
def test_sizes_that_are_none(key: str, value: float) -> None:
    """Sizes out of range are refused."""
    with pytest.raises(InputError):
        relief(ramp(), **(SIZES | {key: value}))
