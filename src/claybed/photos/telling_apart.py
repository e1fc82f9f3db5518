"""Telling the object from what is behind it, at low resolution.

The mat says where to look. Its markers that were found are background for certain; the object stands on the
cross, above the clear space; paper that looks like lit paper is background in all likelihood. A graph cut
over colour models (GrabCut) decides the rest.
"""

from __future__ import annotations

from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

from claybed.errors import InputError
from claybed.geometry.mesh import Floats
from claybed.photos.camera import Camera
from claybed.photos.in_view import (
    core_of_object,
    lit,
    markers_in_view,
    reach_of_view,
    sheet_in_view,
)
from claybed.photos.seeing import MatSeen
from claybed.photos.standing import Stand
from claybed.records.mat import Mat

Mask = NDArray[np.bool_]

_CUT_ROUNDS: Final = 4
_LIKE_PAPER: Final = 0.10  # how far, as a fraction, lit paper strays from the light fitted to it
_SHADOW_FLOOR: Final = 0.35
_THROUGH_MOST: Final = 0.35
_SPECK: Final = 0.004  # of the object's area: holes and crumbs smaller than this are noise


def coarse_object(
    rgb: NDArray[np.uint8], camera: Camera, mat: Mat, seen: MatSeen, light: Floats, name: str, stand: Stand
) -> Mask:
    """The object at low resolution."""
    h, w = rgb.shape[:2]
    table = stand.in_table(camera, mat)
    reach = reach_of_view(table, stand.room_mm(mat), (w, h))
    paper, printed = sheet_in_view(camera, mat, (w, h))
    level = rgb.astype(np.float32) / lit(light, (w, h), slice(None), slice(None))
    grey, spread = grey_and_spread(level)
    tint = spread / np.maximum(grey, 0.05)
    # Lit or shaded paper: as bright as the light says or somewhat darker, and without a colour of its own.
    plain = paper & (printed > 0.9) & (np.abs(grey - 1.0) < _LIKE_PAPER) & (tint < 0.12)
    shaded = paper & (printed > 0.9) & (grey > _SHADOW_FLOOR) & (grey < 1.0) & (tint < 0.12)
    core = core_of_object(table, stand.post_mm(), (w, h)) & reach
    shown = markers_in_view(camera, mat, seen, (w, h))
    lying = _lying(plain & ~core, shown)
    differs = paper & reach & ~plain & ~shaded & (printed > 0.9) & ~shown
    # Paper seen through a handle touches no marker; but an object as white as paper would be lost with it.
    if (plain & reach & ~lying).sum() < _THROUGH_MOST * differs.sum():
        lying |= plain & ~core
    sure_out = ~reach | shown | lying
    sure_out[: max(1, h // 60)] = True
    differs &= ~sure_out
    seeds_in, seeds_out = (differs | core) & ~sure_out, sure_out | plain
    if seeds_in.sum() < 12:
        raise _nothing(name)
    lab = cv2.cvtColor(rgb, cv2.COLOR_RGB2LAB)
    like = _likelier(lab, seeds_in, seeds_out)
    marks = np.where(like & reach, cv2.GC_PR_FGD, cv2.GC_PR_BGD).astype(np.uint8)
    marks[(plain | (paper & (printed < 0.5))) & ~core] = cv2.GC_PR_BGD
    marks[differs] = cv2.GC_PR_FGD
    marks[core] = cv2.GC_FGD
    marks[sure_out & ~core] = cv2.GC_BGD
    if not ((marks == cv2.GC_PR_BGD) | (marks == cv2.GC_BGD)).any():
        raise _nothing(name)
    cv2.setRNGSeed(7)  # the same picture gives the same outline
    models = np.zeros((1, 65)), np.zeros((1, 65))
    cv2.grabCut(lab, marks, None, models[0], models[1], _CUT_ROUNDS, cv2.GC_INIT_WITH_MASK)
    solid = (marks == cv2.GC_FGD) | (marks == cv2.GC_PR_FGD)
    solid = _one_body(solid, core)
    if solid.sum() < max(60, 5 * int(core.sum())):
        raise _nothing(name)
    return solid


def grey_and_spread(level: NDArray[np.float32]) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Mean over the channels, and largest less least."""
    r, g, b = cv2.split(level)
    spread = cv2.max(cv2.max(r, g), b) - cv2.min(cv2.min(r, g), b)
    return (r + g + b) / 3.0, spread


def _lying(plain: Mask, shown: Mask) -> Mask:
    """Plain paper that runs without a break to a marker that was found: it lies there, nothing hides it."""
    near = cv2.dilate(shown.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    _, labels = cv2.connectedComponents(plain.astype(np.uint8), connectivity=4)
    touched = np.unique(labels[near & plain])
    lying: Mask = np.isin(labels, touched[touched > 0])
    return lying


def _nothing(name: str) -> InputError:
    return InputError(
        "shows nothing that stands out on the cross of the mat.",
        where=name,
        remedy="Stand the object on the cross, before a plain background of another colour; or give its "
        "outline with --outline.",
    )


def _likelier(lab: NDArray[np.uint8], seeds_in: Mask, seeds_out: Mask) -> Mask:
    """Where a pixel's colour is commoner among the seeds of the object than of the background."""
    bins = (lab >> np.array([3, 2, 2], np.uint8)).astype(np.int64)
    index = (bins[..., 0] << 12) | (bins[..., 1] << 6) | bins[..., 2]
    tables = []
    for seeds in (seeds_in, seeds_out):
        table = np.bincount(index[seeds], minlength=1 << 17).astype(np.float32).reshape(32, 64, 64)
        for axis in range(3):
            table = table + 0.5 * (np.roll(table, 1, axis) + np.roll(table, -1, axis))
        tables.append(table.ravel() / max(1.0, float(seeds.sum())))
    likely: Mask = tables[0][index] > tables[1][index] + 1e-9
    return likely


def _one_body(solid: Mask, core: Mask) -> Mask:
    """The connected part on the cross, without crumbs and pinholes."""
    opened = cv2.morphologyEx(solid.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    opened[core & solid] = 1
    _, labels, stats, _ = cv2.connectedComponentsWithStats(opened, connectivity=4)
    hits = np.bincount(labels[core & (opened > 0)], minlength=len(stats))
    hits[0] = 0
    if not hits.any():
        return np.zeros_like(solid)
    body = labels == int(hits.argmax())
    count, holes, areas, _ = cv2.connectedComponentsWithStats((~body).astype(np.uint8), connectivity=4)
    for k in range(1, count):
        if areas[k, cv2.CC_STAT_AREA] < _SPECK * body.sum():
            body[holes == k] = True
    kept: Mask = body
    return kept


def print_beside(
    rgb: NDArray[np.uint8], bright: NDArray[np.float32], printed: NDArray[np.float32], told: Mask, solid: Mask
) -> Mask:
    """Print of half-hidden markers that was taken for the object: it looks as printed."""
    level = cv2.GaussianBlur(rgb, (0, 0), 1.0).astype(np.float32) / bright
    grey, spread = grey_and_spread(level)
    neutral = spread < 0.02 + 0.12 * np.maximum(grey, 0.25)
    own = solid & ~told
    shows = np.zeros_like(solid)
    # A glaze as dark as ink, or a clay as white as paper, cannot be told from print by its looks.
    for like, cells in ((neutral & (grey < 0.3), printed < 0.5), (neutral & (grey > 0.75), printed > 0.5)):
        if own.sum() > 50 and like[own].mean() < 0.05:
            shows |= told & cells & like
    shows = cv2.morphologyEx(shows.astype(np.uint8), cv2.MORPH_CLOSE, np.ones((7, 7), np.uint8)) > 0
    shows &= told & solid
    shows = cv2.morphologyEx(shows.astype(np.uint8), cv2.MORPH_OPEN, np.ones((3, 3), np.uint8)) > 0
    # Only what runs on to the outside: a dark spot on the object stays.
    _, labels = cv2.connectedComponents((shows | (told & ~solid)).astype(np.uint8), connectivity=4)
    outside = np.unique(labels[told & ~solid])
    beside: Mask = shows & np.isin(labels, outside[outside > 0])
    return beside
