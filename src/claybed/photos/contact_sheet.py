"""The pictures of a ring side by side, each with its outline, to see at a glance whether they are right."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from claybed.photos.outline import Outline
from claybed.photos.shot import Shot, drawn_outline, outline_points

_TILE_PX: Final = 400
_GAP_PX: Final = 10
_NAME_PX: Final = 36
_ACROSS: Final = 4
_ROOM: Final = 1.4  # side of the part shown over the longer side of the outline
_GROUND: Final = (246, 241, 231)
_TEXT: Final = (42, 48, 54)


def contact_sheet(shots: Sequence[Shot], outlines: Sequence[Outline]) -> NDArray[np.uint8]:
    """One picture (h, w, 3) uint8 of all `shots` with their `outlines` drawn in and their names below."""
    across = min(_ACROSS, len(shots))
    down = math.ceil(len(shots) / across)
    cell = _TILE_PX + _GAP_PX
    sheet = Image.new("RGB", (across * cell + _GAP_PX, down * (cell + _NAME_PX) + _GAP_PX), _GROUND)
    pen = ImageDraw.Draw(sheet)
    font = ImageFont.load_default(26)
    for k, (shot, outline) in enumerate(zip(shots, outlines, strict=True)):
        tile = _close_up(shot, outline)
        x, y = _GAP_PX + (k % across) * cell, _GAP_PX + (k // across) * (cell + _NAME_PX)
        sheet.paste(tile, (x, y))
        pen.text((x, y + _TILE_PX + 2), _fitted(shot.picture.name, font), _TEXT, font)
    return np.asarray(sheet, np.uint8)


def _close_up(shot: Shot, outline: Outline) -> Image.Image:
    """The square part of a picture that the object is in, with its outline."""
    factor = shot.picture.shrunk_factor
    points = (outline_points(shot, outline) + 0.5) / factor - 0.5
    low, high = points.min(axis=0), points.max(axis=0)
    half = _ROOM * float((high - low).max()) / 2.0
    (x, y), room = (low + high) / 2.0, int(np.ceil(half)) + 1
    drawn = np.pad(drawn_outline(shot, outline), ((room, room), (room, room), (0, 0)), mode="edge")
    image = Image.fromarray(drawn)
    box = (x + room - half, y + room - half, x + room + half, y + room + half)
    return image.resize((_TILE_PX, _TILE_PX), Image.Resampling.LANCZOS, box)


def _fitted(name: str, font: ImageFont.FreeTypeFont | ImageFont.ImageFont) -> str:
    """A name shortened in its middle until it is no wider than a tile."""
    shown, keep = name, len(name)
    while keep > 4 and font.getlength(shown) > _TILE_PX:
        keep -= 1
        shown = f"{name[: keep - keep // 2]}…{name[len(name) - keep // 2 :]}"
    return shown
