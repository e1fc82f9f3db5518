"""Templates written out: SVG and DXF of each, and all of them in one PDF at true scale."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from claybed import __version__
from claybed.records.drawing import Drawing
from claybed.sheets.drawing_files import dxf, svg
from claybed.sheets.steps import unbroken
from claybed.sheets.tiling import LEFT_MM, TOP_MM, Page, Placed, lay_out, room_mm
from claybed.sheets.typesetting import compiled, unscaled


def write_files(drawings: Sequence[Drawing], folder: Path) -> list[Path]:
    """Write each drawing as SVG and as DXF into `folder`, named by its id; return the files."""
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for drawing in drawings:
        for text, ending in ((svg(drawing), "svg"), (dxf(drawing), "dxf")):
            path = folder / f"{drawing.id}.{ending}"
            path.write_text(text, encoding="utf-8")
            written.append(path)
    return written


def render(
    drawings: Sequence[Drawing], name: str, *, paper: str = "a4", made_on: date | None = None
) -> bytes:
    """All drawings at 1:1 as PDF bytes, tiled where they are larger than the paper (a4 or us-letter).

    `name` is the object's. Every page carries bars of 150 mm in both directions, and viewers are asked not to
    scale. Raises InputError for an unknown paper.
    """
    day = made_on if made_on is not None else datetime.now(UTC).astimezone().date()
    wide, tall = room_mm(paper)
    values = {
        "name": name,
        "version": __version__,
        "date": day.isoformat(),
        "left": LEFT_MM,
        "top": TOP_MM,
        "wide": wide,
        "tall": tall,
        "pages": [_page(page) for page in lay_out(drawings, paper)],
    }
    return unscaled(compiled("tiles.typ", values, {}, paper, day))


def _page(page: Page) -> dict[str, Any]:
    return {
        "heading": page.heading,
        "placed": [_placed(one) for one in page.placed],
        "crosses": [list(place) for place in page.crosses_mm],
    }


def _placed(one: Placed) -> dict[str, Any]:
    spread = [float(x) for line in one.lines for x in line.points[:, 0]]
    return {
        "lines": [
            {"points": line.points.round(5).tolist(), "stroke": line.stroke, "closed": line.closed}
            for line in one.lines
        ],
        "labels": [
            {"text": label.text, "at": list(label.at_mm), "height": label.height_mm, "turn": label.turn_deg}
            for label in one.labels
        ],
        "caption": unbroken(one.caption),
        "caption-at": None if one.caption_at_mm is None else list(one.caption_at_mm),
        "wide": max(spread) - min(spread),
    }
