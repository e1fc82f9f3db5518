"""Lines and letters laid on a drawn picture: seam with ruler ticks, creases, numbered places, piece
letters."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from scipy.ndimage import distance_transform_edt

from claybed.assets.palette import OXIDE, SLATE
from claybed.assets.vendored import font_file
from claybed.geometry.barred import Barred
from claybed.geometry.mesh import Floats
from claybed.sheets.rendering import OVERSAMPLE, Drawn

TICK_MM = 10.0
LONG_TICK_EVERY = 5
# How many meshes of a lattice go into the shorter side of a picture, and how wide its lines are before it is
# averaged down.
LATTICE_MESHES = 70
LATTICE_PX = 4


def as_image(drawn: Drawn) -> Image.Image:
    """The drawn picture at its large size, ready for lines."""
    return Image.fromarray(np.asarray(np.clip(drawn.rgb + 0.5, 0, 255), dtype=np.uint8))


def shrunk(image: Image.Image) -> Image.Image:
    """The wanted size, averaged."""
    return image.reduce(OVERSAMPLE)


def closed(loop_mm: Floats) -> Floats:
    """The loop with its first point repeated at the end, when it is not there already; (n, 3) mm."""
    p = np.asarray(loop_mm, dtype=np.float64)
    return p if len(p) < 2 or np.allclose(p[0], p[-1]) else np.concatenate([p, p[:1]])


def stations_mm(path_mm: Floats, every_mm: float) -> Floats:
    """Points along a path (n, 3) at equal distances `every_mm` > 0, beginning at its start; (k, 3) mm."""
    step = np.linalg.norm(np.diff(path_mm, axis=0), axis=1)
    along = np.concatenate([[0.0], np.cumsum(step)])
    if along[-1] <= 0.0:
        return np.asarray(path_mm[:1])
    at = np.arange(0.0, along[-1], every_mm)
    return np.stack([np.interp(at, along, path_mm[:, k]) for k in range(3)], axis=1)


def seen(drawn: Drawn, points_mm: Floats, bias_mm: float) -> NDArray[np.bool_]:
    """Which points (n, 3) are not hidden behind anything that lies more than `bias_mm` nearer to the eye."""
    p = drawn.camera.project(points_mm)
    h, w = drawn.depth_mm.shape
    x = np.clip(p[:, 0].astype(int), 0, w - 1)
    y = np.clip(p[:, 1].astype(int), 0, h - 1)
    return np.asarray(p[:, 2] > drawn.depth_mm[y, x] - bias_mm)


def runs(mask: NDArray[np.bool_]) -> Iterator[tuple[int, int]]:
    """Begin and end (exclusive) of each stretch of True."""
    change = np.flatnonzero(np.diff(np.concatenate([[0], mask.astype(np.int8), [0]])))
    return zip(change[::2].tolist(), change[1::2].tolist(), strict=True)


def draw_lattice(image: Image.Image, drawn: Drawn, barred: Barred) -> None:
    """A lattice, which neither stripes of fill nor creases look like, over the model (part 0) in `barred`."""
    rows, columns = np.nonzero(drawn.part == 0)
    step = max(10, round(min(drawn.depth_mm.shape) / LATTICE_MESHES))
    line = ((columns - rows) % step < LATTICE_PX) | ((columns + rows) % step < LATTICE_PX)
    rows, columns = rows[line], columns[line]
    camera = drawn.camera
    x = camera.centre_mm[0] + (columns - camera.centre_px[0]) / camera.scale
    y = camera.centre_mm[1] - (rows - camera.centre_px[1]) / camera.scale
    places = np.column_stack([x, y, drawn.depth_mm[rows, columns]]) @ camera.basis
    held = barred.holds(places)
    ink = Image.new("L", image.size)
    mask = np.zeros(drawn.part.shape, np.uint8)
    mask[rows[held], columns[held]] = 255
    ink.paste(Image.fromarray(mask))
    image.paste(Image.new("RGB", image.size, SLATE), mask=ink)


def draw_seam(image: Image.Image, drawn: Drawn, loops_mm: Sequence[Floats]) -> None:
    """The seam as a thick slate line with a tick every 10 mm, longer every 50; dotted thinly where it runs
    behind."""
    pen = ImageDraw.Draw(image)
    scale = drawn.camera.scale
    bias = 6.0 / scale
    width = max(5, round(min(drawn.depth_mm.shape) / 190))
    for loop in loops_mm:
        # A line that ends, at a gate or where a side piece parts, is not led back through the air.
        path = np.asarray(loop, dtype=np.float64)
        if len(path) < 2:
            continue
        fine = np.concatenate([stations_mm(path, 1.5 / scale), path[-1:]])
        visible = seen(drawn, fine, bias)
        flat = drawn.camera.project(fine)[:, :2]
        for begin, end in runs(~visible):
            for k in range(begin, end, 16):
                part = [tuple(q) for q in flat[k : min(k + 6, end)]]
                if len(part) > 1:
                    pen.line(part, fill="#8E9297", width=max(2, width // 3))
        for begin, end in runs(visible):
            part = [tuple(q) for q in flat[max(0, begin - 1) : end + 1]]
            if len(part) > 1:
                pen.line(part, fill=SLATE, width=width, joint="curve")
        _draw_ticks(pen, drawn, path, bias, width)


def draw_dashes(image: Image.Image, drawn: Drawn, loops_mm: Sequence[Floats]) -> None:
    """Lines of another kind than the seam as slate dashes, where they are seen."""
    pen = ImageDraw.Draw(image)
    scale = drawn.camera.scale
    width = max(4, round(min(drawn.depth_mm.shape) / 260))
    for loop in loops_mm:
        if len(loop) < 2:
            continue
        fine = stations_mm(loop, 1.5 / scale)
        visible = seen(drawn, fine, 6.0 / scale)
        flat = drawn.camera.project(fine)[:, :2]
        for begin, end in runs(visible):
            for k in range(begin, end, 4 * width):
                part = [tuple(q) for q in flat[k : min(k + 2 * width, end)]]
                if len(part) > 1:
                    pen.line(part, fill=SLATE, width=width)


def _draw_ticks(pen: ImageDraw.ImageDraw, drawn: Drawn, path: Floats, bias: float, width: int) -> None:
    """Ruler ticks across the seam, on the side that is up on the page; thinned out when they would crowd."""
    pixels = TICK_MM * drawn.camera.scale
    every = TICK_MM if pixels >= 10 else TICK_MM * LONG_TICK_EVERY
    at = stations_mm(path, every)
    ahead = np.roll(at, -1, axis=0)
    visible = seen(drawn, at, bias)
    here, there = drawn.camera.project(at)[:, :2], drawn.camera.project(ahead)[:, :2]
    for k in np.flatnonzero(visible[:-1]):
        run = there[k] - here[k]
        length = float(np.hypot(*run))
        if length < 0.25 * every * drawn.camera.scale:
            continue
        across = np.array([run[1], -run[0]]) / length
        across = -across if across[1] > 0 else across
        long = every != TICK_MM or k % LONG_TICK_EVERY == 0
        tip = here[k] + across * width * (3.4 if long else 1.9)
        pen.line([tuple(here[k]), tuple(tip)], fill=SLATE, width=max(2, round(width * 0.45)))


def draw_creases(
    image: Image.Image, drawn: Drawn, segments_mm: Floats, part: int, colour: str = "#4A4947"
) -> None:
    """Sharp edges (k, 2, 3) of the mesh numbered `part`, where they are seen."""
    if not len(segments_mm):
        return
    pen = ImageDraw.Draw(image)
    bias = 4.0 / drawn.camera.scale
    ends = drawn.camera.project(segments_mm.reshape(-1, 3))[:, :2].reshape(-1, 2, 2)
    count = np.clip(np.ceil(np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1) / 4.0).astype(int), 1, 400)
    t = np.concatenate([(np.arange(c) + 0.5) / c for c in count])
    which = np.repeat(np.arange(len(segments_mm)), count)
    a, b = segments_mm[which, 0], segments_mm[which, 1]
    visible = seen(drawn, a + (b - a) * t[:, None], bias)
    half = 0.5 / count[which]
    pa, pb = ends[which, 0], ends[which, 1]
    begin, end = pa + (pb - pa) * (t - half)[:, None], pa + (pb - pa) * (t + half)[:, None]
    for k in np.flatnonzero(visible):
        pen.line([tuple(begin[k]), tuple(end[k])], fill=colour, width=2)


def plate(image: Image.Image, at_px: tuple[float, float], text: str, size_px: int, ink: str = SLATE) -> None:
    """A letter or number on a round white plate, centred at `at_px`; drawn at the picture's present size."""
    pen = ImageDraw.Draw(image)
    font = ImageFont.truetype(str(font_file("Bold")), size_px)
    radius = size_px * 0.74 + max(0, len(text) - 1) * size_px * 0.22
    x, y = at_px
    pen.ellipse(
        [x - radius, y - radius, x + radius, y + radius],
        fill="#FFFFFF",
        outline=ink,
        width=max(2, size_px // 14),
    )
    pen.text((x, y), text, fill=ink, font=font, anchor="mm")


def label(
    image: Image.Image, at_px: tuple[float, float], text: str, size_px: int, anchor: str = "mm"
) -> None:
    """Plain words in the picture with a white edge, so that they stay legible on any tone."""
    font = ImageFont.truetype(str(font_file("SemiBold")), size_px)
    pen = ImageDraw.Draw(image)
    pen.text(
        at_px,
        text,
        fill=SLATE,
        font=font,
        anchor=anchor,
        stroke_width=max(2, size_px // 7),
        stroke_fill="#FFFFFF",
    )


def callout(
    image: Image.Image,
    tip_px: tuple[float, float],
    at_px: tuple[float, float],
    text: str,
    size_px: int,
    *,
    hidden: bool = False,
) -> None:
    """A numbered plate joined to a place by a line with a dot at its end: a ring for a place that lies
    behind.
    """
    pen = ImageDraw.Draw(image)
    pen.line([tip_px, at_px], fill="#FFFFFF", width=max(5, size_px // 5))
    pen.line([tip_px, at_px], fill=OXIDE, width=max(2, size_px // 12))
    dot = max(3, size_px // 7)
    x, y = tip_px
    if hidden:
        pen.ellipse(
            [x - dot, y - dot, x + dot, y + dot], fill="#FFFFFF", outline=OXIDE, width=max(2, dot // 3)
        )
    else:
        pen.ellipse([x - dot, y - dot, x + dot, y + dot], fill=OXIDE, outline="#FFFFFF")
    plate(image, at_px, text, size_px, OXIDE)


def widest_spot(mask: NDArray[np.bool_]) -> tuple[float, float] | None:
    """The pixel (x, y) of True that is farthest from any False: where a letter has most room; None if all
    False."""
    if not mask.any():
        return None
    step = max(1, min(mask.shape) // 300)
    room = np.asarray(distance_transform_edt(np.pad(mask[::step, ::step], 1)))
    y, x = np.unravel_index(int(room.argmax()), room.shape)
    return float((x - 1) * step), float((y - 1) * step)


def cropped(image: Image.Image, ground: str = "#FFFFFF", border_px: int = 12) -> Image.Image:
    """The picture without the empty ground round it, but for a border."""
    flat = np.asarray(image.convert("RGB"), dtype=np.int16)
    other = np.abs(flat - np.array(Image.new("RGB", (1, 1), ground))[0, 0].astype(np.int16)).sum(axis=2) > 6
    if not other.any():
        return image
    rows, columns = np.flatnonzero(other.any(axis=1)), np.flatnonzero(other.any(axis=0))
    box = (
        max(0, int(columns[0]) - border_px),
        max(0, int(rows[0]) - border_px),
        min(image.width, int(columns[-1]) + border_px + 1),
        min(image.height, int(rows[-1]) + border_px + 1),
    )
    return image.crop(box)
