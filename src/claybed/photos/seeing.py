"""Finding the mat in a picture, and judging whether the picture can be measured by it."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from claybed.errors import InputError
from claybed.geometry.mesh import Floats
from claybed.photos.mat import DICTIONARY, PAPERS, lay_out_mat
from claybed.photos.picture import Picture
from claybed.records.mat import Mat

LEAST_MARKERS: Final = 5
_SEARCH_SIDE_PX: Final = 2100
_OUT_OF_PLACE: Final = 0.012  # of the picture's diagonal; more than a lens bends a plane
_BLURRED_SHARE: Final = 0.09  # edge width over marker side from which corners are guesswork
_BLOWN_LEVEL: Final = 254
_BLOWN_SHARE: Final = 0.35
_DARK_CONTRAST: Final = 30.0


@dataclass(frozen=True, slots=True, eq=False)
class MatSeen:
    """The mat's markers in one picture.

    `paper` names the mat; `numbers` (n,) its markers that were found; `corners_px` (n, 4, 2) their corners,
    from the upper left clockwise; `edge_px` how wide a printed edge is in the picture (10 to 90 %);
    `contrast_share` how far ink and paper are apart, of black and white.
    """

    paper: str
    numbers: NDArray[np.int64]
    corners_px: Floats
    edge_px: float
    contrast_share: float

    def points_mm(self, mat: Mat) -> Floats:
        """Corners of the found markers on the mat, (n, 4, 3) mm."""
        half = mat.marker_mm / 2.0
        turn = np.array([[-half, half, 0.0], [half, half, 0.0], [half, -half, 0.0], [-half, -half, 0.0]])
        place = {m.number: (m.x_mm, m.y_mm, 0.0) for m in mat.markers}
        middles = np.array([place[int(number)] for number in self.numbers])
        points: Floats = middles[:, None, :] + turn
        return points


def find_mat(picture: Picture) -> MatSeen:
    """Find the mat in a picture.

    Raises InputError when it is not there, when too little of it shows, or when blur or light spoil it; the
    sentence says which.
    """
    grey = cv2.cvtColor(picture.rgb, cv2.COLOR_RGB2GRAY)
    numbers, corners = _markers(grey)
    paper, numbers, corners = _of_one_mat(numbers, corners)
    if len(numbers) < LEAST_MARKERS or _in_a_row(paper, numbers):
        raise _not_found(picture, grey, len(numbers))
    _refine(grey, corners)
    edge_px, contrast = _edges(grey, corners)
    side_px = float(np.median(np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2)))
    if edge_px > max(5.0, _BLURRED_SHARE * side_px):
        raise InputError(
            f"is blurred: printed edges are {edge_px:.0f} pixels wide.",
            where=picture.name,
            remedy="Rest the camera on something, tap on the object to focus, and take it again.",
        )
    if contrast < _DARK_CONTRAST:
        raise InputError(
            f"is too dark or too flat: ink and paper are {contrast:.0f} grey levels apart.",
            where=picture.name,
            remedy="Take it again in even daylight.",
        )
    return MatSeen(paper, numbers, corners, edge_px, contrast / 255.0)


def _markers(grey: NDArray[np.uint8]) -> tuple[NDArray[np.int64], Floats]:
    """Numbers (n,) and corners (n, 4, 2) of what looks like markers; twice as fine when little shows."""
    parameters = cv2.aruco.DetectorParameters()
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_NONE
    parameters.minMarkerPerimeterRate = 0.015
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(DICTIONARY), parameters)
    full = 1.0
    numbers = np.zeros(0, np.int64)
    places: Floats = np.zeros((0, 4, 2))
    for factor in sorted({min(full, _SEARCH_SIDE_PX / max(grey.shape)), full}):
        small = grey
        if factor < full:
            small = cv2.resize(grey, None, fx=factor, fy=factor, interpolation=cv2.INTER_AREA)
        found, ids, _ = detector.detectMarkers(small)
        numbers = np.zeros(0, np.int64) if ids is None else np.asarray(ids, np.int64).ravel()
        if len(numbers):
            places = np.asarray(found, dtype=np.float64).reshape(-1, 4, 2)
            places = (places + 0.5) / factor - 0.5
        if len(numbers) >= 2 * LEAST_MARKERS:
            break
    return numbers, places


def _of_one_mat(numbers: NDArray[np.int64], corners: Floats) -> tuple[str, NDArray[np.int64], Floats]:
    """The paper most markers belong to, and its markers that lie where that mat has them."""
    home = {m.number: paper for paper in PAPERS for m in lay_out_mat(paper).markers}
    votes = Counter(home[int(n)] for n in numbers if int(n) in home)
    if not votes:
        return "", numbers[:0], corners[:0]
    paper = votes.most_common(1)[0][0]
    once = Counter(int(n) for n in numbers)
    keep = np.array([home.get(int(n)) == paper and once[int(n)] == 1 for n in numbers], bool)
    numbers, corners = numbers[keep], corners[keep]
    if len(numbers) < 4:
        return paper, numbers, corners
    seen = MatSeen(paper, numbers, corners, 0.0, 0.0)
    flat = seen.points_mm(lay_out_mat(paper))[..., :2].reshape(-1, 2)
    span_px = float(np.hypot(*np.ptp(corners.reshape(-1, 2), axis=0)))
    plane, inside = cv2.findHomography(flat, corners.reshape(-1, 2), cv2.RANSAC, _OUT_OF_PLACE * span_px)
    if plane is None:
        return paper, numbers[:0], corners[:0]
    right = np.asarray(inside, bool).reshape(-1, 4).all(axis=1)
    return paper, numbers[right], corners[right]


def _in_a_row(paper: str, numbers: NDArray[np.int64]) -> bool:
    """Whether the markers found lie in one line, which fixes no pose."""
    places = np.array([(m.x_mm, m.y_mm) for m in lay_out_mat(paper).markers if m.number in numbers])
    return bool(np.ptp(places[:, 0]) < 1.0 or np.ptp(places[:, 1]) < 1.0)


def _refine(grey: NDArray[np.uint8], corners: Floats) -> None:
    """Move corners (n, 4, 2) to where lines through the printed edges meet.

    A corner itself is rounded by lens and print; the edges beside it stay where they are.
    """
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.01)
    for marker in corners:
        side = float(np.linalg.norm(marker - np.roll(marker, 1, axis=0), axis=1).min())
        reach = int(np.clip(side / 10.0, 2, 9))
        exact = marker.astype(np.float32).reshape(-1, 1, 2)
        cv2.cornerSubPix(grey, exact, (reach, reach), (-1, -1), stop)
        marker[:] = exact.reshape(4, 2)
    for _ in range(2):
        _meet(corners, *_edge_lines(grey, corners))


def _edge_lines(grey: NDArray[np.uint8], corners: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """A point (n, 4, 2) and direction (n, 4, 2) of the line along each side, and whether it was found."""
    starts, ends = corners, np.roll(corners, -1, axis=1)
    along = ends - starts
    length = np.linalg.norm(along, axis=2)
    outward = np.stack([along[..., 1], -along[..., 0]], axis=2) / np.maximum(length, 1e-9)[..., None]
    share = np.linspace(0.12, 0.88, 24)
    reach = np.clip(length / 8.0, 2.0, 12.0)
    step = np.linspace(-1.0, 1.0, 33)
    base = starts[:, :, None] + along[:, :, None] * share[None, None, :, None]
    where = (
        base[:, :, :, None] + (outward * reach[..., None])[:, :, None, None] * step[None, None, None, :, None]
    )
    n = len(corners)
    flat = where.reshape(n * 4 * len(share), len(step), 2).astype(np.float32)
    rows = cv2.remap(grey, flat[..., 0], flat[..., 1], cv2.INTER_LINEAR).astype(np.float64)
    ink, paper = rows[:, :5].mean(axis=1), rows[:, -5:].mean(axis=1)
    level = (rows - ink[:, None]) / np.maximum(paper - ink, 1.0)[:, None]
    # Where the level passes one half; a rising edge passes it once.
    over = level >= 0.5
    first = np.clip(over.argmax(axis=1), 1, len(step) - 1)
    take = np.arange(len(rows))
    a, b = level[take, first - 1], level[take, first]
    at = step[first - 1] + (0.5 - a) / np.maximum(b - a, 1e-6) * (step[1] - step[0])
    clear = (paper - ink > 20.0) & over.any(axis=1) & ~over[:, 0]
    at = at.reshape(n, 4, len(share)) * reach[..., None]
    weight = clear.reshape(n, 4, len(share)).astype(np.float64)
    middle, tilt = _line(share * length[..., None], at, weight)
    off = np.abs(at - middle[..., None] - tilt[..., None] * share * length[..., None])
    weight *= off < np.maximum(0.6, 2.5 * np.median(off, axis=2))[..., None]
    middle, tilt = _line(share * length[..., None], at, weight)
    unit = along / np.maximum(length, 1e-9)[..., None]
    point = starts + outward * middle[..., None]
    return point, unit + outward * tilt[..., None], weight.sum(axis=2) >= 12


def _line(x: Floats, y: Floats, weight: Floats) -> tuple[Floats, Floats]:
    """Offset at x = 0 and slope of the weighted line through points along the last axis."""
    total = np.maximum(weight.sum(axis=-1), 1e-9)
    mx, my = (weight * x).sum(axis=-1) / total, (weight * y).sum(axis=-1) / total
    dx = x - mx[..., None]
    slope = (weight * dx * (y - my[..., None])).sum(axis=-1) / np.maximum((weight * dx**2).sum(axis=-1), 1e-9)
    return my - slope * mx, slope


def _meet(corners: Floats, point: Floats, along: Floats, found: NDArray[np.bool_]) -> None:
    """Put each corner where the line before it and the line after it cross, if both were found."""
    before, after = np.roll(point, 1, axis=1), point
    d, e = np.roll(along, 1, axis=1), along
    turn = d[..., 0] * e[..., 1] - d[..., 1] * e[..., 0]
    gap = after - before
    reach = (gap[..., 0] * e[..., 1] - gap[..., 1] * e[..., 0]) / np.where(np.abs(turn) < 1e-9, 1.0, turn)
    crossing = before + d * reach[..., None]
    good = found & np.roll(found, 1, axis=1) & (np.abs(turn) > 0.05)
    good &= np.linalg.norm(crossing - corners, axis=2) < 3.0
    corners[good] = crossing[good]


def _edges(grey: NDArray[np.uint8], corners: Floats) -> tuple[float, float]:
    """Median width of the markers' outer edges in pixels, 10 to 90 %, and grey levels across them."""
    starts = corners.reshape(-1, 2)
    ends = np.roll(corners, -1, axis=1).reshape(-1, 2)
    along = ends - starts
    length = np.linalg.norm(along, axis=1, keepdims=True)
    outward = np.stack([along[:, 1], -along[:, 0]], axis=1) / np.maximum(length, 1e-9)
    # Across the border cell, a sixth of the side, and as far out.
    reach = np.clip(length[:, 0] / 6.5, 3.0, 40.0)
    step = np.linspace(-1.0, 1.0, 41)
    where = (starts + ends)[:, None, :] / 2.0 + outward[:, None, :] * (step * reach[:, None])[..., None]
    rows = cv2.remap(
        grey, where[..., 0].astype(np.float32), where[..., 1].astype(np.float32), cv2.INTER_LINEAR
    ).astype(np.float64)
    ink, paper = rows[:, :6].mean(axis=1), rows[:, -6:].mean(axis=1)
    contrast = paper - ink
    good = contrast > 10.0
    if not good.any():
        return float("inf"), float(np.median(contrast))
    level = (rows[good] - ink[good, None]) / contrast[good, None]
    rising = ((level > 0.1) & (level < 0.9)).sum(axis=1) * (2.0 * reach[good] / 40.0)
    return float(np.median(rising)), float(np.median(contrast))


def _steepest(grey: NDArray[np.uint8], sigma_px: float) -> float:
    """Slope of the steepest edges in a picture smoothed by `sigma_px`."""
    soft = cv2.GaussianBlur(grey.astype(np.float32), (0, 0), sigma_px)
    down, along = np.gradient(soft)
    return float(np.percentile(np.hypot(down, along)[::3, ::3], 99.5))


def _not_found(picture: Picture, grey: NDArray[np.uint8], found: int) -> InputError:
    blown = float((grey >= _BLOWN_LEVEL).mean())
    # An edge that is sharp shows four times steeper at two pixels than at eight; one that is blurred, hardly.
    fine, coarse = (_steepest(grey, sigma_px) for sigma_px in (2.0, 8.0))
    if blown > _BLOWN_SHARE:
        return InputError(
            f"is overexposed: {100.0 * blown:.0f} % of it is pure white, and the mat is lost in it.",
            where=picture.name,
            remedy="Lower the exposure until the paper looks light grey, and take it again.",
        )
    if fine < 1.8 * coarse:
        return InputError(
            "is blurred, and the mat cannot be read in it.",
            where=picture.name,
            remedy="Rest the camera on something, tap on the object to focus, and take it again with the mat "
            "in the picture.",
        )
    shown = f"only {found} of its markers show" if found else "none of its markers show"
    return InputError(
        f"shows no mat that can be measured by: {shown}.",
        where=picture.name,
        remedy="Print one with `claybed mat`, stand the object on it, and keep at least six markers on two "
        "sides in the picture.",
    )
