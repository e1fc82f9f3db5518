"""A grey-scale picture as heights between 0 and 1."""

from __future__ import annotations

import io
import warnings
from typing import Final

import numpy as np
from PIL import Image, ImageOps, UnidentifiedImageError

from claybed.errors import InputError
from claybed.intake.soup import Points

LARGEST_BYTES: Final = 100_000_000
MOST_PIXELS: Final = 120_000_000
_FORMATS: Final = ("PNG", "JPEG", "TIFF", "BMP", "WEBP", "GIF")


def read_grey(data: bytes, name: str, *, most_across: int) -> Points:
    """Brightness of a picture called `name`, (rows, columns) from 0 black to 1 white, top row first.

    At most `most_across` samples along the longer side, each the mean of what it covers; turned as its EXIF
    says; see-through parts count as black. Raises InputError for other files, damaged and huge ones.
    """
    if len(data) > LARGEST_BYTES:
        raise InputError(
            f"is {len(data) / 1e6:.0f} MB.", where=name, remedy="Save it smaller; 2000 pixels do."
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            with Image.open(io.BytesIO(data), formats=_FORMATS) as picture:
                _within(picture.size, name)
                return _brightness(picture, most_across)
    except UnidentifiedImageError as reason:
        raise InputError(
            "is no picture that can be read.", where=name, remedy="Save it as PNG, TIFF or JPEG."
        ) from reason
    except (OSError, ValueError, SyntaxError, EOFError, Image.DecompressionBombError) as reason:
        raise InputError("is a damaged picture.", where=name, remedy="Save it again as PNG.") from reason


def _within(size: tuple[int, int], name: str) -> None:
    if size[0] * size[1] > MOST_PIXELS:
        raise InputError(
            f"has {size[0]:,} by {size[1]:,} pixels.",
            where=name,
            remedy="Save it smaller; 2000 across will do.",
        )
    if min(size) < 2:
        raise InputError("is less than two pixels wide.", where=name, remedy="Save it larger.")


def _brightness(picture: Image.Image, most_across: int) -> Points:
    turned = ImageOps.exif_transpose(picture)
    if turned.mode.startswith("I") or turned.mode == "F":  # sixteen bits and more are kept as they are
        deep = np.asarray(turned, np.float64)
        if not np.isfinite(deep).all():
            raise ValueError("not a number")
        full = 65535.0 if turned.mode != "F" else max(float(deep.max()), 1e-300)
        grey = np.clip(deep / full, 0.0, 1.0)
    else:
        if "A" in turned.getbands() or "transparency" in turned.info:
            flat = Image.new("RGBA", turned.size, (0, 0, 0, 255))
            flat.alpha_composite(turned.convert("RGBA"))
            turned = flat
        grey = np.asarray(turned.convert("L"), np.float64) / 255.0
    longest = max(grey.shape)
    if longest > most_across:
        shape = [max(2, round(side * most_across / longest)) for side in grey.shape]
        small = Image.fromarray(grey.astype(np.float32)).resize((shape[1], shape[0]), Image.Resampling.BOX)
        grey = np.asarray(small, np.float64)
    return grey
