"""The object as it lies for the first pour, from the left and from the right: saddles, seam and stations,
places to fill, and where its heights are read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final, Literal

import numpy as np
from PIL import Image, ImageDraw

from claybed.assets.palette import OXIDE, SLATE, face_colours
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.records.pose import Saddle
from claybed.scene.smoothing import crease_segments_mm
from claybed.sheets import linework, viewpoint
from claybed.sheets.bed_picture import box
from claybed.sheets.bench_words import height_words
from claybed.sheets.fill_marks import fill_marks
from claybed.sheets.rendering import Camera, Drawn, Scene, framed, looking

Side = Literal["left", "right"]
SIDES: Final[tuple[Side, Side]] = ("left", "right")
UP = np.array([0.0, 0.0, 1.0])
WOOD, CARD = "#EFE7D6", "#FFFFFF"
BOARD_THICK_MM, BOARD_ROOM_MM = 5.0, 16.0
# From beside it, a little from the front and from above.
TURN_DEG, ELEVATION_DEG = 16.0, 16.0
# What lies this far under the surface is in its clay, not behind the object.
UNDER_MM = 4.0
LETTERS_SHARE = 1.0 / 25.0
CARD_STRIPS = 80
# Words nearer than this, in letter heights, need no line.
NO_LEAD = 1.5
# Which way words go first, degrees clockwise from the right: stations below the seam, heights above.
STATION_TURNS_DEG = (90.0, 60.0, 120.0, -90.0, -60.0, -120.0, 0.0, 180.0)
RING_TURNS_DEG = (-60.0, -120.0, 60.0, 120.0, 0.0, 180.0)
HEIGHT_TURNS_DEG = (-90.0, -60.0, -120.0, 90.0, 60.0, 120.0, 30.0, 150.0, -30.0, -150.0)


def lying(
    model: Mesh,
    seam_loops_mm: Sequence[Floats],
    pose: Mapping[str, Any],
    saddles: Sequence[Saddle],
    side: Side,
    *,
    fillers_mm: Sequence[Floats] = (),
    us: bool = False,
    width_px: int = 1120,
    height_px: int = 640,
) -> Image.Image:
    """The model on its `saddles` on the base board, seen from `side` and a little from the front.

    `model` is the object with its gate in the block's frame, `pose` the part of a plan's document of that
    name. The seam is a thick line with a number at every station in sight, the lines where fillers meet the
    object (`fillers_mm`) are dashed; places to fill are ringed and
    numbered as in `fill_marks`, those out of sight from both sides with a broken ring; heights are told as on
    a rule. Raises ValueError for a model without faces.
    """
    if not len(model.faces):
        raise ValueError("nothing to draw: the model has no faces")
    board_mm = float(pose["board_mm"])
    scene = Scene()
    scene.add(model, face_colours())
    low, high = model.bounds_mm
    room = np.array([BOARD_ROOM_MM, BOARD_ROOM_MM])
    wood = box(
        (*(low[:2] - room), board_mm - BOARD_THICK_MM),
        (*(high[:2] + room), board_mm),
    )
    scene.add(wood, dict.fromkeys(face_colours(), WOOD))
    for saddle in saddles:
        scene.add(_card(saddle, board_mm), dict.fromkeys(face_colours(), CARD))
    azimuth = 180.0 + TURN_DEG if side == "left" else -TURN_DEG
    eye = viewpoint.direction(azimuth, ELEVATION_DEG)
    camera = framed(looking(eye, UP), scene.points_mm(), width_px, height_px, margin=0.09)
    drawn = scene.draw(camera, width_px, height_px)
    image = linework.as_image(drawn)
    # A card's strips are no edges of it.
    for index, (mesh, _, _) in enumerate(scene.meshes[:2]):
        linework.draw_creases(image, drawn, crease_segments_mm(mesh), index)
    linework.draw_seam(image, drawn, seam_loops_mm)
    linework.draw_dashes(image, drawn, fillers_mm)
    small = linework.shrunk(image)
    size = max(18, round(height_px * LETTERS_SHARE))
    words = _Words(small, size)
    _ends(words, camera, low, high, board_mm)
    tips = _tips(drawn, camera, pose)
    words.dots += [tip for _, tip in tips]
    _rings(words, drawn, camera, pose, side)
    for number, tip in tips:
        words.dot(tip, 5, "#FFFFFF")
        words.beside(tip, str(number), (1.2, 1.7, 2.4), STATION_TURNS_DEG)
    _heights(words, drawn, camera, pose, us)
    return linework.cropped(small)


def _card(saddle: Saddle, board_mm: float) -> Mesh:
    """A saddle as it stands: its top edge from end to end, both its faces."""
    across = np.array([-saddle.along[1], saddle.along[0]]) * saddle.card_mm / 2.0
    ends = np.array([-saddle.reach_mm[0], saddle.reach_mm[1]])
    run = np.linspace(ends[0], ends[1], CARD_STRIPS + 1)
    top = np.array([_tall_mm(saddle.outline, float(u)) for u in run])
    plan = np.array(saddle.through_mm) + run[:, None] * np.array(saddle.along)
    count = len(run)
    corners = []
    for shift in (across, -across):
        for level in (np.zeros(count), top):
            corners.append(np.column_stack([plan + shift, level + board_mm]))
    foot, edge, foot_behind, edge_behind = (np.arange(count) + k * count for k in range(4))
    strips = [(foot, edge), (foot_behind, edge_behind), (edge, edge_behind)]
    quad = np.array(
        [[0, count, 3 * count, 2 * count], [count - 1, 2 * count - 1, 4 * count - 1, 3 * count - 1]]
    )
    faces = [quad[:, order] for order in ([0, 1, 2], [0, 2, 3], [2, 1, 0], [3, 2, 0])]
    for a, b in strips:
        one = np.stack([a[:-1], a[1:], b[1:]], axis=1)
        other = np.stack([a[:-1], b[1:], b[:-1]], axis=1)
        # Both ways round: a card is seen from either side.
        faces += [one, other, one[:, ::-1], other[:, ::-1]]
    return Mesh.make(np.concatenate(corners), np.concatenate(faces), frame="block", origin=Origin.OUTSIDE)


def _tall_mm(outline: Floats, run_mm: float) -> float:
    """How high the outline of a card reaches at a run along it, mm."""
    a, b = outline, np.roll(outline, -1, axis=0)
    there = (np.minimum(a[:, 0], b[:, 0]) <= run_mm) & (np.maximum(a[:, 0], b[:, 0]) >= run_mm)
    a, b = a[there], b[there]
    step = b[:, 0] - a[:, 0]
    share = np.where(np.abs(step) > 1e-9, (run_mm - a[:, 0]) / np.where(step == 0.0, 1.0, step), 0.0)
    return float((a[:, 1] + share * (b[:, 1] - a[:, 1])).max(initial=0.0))


class _Words:
    """Words put on a picture, none over another or over a dot that was put there first."""

    def __init__(self, image: Image.Image, size: int) -> None:
        self.image, self.size = image, size
        self.pen = ImageDraw.Draw(image)
        self.boxes: list[tuple[float, float, float, float]] = []
        self.dots: list[Floats] = []

    def dot(self, tip: Floats, radius: int, fill: str) -> None:
        """A dot on the seam or on the object."""
        x, y = tip
        edge = SLATE if fill == "#FFFFFF" else "#FFFFFF"
        self.pen.ellipse([x - radius, y - radius, x + radius, y + radius], fill=fill, outline=edge, width=2)

    def put(self, at: Floats, text: str) -> None:
        """Plain words at a place, whatever is there."""
        box_px = self._box(at, text)
        middle = np.array([(box_px[0] + box_px[2]) / 2.0, (box_px[1] + box_px[3]) / 2.0])
        linework.label(self.image, (float(middle[0]), float(middle[1])), text, self.size)
        self.boxes.append(box_px)

    def beside(
        self,
        tip: Floats,
        text: str,
        reaches: Sequence[float],
        turns_deg: Sequence[float],
        *,
        ring: bool = False,
    ) -> None:
        """Words round a tip where they lie over least, with a line that leads to them; a number on a plate
        for a `ring`. `reaches` are in letter heights.
        """
        best, least = tip, np.inf
        for reach in reaches:
            for turn in turns_deg:
                angle = np.radians(turn)
                at = tip + reach * self.size * np.array([np.cos(angle), np.sin(angle)])
                over = self._over(self._box(at, text), tip)
                if over < least:
                    best, least = at, over
            if least == 0.0:
                break
        box_px = self._box(best, text)
        middle = np.array([(box_px[0] + box_px[2]) / 2.0, (box_px[1] + box_px[3]) / 2.0])
        if np.isclose(np.hypot(*(best - tip)), reaches[0] * self.size) and not ring and reaches[0] < NO_LEAD:
            # So near that no line need lead there.
            pass
        else:
            half = np.array([box_px[2] - box_px[0], box_px[3] - box_px[1]]) / 2.0
            back = tip - middle
            stop = middle + back * min(1.0, float(np.min(half / np.maximum(np.abs(back), 1e-9))))
            self.pen.line([tuple(tip), tuple(stop)], fill=OXIDE if ring else SLATE, width=3 if ring else 2)
        if ring:
            linework.plate(self.image, (float(middle[0]), float(middle[1])), text, self.size, OXIDE)
        else:
            linework.label(self.image, (float(middle[0]), float(middle[1])), text, self.size)
        self.boxes.append(box_px)

    def _box(self, at: Floats, text: str) -> tuple[float, float, float, float]:
        half = np.array([0.29 * self.size * len(text) + 5.0, 0.62 * self.size])
        x, y = np.clip(at, half, np.array(self.image.size) - half)
        return x - half[0], y - half[1], x + half[0], y + half[1]

    def _over(self, box_px: tuple[float, float, float, float], tip: Floats) -> float:
        """How much lies under a box: other words, and dots but for its own."""
        x0, y0, x1, y1 = box_px
        words = sum(
            max(0.0, min(x1, b[2]) - max(x0, b[0])) * max(0.0, min(y1, b[3]) - max(y0, b[1]))
            for b in self.boxes
        )
        dots = sum(x0 - 6 < d[0] < x1 + 6 and y0 - 6 < d[1] < y1 + 6 for d in self.dots)
        # Nearer to another dot than to its own it would be read as that one's.
        middle = np.array([(x0 + x1) / 2.0, (y0 + y1) / 2.0])
        far = float(np.hypot(*(middle - tip)))
        dots += sum(far > float(np.hypot(*(middle - d))) for d in self.dots if np.hypot(*(d - tip)) > 1.0)
        own = x0 < tip[0] < x1 and y0 < tip[1] < y1
        return float(words + 200.0 * dots + 500.0 * own)


def _ends(words: _Words, camera: Camera, low: Floats, high: Floats, board_mm: float) -> None:
    """The words front and back beside the board."""
    middle = (low[0] + high[0]) / 2.0
    for word, y in (("front", low[1] - BOARD_ROOM_MM), ("back", high[1] + BOARD_ROOM_MM)):
        at = camera.project(np.array([[middle, y, board_mm - BOARD_THICK_MM]]))[0, :2]
        words.put(at + np.array([0.0, words.size]), word)


def _point(spot: Mapping[str, Any], height_mm: float, board_mm: float) -> Floats:
    return np.array([[*spot["at_mm"], height_mm + board_mm]], dtype=np.float64)


def _tips(drawn: Drawn, camera: Camera, pose: Mapping[str, Any]) -> list[tuple[int, Floats]]:
    """The stations in sight and where they stand in the picture."""
    stations = pose.get("stations") or []
    if not stations:
        return []
    points = np.concatenate([_point(s, s["seam_mm"], pose["board_mm"]) for s in stations])
    visible = linework.seen(drawn, points, UNDER_MM)
    flat = camera.project(points)[:, :2]
    return [(int(stations[k]["number"]), flat[k]) for k in np.flatnonzero(visible)]


def _rings(words: _Words, drawn: Drawn, camera: Camera, pose: Mapping[str, Any], side: Side) -> None:
    """A ring round each place to fill with its number: those in sight, and those that no side shows."""
    spots = pose.get("fill") or []
    for mark in fill_marks(spots):
        mine = [spots[k] for k in mark.spots]
        points = np.concatenate([_point(spot, spot["height_mm"], pose["board_mm"]) for spot in mine])
        visible = linework.seen(drawn, points, UNDER_MM + mark.depth_mm)
        beside = (mark.at_mm[0] < 0.0) == (side == "left")
        if not visible.any() and not beside:
            continue
        shown = points[visible] if visible.any() else points
        flat = camera.project(shown)[:, :2]
        middle = flat.mean(axis=0)
        radius = words.size * 0.8 + float(np.linalg.norm(flat - middle, axis=1).max())
        x, y = (float(v) for v in middle)
        reach = radius / words.size + 1.2
        words.beside(middle, str(mark.number), (reach, reach + 1.2), RING_TURNS_DEG, ring=True)
        for begin in range(0, 360, 30):
            end = begin + (30 if visible.any() else 18)
            words.pen.arc([x - radius, y - radius, x + radius, y + radius], begin, end, fill=OXIDE, width=4)
        words.dots.append(middle)


def _heights(words: _Words, drawn: Drawn, camera: Camera, pose: Mapping[str, Any], us: bool) -> None:
    """Where heights of the pose are read, with their figures, those in sight."""
    for mark in pose.get("landmarks") or []:
        point = _point(mark, mark["height_mm"], pose["board_mm"])
        if not linework.seen(drawn, point, UNDER_MM)[0]:
            continue
        tip = camera.project(point)[0, :2]
        name = str(mark["name"]).partition(":")[0].partition(",")[0].removesuffix(" place")
        words.beside(tip, f"{name}, {height_words(mark, us)}", (2.2, 3.4, 4.8, 6.4), HEIGHT_TURNS_DEG)
        words.dot(tip, 7, SLATE)
