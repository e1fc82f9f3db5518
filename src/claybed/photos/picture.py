"""Opening a picture: any common format, upright, with what its camera wrote down about the lens."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from io import BytesIO
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from PIL import ExifTags, Image, ImageOps, UnidentifiedImageError

from claybed.errors import InputError

Pixels = NDArray[np.uint8]

MOST_BYTES: Final = 200_000_000
MOST_PIXELS: Final = 220_000_000
LEAST_SIDE_PX: Final = 400
WORKING_SIDE_PX: Final = 4200  # finer than this, lens and print blur more than a pixel
# Diagonal of the 36 x 24 mm frame that an equivalent focal length refers to (CIPA DCG-001; from memory).
FRAME_DIAGONAL_MM: Final = 43.2666
_HEIC_BRANDS: Final = (b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1")


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A picture as a person sees it: upright, (h, w, 3) uint8 RGB.

    `shrunk_factor` is how many pixels of the file one of these spans, 1 or more; `focal_px` is the focal
    length in pixels of this picture by the camera's own note, None without one; `camera` tells cameras
    apart: maker, model, focal length and picture size.
    """

    name: str
    rgb: Pixels
    shrunk_factor: float
    focal_px: float | None
    camera: str

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height."""
        return self.rgb.shape[1], self.rgb.shape[0]


def open_picture(data: bytes, name: str) -> Picture:
    """Decode the file content `data`; `name` is used in messages.

    Raises InputError for what is not a picture, is damaged, too small or too large, or needs a reader that is
    not installed.
    """
    if len(data) > MOST_BYTES:
        raise InputError(
            f"is {len(data) / 1e6:.0f} MB, more than the {MOST_BYTES / 1e6:.0f} MB taken.",
            where=name,
            remedy="Save it as JPEG, at 12 megapixels or so.",
        )
    if is_heic(data):
        _learn_heic(name)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # Pillow warns of large pictures, which are measured here
        try:
            with Image.open(BytesIO(data)) as image:
                return _upright(image, name)
        except UnidentifiedImageError:
            raise InputError(
                "is not a picture that can be read.", where=name, remedy="Use JPEG, PNG, TIFF, WebP or HEIC."
            ) from None
        except Image.DecompressionBombError:
            raise _too_large(name) from None
        except (OSError, SyntaxError, ValueError, EOFError) as reason:
            detail = str(reason).splitlines()[0][:80] if str(reason) else type(reason).__name__
            raise InputError(
                f"is damaged ({detail}).", where=name, remedy="Copy it from the camera again."
            ) from reason


def is_heic(data: bytes) -> bool:
    """Whether the first bytes are of a HEIC file."""
    return data[4:8] == b"ftyp" and data[8:12] in _HEIC_BRANDS


def _learn_heic(name: str) -> None:
    try:
        from pillow_heif import register_heif_opener
    except ImportError:
        raise InputError(
            "is a HEIC picture, and the reader for those is not installed.",
            where=name,
            remedy="Type: pip install pillow-heif; or let the telephone save JPEG.",
        ) from None
    register_heif_opener()


def _too_large(name: str) -> InputError:
    return InputError(
        f"has more than the {MOST_PIXELS / 1e6:.0f} megapixels taken.",
        where=name,
        remedy="Save it smaller, at 12 megapixels or so.",
    )


def _upright(image: Image.Image, name: str) -> Picture:
    width, height = image.size
    if width * height > MOST_PIXELS:
        raise _too_large(name)
    if min(width, height) < LEAST_SIDE_PX:
        raise InputError(
            f"is only {width} by {height} pixels.",
            where=name,
            remedy="Use the picture as the camera made it.",
        )
    notes = dict(image.getexif().get_ifd(ExifTags.IFD.Exif))
    base = dict(image.getexif())
    diagonal_px = float(np.hypot(width, height))
    focal_px = _focal_px(notes, diagonal_px)
    maker, model = (str(base.get(tag, "")).strip("\0 ") for tag in (ExifTags.Base.Make, ExifTags.Base.Model))
    sides = f"{max(width, height)}x{min(width, height)}"
    camera = f"{maker}|{model}|{notes.get(ExifTags.Base.FocalLength, '')}|{sides}"
    wanted = WORKING_SIDE_PX / max(width, height)
    if wanted < 1.0 and image.format == "JPEG":
        image.draft("RGB", (int(width * wanted), int(height * wanted)))
    turned = ImageOps.exif_transpose(image)
    plain = (turned if turned is not None else image).convert("RGB")
    wanted = WORKING_SIDE_PX / max(plain.size)
    if wanted < 1.0:
        plain = plain.resize(
            (round(plain.width * wanted), round(plain.height * wanted)), Image.Resampling.BOX
        )
    rgb = np.ascontiguousarray(np.asarray(plain, dtype=np.uint8))
    shrunk = max(width, height) / max(rgb.shape[:2])
    return Picture(name, rgb, shrunk, focal_px / shrunk if focal_px is not None else None, camera)


def _focal_px(notes: dict[int, Any], diagonal_px: float) -> float | None:
    """Focal length in pixels of the file, from the equivalent focal length; None when it is not noted."""
    try:
        equivalent_mm = float(notes.get(ExifTags.Base.FocalLengthIn35mmFilm, 0))
    except (TypeError, ValueError, ZeroDivisionError):
        return None
    if not 8.0 <= equivalent_mm <= 600.0:
        return None
    return equivalent_mm / FRAME_DIAGONAL_MM * diagonal_px
