"""The mat: its layout, and its PDF read back by other programs."""

from __future__ import annotations

import io
from itertools import combinations

import numpy as np
import pdfplumber
import pypdf
import pypdfium2
import pytest

from claybed.errors import InputError
from claybed.photos.mat import CELLS, EDGE_MM, MARKER_MM, PAPERS, QUIET_MM, lay_out_mat
from claybed.photos.picture import Picture
from claybed.photos.seeing import find_mat
from claybed.sheets.mat_sheet import render_mat

MM_PER_PT = 25.4 / 72.0


@pytest.mark.parametrize("paper", PAPERS)
def test_markers_lie_apart_on_the_sheet(paper: str) -> None:
    """Markers keep their quiet rim from each other and the edge that no printer reaches."""
    mat = lay_out_mat(paper)
    for one, other in combinations(mat.markers, 2):
        apart = max(abs(one.x_mm - other.x_mm), abs(one.y_mm - other.y_mm))
        assert apart >= MARKER_MM + 2.0 * QUIET_MM
    half = MARKER_MM / 2.0
    assert min(m.x_mm for m in mat.markers) - half + mat.left_mm >= EDGE_MM - 1e-9
    assert mat.height_mm - mat.bottom_mm - max(m.y_mm for m in mat.markers) - half >= EDGE_MM - 1e-9


def test_papers_share_no_marker() -> None:
    """A marker's number tells which paper it lies on."""
    numbers = [m.number for paper in PAPERS for m in lay_out_mat(paper).markers]
    assert len(set(numbers)) == len(numbers)
    assert max(numbers) < 100


def test_other_papers_are_refused() -> None:
    """A paper that has no mat is named, with those that have."""
    with pytest.raises(InputError, match="Use a4, letter or a3"):
        lay_out_mat("a5")


@pytest.mark.parametrize("paper", PAPERS)
def test_pdf_is_at_true_scale(paper: str) -> None:
    """Page, check bar and markers read back from the PDF measure what they should, within 0.01 mm.

    Page sizes: ISO 216 and ANSI/ASME Y14.1 (from memory).
    """
    mat = lay_out_mat(paper)
    pdf = render_mat(mat)
    assert "/None" in str(pypdf.PdfReader(io.BytesIO(pdf)).root_object["/ViewerPreferences"])
    with pdfplumber.open(io.BytesIO(pdf)) as read:
        assert len(read.pages) == 1
        page = read.pages[0]
        assert (page.width * MM_PER_PT, page.height * MM_PER_PT) == pytest.approx(PAPERS[paper], abs=0.01)
        rects = np.array([[r["x0"], r["top"], r["x1"], r["bottom"]] for r in page.rects]) * MM_PER_PT
    widths = rects[:, 2] - rects[:, 0]
    assert np.isclose(widths, 150.0, atol=0.01).sum() == 1
    for marker in mat.markers:
        x, y = mat.left_mm + marker.x_mm, mat.height_mm - mat.bottom_mm - marker.y_mm
        mine = rects[(np.abs((rects[:, 0] + rects[:, 2]) / 2 - x) < 12.1) & (np.abs(rects[:, 1] - y) < 12.1)]
        low, high = mine[:, :2].min(axis=0), mine[:, 2:].max(axis=0)
        assert np.allclose(low, [x - 12.0, y - 12.0], atol=0.01)
        assert np.allclose(high, [x + 12.0, y + 12.0], atol=0.01)


@pytest.mark.parametrize("paper", PAPERS)
def test_printed_mat_is_read_again(paper: str) -> None:
    """Every marker of the page, drawn by another program, is found where the layout has it."""
    mat = lay_out_mat(paper)
    per_mm = 8.0
    page = pypdfium2.PdfDocument(render_mat(mat))[0]
    rgb = np.asarray(page.render(scale=per_mm * MM_PER_PT).to_pil().convert("RGB"))
    seen = find_mat(Picture("mat", np.ascontiguousarray(rgb), 1.0, None, ""))
    assert seen.paper == paper
    assert sorted(seen.numbers) == [m.number for m in mat.markers]
    flat = seen.points_mm(mat)[..., :2]
    at = np.stack([flat[..., 0] + mat.left_mm, mat.height_mm - mat.bottom_mm - flat[..., 1]], axis=-1)
    # The other program fills every pixel that an edge touches, and rounds the page to whole pixels.
    assert np.abs(seen.corners_px + 0.5 - at * per_mm).max() < 1.6


def test_markers_have_a_dark_border() -> None:
    """Cells of every marker are a square with a closed dark border, as the standard has it."""
    for marker in lay_out_mat("a3").markers:
        dark = np.array(marker.dark)
        assert dark.shape == (CELLS, CELLS)
        assert dark[0].all()
        assert dark[-1].all()
        assert dark[:, 0].all()
        assert dark[:, -1].all()
        assert not dark.all()
