"""A small renderer of photographs: a mesh on the printed mat, seen through a lens, with a camera's faults."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache, lru_cache

import cv2
import numpy as np
from numba import njit

from claybed.geometry.mesh import Floats
from claybed.photos.camera import Camera, Lens
from claybed.photos.mat import lay_out_mat
from claybed.records.mat import Mat

TIMES = 2  # computed this much finer than the picture


@dataclass(frozen=True)
class Light:
    """How a picture is lit and spoilt: `slope` of brightness across it, grey levels of `noise`, `blur` px."""

    slope: float = 0.25
    noise: float = 3.0
    blur_px: float = 0.7
    gain: float = 1.0
    clay: tuple[float, float, float] = (176.0, 96.0, 62.0)
    table: tuple[float, float, float] = (92.0, 106.0, 118.0)
    seed: int = 1


def looking_at(
    lens: Lens,
    azimuth_deg: float,
    elevation_deg: float,
    distance_mm: float,
    target_mm: tuple[float, float, float],
    roll_deg: float = 0.0,
) -> Camera:
    """A camera `distance_mm` from `target_mm`, turned upright and then by `roll_deg`."""
    a, e, r = np.radians([azimuth_deg, elevation_deg, roll_deg])
    away = np.array([np.cos(a) * np.cos(e), np.sin(a) * np.cos(e), np.sin(e)])
    right = np.array([-np.sin(a), np.cos(a), 0.0])
    down = np.cross(-away, right)
    rows = np.stack([right, down, -away])
    turn = np.array([[np.cos(r), -np.sin(r), 0.0], [np.sin(r), np.cos(r), 0.0], [0.0, 0.0, 1.0]])
    rotation = turn @ rows
    eye = np.asarray(target_mm) + away * distance_mm
    return Camera(lens, rotation, -rotation @ eye)


def mat_picture(mat: Mat, per_mm: float = 8.0) -> np.ndarray:
    """The printed mat as grey levels, row 0 at the top of the sheet."""
    h, w = round(mat.height_mm * per_mm), round(mat.width_mm * per_mm)
    page = np.full((h, w), 236.0, np.float32)
    top = mat.height_mm - mat.bottom_mm
    cell = mat.marker_mm / 6.0
    for marker in mat.markers:
        for row, line in enumerate(marker.dark):
            for column, dark in enumerate(line):
                if dark:
                    x = mat.left_mm + marker.x_mm - mat.marker_mm / 2 + column * cell
                    y = top - marker.y_mm - mat.marker_mm / 2 + row * cell
                    page[
                        round(y * per_mm) : round((y + cell) * per_mm),
                        round(x * per_mm) : round((x + cell) * per_mm),
                    ] = 28.0
    middle = (round(mat.left_mm * per_mm), round(top * per_mm))
    for radius in range(20, int(min(mat.clear_x_mm, mat.clear_y_mm)), 20):
        cv2.circle(page, middle, round(radius * per_mm), 185.0, 2, cv2.LINE_AA)
    foot = top - min(m.y_mm for m in mat.markers) + mat.marker_mm / 2.0 + 9.0
    bar = [(mat.left_mm - mat.bar_mm / 2.0, foot - 1.5), (mat.left_mm + mat.bar_mm / 2.0, foot + 1.5)]
    cv2.rectangle(page, *[(round(x * per_mm), round(y * per_mm)) for x, y in bar], 60.0, cv2.FILLED)
    return page


def photograph(
    vertices_mm: Floats,
    faces: np.ndarray,
    camera: Camera,
    size_px: tuple[int, int],
    *,
    paper: str = "a4",
    printed_at: float = 1.0,
    light: Light | None = None,
    upright: bool = False,
) -> np.ndarray:
    """A picture (h, w, 3) uint8 RGB of a mesh on the mat, lens distortion included.

    With `upright` the mat hangs on the wall y = 0 behind, its lower edge on the table z = 0.
    """
    light = light or Light()
    width, height = size_px
    # An ideal picture with room around it, from which the lens then takes its pixels.
    factor = TIMES
    room = 1.16
    big_w, big_h = int(width * factor * room), int(height * factor * room)
    f = camera.lens.focal_px * factor
    cx = (camera.lens.middle_x_px + 0.5) * factor - 0.5 + (big_w - width * factor) / 2.0
    cy = (camera.lens.middle_y_px + 0.5) * factor - 0.5 + (big_h - height * factor) / 2.0
    ideal = Camera(Lens(f, cx, cy), camera.rotation, camera.shift_mm)
    picture = _ground(ideal, big_w, big_h, lay_out_mat(paper).printed_at(printed_at), light, upright)
    placed = vertices_mm @ camera.rotation.T + camera.shift_mm
    screen = np.stack(
        [f * placed[:, 0] / placed[:, 2] + cx, f * placed[:, 1] / placed[:, 2] + cy, placed[:, 2]], axis=1
    )
    normals = _normals(vertices_mm, faces)
    lamp = np.array([0.35, -0.5, 0.79])
    shade = np.clip(0.45 + 0.55 * (normals @ lamp), 0.22, 1.0)
    depth = np.full((big_h, big_w), np.inf)
    _raster(screen, faces.astype(np.int64), shade, np.asarray(light.clay), depth, picture)
    return _through_the_lens(picture, camera.lens, (cx, cy, f), size_px, light)


def silhouette(
    vertices_mm: Floats, faces: np.ndarray, camera: Camera, size_px: tuple[int, int]
) -> np.ndarray:
    """True (h, w) where the mesh is seen by a camera without distortion, by pixel middles."""
    width, height = size_px
    placed = vertices_mm @ camera.rotation.T + camera.shift_mm
    f, cx, cy = camera.lens.focal_px, camera.lens.middle_x_px, camera.lens.middle_y_px
    screen = np.stack(
        [f * placed[:, 0] / placed[:, 2] + cx, f * placed[:, 1] / placed[:, 2] + cy, placed[:, 2]], axis=1
    )
    depth = np.full((height, width), np.inf)
    _raster(
        screen,
        faces.astype(np.int64),
        np.ones(len(vertices_mm)),
        np.ones(3),
        depth,
        np.zeros((height, width, 3), np.float32),
    )
    return np.isfinite(depth)


def _ground(camera: Camera, w: int, h: int, mat: Mat, light: Light, upright: bool) -> np.ndarray:
    """Table, mat and the wall behind, as the ideal camera sees them."""
    per_mm = 8.0
    page = _soft_page(mat, per_mm)
    turn = camera.rotation.astype(np.float32)
    x = ((np.arange(w) - camera.lens.middle_x_px) / camera.lens.focal_px).astype(np.float32)
    y = ((np.arange(h) - camera.lens.middle_y_px) / camera.lens.focal_px).astype(np.float32)
    # Each part of a ray's direction is a plane over the picture.
    along, across, up = (x[None] * turn[0, k] + (y * turn[1, k] + turn[2, k])[:, None] for k in range(3))
    eye = camera.eye_mm.astype(np.float32)
    reach = np.where(up < -1e-9, -eye[2] / np.minimum(up, -1e-9), np.float32(1e9))
    at_x, at_y = eye[0] + along * reach, eye[1] + across * reach
    if upright:
        # The wall where it is met above the table; there the sheet's own frame, its lower edge at the table.
        wall = np.where(across > 1e-9, -eye[1] / np.maximum(across, 1e-9), np.float32(1e9))
        high = eye[2] + up * wall
        on_wall = (high >= 0.0) & (wall < 1e8)
        at_x = np.where(on_wall, eye[0] + along * wall, np.float32(800.0))
        at_y = np.where(on_wall, high - np.float32(mat.bottom_mm), np.float32(0.0))
    far = at_x * at_x + at_y * at_y > 900.0**2
    column = (at_x + np.float32(mat.left_mm)) * np.float32(per_mm) - np.float32(0.5)
    row = (np.float32(mat.height_mm - mat.bottom_mm) - at_y) * np.float32(per_mm) - np.float32(0.5)
    column[far] = -9.0
    grey = cv2.remap(page, column, row, cv2.INTER_LINEAR, borderValue=-1.0)
    stripes = 1.0 + 0.05 * np.sin(np.clip(at_x, -1e4, 1e4) / np.float32(7.0))
    stripes[far] = 1.25
    on = (grey >= 0.0) & ~far
    return cv2.merge([np.where(on, grey, stripes * np.float32(tone)) for tone in light.table])


@cache
def _soft_page(mat: Mat, per_mm: float) -> np.ndarray:
    return cv2.GaussianBlur(mat_picture(mat, per_mm), (0, 0), 1.5)


@lru_cache(maxsize=4)
def _where_from(lens: Lens, size_px: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """Where each pixel of a lens's picture looks, x and y (h, w) over z."""
    width, height = size_px
    y, x = np.mgrid[0:height, 0:width].astype(np.float64)
    pixels = np.stack([x.ravel(), y.ravel()], axis=1).reshape(-1, 1, 2)
    straight = cv2.undistortPoints(pixels, lens.matrix, lens.distortion).reshape(height, width, 2)
    return straight[..., 0].astype(np.float32), straight[..., 1].astype(np.float32)


def _through_the_lens(
    picture: np.ndarray, lens: Lens, ideal: tuple[float, float, float], size_px: tuple[int, int], light: Light
) -> np.ndarray:
    width, height = size_px
    x, y = _where_from(lens, size_px)
    cx, cy, f = ideal
    soft = cv2.GaussianBlur(picture, (0, 0), max(0.5, light.blur_px) * TIMES)
    seen = cv2.remap(
        soft,
        x * np.float32(f) + np.float32(cx),
        y * np.float32(f) + np.float32(cy),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    column, row = np.arange(width, dtype=np.float32), np.arange(height, dtype=np.float32)[:, None]
    fall = 1.0 + light.slope * ((column / width - 0.5) + 0.5 * (row / height - 0.5))
    seen = seen * (fall * light.gain)[..., None].astype(np.float32)
    noise = np.random.default_rng(light.seed).standard_normal(seen.shape, np.float32)
    seen += np.float32(light.noise) * noise
    return np.clip(np.round(seen), 0, 255).astype(np.uint8)


def _normals(vertices: Floats, faces: np.ndarray) -> Floats:
    c = vertices[faces]
    n = np.cross(c[:, 1] - c[:, 0], c[:, 2] - c[:, 0])
    total = np.zeros_like(vertices)
    for k in range(3):
        np.add.at(total, faces[:, k], n)
    return total / np.maximum(np.linalg.norm(total, axis=1, keepdims=True), 1e-12)


@njit(cache=False)
def _raster(screen, faces, shade, colour, depth, picture):  # type: ignore[no-untyped-def]
    h, w = depth.shape
    for t in range(faces.shape[0]):
        a, b, c = faces[t, 0], faces[t, 1], faces[t, 2]
        ax, ay, bx, by, cx, cy = (
            screen[a, 0],
            screen[a, 1],
            screen[b, 0],
            screen[b, 1],
            screen[c, 0],
            screen[c, 1],
        )
        area = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if abs(area) < 1e-12:
            continue
        for y in range(max(0, int(np.ceil(min(ay, by, cy)))), min(h - 1, int(np.floor(max(ay, by, cy)))) + 1):
            for x in range(
                max(0, int(np.ceil(min(ax, bx, cx)))), min(w - 1, int(np.floor(max(ax, bx, cx)))) + 1
            ):
                u = ((bx - x) * (cy - y) - (by - y) * (cx - x)) / area
                v = ((cx - x) * (ay - y) - (cy - y) * (ax - x)) / area
                s = 1.0 - u - v
                if u < -1e-9 or v < -1e-9 or s < -1e-9:
                    continue
                z = u * screen[a, 2] + v * screen[b, 2] + s * screen[c, 2]
                if z < depth[y, x]:
                    depth[y, x] = z
                    level = u * shade[a] + v * shade[b] + s * shade[c]
                    for k in range(3):
                        picture[y, x, k] = colour[k] * level
