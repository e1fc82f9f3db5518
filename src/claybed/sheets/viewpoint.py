"""From where to look: a few dozen small trial pictures, and the one that shows most of what matters."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import binary_erosion

from claybed.assets.palette import face_colours
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.sheets.linework import closed, seen, stations_mm
from claybed.sheets.rendering import Drawn, Scene, framed, looking

TRIAL_PX = 120
LEVEL_MM = 0.5
# Fill that is out of sight and smaller than this is not worth a second picture.
LEAST_UNSEEN_MM2 = 4.0
UP = np.array([0.0, 0.0, 1.0])


def direction(azimuth_deg: float, elevation_deg: float) -> Floats:
    """Unit vector towards the eye; azimuth from +x towards +y, elevation above the board, both in degrees."""
    a, e = np.radians(azimuth_deg), np.radians(elevation_deg)
    return np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])


def best_for_seam(model: Mesh, seam_loops_mm: Sequence[Floats]) -> Floats:
    """The direction (3,) that shows most of the seam, some of every fill and a broad view of the object.

    First round the object at one height, then up and down from the best and its neighbours; from below when
    its open face lies on the board.
    """
    side = -1.0 if open_below(model, seam_loops_mm) else 1.0
    scene = Scene()
    scene.add(model, face_colours())
    corners = scene.corners_mm()
    points = [stations_mm(closed(loop), 2.0) for loop in seam_loops_mm if len(loop) > 1]
    line = np.concatenate(points) if points else np.zeros((0, 3))
    whole_mm2 = model.area_mm2
    filled = bool((model.origin == int(Origin.FILL)).any())

    def score(azimuth_deg: float, elevation_deg: float) -> float:
        drawn = _trial(scene, corners, direction(azimuth_deg, elevation_deg))
        area_mm2 = float((drawn.part >= 0).sum()) / drawn.camera.scale**2
        shown = 1.6 * _well_seen(drawn, line) + area_mm2 / whole_mm2
        if filled:
            shown += min(1.0, int((drawn.origin == int(Origin.FILL)).sum()) / 400.0)
        # Front and a slight turn are what people expect of a picture; ties go there.
        return (
            shown
            + 0.05 * float(np.cos(np.radians(azimuth_deg + 65.0)))
            - 0.002 * abs(abs(elevation_deg) - 24.0)
        )

    around = {float(a): score(a, 24.0 * side) for a in range(-90, 270, 30)}
    best = max(around, key=lambda a: around[a])
    tries = {(best, 24.0 * side): around[best]}
    for azimuth in (best - 15.0, best, best + 15.0):
        for elevation in (12.0 * side, 38.0 * side):
            tries[azimuth, elevation] = score(azimuth, elevation)
    return direction(*max(tries, key=lambda t: tries[t]))


def open_below(model: Mesh, seam_loops_mm: Sequence[Floats]) -> bool:
    """Whether the seam is the level rim of a face that lies on the board, as on a model for one piece."""
    points = [np.asarray(loop, dtype=np.float64) for loop in seam_loops_mm if len(loop) > 1]
    if not points:
        return False
    heights = np.concatenate(points)[:, 2]
    return float(heights.max()) < float(model.bounds_mm[0, 2]) + LEVEL_MM


def best_for_fill(model: Mesh) -> Floats:
    """The direction (3,) from which most fill is seen, from above or below; without fill, from in front."""
    scene = Scene()
    scene.add(model, face_colours())
    corners = scene.corners_mm()
    best, most = direction(-60.0, 24.0), 0.0
    for elevation in (-30.0, 0.0, 35.0):
        for azimuth in range(-90, 270, 45):
            eye = direction(azimuth, elevation)
            drawn = _trial(scene, corners, eye)
            shown = int((drawn.origin == int(Origin.FILL)).sum()) / drawn.camera.scale**2
            if shown > most:
                best, most = eye, shown
    return best


def best_for_rest(model: Mesh, eye: Floats) -> Floats | None:
    """The direction (3,) from which most of the fill is seen that is out of sight from `eye`; None for
    none.
    """
    scene = Scene()
    scene.add(model, face_colours())
    corners = scene.corners_mm()

    def traced(way: Floats) -> tuple[Drawn, NDArray[np.int32]]:
        camera = framed(looking(way, UP), corners, 2 * TRIAL_PX, 2 * TRIAL_PX)
        drawn, face, _ = scene.trace(camera, 2 * TRIAL_PX, 2 * TRIAL_PX)
        return drawn, face

    drawn, face = traced(eye)
    known = np.zeros(len(model.faces), bool)
    known[face[drawn.origin == int(Origin.FILL)]] = True
    best, most = None, LEAST_UNSEEN_MM2
    for elevation in (-30.0, 0.0, 35.0):
        for azimuth in range(-90, 270, 45):
            way = direction(azimuth, elevation)
            drawn, face = traced(way)
            fill = drawn.origin == int(Origin.FILL)
            shown = int((~known[face[fill]]).sum()) / drawn.camera.scale**2
            if shown > most:
                best, most = way, shown
    return best


def _trial(scene: Scene, corners_mm: Floats, eye: Floats) -> Drawn:
    camera = framed(looking(eye, UP), corners_mm, TRIAL_PX, TRIAL_PX)
    drawn, _, _ = scene.trace(camera, TRIAL_PX, TRIAL_PX)
    return drawn


def _well_seen(drawn: Drawn, line_mm: Floats) -> float:
    """Share of the points (n, 3) of a line that are seen; along the outline they count a third."""
    if not len(line_mm):
        return 0.0
    visible = seen(drawn, line_mm, 6.0 / drawn.camera.scale)
    flat = drawn.camera.project(line_mm).astype(int)
    h, w = drawn.part.shape
    inner = binary_erosion(drawn.part >= 0, iterations=6)
    inside = inner[np.clip(flat[:, 1], 0, h - 1), np.clip(flat[:, 0], 0, w - 1)]
    return float((visible * np.where(inside, 1.0, 1.0 / 3.0)).mean())
