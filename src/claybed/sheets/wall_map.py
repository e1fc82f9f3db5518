"""The wall of a cast over the whole surface: a ramp from slate to plaster, contour lines, the extremes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from claybed.assets.palette import SLATE, rgb
from claybed.assets.palette import WALL_RAMP as RAMP
from claybed.assets.vendored import font_file
from claybed.geometry.mesh import Floats, Mesh
from claybed.sheets import linework
from claybed.sheets.rendering import Drawn, Scene, framed, looking

GROUND = "#FFFFFF"
NO_VALUE = "#FFFFFF"
CONTOUR = np.array([168, 72, 31], np.float32)
MOST_LINES = 8
_STEPS = (0.01, 0.02, 0.05, 0.1, 0.2, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0)


def wall_picture(
    wall: Mesh,
    value: Floats,
    *,
    up: Floats,
    title: str,
    unit: str = "mm",
    limits: tuple[float, float] | None = None,
    marks: tuple[tuple[str, Floats], ...] = (),
    edges_mm: Floats | None = None,
    both_sides: bool = False,
    width_px: int = 1500,
    height_px: int = 900,
) -> Image.Image:
    """Two views from opposite sides, the ramp with its numbers under them.

    `value` (corners,) in `unit`, nan for none (white); `up` (3,) is up on the page; `limits` the ends of the
    ramp, else the least and most value; `marks` texts with their places (3,) mm, drawn where they are seen;
    `edges_mm` (k, 2, 3) lines on the surface; `both_sides` shows an open surface from inside as well.
    Raises ValueError when no corner has a value.
    """
    known = value[np.isfinite(value)]
    if not len(known):
        raise ValueError("no corner has a value")
    low, high = (float(known.min()), float(known.max())) if limits is None else limits
    high = max(high, low + 1e-6)
    step = contour_step(low, high)
    half = width_px // 2
    if both_sides:
        wall = Mesh.make(
            wall.vertices_mm, np.concatenate([wall.faces, wall.faces[:, ::-1]]), frame=wall.frame
        )
    lines = np.zeros((0, 2, 3)) if edges_mm is None else edges_mm
    views = [
        _view(wall, value, eye, up, (low, high, step), marks, lines, half, height_px)
        for eye in _eyes(wall, up)
    ]
    bar_px = max(90, height_px // 8)
    tall = max(view.height for view in views)
    canvas = Image.new("RGB", (width_px, tall + bar_px + 60), GROUND)
    pen = ImageDraw.Draw(canvas)
    pen.text((20, 14), title, fill=SLATE, font=ImageFont.truetype(str(font_file("SemiBold")), 30))
    for k, view in enumerate(views):
        canvas.paste(view, (k * half + (half - view.width) // 2, 60 + (tall - view.height) // 2))
    _ramp_bar(canvas, (low, high, step), unit, tall + 60, bar_px)
    return canvas


def contour_step(low: float, high: float) -> float:
    """A round distance between contour lines, so that at most MOST_LINES cross a range."""
    return next((s for s in _STEPS if (high - low) / s <= MOST_LINES), _STEPS[-1])


def ramp_colours(share: Floats) -> NDArray[np.float32]:
    """Colours (n, 3) 0..255 at shares (n,) of the ramp, 0 thin and dark, 1 thick and light."""
    stops = np.array([rgb(colour) for colour in RAMP], float)
    at = np.linspace(0.0, 1.0, len(stops))
    inside = np.clip(share, 0.0, 1.0)
    return np.stack([np.interp(inside, at, stops[:, k]) for k in range(3)], axis=-1).astype(np.float32)


def _eyes(wall: Mesh, up: Floats) -> tuple[Floats, Floats]:
    """Two directions from opposite sides, a little from above, across the object's narrow side."""
    points = wall.vertices_mm - wall.vertices_mm.mean(axis=0)
    flat = points - (points @ up)[:, None] * up
    _, _, axes = np.linalg.svd(flat[:: max(1, len(flat) // 4000)], full_matrices=False)
    aside, front = axes[0], axes[1]
    first = front + 0.35 * aside + 0.35 * up
    second = -front - 0.35 * aside + 0.35 * up
    return first / np.linalg.norm(first), second / np.linalg.norm(second)


def _view(
    wall: Mesh,
    value: Floats,
    eye: Floats,
    up: Floats,
    scale: tuple[float, float, float],
    marks: tuple[tuple[str, Floats], ...],
    lines_mm: Floats,
    width_px: int,
    height_px: int,
) -> Image.Image:
    scene = Scene()
    scene.add(wall, {})
    camera = framed(looking(eye, up), wall.vertices_mm, width_px, height_px, margin=0.09)
    drawn, face, placed = scene.trace(camera, width_px, height_px)
    shown = _values_seen(drawn, face, placed[0], wall, value)
    low, high, step = scale
    seen = np.isfinite(shown)
    drawn.rgb[:] = rgb(GROUND)
    drawn.rgb[drawn.part >= 0] = rgb(NO_VALUE)
    drawn.rgb[seen] = ramp_colours((shown[seen] - low) / (high - low))
    drawn.rgb *= _relief(drawn)[..., None]
    line = _contours(shown, step)
    drawn.rgb[line] = 0.2 * drawn.rgb[line] + 0.8 * CONTOUR
    drawn.rgb[_rim(drawn)] = rgb(SLATE)
    large = linework.as_image(drawn)
    linework.draw_creases(large, drawn, lines_mm, 0, SLATE)
    image = linework.shrunk(large)
    big = np.array([at for _, at in marks]).reshape(-1, 3)
    if len(big):
        reach = 0.02 * float(np.ptp(wall.vertices_mm, axis=0).max())
        visible = linework.seen(drawn, big, reach)
        spots = camera.project(big)[:, :2]
        for k, (text, _) in enumerate(marks):
            if visible[k]:
                _mark(image, (float(spots[k, 0]), float(spots[k, 1])), text)
    return image


def _values_seen(drawn: Drawn, face: NDArray[np.int32], placed: Floats, wall: Mesh, value: Floats) -> Floats:
    """The value at each pixel by its place in the face seen there; nan for ground."""
    rows, columns = np.nonzero(drawn.part >= 0)
    corners = wall.faces[face[rows, columns]]
    a, b, c = (placed[corners[:, k], :2] for k in range(3))
    p = np.stack([columns + 0.5, rows + 0.5], axis=1)
    whole = _cross(b - a, c - a)
    wb, wc = _cross(p - a, c - a) / whole, _cross(b - a, p - a) / whole
    shown = np.full(drawn.part.shape, np.nan)
    shown[rows, columns] = (
        (1.0 - wb - wc) * value[corners[:, 0]] + wb * value[corners[:, 1]] + wc * value[corners[:, 2]]
    )
    return shown


def _cross(first: Floats, second: Floats) -> Floats:
    return np.asarray(first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0])


def _relief(drawn: Drawn) -> Floats:
    """A light shade by slope, so that the form reads without hiding the ramp: 0.86 to 1.0."""
    depth = np.where(np.isfinite(drawn.depth_mm), drawn.depth_mm, np.nan) * drawn.camera.scale
    down, across = np.gradient(depth)
    upright = 1.0 / np.sqrt(1.0 + np.nan_to_num(down) ** 2 + np.nan_to_num(across) ** 2)
    return np.asarray(0.86 + 0.14 * upright)


def _contours(shown: Floats, step: float) -> NDArray[np.bool_]:
    level = np.floor(shown / step)
    line = np.zeros(shown.shape, bool)
    for axis in (0, 1):
        near, far = [slice(None)] * 2, [slice(None)] * 2
        near[axis], far[axis] = slice(1, None), slice(None, -1)
        change = level[tuple(near)] != level[tuple(far)]
        change &= np.isfinite(level[tuple(near)]) & np.isfinite(level[tuple(far)])
        line[tuple(near)] |= change
        line[tuple(far)] |= change
    return line


def _rim(drawn: Drawn) -> NDArray[np.bool_]:
    part = drawn.part >= 0
    with np.errstate(invalid="ignore"):
        jump = 12.0 / drawn.camera.scale
        rim = np.zeros(part.shape, bool)
        for axis in (0, 1):
            near, far = [slice(None)] * 2, [slice(None)] * 2
            near[axis], far[axis] = slice(1, None), slice(None, -1)
            a, b = tuple(near), tuple(far)
            edge = (part[a] != part[b]) | (np.abs(drawn.depth_mm[a] - drawn.depth_mm[b]) > jump)
            rim[a] |= edge
            rim[b] |= edge
    return rim


def _mark(image: Image.Image, tip_px: tuple[float, float], text: str) -> None:
    """A dot at a place, a short line outwards and its text, kept inside the picture."""
    pen = ImageDraw.Draw(image)
    font = ImageFont.truetype(str(font_file("SemiBold")), 26)
    x, y = tip_px
    right = x < image.width / 2
    length = pen.textlength(text, font=font)
    end_x = x + 46 if right else x - 46
    least = 6.0 if right else length + 12.0
    most = image.width - length - 12.0 if right else image.width - 6.0
    end_x = min(max(end_x, least), most)
    end_y = min(max(y - 34, 20.0), image.height - 20.0)
    pen.line([(x, y), (end_x, end_y)], fill="#FFFFFF", width=6)
    pen.line([(x, y), (end_x, end_y)], fill=SLATE, width=2)
    pen.ellipse([x - 5, y - 5, x + 5, y + 5], fill=SLATE, outline="#FFFFFF", width=2)
    linework.label(image, (end_x + (6 if right else -6), end_y), text, 26, anchor="lm" if right else "rm")


def _ramp_bar(
    canvas: Image.Image, scale: tuple[float, float, float], unit: str, top_px: int, tall_px: int
) -> None:
    low, high, step = scale
    pen = ImageDraw.Draw(canvas)
    font = ImageFont.truetype(str(font_file("Regular")), 26)
    left, right = int(canvas.width * 0.18), int(canvas.width * 0.82)
    upper, lower = top_px + 14, top_px + 14 + tall_px // 3
    shade = ramp_colours(np.linspace(0.0, 1.0, right - left)[None])
    band = np.repeat(shade, lower - upper, axis=0).astype(np.uint8)
    canvas.paste(Image.fromarray(band), (left, upper))
    pen.rectangle([left, upper, right, lower], outline=SLATE, width=2)
    for k in range(int(np.ceil(low / step)), int(np.floor(high / step)) + 1):
        x = left + (k * step - low) / (high - low) * (right - left)
        pen.line([(x, upper), (x, lower + 8)], fill=tuple(int(c) for c in CONTOUR), width=2)
        pen.text((x, lower + 12), f"{k * step:g}", fill=SLATE, font=font, anchor="ma")
    for x, text, anchor in ((left - 14, f"{low:.2g} {unit}", "rm"), (right + 14, f"{high:.2g} {unit}", "lm")):
        pen.text((x, (upper + lower) / 2), text, fill=SLATE, font=font, anchor=anchor)
