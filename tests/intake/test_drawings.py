"""Outlines out of SVG and DXF: units, curves, strokes that meet, and damage."""

from __future__ import annotations

import io
import math

import ezdxf
import numpy as np
import pytest
from shapely import Polygon

from claybed.errors import InputError
from claybed.intake.drawings import Drawing, read_drawing

HEAD = 'xmlns="http://www.w3.org/2000/svg"'


def svg(body: str, size: str = 'width="100mm" height="80mm" viewBox="0 0 100 80"') -> bytes:
    """An SVG drawing of these elements."""
    return f"<svg {HEAD} {size}>{body}</svg>".encode()


def areas_mm2(drawing: Drawing) -> list[float]:
    """Areas of the closed lines, largest first, in mm²."""
    factor = drawing.mm_per_unit or 1.0
    return sorted((Polygon(line.points * factor).area for line in drawing.lines if line.closed), reverse=True)


@pytest.mark.parametrize(
    ("body", "exact"),
    [
        ('<path d="M10 10 H90 V70 H10 Z"/>', 80 * 60),
        ('<rect x="10" y="10" width="50" height="20"/>', 1000),
        ('<circle cx="50" cy="40" r="20"/>', math.pi * 400),
        ('<ellipse cx="50" cy="40" rx="30" ry="10"/>', math.pi * 300),
        ('<polygon points="0,0 60,0 0,40"/>', 1200),
        ('<g transform="translate(5 5) scale(2)"><rect width="10" height="10"/></g>', 400),
        ('<path d="M0 0 L10 0 M10 0 L10 10 M10 10 L0 10 M0 10 L0 0"/>', 100),
        (
            '<path d="M0 0 C0 10 20 10 20 0 Z"/>',
            120,
        ),  # a Bézier arch: 3/5 of width times height of its handles
    ],
)
def test_areas_of_what_svg_draws(body: str, exact: float) -> None:
    """Each kind of element encloses the area that it should, in millimetres."""
    (found,) = areas_mm2(read_drawing(svg(body), "a.svg"))
    assert found == pytest.approx(exact, rel=3e-3)


@pytest.mark.parametrize(
    ("size", "mm"),
    [
        ('width="100mm" viewBox="0 0 100 100" height="100mm"', 1.0),
        ('width="10cm" viewBox="0 0 200 200" height="10cm"', 0.5),
        ('width="4in" viewBox="0 0 4 4" height="4in"', 25.4),
    ],
)
def test_physical_sizes_are_kept(size: str, mm: float) -> None:
    """A square of 10 units is as large as width and viewBox say."""
    drawing = read_drawing(svg('<rect width="10" height="10"/>', size), "a.svg")
    assert areas_mm2(drawing) == pytest.approx([(10 * mm) ** 2], rel=1e-5)


def test_a_drawing_in_pixels_does_not_say() -> None:
    """Without a physical size an SVG states no unit."""
    assert read_drawing(svg('<rect width="10" height="10"/>', 'width="100"'), "a.svg").mm_per_unit is None


def test_y_runs_up() -> None:
    """What lies high on the page lies high in the outline."""
    (line,) = read_drawing(svg('<path d="M0 70 L50 70 L25 0 Z"/>'), "a.svg").lines
    assert line.points[line.points[:, 1].argmax(), 0] == pytest.approx(25 * 96 / 25.4, rel=1e-6)


def dxf(draw: object, unit: int = 4) -> bytes:
    """A DXF drawing made by `draw`."""
    document = ezdxf.new()
    document.header["$INSUNITS"] = unit
    draw(document)  # type: ignore[operator]
    out = io.StringIO()
    document.write(out)
    return out.getvalue().encode()


def test_dxf_strokes_are_joined() -> None:
    """Lines and arcs that meet end to end make one closed outline: a stadium."""

    def draw(document: ezdxf.document.Drawing) -> None:
        space = document.modelspace()
        space.add_line((0, 0), (50, 0))
        space.add_line((50, 20), (0, 20))
        space.add_arc((50, 10), 10, -90, 90)
        space.add_arc((0, 10), 10, 90, 270)
        space.add_text("not an outline")

    drawing = read_drawing(dxf(draw), "a.dxf")
    assert drawing.mm_per_unit == 1.0
    assert areas_mm2(drawing) == pytest.approx([50 * 20 + math.pi * 100], rel=1e-3)
    assert len(drawing.lines) == 1


def test_dxf_blocks_and_units() -> None:
    """A block placed twice is two outlines; inches are told by the header."""

    def draw(document: ezdxf.document.Drawing) -> None:
        block = document.blocks.new("disc")
        block.add_circle((0, 0), 1)
        for x in (0, 5):
            document.modelspace().add_blockref("disc", (x, 0))

    drawing = read_drawing(dxf(draw, unit=1), "a.dxf")
    assert drawing.mm_per_unit == 25.4
    assert areas_mm2(drawing) == pytest.approx([math.pi * 25.4**2] * 2, rel=2e-3)


def test_dxf_without_a_unit() -> None:
    """A unitless drawing states none."""
    drawing = read_drawing(dxf(lambda d: d.modelspace().add_circle((0, 0), 10), unit=0), "a.dxf")
    assert drawing.mm_per_unit is None


def test_a_dxf_block_within_itself_ends() -> None:
    """Blocks that hold one another do not run on for ever."""

    def draw(document: ezdxf.document.Drawing) -> None:
        block = document.blocks.new("ring")
        block.add_circle((0, 0), 10)
        block.add_blockref("ring", (1, 0))
        document.modelspace().add_blockref("ring", (0, 0))

    try:
        found = read_drawing(dxf(draw), "a.dxf")
    except InputError:
        return
    assert 1 <= len(found.lines) <= 8


LAUGHS = (
    b'<!DOCTYPE svg [<!ENTITY a "ha"><!ENTITY b "&a;&a;">]><svg xmlns="http://www.w3.org/2000/svg">&b;</svg>'
)


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "neither SVG nor DXF"),
        (b"\x89PNG\r\n\x1a\n", "neither SVG nor DXF"),
        (b"solid a\nendsolid", "neither SVG nor DXF"),
        (svg(""), "holds no lines"),
        (svg("<text>hello</text>"), "holds no lines"),
        (svg('<path d="M0 0 L')[:-10], "cannot be read as SVG"),
        (LAUGHS, "entities"),
        (b"  0\nSECTION\n  2\nENTITIES\n  0\nLI", "DXF|no lines"),
        (svg('<path d="M0 0 L' + "1 1 " * 300_000 + '"/>'), "more than"),
    ],
)
def test_damage_ends_in_one_sentence(data: bytes, words: str) -> None:
    """Each damaged or foreign file ends in an InputError of one line that says what to do."""
    with pytest.raises(InputError, match=words) as caught:
        read_drawing(data, "a.svg")
    assert "\n" not in str(caught.value)
    assert caught.value.remedy


def test_points_are_where_they_were_drawn() -> None:
    """A rectangle keeps its four corners, and no more."""
    (line,) = read_drawing(svg('<path d="M10 10 H90 V70 H10 Z"/>'), "a.svg").lines
    wanted = np.array([[10, 70], [90, 70], [90, 10], [10, 10]]) * 96 / 25.4
    got = line.points - line.points.min(axis=0) + wanted.min(axis=0)
    near = np.linalg.norm(got[:, None] - wanted[None], axis=2)
    assert len(got) == 4
    assert near.min(axis=0) == pytest.approx(0.0, abs=1e-3)
