"""Where words stand on a crowded drawing: each where it lies over nothing, or not at all."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise

import numpy as np

from claybed.geometry.mesh import Floats

# Width of a letter and room round a word, in heights of its letters.
LETTER_WIDTH = 0.85
ROUND_MM = 0.35
# Lines are looked for at points this far apart, less than the lowest letters are high.
APART_MM = 0.8

Place = tuple[float, float]


class Room:
    """What is taken on a drawing: lines, and words that were placed."""

    def __init__(self, lines: Iterable[Floats]) -> None:
        runs = [_dotted(line) for line in lines]
        self._dots: Floats = np.concatenate(runs) if runs else np.empty((0, 2))
        self._boxes: list[tuple[float, float, float, float]] = []

    def put(
        self, text: str, height_mm: float, places: Sequence[Place], *, tall_mm: float | None = None
    ) -> Place | None:
        """Take the first of `places` (the word's middle, mm) at which nothing lies under it, and return it.

        `tall_mm` how tall the whole is where that is more than its letters. None when every one is taken.
        """
        for place in places:
            if self.free(text, height_mm, place, tall_mm=tall_mm):
                self._boxes.append(_box(text, height_mm, place, tall_mm))
                return place
        return None

    def free(self, text: str, height_mm: float, place: Place, *, tall_mm: float | None = None) -> bool:
        """Whether nothing lies under a word whose middle is at `place`; `tall_mm` as in `put`."""
        return self._free(_box(text, height_mm, place, tall_mm))

    def put_over(
        self, text: str, height_mm: float, places: Sequence[Place], *, tall_mm: float | None = None
    ) -> Place | None:
        """Take the first of `places` at which no other word lies, whatever lines do; None when there is none.

        `tall_mm` as in `put`.
        """
        for place in places:
            box = _box(text, height_mm, place, tall_mm)
            if not any(
                box[0] < b[2] and b[0] < box[2] and box[1] < b[3] and b[1] < box[3] for b in self._boxes
            ):
                self._boxes.append(box)
                return place
        return None

    def lead(self, line: Floats) -> bool:
        """Take a line (n, 2) that leads to a word; False, and nothing taken, when it would cross a word."""
        dots = _dotted(line)
        for x0, y0, x1, y1 in self._boxes:
            inside = (dots[:, 0] > x0) & (dots[:, 0] < x1) & (dots[:, 1] > y0) & (dots[:, 1] < y1)
            if inside.any():
                return False
        self._dots = np.concatenate([self._dots, dots])
        return True

    def _free(self, box: tuple[float, float, float, float]) -> bool:
        x0, y0, x1, y1 = box
        if any(x0 < b[2] and b[0] < x1 and y0 < b[3] and b[1] < y1 for b in self._boxes):
            return False
        dots = self._dots
        under = (dots[:, 0] > x0) & (dots[:, 0] < x1) & (dots[:, 1] > y0) & (dots[:, 1] < y1)
        return not bool(under.any())


def _box(
    text: str, height_mm: float, place: Place, tall_mm: float | None
) -> tuple[float, float, float, float]:
    half_x = (LETTER_WIDTH * height_mm * len(text)) / 2.0 + ROUND_MM
    half_y = (tall_mm or height_mm) / 2.0 + ROUND_MM
    return place[0] - half_x, place[1] - half_y, place[0] + half_x, place[1] + half_y


def along(
    at_mm: Place, out: Place, reaches_mm: Sequence[float], turns_deg: Sequence[float] = (0.0, 25.0, -25.0)
) -> list[Place]:
    """Places seen from a point in a direction: at each reach (mm) in turn, straight first, then aside."""
    turn = math.atan2(out[1], out[0])
    found = []
    for reach_mm in reaches_mm:
        for degrees in turns_deg:
            angle = turn + math.radians(degrees)
            found.append((at_mm[0] + reach_mm * math.cos(angle), at_mm[1] + reach_mm * math.sin(angle)))
    return found


def _dotted(line: Floats) -> Floats:
    """Points along a polyline (n, 2), no further apart than APART_MM."""
    parts = [line[:1]]
    for a, b in pairwise(line):
        count = max(1, math.ceil(float(np.linalg.norm(b - a)) / APART_MM))
        steps = np.arange(1, count + 1)[:, None] / count
        parts.append(a + steps * (b - a))
    return np.concatenate(parts)
