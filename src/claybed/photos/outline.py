"""The outline of the object in one picture, found or given by a person."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
import shapely
import shapely.ops
from numpy.typing import NDArray

from claybed.errors import InputError
from claybed.geometry.mesh import Floats
from claybed.photos.camera import Camera
from claybed.photos.edge import refined_edge, touches_border
from claybed.photos.in_view import cells_in_view, light_on_paper, lit
from claybed.photos.seeing import MatSeen
from claybed.photos.standing import ON_THE_MAT, Stand
from claybed.photos.telling_apart import coarse_object, print_beside
from claybed.records.mat import Mat

COARSE_SIDE_PX: Final = 520
FINE_SIDE_PX: Final = 1500
_LOOPS_MOST: Final = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """The object in one picture freed from distortion.

    `inside` (h, w) float32 is how much of each pixel the object covers, 0 to 1; `camera` is that of this
    picture (no distortion left); `faint_share` the share of the edge along which it looks like its ground,
    `faint_run_ratio` the longest such stretch over the object's lesser side; `cut_off` is True when the
    object runs out of the picture; `corrected` when a person gave the outline. The picture may be a
    part of a larger one, from its pixel `corner_px` (x, y) on.
    """

    inside: NDArray[np.float32]
    camera: Camera
    faint_share: float
    cut_off: bool
    corrected: bool = False
    corner_px: tuple[int, int] = (0, 0)
    faint_run_ratio: float = 0.0

    def distance_px(self) -> NDArray[np.float32]:
        """Signed distance to the edge in pixels (h, w), positive inside, finer than a pixel near it."""
        solid = (self.inside >= 0.5).astype(np.uint8)
        deep = cv2.distanceTransform(solid, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
        away = cv2.distanceTransform(1 - solid, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
        out = np.where(solid > 0, deep - 0.5, 0.5 - away)
        near = np.abs(out) < 1.0
        out[near] = self.inside[near] - 0.5
        smooth: NDArray[np.float32] = cv2.GaussianBlur(out.astype(np.float32), (0, 0), 0.8)
        return smooth

    def edge_px(self) -> list[Floats]:
        """The edge as closed lines of (x, y) pixels (n, 2), the longest first."""
        from skimage.measure import find_contours

        padded = np.pad(self.inside.astype(np.float64), 1)
        lines = [line[:, ::-1] - 1.0 for line in find_contours(padded, 0.5)]
        return sorted(lines, key=len, reverse=True)


def free_of_distortion(
    rgb: NDArray[np.uint8], camera: Camera, side_px: int
) -> tuple[NDArray[np.uint8], Camera]:
    """The picture as a lens without distortion would take it, at most `side_px` long, and its camera."""
    factor = min(1.0, side_px / max(rgb.shape[:2]))
    small = (
        rgb if factor == 1.0 else cv2.resize(rgb, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    )
    factor = small.shape[1] / rgb.shape[1]
    straight = camera.straight(factor)
    lens = straight.lens
    if camera.lens.k1_ratio == 0.0 and camera.lens.k2_ratio == 0.0:
        return small, straight
    out = cv2.undistort(small, lens.matrix, camera.lens.distortion, None, lens.matrix)
    return np.asarray(out, dtype=np.uint8), straight


def find_outline(
    rgb: NDArray[np.uint8],
    camera: Camera,
    mat: Mat,
    seen: MatSeen,
    name: str = "",
    stand: Stand = ON_THE_MAT,
) -> Outline:
    """Find the object that stands on or before the mat in the picture `rgb`, whose `camera` has been solved.

    The outline's camera is in the frame of the table.

    Raises InputError when nothing stands there.
    """
    fine, fine_camera = free_of_distortion(rgb, camera, FINE_SIDE_PX)
    factor = COARSE_SIDE_PX / max(fine.shape[:2])
    coarse = cv2.resize(fine, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
    coarse_camera = fine_camera.straight(coarse.shape[1] / fine.shape[1])
    # By the finer picture: a coarse pixel on a marker's rim holds ink as well.
    light = light_on_paper(fine, fine_camera, mat, seen)
    mask = coarse_object(coarse, coarse_camera, mat, seen, light, name, stand)
    size = fine.shape[1], fine.shape[0]
    grain = fine.shape[1] / mask.shape[1]
    near = cv2.resize(mask.astype(np.float32), size, interpolation=cv2.INTER_LINEAR)
    solid = cv2.GaussianBlur(near, (0, 0), 0.6 * grain) >= 0.5
    x, y, w, h = cv2.boundingRect(solid.astype(np.uint8))
    room = round(12 * grain)
    rows, columns = slice(max(0, y - room), y + h + room), slice(max(0, x - room), x + w + room)
    part, camera_part = fine[rows, columns], fine_camera.cut(columns.start, rows.start)
    bright = lit(light, size, rows, columns)
    cells, told = cells_in_view(camera_part, mat, (part.shape[1], part.shape[0]))
    beside = print_beside(part, bright, cells, told, solid[rows, columns])
    ink = float(np.clip(1.0 - 255.0 * seen.contrast_share / max(float(light[0].mean()), 1.0), 0.05, 0.6))
    print_rgb = cv2.GaussianBlur(bright * (ink + (1.0 - ink) * cells)[..., None], (0, 0), 1.0)
    inside, faint = refined_edge(part, solid[rows, columns] & ~beside, grain, print_rgb, told)
    return Outline(
        inside,
        stand.in_table(camera_part, mat),
        faint.share,
        touches_border(solid),
        corner_px=(columns.start, rows.start),
        faint_run_ratio=faint.run_ratio,
    )


def given_outline(points_px: Floats, camera: Camera, size_px: tuple[int, int], name: str = "") -> Outline:
    """The outline a person gave: a closed line of (x, y) pixels (n, 2) of the upright picture of `size_px`.

    Raises InputError for fewer than 8 points, points outside the picture, or a line that crosses itself by
    more than a slip of the hand.
    """
    if len(points_px) < 8:
        raise InputError(
            f"has {len(points_px)} points; an outline needs 8 or more.",
            where=name,
            remedy="Add points along the edge.",
        )
    width, height = size_px
    outside = (points_px < -1.0).any(axis=1) | (points_px > np.array([width, height])).any(axis=1)
    if outside.any():
        row = int(np.nonzero(outside)[0][0])
        raise InputError(
            f"point {row + 1} lies outside the picture of {width} by {height} pixels.",
            where=name,
            remedy="Count x to the right and y down from the upper left corner of the upright picture.",
        )
    _check_uncrossed(points_px, name)
    factor = min(1.0, FINE_SIDE_PX / max(size_px))
    straight = camera.straight(factor)
    dense = _dense(points_px)
    freed = (camera.freed(dense) + 0.5) * factor - 0.5
    # Four times finer, since a filled line takes in every pixel that it touches.
    canvas = np.zeros((4 * round(height * factor), 4 * round(width * factor)), np.uint8)
    cv2.fillPoly(canvas, [np.round(((freed + 0.5) * 4.0 - 0.5) * 256.0).astype(np.int32)], 255, cv2.LINE_8, 8)
    inside = (
        cv2.resize(canvas, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA).astype(np.float32) / 255.0
    )
    return Outline(inside, straight, 0.0, touches_border(inside >= 0.5), corrected=True)


def _check_uncrossed(points_px: Floats, name: str) -> None:
    """Refuse a line whose loops leave more than a small part of what it runs round outside the object."""
    ring = shapely.Polygon(points_px)
    if ring.is_valid:
        return
    round_all = float(shapely.union_all(list(shapely.ops.polygonize(shapely.node(ring.exterior)))).area)
    parts = shapely.get_parts(shapely.make_valid(ring))
    if max((float(part.area) for part in parts), default=0.0) > (1.0 - _LOOPS_MOST) * round_all > 0.0:
        return
    where = re.search(r"\[(\S+) (\S+)\]", shapely.is_valid_reason(ring))
    place = f" near {float(where[1]):.0f}, {float(where[2]):.0f}" if where else ""
    raise InputError(
        f"crosses itself{place}.",
        where=name,
        remedy="Follow the edge once round; drag the points there apart.",
    )


def _dense(points_px: Floats) -> Floats:
    ends = np.roll(points_px, -1, axis=0)
    parts = [
        a + (b - a) * np.linspace(0.0, 1.0, max(2, int(np.linalg.norm(b - a) / 4.0)), endpoint=False)[:, None]
        for a, b in zip(points_px, ends, strict=True)
    ]
    return np.concatenate(parts)
