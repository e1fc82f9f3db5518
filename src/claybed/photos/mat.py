"""Laying out the mat: a frame of square markers round a clear space, on paper that studios have.

The markers are of an open standard, the 4 x 4 dictionary of 100 that OpenCV carries. Each paper size has
numbers of its own, so that a picture tells which mat is on the table.
"""

from __future__ import annotations

from functools import cache
from typing import Final

import cv2

from claybed.errors import InputError
from claybed.records.mat import Mat, MatMarker

# Width and height in mm: ISO 216 and ANSI/ASME Y14.1.
PAPERS: Final = {"a4": (210.0, 297.0), "letter": (215.9, 279.4), "a3": (297.0, 420.0)}
MARKER_MM: Final = 24.0
LEAST_PITCH_MM: Final = 31.0
EDGE_MM: Final = 8.0  # no printer reaches the edge
FOOT_MM: Final = 26.0  # room under the frame for the check bar and its words
BAR_MM: Final = 150.0
QUIET_MM: Final = 3.0  # white that a marker needs around it
CELLS: Final = 6
DICTIONARY: Final = cv2.aruco.DICT_4X4_100


@cache
def lay_out_mat(paper: str) -> Mat:
    """The mat for a sheet of `paper` (a4, letter or a3); raises InputError for any other."""
    if paper not in PAPERS:
        raise InputError(
            f"there is no mat for “{paper[:20]}”.", where="--paper", remedy="Use a4, letter or a3."
        )
    width_mm, height_mm = PAPERS[paper]
    across_mm = width_mm - 2.0 * EDGE_MM - MARKER_MM
    along_mm = height_mm - 2.0 * EDGE_MM - FOOT_MM - MARKER_MM
    columns, rows = (int(span // LEAST_PITCH_MM) + 1 for span in (across_mm, along_mm))
    # Whole millimetres from marker to marker, so that a ruler can check them.
    dx, dy = across_mm // (columns - 1), along_mm // (rows - 1)
    across_mm, along_mm = dx * (columns - 1), dy * (rows - 1)
    x0, y0 = -across_mm / 2.0, -along_mm / 2.0
    places = [(i, rows - 1) for i in range(columns)]
    places += [(columns - 1, j) for j in range(rows - 2, -1, -1)]
    places += [(i, 0) for i in range(columns - 2, -1, -1)] + [(0, j) for j in range(1, rows - 1)]
    first = first_number(paper)
    markers = tuple(
        MatMarker(first + k, x0 + i * dx, y0 + j * dy, cells_of(first + k)) for k, (i, j) in enumerate(places)
    )
    return Mat(
        paper=paper,
        width_mm=width_mm,
        height_mm=height_mm,
        left_mm=width_mm / 2.0,
        bottom_mm=along_mm / 2.0 + MARKER_MM / 2.0 + EDGE_MM + FOOT_MM,
        marker_mm=MARKER_MM,
        markers=markers,
        clear_x_mm=across_mm / 2.0 - MARKER_MM / 2.0 - QUIET_MM,
        clear_y_mm=along_mm / 2.0 - MARKER_MM / 2.0 - QUIET_MM,
        bar_mm=BAR_MM,
    )


def first_number(paper: str) -> int:
    """The lowest marker number of a paper size; the sizes follow one another without a gap."""
    number = 0
    for name, (width_mm, height_mm) in PAPERS.items():
        if name == paper:
            break
        across_mm = width_mm - 2.0 * EDGE_MM - MARKER_MM
        along_mm = height_mm - 2.0 * EDGE_MM - FOOT_MM - MARKER_MM
        number += 2 * (int(across_mm // LEAST_PITCH_MM) + int(along_mm // LEAST_PITCH_MM))
    return number


def cells_of(number: int) -> tuple[tuple[bool, ...], ...]:
    """The cells of a marker with its dark border, row by row from the top."""
    dictionary = cv2.aruco.getPredefinedDictionary(DICTIONARY)
    picture = cv2.aruco.generateImageMarker(dictionary, number, CELLS)
    return tuple(tuple(bool(cell < 128) for cell in row) for row in picture)
