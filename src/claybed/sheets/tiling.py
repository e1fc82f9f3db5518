"""Drawings laid out on paper at true scale: those that fit share pages, large ones run over several."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from shapely.geometry import LineString, box

from claybed.errors import InputError
from claybed.geometry.mesh import Floats
from claybed.records.drawing import Drawing, Label, Line
from claybed.sheets.drawing_files import extent_mm

PAPERS_MM = {"a4": (210.0, 297.0), "us-letter": (215.9, 279.4)}
LEFT_MM, RIGHT_MM, TOP_MM, BOTTOM_MM = 13.0, 7.0, 14.0, 18.0
# Neighbouring tiles repeat this much, and carry crosses in the middle of it.
OVERLAP_MM = 10.0
CROSS_IN_MM = 22.0
GAP_MM = 6.0
CAPTION_MM = 11.0
CAPTION_WIDE_MM = 62.0
LABEL_ROOM_MM = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """A drawing on a page: its lines and labels in page millimetres, x right and y down; `caption` and where
    it stands, None for one that fills its page.
    """

    drawing: str
    lines: tuple[Line, ...]
    labels: tuple[Label, ...]
    caption: str
    caption_at_mm: tuple[float, float] | None


@dataclass(slots=True, eq=False)
class Page:
    """One page: what stands on it, its registration crosses and its heading."""

    heading: str
    placed: list[Placed] = field(default_factory=list)
    crosses_mm: list[tuple[float, float]] = field(default_factory=list)


def room_mm(paper: str) -> tuple[float, float]:
    """Width and height left for drawings on a page, mm; raises InputError for an unknown paper."""
    if paper not in PAPERS_MM:
        raise InputError(f"No paper called {paper!r}.", where="paper", remedy="Use a4 or us-letter.")
    wide, tall = PAPERS_MM[paper]
    return wide - LEFT_MM - RIGHT_MM, tall - TOP_MM - BOTTOM_MM


def lay_out(drawings: Sequence[Drawing], paper: str) -> list[Page]:
    """Pages that hold all drawings at 1:1: those that fit on a page, small ones in gaps, then the tiled ones.

    A drawing is turned by a quarter where that takes less room. Raises InputError for an unknown paper.
    """
    wide, tall = room_mm(paper)
    small, large = [], []
    for drawing in drawings:
        across, high = _size(drawing)
        turned = _fits(high, across, wide, tall) and not _fits(across, high, wide, tall)
        if turned:
            small.append((_turned(drawing), high, across))
        elif _fits(across, high, wide, tall):
            small.append((drawing, across, high))
        else:
            large.append(drawing)
    pages = _shelved(small, wide, tall)
    for drawing in large:
        pages += _tiled(drawing, wide, tall)
    return pages


def _fits(across: float, high: float, wide: float, tall: float) -> bool:
    return across <= wide and high + CAPTION_MM <= tall


def _readable(turn_deg: float) -> float:
    """The same slope without letters that stand on their heads."""
    return turn_deg - 180.0 if 90.0 < turn_deg % 360.0 <= 270.0 else turn_deg


def _size(drawing: Drawing) -> tuple[float, float]:
    low, high = extent_mm(drawing)
    size = high - low + 2.0 * LABEL_ROOM_MM
    return float(size[0]), float(size[1])


def _turned(drawing: Drawing) -> Drawing:
    """The drawing turned counter-clockwise by a quarter."""
    turn = np.array([[0.0, 1.0], [-1.0, 0.0]])
    lines = tuple(Line(line.points @ turn, line.stroke, line.closed) for line in drawing.lines)
    labels = tuple(
        Label(
            label.text, (-label.at_mm[1], label.at_mm[0]), label.height_mm, _readable(label.turn_deg + 90.0)
        )
        for label in drawing.labels
    )
    return Drawing(drawing.id, drawing.title, drawing.says, lines, labels)


@dataclass(slots=True)
class _Row:
    """A row of drawings on a page: where it begins, how tall it may get, how far it is filled."""

    page: Page
    top_mm: float
    high_mm: float
    filled_mm: float = 0.0


def _shelved(small: Sequence[tuple[Drawing, float, float]], wide: float, tall: float) -> list[Page]:
    """Rows of drawings, each in the first gap that takes it as it is or turned; pages in order of need."""
    pages: list[Page] = []
    rows: list[_Row] = []
    for drawing, across, high in small:
        ways = [(drawing, across, high)]
        if _fits(high, across, wide, tall):
            ways.append((_turned(drawing), high, across))
        row = None
        for way in ways:
            row = _gap(rows, way[1], way[2], wide, tall, pages)
            if row is not None:
                break
        else:
            way = ways[0]
            pages.append(Page("Templates"))
            row = _Row(pages[-1], 0.0, way[2])
            rows.append(row)
        assert row is not None
        fits, across, high = way
        low = extent_mm(fits)[0] - LABEL_ROOM_MM
        top = extent_mm(fits)[1][1] + LABEL_ROOM_MM
        x, y = row.filled_mm, row.top_mm
        origin = np.array([LEFT_MM + x - low[0], TOP_MM + CAPTION_MM + y + top])
        row.page.placed.append(_on_page(fits, origin, (LEFT_MM + x, TOP_MM + y)))
        # A caption may be wider than its drawing.
        row.filled_mm += max(across, CAPTION_WIDE_MM) + GAP_MM
    return pages


def _gap(
    rows: list[_Row], across: float, high: float, wide: float, tall: float, pages: list[Page]
) -> _Row | None:
    """A row with room for a drawing: one that stands there, else a new one below the rows of a page."""
    room = max(across, CAPTION_WIDE_MM)
    for row in rows:
        if row.filled_mm + room <= wide and high <= row.high_mm:
            return row
    for page in pages:
        last = max((row for row in rows if row.page is page), key=lambda row: row.top_mm)
        top = last.top_mm + last.high_mm + CAPTION_MM + GAP_MM
        if top + high + CAPTION_MM <= tall and room <= wide:
            row = _Row(page, top, high)
            rows.append(row)
            return row
    return None


def _tiled(drawing: Drawing, wide: float, tall: float) -> list[Page]:
    """One page for each tile that holds a line, whichever way round takes fewer."""
    ways = [_tiles(way, wide, tall) for way in (drawing, _turned(drawing))]
    return min(ways, key=len)


def _tiles(drawing: Drawing, wide: float, tall: float) -> list[Page]:
    low, high = extent_mm(drawing)
    low, high = low - LABEL_ROOM_MM, high + LABEL_ROOM_MM
    step = np.array([wide, tall]) - OVERLAP_MM
    columns, rows = (max(1, math.ceil((high[k] - low[k] - OVERLAP_MM) / step[k])) for k in (0, 1))
    shapes = [_shape(line) for line in drawing.lines]
    pages = []
    for row in range(rows):
        for column in range(columns):
            corner = np.array([low[0] + column * step[0], high[1] - row * step[1]])
            tile = box(corner[0], corner[1] - tall, corner[0] + wide, corner[1])
            if not any(shape.intersects(tile) for shape in shapes):
                continue
            name = f"{chr(ord('A') + row)}{column + 1}"
            page = Page(f"{drawing.title}: tile {name} of {rows} × {columns}. {drawing.says}")
            origin = np.array([LEFT_MM - corner[0], TOP_MM + corner[1]])
            page.placed.append(_on_page(drawing, origin, None))
            page.crosses_mm = _crosses(row, column, rows, columns, wide, tall)
            pages.append(page)
    return pages


def _shape(line: Line) -> LineString:
    points = np.concatenate([line.points, line.points[:1]]) if line.closed else line.points
    return LineString(points)


def _crosses(
    row: int, column: int, rows: int, columns: int, wide: float, tall: float
) -> list[tuple[float, float]]:
    """Where a tile carries crosses: in the middle of each strip that it shares, near both ends of it."""
    half = OVERLAP_MM / 2.0
    across = [x for x, shared in ((half, column > 0), (wide - half, column < columns - 1)) if shared]
    down = [y for y, shared in ((half, row > 0), (tall - half, row < rows - 1)) if shared]
    places = [(x, y) for x in across for y in (CROSS_IN_MM, tall - CROSS_IN_MM)]
    places += [(x, y) for y in down for x in (CROSS_IN_MM, wide - CROSS_IN_MM)]
    return [(LEFT_MM + x, TOP_MM + y) for x, y in places]


def _on_page(drawing: Drawing, origin: Floats, caption_at: tuple[float, float] | None) -> Placed:
    """A drawing with its own origin at a page point."""
    flip = np.array([1.0, -1.0])
    lines = tuple(Line(line.points * flip + origin, line.stroke, line.closed) for line in drawing.lines)
    labels = tuple(
        Label(
            label.text,
            (float(origin[0] + label.at_mm[0]), float(origin[1] - label.at_mm[1])),
            label.height_mm,
            label.turn_deg,
        )
        for label in drawing.labels
    )
    caption = f"{drawing.title}. {drawing.says}"
    return Placed(drawing.id, lines, labels, caption, caption_at)
