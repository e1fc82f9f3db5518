"""Opening pictures: upright, with the lens's notes, and refusals that say what to do."""

from __future__ import annotations

import builtins
import io
import zlib
from typing import Any

import numpy as np
import pytest
from PIL import Image

from claybed.errors import InputError
from claybed.photos import picture
from claybed.photos.picture import open_picture

ORIENTATION, EXIF_IFD, EQUIVALENT = 0x0112, 0x8769, 0xA405


def scene(width: int = 640, height: int = 480) -> Image.Image:
    """A picture whose corners differ."""
    y, x = np.mgrid[0:height, 0:width]
    return Image.fromarray(np.stack([x * 255 // width, y * 255 // height, 0 * x], axis=-1).astype(np.uint8))


def saved(image: Image.Image, kind: str, **options: Any) -> bytes:
    """The bytes of a picture file."""
    out = io.BytesIO()
    image.save(out, kind, **options)
    return out.getvalue()


# How the stored picture must be turned to lie as a camera with that note saved it (EXIF 2.3, from memory).
STORED = {
    1: None,
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_90,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_270,
}


@pytest.mark.parametrize("note", STORED)
def test_pictures_come_upright(note: int) -> None:
    """Whichever way the camera was held, the picture is the one a person sees."""
    turn = STORED[note]
    stored = scene() if turn is None else scene().transpose(turn)
    exif = Image.Exif()
    exif[ORIENTATION] = note
    got = open_picture(saved(stored, "PNG", exif=exif), "one.png")
    assert np.array_equal(got.rgb, np.asarray(scene()))


def test_focal_length_comes_from_the_notes() -> None:
    """An equivalent of 43.27 mm is the diagonal in pixels (definition of the equivalent, from memory)."""
    exif = Image.Exif()
    exif.get_ifd(EXIF_IFD)[EQUIVALENT] = 43
    got = open_picture(saved(scene(), "JPEG", exif=exif), "one.jpg")
    assert got.focal_px == pytest.approx(800.0 * 43.0 / 43.2666, rel=1e-6)
    assert open_picture(saved(scene(), "JPEG"), "one.jpg").focal_px is None


def test_large_pictures_are_shrunk_and_say_so() -> None:
    """A picture finer than lens and print is reduced, and its scale is kept."""
    got = open_picture(saved(scene(5000, 3000), "JPEG"), "one.jpg")
    assert max(got.size_px) <= picture.WORKING_SIDE_PX
    assert got.size_px[0] * got.shrunk_factor == pytest.approx(5000, rel=1e-3)


def test_heic_is_read() -> None:
    """A telephone's HEIC is read like any other."""
    heif = pytest.importorskip("pillow_heif")
    out = io.BytesIO()
    heif.from_pillow(scene()).save(out, quality=90)
    got = open_picture(out.getvalue(), "one.heic")
    assert got.size_px == (640, 480)
    assert np.abs(got.rgb.astype(int) - np.asarray(scene()).astype(int)).mean() < 6.0


def test_heic_without_its_reader_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the reader the message names it, and the way round it."""
    real = builtins.__import__

    def blocked(name: str, *rest: Any) -> Any:
        if name.startswith("pillow_heif"):
            raise ImportError(name)
        return real(name, *rest)

    monkeypatch.setattr(builtins, "__import__", blocked)
    with pytest.raises(InputError, match="pip install pillow-heif"):
        open_picture(b"\0\0\0\x18ftypheic" + bytes(100), "one.heic")


def a_png_header(width: int, height: int) -> bytes:
    """A PNG that claims a size and holds next to nothing."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return len(data).to_bytes(4, "big") + kind + data + zlib.crc32(kind + data).to_bytes(4, "big")

    head = width.to_bytes(4, "big") + height.to_bytes(4, "big") + bytes([8, 2, 0, 0, 0])
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"")) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"not a picture at all", "not a picture"),
        (b"", "not a picture"),
        (saved(scene(), "JPEG")[:5000], "damaged"),
        (saved(scene(200, 100), "PNG"), "only 200 by 100"),
        (a_png_header(40_000, 30_000), "megapixels"),
        (a_png_header(16_000, 14_000), "megapixels"),
    ],
)
def test_bad_files_are_refused_with_their_name(data: bytes, says: str) -> None:
    """What is no picture, damaged, too small or too large is refused in one sentence."""
    with pytest.raises(InputError, match=says) as refused:
        open_picture(data, "one.jpg")
    assert refused.value.where == "one.jpg"
    assert refused.value.remedy


def test_huge_files_are_refused_unread(monkeypatch: pytest.MonkeyPatch) -> None:
    """A file of more bytes than are taken is refused before it is decoded."""
    monkeypatch.setattr(picture, "MOST_BYTES", 1000)
    with pytest.raises(InputError, match="MB taken"):
        open_picture(saved(scene(), "PNG"), "one.png")
