"""A hump in section, twice: as it is poured in its vessel, and turned over with a slab draped on it."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import distance_transform_edt

from claybed.assets.palette import GATE, SLATE, piece_colour, rgb
from claybed.geometry.mesh import Mesh
from claybed.sheets import linework
from claybed.sheets.rendering import OVERSAMPLE, Camera, framed, looking
from claybed.sheets.section import cut_mask, rim_of, scale_bar

Mask = NDArray[np.bool_]
CLAY = "#C9A184"
SAND_DOT_PX = 9


def hump_section(
    piece: Mesh,
    model: Mesh,
    vessel: Mesh,
    *,
    ledge_mm: float,
    sand_mm: float,
    slab_mm: float,
    us: bool = False,
    width_px: int = 1800,
    height_px: int = 620,
) -> Image.Image:
    """Both sections side by side over a bar of 50 mm, or with `us` of 2 in, the plaster hatched.

    `piece` the hump, `model` all that lies under it, `vessel` the vessel alone, in the block's frame;
    heights of ledge and sand above the board, thickness of the slab, mm.
    """
    low, high = piece.bounds_mm
    size = np.maximum(model.bounds_mm[1], high) - np.minimum(model.bounds_mm[0], low)
    across = np.array([0.0, 1.0, 0.0]) if size[0] >= size[1] else np.array([1.0, 0.0, 0.0])
    eye = -across if abs(across[1]) > 0.5 else across
    room = max(50, height_px // 9)
    half = width_px // 2 - 10
    small = framed(
        looking(eye, np.array([0.0, 0.0, 1.0])),
        np.concatenate([piece.vertices_mm, model.vertices_mm]),
        half,
        height_px - room,
        margin=0.10,
    )
    camera = Camera(
        small.basis,
        small.scale * OVERSAMPLE,
        (small.centre_px[0] * OVERSAMPLE, small.centre_px[1] * OVERSAMPLE),
        small.centre_mm,
    )
    shape = (height_px - room) * OVERSAMPLE, half * OVERSAMPLE
    point = (low + high) / 2.0
    plaster, under, wall = (cut_mask(one, point, across, camera, shape) for one in (piece, model, vessel))
    rows = camera.project(np.array([[0.0, 0.0, ledge_mm], [0.0, 0.0, sand_mm]]))[:, 1]
    canvas = Image.new("RGB", (width_px, height_px), "#FFFFFF")
    size_px = max(26, height_px // 22)
    poured = _poured(plaster, under, wall & under, float(rows[1]))
    draped = _draped(plaster[::-1], shape[0] - float(rows[0]), slab_mm * camera.scale)
    for k, cut in enumerate((poured, draped)):
        drawn = linework.shrunk(Image.fromarray(cut))
        spot = linework.widest_spot(plaster if k == 0 else plaster[::-1])
        if spot is not None:
            linework.plate(drawn, (spot[0] / OVERSAMPLE, spot[1] / OVERSAMPLE), "A", max(24, height_px // 14))
        canvas.paste(drawn, (k * (width_px - half), 0))
    middle = half / 2.0
    y = height_px - room * 0.45
    linework.label(canvas, (middle + 90, y), "poured", size_px, anchor="mm")
    linework.label(canvas, (width_px - middle, y), "turned over, with the slab", size_px, anchor="mm")
    scale_bar(canvas, small.scale, room, us)
    return canvas


def _poured(plaster: Mask, under: Mask, wall: Mask, sand_row: float) -> NDArray[np.uint8]:
    """The plaster in its vessel, with sand up to a row and clay above that."""
    picture = np.full((*plaster.shape, 3), 255, np.uint8)
    rows, columns = np.indices(plaster.shape)
    bed = under & ~wall
    picture[bed & (rows < sand_row)] = rgb(CLAY)
    sand = bed & (rows >= sand_row)
    picture[sand] = rgb(GATE)
    step = SAND_DOT_PX * OVERSAMPLE // 2
    picture[sand & (rows % step < 3) & ((columns + rows // step * 5) % step < 3)] = rgb("#8A7A52")
    picture[wall] = rgb("#8C8A84")
    _hatch(picture, plaster)
    for mask in (plaster, under, wall, sand):
        picture[rim_of(mask)] = rgb(SLATE)
    return picture


def _draped(plaster: Mask, ledge_row: float, slab_px: float) -> NDArray[np.uint8]:
    """The hump on its plinth, and clay of one thickness on all of it above the ledge."""
    picture = np.full((*plaster.shape, 3), 255, np.uint8)
    above = np.indices(plaster.shape)[0] < math.floor(ledge_row)
    away = distance_transform_edt(~(plaster & above))
    slab = (away <= slab_px) & above & ~plaster
    picture[slab] = rgb(CLAY)
    _hatch(picture, plaster)
    for mask in (plaster, slab):
        picture[rim_of(mask)] = rgb(SLATE)
    return picture


def _hatch(picture: NDArray[np.uint8], mask: Mask) -> None:
    tone = np.array(rgb(piece_colour(0)), dtype=float)
    picture[mask] = tone + (255.0 - tone) * 0.35
    rows, columns = np.indices(mask.shape)
    picture[mask & ((columns + rows) % 22 < 3)] = tone * 0.62
