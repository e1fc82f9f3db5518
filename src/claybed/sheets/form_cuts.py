"""What stands in the form of a pour, cut through: object, pieces that have set, fillers, bed, and the room
that is left for plaster.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from scipy.ndimage import distance_transform_edt

from claybed.assets.palette import FRESH, SLATE, rgb
from claybed.assets.vendored import font_file
from claybed.geometry.mesh import Floats, Mesh
from claybed.sheets import linework
from claybed.sheets.rendering import OVERSAMPLE, Camera
from claybed.sheets.section import cut_mask, rim_of

Mask = NDArray[np.bool_]
LONG_PX = 600
# As drawn on paper: how wide and tall a form may be, and its letters, mm.
PAPER_MM = {"front": (46.0, 33.0), "above": (34.0, 24.0)}
LETTER_MM = 2.5
SMALL_MM = 2.0
# Nothing is lettered where “stop here” stands.
TOP_MM = 5.0
# A plug that leans less than this from level (its upright share) is cut along, this far over its middle.
LEVEL_SHARE = 0.3
PLUG_OVER_MM = 2.0
CLAY, SAND, BOARD, WALL = "#C9A184", "#E9D9A8", "#DDCDB4", "#8C8A84"


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """What may stand in a form. `pieces` letter and mesh in the order of pouring; `aside` the letters of side
    pieces, whose place a filler keeps until they are poured; `base` the one that takes the place of the bed,
    which ends at `level_mm`; `model` the object with fill and gate, `thing` without; `plug` where a gate plug
    meets the object and the unit way in which it leaves, None without one. Of a hump, `vessel` is what it is
    cast in and `sand_mm` how high the sand round it reaches; all in the block's frame, mm.
    """

    pieces: tuple[tuple[str, Mesh], ...]
    aside: frozenset[str]
    base: str
    level_mm: float
    model: Mesh
    thing: Mesh
    plug: tuple[Floats, Floats] | None = None
    vessel: Mesh | None = None
    sand_mm: float = 0.0


def form_cut(
    standing: Standing, piece: str, turn: Floats, low_mm: Floats, high_mm: Floats, *, from_above: bool
) -> Image.Image:
    """The inside of a form, from the board to the line where its pour stops, cut through the middle of the
    object and seen from the front, or `from_above` cut level: through a gate plug that runs level, just over
    its middle, or half way up what the pour covers of the object.

    `turn` (3, 3) from the block's frame to the bench's, `low_mm` and `high_mm` (3,) the inside of the form
    there.
    """
    letters = [letter for letter, _ in standing.pieces]
    order = letters.index(piece)
    turned = {letter: _turned(mesh, turn) for letter, mesh in standing.pieces}
    model = _turned(standing.model, turn)
    point = (low_mm + high_mm) / 2.0
    middle = model.bounds_mm.mean(axis=0)
    if from_above:
        own_low = float(turned[piece].bounds_mm[0, 2])
        point[2] = _level(standing, turn, max(own_low, float(low_mm[2])), float(high_mm[2]), model)
    else:
        point[1] = float(np.clip(middle[1], low_mm[1] + 1.0, high_mm[1] - 1.0))
    view = _view(low_mm, high_mm, from_above)
    normal = np.array([0.0, 0.0, 1.0]) if from_above else np.array([0.0, 1.0, 0.0])

    def cut(mesh: Mesh) -> Mask:
        return cut_mask(mesh, point, normal, view.camera, view.shape)

    own, thing = cut(turned[piece]), cut(model)
    picture = np.full((*view.shape, 3), 255, np.uint8)
    picture[own] = rgb(FRESH)
    told: list[tuple[str, Mask]] = []
    for k, letter in enumerate(letters):
        if letter == piece:
            continue
        mask = cut(turned[letter])
        if k < order:
            _dots(picture, mask)
            told.append((f"piece {letter}", mask))
            continue
        under = _under(standing, view, point, turn, letter, from_above)
        filler, bed = mask & ~under, mask & under
        _stripes(picture, filler, BOARD, level=True)
        _stripes(picture, bed, CLAY, level=False)
        told += [(f"filler {letter}", filler), ("clay bed", bed)]
    if standing.vessel is None:
        picture[thing] = 255
        plug = _plug(standing, turn, thing & ~cut(_turned(standing.thing, turn)), view, point, from_above)
        picture[plug] = rgb(SAND)
        told = [("object", thing & ~plug), ("plug", plug), *told]
    else:
        sand_row = (high_mm[2] - standing.sand_mm) * view.camera.scale
        if from_above:  # of the one level that is seen, all or nothing
            sand_row = 0.0 if point[2] < standing.sand_mm else float(view.shape[0])
        told = _in_vessel(picture, thing, cut(_turned(standing.vessel, turn)), sand_row)
    for mask in (own, *(mask for _, mask in told)):
        picture[rim_of(mask)] = rgb(SLATE)
    drawn = linework.shrunk(Image.fromarray(picture))
    taken: list[tuple[float, float, float, float]] = []
    for text, mask in told:
        _letter(drawn, mask, text, view, taken, spare_top=not from_above)
    return drawn


@dataclass(frozen=True, slots=True, eq=False)
class _View:
    """Camera and pixels (rows, columns) of a picture, and how many of its final pixels are 1 mm on paper."""

    camera: Camera
    shape: tuple[int, int]
    per_paper_mm: float


def _view(low_mm: Floats, high_mm: Floats, from_above: bool) -> _View:
    wide, tall = high_mm[0] - low_mm[0], high_mm[1 if from_above else 2] - low_mm[1 if from_above else 2]
    scale = LONG_PX / max(wide, tall)
    most = PAPER_MM["above" if from_above else "front"]
    paper = min(most[0] / wide, most[1] / tall)
    big = scale * OVERSAMPLE
    basis = np.eye(3) if from_above else np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
    top = high_mm[1] if from_above else high_mm[2]
    shape = (round(tall * scale) * OVERSAMPLE, round(wide * scale) * OVERSAMPLE)
    return _View(Camera(basis, big, (0.0, 0.0), (float(low_mm[0]), float(top))), shape, scale / paper)


def _turned(mesh: Mesh, turn: Floats) -> Mesh:
    return mesh.moved(turn, np.zeros(3), frame="bench")


def _level(standing: Standing, turn: Floats, low: float, high: float, model: Mesh) -> float:
    """Just over the middle of a gate plug that runs level; else half way up what a pour covers of the object;
    of the pour, where it covers none.
    """
    if standing.plug is not None:
        at, out = (turn @ one for one in standing.plug)
        if abs(out[2]) < LEVEL_SHARE and low < at[2] + PLUG_OVER_MM < high:
            return float(at[2]) + PLUG_OVER_MM
    foot, top = (float(end) for end in model.bounds_mm[:, 2])
    reach = (max(low, foot), min(high, top))
    return (reach[0] + reach[1]) / 2.0 if reach[1] - reach[0] > 1.0 else (low + high) / 2.0


def _spread(view: _View, point: Floats, from_above: bool) -> tuple[Floats, Floats, Floats]:
    """Where each pixel lies, x, y and z of the bench, mm; one number along what the cut is square to."""
    rows, columns = (np.arange(n) / view.camera.scale for n in view.shape)
    x, up = view.camera.centre_mm[0] + columns[None, :], view.camera.centre_mm[1] - rows[:, None]
    flat = np.full((1, 1), point[2 if from_above else 1])
    return (x, up, flat) if from_above else (x, flat, up)


def _plug(
    standing: Standing, turn: Floats, added: Mask, view: _View, point: Floats, from_above: bool
) -> Mask:
    """The gate plug, of what is `added` to the object: that which lies from its face outwards."""
    if standing.plug is None:
        return np.zeros(view.shape, bool)
    at, out = (turn @ one for one in standing.plug)
    outwards = sum(
        ((one - at[k]) * out[k] for k, one in enumerate(_spread(view, point, from_above))),
        start=np.zeros(view.shape),
    )
    return np.asarray(added & (outwards > -PLUG_OVER_MM))


def _under(
    standing: Standing, view: _View, point: Floats, turn: Floats, letter: str, from_above: bool
) -> Mask:
    """Where a piece that is still to come is kept by the bed, not by a filler."""
    if letter not in standing.aside:
        return np.ones(view.shape, bool)
    if letter != standing.base:
        return np.zeros(view.shape, bool)
    spread = _spread(view, point, from_above)
    # Height in the block's frame: the third column of the turn, since its inverse is its transpose.
    height = sum((part * turn[k, 2] for k, part in enumerate(spread)), start=np.zeros(view.shape))
    return np.asarray(height < standing.level_mm)


def _in_vessel(
    picture: NDArray[np.uint8], under: Mask, vessel: Mask, sand_row: float
) -> list[tuple[str, Mask]]:
    """Draw what lies under a hump: the vessel, sand round it up to a row of the picture, clay on that."""
    wall = vessel & under
    above = (np.arange(len(picture)) < sand_row)[:, None]
    clay, sand = under & ~wall & above, under & ~wall & ~above
    _stripes(picture, clay, CLAY, level=False)
    picture[sand] = rgb(SAND)
    _dots(picture, sand, SAND)
    picture[wall] = rgb(WALL)
    return [("vessel", wall), ("sand", sand), ("clay", clay)]


def _dots(picture: NDArray[np.uint8], mask: Mask, ground: str = "#FFFFFF") -> None:
    rows, columns = np.indices(mask.shape)
    step = 14 * OVERSAMPLE
    shifted = columns + (rows // step % 2) * (step // 2)
    picture[mask] = rgb(ground)
    picture[mask & ((rows % step - step // 2) ** 2 + (shifted % step - step // 2) ** 2 < 7 * OVERSAMPLE)] = (
        rgb("#5F5A50")
    )


def _stripes(picture: NDArray[np.uint8], mask: Mask, tone: str, *, level: bool) -> None:
    """Clay is striped aslant, a filler across."""
    rows, columns = np.indices(mask.shape)
    picture[mask] = rgb(tone)
    along = rows if level else rows + columns
    picture[mask & (along % (11 * OVERSAMPLE) < 2)] = rgb("#6B5B45")


Box = tuple[float, float, float, float]


def _letter(
    drawn: Image.Image, mask: Mask, text: str, view: _View, taken: list[Box], *, spare_top: bool
) -> None:
    """Write what a part is where it has most room, upright where it is too narrow, beside it with a line
    where it is too thin; nothing for a part that is not seen, or where all room is taken.
    """
    if spare_top:
        mask = mask.copy()
        mask[: round(TOP_MM * view.per_paper_mm * OVERSAMPLE)] = False
    small = mask[::OVERSAMPLE, ::OVERSAMPLE]
    if small.sum() < (0.6 * view.per_paper_mm) ** 2:
        return
    inner = np.asarray(distance_transform_edt(np.pad(small, 1)))[1:-1, 1:-1]
    y, x = (int(k) for k in np.unravel_index(int(inner.argmax()), inner.shape))
    for size_mm in (LETTER_MM, SMALL_MM):
        font = ImageFont.truetype(str(font_file("SemiBold")), round(size_mm * view.per_paper_mm))
        left, top, right, bottom = font.getbbox(text)
        wide, tall = right - left, bottom - top
        for upright in (False, True):
            w, h = (tall, wide) if upright else (wide, tall)
            room = _room(small, w, h, taken)
            if room is not None:
                _write(drawn, text, font, room, upright)
                taken.append((room[0] - w / 2, room[1] - h / 2, room[0] + w / 2, room[1] + h / 2))
                return
    pad = 0.6 * view.per_paper_mm
    spot = _beside(drawn.size, (x, y), wide + pad, tall + pad, taken)
    if spot is None:
        return
    pen = ImageDraw.Draw(drawn)
    pen.line([(x, y), spot], fill=SLATE, width=max(2, round(0.2 * view.per_paper_mm)))
    pen.ellipse([x - pad / 2, y - pad / 2, x + pad / 2, y + pad / 2], fill=SLATE)
    _write(drawn, text, font, spot, False)
    taken.append((spot[0] - wide / 2, spot[1] - tall / 2, spot[0] + wide / 2, spot[1] + tall / 2))


def _room(mask: Mask, wide: float, tall: float, taken: Sequence[Box]) -> tuple[float, float] | None:
    """The middle of a box that lies in the mask, free of what is taken, near where the mask is widest; in
    pixels of the final picture.
    """
    free = mask.copy()
    for x0, y0, x1, y1 in taken:
        free[max(0, int(y0) - 2) : int(y1) + 3, max(0, int(x0) - 2) : int(x1) + 3] = False
    sums = np.pad(free.astype(np.int64).cumsum(0).cumsum(1), ((1, 0), (1, 0)))
    w, h = int(wide) + 6, int(tall) + 6
    if w >= mask.shape[1] or h >= mask.shape[0]:
        return None
    full = sums[h:, w:] - sums[:-h, w:] - sums[h:, :-w] + sums[:-h, :-w] == w * h
    if not full.any():
        return None
    depth = np.asarray(distance_transform_edt(np.pad(full, 1)))[1:-1, 1:-1]
    y, x = (int(k) for k in np.unravel_index(int(depth.argmax()), depth.shape))
    return x + w / 2.0, y + h / 2.0


def _beside(
    size: tuple[int, int], tip: tuple[int, int], wide: float, tall: float, taken: Sequence[Box]
) -> tuple[float, float] | None:
    """The nearest place for words off a spot that lies in the picture and free of other words."""
    found: tuple[float, float, float] | None = None
    for turn in np.linspace(0.0, 2.0 * np.pi, 24, endpoint=False):
        for away in np.linspace(tall * 1.2, 4.0 * tall + wide, 12):
            x, y = tip[0] + away * np.cos(turn), tip[1] - away * np.sin(turn)
            box = (x - wide / 2, y - tall / 2, x + wide / 2, y + tall / 2)
            if box[0] < 2 or box[1] < 2 or box[2] > size[0] - 2 or box[3] > size[1] - 2:
                continue
            if box[0] < tip[0] < box[2] and box[1] < tip[1] < box[3]:
                continue
            if any(box[0] < t[2] and t[0] < box[2] and box[1] < t[3] and t[1] < box[3] for t in taken):
                continue
            if found is None or away < found[2]:
                found = (float(x), float(y), float(away))
    return None if found is None else found[:2]


def _write(
    drawn: Image.Image,
    text: str,
    font: ImageFont.FreeTypeFont,
    at: tuple[float, float],
    upright: bool,
) -> None:
    edge = max(2, round(font.size / 7))
    left, top, right, bottom = font.getbbox(text, stroke_width=edge)
    strip = Image.new("RGBA", (int(right - left) + 2, int(bottom - top) + 2), (255, 255, 255, 0))
    ImageDraw.Draw(strip).text(
        (1 - left, 1 - top), text, fill=SLATE, font=font, stroke_width=edge, stroke_fill="#FFFFFF"
    )
    if upright:
        strip = strip.transpose(Image.Transpose.ROTATE_90)
    drawn.paste(strip, (round(at[0] - strip.width / 2), round(at[1] - strip.height / 2)), strip)
