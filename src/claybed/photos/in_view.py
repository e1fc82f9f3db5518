"""Where the mat, its print and what may stand on it lie in a picture freed from distortion."""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from claybed.geometry.mesh import Floats
from claybed.photos.camera import Camera
from claybed.photos.seeing import MatSeen
from claybed.records.mat import Mat

Mask = NDArray[np.bool_]

_TALLEST_MM: Final = 700.0
_CORE_MM: Final = 5.0


def reach_of_view(camera: Camera, base: Floats, size_px: tuple[int, int]) -> Mask:
    """Where an object that stands over the corners `base` (4, 2) mm of the table can be seen at all.

    `camera` is in the frame of the table.
    """
    canvas = np.zeros((size_px[1], size_px[0]), np.uint8)
    eye = camera.eye_mm
    top = min(_TALLEST_MM, 0.93 * float(eye[2])) if eye[2] > 50.0 else _TALLEST_MM
    heights = np.linspace(0.0, max(top, 60.0), 40)
    # Slice by slice, so that a level view leaves no gap between one height and the next.
    for low, high in pairwise(heights):
        points = np.column_stack([np.tile(base, (2, 1)), np.repeat([low, high], 4)])
        ahead = points @ camera.rotation[2] + camera.shift_mm[2]
        if (ahead < 30.0).any():
            break
        hull = cv2.convexHull(camera.project(points).astype(np.float32))
        cv2.fillConvexPoly(canvas, np.clip(np.round(hull), -30000, 30000).astype(np.int32), 255)
    if eye[2] * 0.93 < _TALLEST_MM:  # above the camera's own height the object runs on upwards
        columns = canvas.any(axis=0)
        first = np.where(columns, canvas.argmax(axis=0), size_px[1])
        canvas[np.arange(size_px[1])[:, None] < first[None, :]] = 255
        canvas[:, ~columns] = 0
    return canvas > 0


def sheet_in_view(camera: Camera, mat: Mat, size_px: tuple[int, int]) -> tuple[Mask, NDArray[np.float32]]:
    """Where the sheet lies in the picture, and what is printed there: 1 paper, 0 ink."""
    sheet = np.array(
        [
            [-mat.left_mm, -mat.bottom_mm],
            [mat.width_mm - mat.left_mm, -mat.bottom_mm],
            [mat.width_mm - mat.left_mm, mat.height_mm - mat.bottom_mm],
            [-mat.left_mm, mat.height_mm - mat.bottom_mm],
        ]
    )
    printed = np.ones((size_px[1], size_px[0]), np.float32)
    area = np.zeros((size_px[1], size_px[0]), np.uint8)
    corners = camera.project(np.column_stack([sheet, np.zeros(4)]))
    cv2.fillPoly(area, [np.round(corners).astype(np.int32)], 255)
    half = mat.marker_mm / 2.0 + 0.5
    for marker in mat.markers:
        quad = np.array([[-half, -half], [half, -half], [half, half], [-half, half]])
        quad += np.array([marker.x_mm, marker.y_mm])
        points = camera.project(np.column_stack([quad, np.zeros(4)]))
        cv2.fillPoly(printed, [np.round(points).astype(np.int32)], 0.0)
    bar = np.array(
        [
            [-mat.bar_mm / 2 - 12, -1.0],
            [mat.bar_mm / 2 + 14, -1.0],
            [mat.bar_mm / 2 + 14, 1.0],
            [-mat.bar_mm / 2 - 12, 1.0],
        ]
    )
    foot = -mat.clear_y_mm - mat.marker_mm - 3.0
    bar[:, 1] = [foot - 26.0, foot - 26.0, foot - 2.0, foot - 2.0]
    cv2.fillPoly(
        printed, [np.round(camera.project(np.column_stack([bar, np.zeros(4)]))).astype(np.int32)], 0.0
    )
    return area > 0, printed


def light_on_paper(rgb: NDArray[np.uint8], camera: Camera, mat: Mat, seen: MatSeen) -> Floats:
    """How bright plain paper is, from the rims of the markers found: level, slope along x and along y, for
    each channel (3, 3), over the picture's sides.
    """
    h, w = rgb.shape[:2]
    half = mat.marker_mm / 2.0 + 1.6
    turn = np.radians(np.arange(0, 360, 30))
    ring = np.maximum(np.abs(np.cos(turn)), np.abs(np.sin(turn)))
    rim = np.column_stack([np.cos(turn) / ring * half, np.sin(turn) / ring * half, np.zeros(len(turn))])
    place = {m.number: np.array([m.x_mm, m.y_mm, 0.0]) for m in mat.markers}
    at = np.concatenate([camera.project(place[int(n)] + rim) for n in seen.numbers])
    cells = np.round(at).astype(int)
    cells = cells[(cells >= 0).all(axis=1) & (cells[:, 0] < w) & (cells[:, 1] < h)]
    colours = cv2.GaussianBlur(rgb, (0, 0), 0.7)[cells[:, 1], cells[:, 0]].astype(np.float64)
    bright = colours.mean(axis=1)
    good = bright > 0.8 * np.percentile(bright, 85)
    x, y = (cells[good] / np.array([w, h])).T
    fit: Floats = np.linalg.lstsq(np.stack([np.ones_like(x), x, y], axis=1), colours[good], rcond=None)[0]
    return fit


def lit(fit: Floats, size_px: tuple[int, int], rows: slice, columns: slice) -> NDArray[np.float32]:
    """Brightness of plain paper (h, w, 3) over a part of a picture of `size_px`, by the fit of `_light`."""
    x = (np.arange(*columns.indices(size_px[0]), dtype=np.float32) / size_px[0])[None, :, None]
    y = (np.arange(*rows.indices(size_px[1]), dtype=np.float32) / size_px[1])[:, None, None]
    level, along, down = fit.astype(np.float32)
    plane: NDArray[np.float32] = np.maximum(level + x * along + y * down, 20.0)
    return plane


def core_of_object(camera: Camera, post_mm: Floats, size_px: tuple[int, int]) -> Mask:
    """A small upright post between the ends `post_mm` (2, 3), which the object is taken to hide."""
    canvas = np.zeros((size_px[1], size_px[0]), np.uint8)
    post = camera.project(post_mm)
    side = camera.lens.focal_px / max(float(np.linalg.norm(camera.eye_mm)), 1.0) * _CORE_MM
    a, b = (tuple(int(v) for v in np.round(p)) for p in post)
    cv2.line(canvas, (a[0], a[1]), (b[0], b[1]), 255, max(1, round(side)))
    return canvas > 0


def markers_in_view(camera: Camera, mat: Mat, seen: MatSeen, size_px: tuple[int, int]) -> Mask:
    """Where the markers that were found lie (h, w)."""
    canvas = np.zeros((size_px[1], size_px[0]), np.uint8)
    half = mat.marker_mm / 2.0
    place = {m.number: (m.x_mm, m.y_mm) for m in mat.markers}
    for number in seen.numbers:
        quad = np.array([[-half, -half], [half, -half], [half, half], [-half, half]]) + place[int(number)]
        points = camera.project(np.column_stack([quad, np.zeros(4)]))
        cv2.fillPoly(canvas, [np.round(points).astype(np.int32)], 255)
    return canvas > 0


def cells_in_view(camera: Camera, mat: Mat, size_px: tuple[int, int]) -> tuple[NDArray[np.float32], Mask]:
    """What the markers' cells print, 1 paper and 0 ink, and where they lie, quiet rim included."""
    printed = np.ones((size_px[1], size_px[0]), np.float32)
    told = np.zeros((size_px[1], size_px[0]), np.uint8)
    half = mat.marker_mm / 2.0
    cell = mat.marker_mm / len(mat.markers[0].dark)

    def fill(
        canvas: NDArray[np.generic], x_mm: float, y_mm: float, to_x_mm: float, to_y_mm: float, value: float
    ) -> None:
        quad = camera.project(
            np.array([[x_mm, y_mm, 0], [to_x_mm, y_mm, 0], [to_x_mm, to_y_mm, 0], [x_mm, to_y_mm, 0]], float)
        )
        cv2.fillPoly(canvas, [np.round(quad).astype(np.int32)], value)

    for marker in mat.markers:
        x, y = marker.x_mm - half, marker.y_mm + half
        fill(told, x - 3.0, y - 2.0 * half - 3.0, x + 2.0 * half + 3.0, y + 3.0, 255)
        for row, line in enumerate(marker.dark):
            for column, dark in enumerate(line):
                if dark:
                    left, top = x + column * cell, y - row * cell
                    fill(printed, left, top - cell, left + cell, top, 0.0)
    return printed, told > 0
