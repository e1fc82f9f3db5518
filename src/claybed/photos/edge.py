"""The edge of an object to a part of a pixel: each pixel weighed between the colours on its two sides."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

Mask = NDArray[np.bool_]

FAINT_CONTRAST: Final = 18.0


@dataclass(frozen=True, slots=True)
class Faint:
    """How much of an outline hardly stands out: as a share of all of it, and the longest stretch as a
    fraction of the object's lesser side in the picture.
    """

    share: float = 0.0
    run_ratio: float = 0.0


def refined_edge(
    rgb: NDArray[np.uint8], solid_now: Mask, grain_px: float, print_rgb: NDArray[np.float32], printed: Mask
) -> tuple[NDArray[np.float32], Faint]:
    """How much of each pixel the object covers (h, w), and how much of its edge hardly stands out.

    `solid_now` (h, w) is right to about `grain_px`, the width of a pixel of the coarse picture it came from.
    Where `printed` (h, w), what lies behind is known to look like `print_rgb` (h, w, 3); a mean over ink and
    paper would be neither.
    """
    h, w = rgb.shape[:2]
    inside = np.where(solid_now, 1.0, 0.0).astype(np.float32)
    colours = rgb.astype(np.float32)
    contrast = np.zeros((h, w), np.float32)
    # Twice: the second pass starts from an edge that is right already and looks closer.
    for band in (1.6 * grain_px, max(2.0, 0.7 * grain_px)):
        solid = (inside >= 0.5).astype(np.uint8)
        deep = cv2.distanceTransform(solid, cv2.DIST_L2, 3)
        away = cv2.distanceTransform(1 - solid, cv2.DIST_L2, 3)
        reach = round(3.0 * band) | 1
        inner = _mean_where(colours, (deep > band) & (deep < 4.0 * band), reach)
        outer = _mean_where(colours, (away > band) & (away < 4.0 * band), reach)
        behind = np.where(printed[..., None], print_rgb, outer[0])
        span = inner[0] - behind
        contrast = np.sqrt(_dot(span, span))
        share = _dot(colours - behind, span) / np.maximum(contrast, 1e-3) ** 2
        clear = inner[1] & (outer[1] | printed) & (contrast > FAINT_CONTRAST)
        edge = (deep <= band) & (away <= band)
        inside = np.where(edge & clear, np.clip(share, 0.0, 1.0), solid).astype(np.float32)
        inside = cv2.GaussianBlur(inside, (0, 0), 0.7)
    whole = inside >= 0.5
    kept = largest_body(whole)
    inside = np.where(whole & ~kept, 0.0, inside).astype(np.float32)
    rim = kept ^ cv2.erode(kept.astype(np.uint8), np.ones((3, 3), np.uint8)).astype(bool)
    return inside, _faint(kept, rim, rim & (contrast <= FAINT_CONTRAST))


def _faint(kept: Mask, rim: Mask, low: Mask) -> Faint:
    if not rim.any():
        return Faint(1.0, 1.0)
    _, _, width, height = cv2.boundingRect(kept.astype(np.uint8))
    _, _, stats, _ = cv2.connectedComponentsWithStats(
        cv2.dilate(low.astype(np.uint8), np.ones((5, 5), np.uint8))
    )
    # Without the background, and without what dilating adds.
    sides = stats[1:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]].astype(np.float64) - 4.0
    longest = float(np.hypot(*sides.T).max(initial=0.0))
    return Faint(float(low.sum() / rim.sum()), longest / max(1, min(width, height)))


def _dot(one: NDArray[np.float32], other: NDArray[np.float32]) -> NDArray[np.float32]:
    product = one * other
    total: NDArray[np.float32] = product[..., 0] + product[..., 1] + product[..., 2]
    return total


def _mean_where(colours: NDArray[np.float32], where: Mask, reach: int) -> tuple[NDArray[np.float32], Mask]:
    weight = where.astype(np.float32)
    total = cv2.boxFilter(colours * weight[..., None], -1, (reach, reach), normalize=False)
    count = cv2.boxFilter(weight, -1, (reach, reach), normalize=False)
    mean: NDArray[np.float32] = total / np.maximum(count, 1.0)[..., None]
    return mean, count >= 3.0


def largest_body(solid: Mask) -> Mask:
    """The largest connected part of a mask (h, w)."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(solid.astype(np.uint8), connectivity=4)
    if count < 2:
        return solid
    body: Mask = labels == 1 + int(stats[1:, cv2.CC_STAT_AREA].argmax())
    return body


def touches_border(solid: Mask) -> bool:
    """Whether a mask (h, w) reaches the edge of its picture."""
    return bool(solid[0].any() or solid[-1].any() or solid[:, 0].any() or solid[:, -1].any())
