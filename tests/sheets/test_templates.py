"""Templates, read back from the files that are cut and the paper that is printed: every one at true scale."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from io import BytesIO
from itertools import combinations
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pdfplumber
import pytest
from lxml import etree
from numpy.typing import NDArray
from pypdf import PdfReader
from scipy.spatial import cKDTree
from shapely import box as rectangle

from claybed.errors import InputError
from claybed.flow.course import board_mm
from claybed.posing.posing import set_pose
from claybed.records.brief import Brief
from claybed.records.drawing import Drawing, Label, Line
from claybed.records.pose import BedCard
from claybed.sheets.bench_templates import templates_of, without_spikes
from claybed.sheets.drawing_files import LAYERS, extent_mm
from claybed.sheets.template_sheet import render, write_files
from claybed.sheets.tiling import CAPTION_MM, LEFT_MM, OVERLAP_MM, PAPERS_MM, TOP_MM, lay_out, room_mm
from tests.mold.molds import mold
from tests.pieces import solids

DAY = date(2026, 3, 14)
MM_PER_PT = 25.4 / 72.0
TRUE_MM = 0.1


@pytest.fixture(scope="module")
def drawings() -> tuple[Drawing, ...]:
    """All templates of a lumpy ball with a gate and keys, whose seam rises and falls."""
    mesh = solids.lumpy_sphere(4000)
    assembly = mold(mesh, (0.0, 0.0, 1.0), Brief(max_fill_ml=1e6)).assembly
    board = board_mm(assembly, assembly.pieces[0])
    pose = set_pose(assembly, mesh, (0.0, 0.0, 1.0), (), board_mm=board, rim_mm=150.0, tilt_deg=2.0)
    return templates_of(pose, assembly)


def large(wide_mm: float, tall_mm: float) -> Drawing:
    """A drawing of a known size that needs several sheets: a frame and a slanting line."""
    frame = np.array([[0.0, 0.0], [wide_mm, 0.0], [wide_mm, tall_mm], [0.0, tall_mm]])
    slant = np.array([[0.0, 0.0], [wide_mm, tall_mm]])
    lines = (Line(frame, "cut", closed=True), Line(slant, "dash"))
    return Drawing(
        "frame", "Frame", "Of a known size.", lines, (Label("middle", (wide_mm / 2, tall_mm / 2)),)
    )


def path_points_mm(page: Any) -> NDArray[np.float64]:
    """All corners of all drawn paths of a page, mm from its upper left."""
    corners: list[tuple[float, float]] = []
    for item in [*page.curves, *page.lines, *page.rects]:
        corners += item.get("pts") or [(item["x0"], item["top"]), (item["x1"], item["bottom"])]
    return np.array(corners) * MM_PER_PT


def test_every_template_is_drawn(drawings: Sequence[Drawing]) -> None:
    """A rising seam brings both saddles, chart, strip, cards of the bed, key card and gate plug."""
    names = [drawing.id for drawing in drawings]
    assert names[:4] == ["saddle-S1", "saddle-S2", "chart", "seam-strip"]
    assert any(name.startswith("bed-card-") for name in names)
    assert "key-tool" in names and "gate-plug" in names
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_templates_read_back_from_paper_at_true_scale(drawings: Sequence[Drawing], paper: str) -> None:
    """Every corner of every line of every template is found in the PDF within 0.1 mm of where 1:1 puts it."""
    pages = lay_out(drawings, paper)
    pdf = render(drawings, "Lump", paper=paper, made_on=DAY)
    original = {drawing.id: drawing for drawing in drawings}
    seen: set[str] = set()
    with pdfplumber.open(BytesIO(pdf)) as read:
        assert len(read.pages) == len(pages)
        for page, printed in zip(pages, read.pages, strict=True):
            found = cKDTree(path_points_mm(printed))
            for placed in page.placed:
                seen.add(placed.drawing)
                for line, asked in zip(placed.lines, original[placed.drawing].lines, strict=True):
                    assert found.query(line.points)[0].max() < TRUE_MM
                    # The layout may shift and turn a template, never stretch it.
                    assert np.allclose(_steps(line.points), _steps(asked.points), atol=1e-6)
    assert seen == set(original)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_small_templates_share_pages(paper: str) -> None:
    """Tall and short ones in turn fill each other's gaps: none overlaps, all stay on the paper, few pages."""
    sizes = [(80.0, 170.0), (150.0, 60.0), (90.0, 160.0), (60.0, 55.0), (70.0, 75.0), (64.0, 50.0)]
    pages = lay_out([large(*size) for size in sizes], paper)
    wide, tall = room_mm(paper)
    for page in pages:
        spots = []
        for placed in page.placed:
            points = np.concatenate([line.points for line in placed.lines]) - [LEFT_MM, TOP_MM]
            low, high = points.min(axis=0), points.max(axis=0)
            assert (low >= -1e-6).all() and high[0] <= wide + 1e-6 and high[1] <= tall + 1e-6
            spots.append(rectangle(low[0], low[1] - CAPTION_MM, high[0], high[1]))
        assert not any(a.intersects(b) for a, b in combinations(spots, 2))
    assert sum(len(page.placed) for page in pages) == len(sizes)
    assert len(pages) == (2 if paper == "a4" else 3)


def _steps(points: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.linalg.norm(np.diff(points, axis=0), axis=1)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
def test_check_bars_stand_on_every_page(drawings: Sequence[Drawing], paper: str) -> None:
    """Each page has its paper's size, a level and an upright bar of 150 mm, and asks not to be scaled."""
    pdf = render([*drawings, large(430.0, 320.0)], "Lump", paper=paper, made_on=DAY)
    assert PdfReader(BytesIO(pdf)).root_object["/ViewerPreferences"]["/PrintScaling"] == "/None"
    with pdfplumber.open(BytesIO(pdf)) as read:
        for page in read.pages:
            size = (float(page.width) * MM_PER_PT, float(page.height) * MM_PER_PT)
            assert size == pytest.approx(PAPERS_MM[paper], abs=0.1)
            level = [(ln["x1"] - ln["x0"]) * MM_PER_PT for ln in page.lines]
            upright = [(ln["bottom"] - ln["top"]) * MM_PER_PT for ln in page.lines]
            assert any(abs(v - 150.0) < TRUE_MM for v in level)
            assert any(abs(v - 150.0) < TRUE_MM for v in upright)


@pytest.mark.parametrize("paper", ["a4", "us-letter"])
@pytest.mark.parametrize("size", [(430.0, 320.0), (200.0, 600.0), (260.0, 180.0)])
def test_tiles_of_a_large_template_join(paper: str, size: tuple[float, float]) -> None:
    """Tiles overlap by 10 mm, cover the whole drawing, and carry crosses at the same point of the drawing."""
    pages = lay_out([large(*size)], paper)
    wide, tall = room_mm(paper)
    assert len(pages) > 1 or max(size) < max(wide, tall)
    crosses: dict[tuple[int, int], int] = {}
    covered = np.zeros((round(size[0]) + 1, round(size[1]) + 1), bool)
    for page in pages:
        frame = page.placed[0].lines[0].points
        # The first two corners of the frame give the origin and the direction of its long foot.
        foot = (frame[1] - frame[0]) / np.linalg.norm(frame[1] - frame[0])
        side = (frame[3] - frame[0]) / np.linalg.norm(frame[3] - frame[0])
        assert np.linalg.norm(frame[1] - frame[0]) == pytest.approx(size[0], abs=1e-6)
        for place in page.crosses_mm:
            away = np.array(place) - frame[0]
            key = (round(float(away @ foot) * 10), round(float(away @ side) * 10))
            crosses[key] = crosses.get(key, 0) + 1
        corner = np.array([[13.0, 14.0], [13.0 + wide, 14.0 + tall]])
        inside = np.sort(np.stack([(corner - frame[0]) @ foot, (corner - frame[0]) @ side], axis=1), axis=0)
        lo = np.maximum(np.ceil(inside[0]), 0).astype(int)
        hi = np.minimum(np.floor(inside[1]) + 1, covered.shape).astype(int)
        covered[lo[0] : hi[0], lo[1] : hi[1]] = True
    rim = np.concatenate([covered[0], covered[-1], covered[:, 0], covered[:, -1]])
    assert rim.all()
    if len(pages) > 1:
        assert crosses and all(count >= 2 for count in crosses.values())
    assert OVERLAP_MM == 10.0


def test_svg_reads_back_in_millimetres(drawings: Sequence[Drawing], tmp_path: Path) -> None:
    """Width and view box of each SVG agree, one unit is a millimetre, and each line keeps its corners."""
    write_files(drawings, tmp_path)
    for drawing in drawings:
        root = etree.parse(tmp_path / f"{drawing.id}.svg").getroot()
        _, _, wide, tall = (float(v) for v in root.get("viewBox").split())
        assert root.get("width") == f"{wide:.4f}mm" and root.get("height") == f"{tall:.4f}mm"
        shapes = [item for item in root if etree.QName(item).localname in ("polygon", "polyline")]
        assert len(shapes) == len(drawing.lines)
        for shape, line in zip(shapes, drawing.lines, strict=True):
            points = np.array([[float(v) for v in pair.split(",")] for pair in shape.get("points").split()])
            assert shape.get("class") == line.stroke
            shift = points * [1.0, -1.0] - line.points
            assert np.abs(shift - shift[0]).max() < 1e-3


def test_dxf_reads_back_in_millimetres(drawings: Sequence[Drawing], tmp_path: Path) -> None:
    """ezdxf reads each file without a fault, in millimetres, with cuts and marks on their own layers."""
    write_files(drawings, tmp_path)
    for drawing in drawings:
        document = ezdxf.readfile(tmp_path / f"{drawing.id}.dxf")
        assert document.units == ezdxf.units.MM
        assert not document.audit().errors
        shapes = list(document.modelspace().query("LWPOLYLINE"))
        for shape, line in zip(shapes, drawing.lines, strict=True):
            assert shape.dxf.layer == LAYERS[line.stroke][0]
            assert bool(shape.closed) == line.closed
            assert np.allclose(np.array(shape.get_points("xy")), line.points, atol=1e-6)
        words = [text.dxf.text for text in document.modelspace().query("TEXT")]
        assert words == [label.text for label in drawing.labels]


def test_words_stay_on_the_drawing(drawings: Sequence[Drawing]) -> None:
    """No label lies outside the lines it belongs to by more than the room for station numbers."""
    for drawing in drawings:
        lines = np.concatenate([line.points for line in drawing.lines])
        low, high = lines.min(axis=0), lines.max(axis=0)
        assert (extent_mm(drawing)[0] >= low - 12.0).all() and (extent_mm(drawing)[1] <= high + 12.0).all()


def test_numbers_on_chart_and_strip_stand_clear(drawings: Sequence[Drawing]) -> None:
    """No number lies on another, and every bed card finds the number of its station on the chart."""
    cards = {drawing.id.rpartition("-")[2] for drawing in drawings if drawing.id.startswith("bed-card-")}
    chart = next(drawing for drawing in drawings if drawing.id == "chart")
    assert cards <= {label.text for label in chart.labels}
    for drawing in drawings:
        if drawing.id != "chart" and not drawing.id.startswith("seam-strip"):
            continue
        boxes = np.array([_box(label) for label in drawing.labels if not label.turn_deg])
        for k, box in enumerate(boxes[:-1]):
            others = boxes[k + 1 :]
            apart = (others[:, 0] >= box[2]) | (others[:, 2] <= box[0])
            assert (apart | (others[:, 1] >= box[3]) | (others[:, 3] <= box[1])).all(), drawing.labels[k]


def _box(label: Label) -> tuple[float, float, float, float]:
    """Around the letters of a word, a little less than a printer's: left, low, right, high."""
    (x, y), wide, tall = label.at_mm, 0.75 * label.height_mm * len(label.text), label.height_mm
    return x - wide / 2.0, y - tall / 2.0, x + wide / 2.0, y + tall / 2.0


def test_unknown_paper_is_refused(drawings: Sequence[Drawing]) -> None:
    """Paper of another size is refused with those there are."""
    with pytest.raises(InputError, match="a4"):
        render(drawings, "Lump", paper="a3", made_on=DAY)


def test_every_station_has_number_and_height_on_the_strip(drawings: Sequence[Drawing]) -> None:
    """The strip carries each station's number once and a height at every one, the chart each number; turned
    on the page, no word stands on its head.
    """
    chart = next(drawing for drawing in drawings if drawing.id == "chart")
    strip = next(drawing for drawing in drawings if drawing.id == "seam-strip")
    big = [label.text for label in strip.labels if label.height_mm == 3.2]
    assert big == [str(n) for n in range(1, len(big) + 1)]
    assert len([label for label in strip.labels if label.height_mm == 2.6]) == len(big)
    assert set(big) <= {label.text for label in chart.labels}
    for page in lay_out(drawings, "a4"):
        for placed in page.placed:
            assert all(-90.0 < label.turn_deg <= 90.0 for label in placed.labels)


def test_bed_cards_have_no_spikes(drawings: Sequence[Drawing]) -> None:
    """A bump of the bed that is narrower than a finger is not cut into its card, which keeps foot and "
    "seam."""
    run = np.linspace(60.0, 0.0, 241)
    for wide, kept in ((2.0, False), (20.0, True)):
        top = np.stack([run, 50.0 + 9.0 * (np.abs(run - 30.0) < wide / 2.0)], axis=1)
        card = BedCard(1, np.concatenate([[[0.0, 0.0], [60.0, 0.0]], top]))
        outline = without_spikes(card.outline)
        assert outline[:, 1].max() == pytest.approx(59.0 if kept else 50.0)
        assert outline[0].tolist() == [0.0, 0.0] and outline[1].tolist() == [60.0, 0.0]
