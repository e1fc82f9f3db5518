"""Pictures of a case: its parts moved apart with their names, and the piece as it leaves the case."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from PIL import Image

from claybed.assets.palette import PLASTER, SLATE, piece_colour
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.scene.smoothing import crease_segments_mm
from claybed.sheets import linework
from claybed.sheets.rendering import Scene, framed, looking

UP = np.array([0.0, 0.0, 1.0])
EYE = np.array([0.85, -1.25, 1.15])
APART_SHARE = 0.22
OVER_SHARE = 0.45
_OFF_WALL_MM = 12.0
_LETTER_PX = 46
_SMALL_PX2 = 20000


def parts_apart(
    parts: Sequence[tuple[str, Mesh]],
    *,
    over: Sequence[tuple[str, Mesh]] = (),
    at_wall: Sequence[tuple[str, Mesh, Floats]] = (),
    width_px: int = 1100,
    height_px: int = 760,
) -> Image.Image:
    """The parts of a case, each moved away from the others' middle, with its name on it.

    `parts` are names and meshes of one frame; `over` what is set in from above, drawn over its place;
    `at_wall` what is screwed to a wall, each with the unit vector (3,) that points from there inwards: drawn
    out through the wall where that is seen from outside, else off it inwards. Raises ValueError for no parts.
    """
    if not parts:
        raise ValueError("no parts to draw")
    middles = np.array([mesh.bounds_mm.mean(axis=0) for _, mesh in parts])
    away = middles - middles.mean(axis=0)
    # Parts that stand on one another are lifted apart; those side by side stay on one level.
    feet = np.array([mesh.bounds_mm[0, 2] for _, mesh in parts])
    away[:, 2] = 1.6 * (feet - feet.min())
    rows = [(name, mesh, shift) for (name, mesh), shift in zip(parts, APART_SHARE * 2.0 * away, strict=True)]
    rise = OVER_SHARE * max(float(np.ptp(mesh.vertices_mm[:, 2])) for _, mesh in parts)
    for name, mesh in over:
        out = APART_SHARE * 2.0 * (mesh.bounds_mm.mean(axis=0) - middles.mean(axis=0))
        rows.append((name, mesh, np.array([*out[:2] * (len(parts) > 1), rise + away[:, 2].max()])))
    for name, mesh, inwards in at_wall:
        beyond = [
            np.linalg.norm(np.maximum(np.maximum(box[0] - middle, middle - box[1]), 0.0))
            for middle in [mesh.bounds_mm.mean(axis=0)]
            for box in (part.bounds_mm for _, part in parts)
        ]
        own = APART_SHARE * 2.0 * away[int(np.argmin(beyond))]
        off = 1.2 * float(np.ptp(mesh.vertices_mm @ inwards)) + _OFF_WALL_MM
        rows.append((name, mesh, own - off * inwards * (1.0 if inwards @ EYE < 0.0 else -1.0)))
    return _drawn(
        rows,
        [piece_colour(k) for k in range(len(rows))],
        width_px,
        height_px,
    )


def lifted_out(
    parts: Sequence[tuple[str, Mesh]], piece: tuple[str, Mesh], *, width_px: int = 800, height_px: int = 880
) -> Image.Image:
    """The piece of plaster drawn up out of its case, far enough to see its parting side's outline.

    Raises ValueError without parts.
    """
    if not parts:
        raise ValueError("no parts to draw")
    name, mesh = piece
    tall = float(np.ptp(mesh.vertices_mm[:, 2]))
    rows = [("", part, np.zeros(3)) for _, part in parts]
    rows.append((name, mesh, np.array([0.0, 0.0, 1.35 * tall])))
    return _drawn(rows, [*[piece_colour(1)] * len(parts), PLASTER], width_px, height_px)


def _drawn(
    rows: Sequence[tuple[str, Mesh, Floats]], colours: Sequence[str], width_px: int, height_px: int
) -> Image.Image:
    scene = Scene()
    for (_, mesh, shift), colour in zip(rows, colours, strict=True):
        scene.add(mesh, dict.fromkeys(Origin, colour), shift)
    camera = framed(looking(EYE, UP), scene.points_mm(), width_px, height_px, margin=0.05)
    drawn = scene.draw(camera, width_px, height_px)
    large = linework.as_image(drawn)
    for k, (_, mesh, shift) in enumerate(rows):
        lines = crease_segments_mm(mesh)
        linework.draw_creases(large, drawn, lines + shift if len(lines) else lines, k, SLATE)
    image = linework.shrunk(large)
    for k, (name, _, _) in enumerate(rows):
        spot = linework.widest_spot(drawn.part == k) if name else None
        if spot is not None:
            half = 0.5
            # A name on something small would hide it.
            below = _LETTER_PX if (drawn.part == k).sum() < _SMALL_PX2 else 0.0
            linework.label(image, (spot[0] * half, spot[1] * half + below), name, _LETTER_PX)
    return linework.cropped(image)
