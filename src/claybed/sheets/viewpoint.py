"""From where to look: a few dozen small trial pictures, and the one that shows most of what matters."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.ndimage import binary_erosion

from claybed.assets.palette import face_colours
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.sheets.linework import closed, seen, stations_mm
from claybed.sheets.rendering import Drawn, Scene, framed, looking

TRIAL_PX = 120
UP = np.array([0.0, 0.0, 1.0])


def direction(azimuth_deg: float, elevation_deg: float) -> Floats:
    """Unit vector towards the eye; azimuth from +x towards +y, elevation above the board, both in degrees."""
    a, e = np.radians(azimuth_deg), np.radians(elevation_deg)
    return np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])


def best_for_seam(
    model: Mesh, seam_loops_mm: Sequence[Floats], elevations_deg: Sequence[float] = (12.0, 24.0, 38.0)
) -> Floats:
    """The direction (3,) that shows most of the seam, some of every fill and a broad view of the object."""
    scene = Scene()
    scene.add(model, face_colours())
    points = [stations_mm(closed(loop), 2.0) for loop in seam_loops_mm if len(loop) > 1]
    line = np.concatenate(points) if points else np.zeros((0, 3))
    whole_mm2 = model.area_mm2
    filled = bool((model.origin == int(Origin.FILL)).any())
    best, best_score = direction(-60.0, 24.0), -np.inf
    for elevation in elevations_deg:
        for azimuth in range(-90, 270, 30):
            eye = direction(azimuth, elevation)
            camera = framed(looking(eye, UP), model.vertices_mm, TRIAL_PX, TRIAL_PX)
            drawn, _, _ = scene.trace(camera, TRIAL_PX, TRIAL_PX)
            area = float((drawn.part >= 0).sum()) / drawn.camera.scale**2
            along = _well_seen(drawn, line)
            fill_px = int((drawn.origin == int(Origin.FILL)).sum())
            score = 1.6 * along + area / whole_mm2 + (1.0 * min(1.0, fill_px / 400.0) if filled else 0.0)
            # Front and a slight turn are what people expect of a picture; ties go there.
            score += 0.05 * np.cos(np.radians(azimuth + 65.0)) - 0.002 * abs(elevation - 24.0)
            if score > best_score:
                best, best_score = eye, score
    return best


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


def best_for_fill(model: Mesh) -> Floats:
    """The direction (3,) from which most fill is seen, from above or below; without fill, as for no seam."""
    scene = Scene()
    scene.add(model, face_colours())
    best, best_pixels = direction(-60.0, 24.0), -1
    for elevation in (-35.0, -10.0, 15.0, 40.0):
        for azimuth in range(-90, 270, 30):
            eye = direction(azimuth, elevation)
            camera = framed(looking(eye, UP), model.vertices_mm, TRIAL_PX, TRIAL_PX)
            drawn, _, _ = scene.trace(camera, TRIAL_PX, TRIAL_PX)
            pixels = int((drawn.origin == int(Origin.FILL)).sum() / drawn.camera.scale**2 * 100.0)
            if pixels > best_pixels:
                best, best_pixels = eye, pixels
    return best
