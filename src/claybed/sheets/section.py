"""The closed mold cut open: which plaster is whose, how thick the wall is, where the gate runs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numba import njit
from numpy.typing import NDArray
from PIL import Image, ImageDraw

from claybed.assets.palette import PLASTER, SLATE, piece_colour, rgb
from claybed.geometry.mesh import Floats, Mesh
from claybed.geometry.slicing import cut_segments
from claybed.sheets import linework
from claybed.sheets.rendering import OVERSAMPLE, Camera, framed, looking
from claybed.units import MM_PER_IN

if TYPE_CHECKING:
    from claybed.sheets.pictures import Piece


def section(
    pieces: Sequence[Piece],
    model: Mesh,
    *,
    through_mm: Sequence[float] | None = None,
    normal: Sequence[float] | None = None,
    us: bool = False,
    width_px: int = 1000,
    height_px: int = 800,
) -> Image.Image:
    """The mold cut by a plane, pieces hatched in turn to the left and right, the model plain.

    `through_mm` a point of the plane (the model's middle when None), `normal` its normal (when None: level
    with the board and along the model's shorter side, so the cut shows its length). A bar of
    50 mm, or with `us` of 2 in, stands under it.
    """
    low, high = model.bounds_mm
    point = (low + high) / 2.0 if through_mm is None else np.asarray(through_mm, dtype=float)
    size = high - low
    level = [0.0, 1.0, 0.0] if size[0] >= size[1] else [1.0, 0.0, 0.0]
    across = np.asarray(level if normal is None else normal, dtype=float)
    across = across / np.linalg.norm(across)
    eye = -across if abs(across[1]) > 0.5 else across
    up = np.array([0.0, 0.0, 1.0]) if abs(across[2]) < 0.9 else np.array([0.0, 1.0, 0.0])
    room = max(50, height_px // 7)
    everything = np.concatenate([m.vertices_mm for _, m, _ in pieces])
    camera = framed(looking(eye, up), everything, width_px, height_px - room, margin=0.03)
    big = Camera(
        camera.basis,
        camera.scale * OVERSAMPLE,
        (camera.centre_px[0] * OVERSAMPLE, camera.centre_px[1] * OVERSAMPLE),
        camera.centre_mm,
    )
    shape = (height_px - room) * OVERSAMPLE, width_px * OVERSAMPLE
    picture = np.full((*shape, 3), 255, np.uint8)
    rows, columns = np.indices(shape)
    masks = [cut_mask(mesh, point, across, big, shape) for _, mesh, _ in pieces]
    for index, mask in enumerate(masks):
        tone = np.array(rgb(piece_colour(index)), dtype=float)
        picture[mask] = tone + (255.0 - tone) * 0.35
        stripes = (columns + rows if index % 2 == 0 else columns - rows) % (22 + 6 * (index // 2)) < 3
        picture[mask & stripes] = tone * 0.62
    inner = cut_mask(model, point, across, big, shape)
    picture[inner] = rgb(PLASTER)
    for mask in [*masks, inner]:
        picture[rim_of(mask)] = rgb(SLATE)
    cut = linework.shrunk(Image.fromarray(picture))
    for (letter, _, _), mask in zip(pieces, masks, strict=True):
        spot = linework.widest_spot(mask)
        if spot is not None:
            linework.plate(
                cut, (spot[0] / OVERSAMPLE, spot[1] / OVERSAMPLE), letter, max(24, height_px // 11)
            )
    cut = linework.cropped(cut)
    canvas = Image.new("RGB", (cut.width, cut.height + room), "#FFFFFF")
    canvas.paste(cut, (0, 0))
    scale_bar(canvas, camera.scale, room, us)
    return canvas


def cut_mask(
    mesh: Mesh, point_mm: Floats, normal: Floats, camera: Camera, shape: tuple[int, int]
) -> NDArray[np.bool_]:
    """Which pixels of a picture of `shape` (rows, columns) lie inside a closed mesh on the plane; even-odd
    rule."""
    ends = cut_segments(mesh.vertices_mm, mesh.faces, point_mm, normal)
    if not len(ends):
        return np.zeros(shape, dtype=bool)
    flips = np.zeros((shape[0], shape[1] + 1), np.uint8)
    _cross(camera.project(ends[:, 0]), camera.project(ends[:, 1]), flips)
    return np.asarray(np.bitwise_xor.accumulate(flips, axis=1)[:, :-1].astype(bool))


def rim_of(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """The pixels along the edge of a mask."""
    edge = np.zeros_like(mask)
    edge[1:] |= mask[1:] != mask[:-1]
    edge[:-1] |= mask[1:] != mask[:-1]
    edge[:, 1:] |= mask[:, 1:] != mask[:, :-1]
    edge[:, :-1] |= mask[:, 1:] != mask[:, :-1]
    return edge


def scale_bar(canvas: Image.Image, scale: float, room: int, us: bool) -> None:
    """A bar of 50 mm or 2 in at `scale` pixels per mm in the lowest `room` pixels of a picture."""
    pen = ImageDraw.Draw(canvas)
    length = (2.0 * MM_PER_IN if us else 50.0) * scale
    parts = 4 if us else 5
    x, y = 14.0, canvas.height - room * 0.45
    pen.line([(x, y), (x + length, y)], fill=SLATE, width=3)
    for k in range(parts + 1):
        at = x + length * k / parts
        pen.line(
            [(at, y), (at, y - (14 if k % parts == 0 else 8))],
            fill=SLATE,
            width=2,
        )
    linework.label(
        canvas, (x + length + 12, y), "2 in" if us else "50 mm", max(26, round(room * 0.6)), anchor="lm"
    )


def _cross_loop(begin, end, flips):  # type: ignore[no-untyped-def]
    height, width = flips.shape
    for k in range(begin.shape[0]):
        x0, y0, x1, y1 = begin[k, 0], begin[k, 1], end[k, 0], end[k, 1]
        if y0 > y1:
            x0, y0, x1, y1 = x1, y1, x0, y0
        # A row belongs to a segment when its middle lies in the half-open span, so shared ends count once.
        first = max(0, int(np.ceil(y0 - 0.5)))
        last = min(height - 1, int(np.ceil(y1 - 0.5)) - 1)
        for y in range(first, last + 1):
            x = x0 + (x1 - x0) * (y + 0.5 - y0) / (y1 - y0)
            column = min(max(int(np.ceil(x - 0.5)), 0), width - 1)
            flips[y, column] ^= 1


_cross = njit(cache=True, nogil=True)(_cross_loop)
