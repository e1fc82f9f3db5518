"""The pictures of a plan: object with seam, pieces apart, fill from near, and the section.

Every function takes meshes in the block's frame (mm) and gives a PIL image; `as_png` turns it into bytes.
Drawn for paper that may be printed in black and white: the seam is a thick line with ticks, fill is hatched,
pieces carry letters.
"""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO

import numpy as np
from PIL import Image

from claybed.assets.palette import face_colours, piece_colour
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.scene.smoothing import crease_segments_mm
from claybed.sheets import linework, viewpoint
from claybed.sheets.places import fill_spots_mm
from claybed.sheets.rendering import Camera, Drawn, Scene, framed, looking

UP = np.array([0.0, 0.0, 1.0])
Vector = Sequence[float] | Floats
Piece = tuple[str, Mesh, Vector]


def object_with_seam(
    model: Mesh,
    seam_loops_mm: Sequence[Floats],
    fill_places_mm: Sequence[Vector] | None = None,
    *,
    width_px: int = 1400,
    height_px: int = 1000,
) -> Image.Image:
    """The model in plaster grey with its seam and fill.

    `seam_loops_mm` closed curves (n, 3); `fill_places_mm` points that are numbered 1, 2, ... in the order
    given, so that they match the plan's list (those out of sight are left out); None finds the patches of
    fill itself, largest first. The seam has a tick every 10 mm and a longer one every 50 (only those when
    10 mm would crowd); where it runs behind it is dotted. Raises ValueError for a model without faces.
    """
    _need_faces(model)
    scene = Scene()
    scene.add(model, face_colours())
    eye = viewpoint.best_for_seam(model, seam_loops_mm)
    loose = [linework.closed(loop) for loop in seam_loops_mm]
    points = np.concatenate([model.vertices_mm, *loose])
    camera = framed(looking(eye, UP), points, width_px, height_px, margin=0.07)
    drawn = scene.draw(camera, width_px, height_px)
    image = linework.as_image(drawn)
    linework.draw_creases(image, drawn, crease_segments_mm(model), 0)
    linework.draw_seam(image, drawn, seam_loops_mm)
    small = linework.shrunk(image)
    spots = (
        fill_spots_mm(model)
        if fill_places_mm is None
        else [np.asarray(p, dtype=float) for p in fill_places_mm]
    )
    _number_places(small, drawn, camera, spots, 1.0 / 26.0)
    return linework.cropped(small)


def exploded(
    pieces: Sequence[Piece], model: Mesh, *, width_px: int = 1700, height_px: int = 1100
) -> Image.Image:
    """The pieces moved apart along their pulls with the model between them, and each piece's inside beside
    it.

    `pieces` are (letter, mesh, pull) in the order they are poured; a pull need not be a unit vector. Raises
    ValueError for no pieces, a mesh without faces or a pull of no length.
    """
    if not pieces:
        raise ValueError("no pieces to draw")
    for mesh in [model, *(m for _, m, _ in pieces)]:
        _need_faces(mesh)
    left = _apart(pieces, model, round(width_px * 0.56), height_px)
    right_width = width_px - left.width
    columns = 1 if len(pieces) <= 2 else 2
    rows = -(-len(pieces) // columns)
    canvas = Image.new("RGB", (width_px, height_px), "#FFFFFF")
    canvas.paste(left, (0, 0))
    for index, piece in enumerate(pieces):
        panel = _inside(piece, index, right_width // columns, height_px // rows)
        canvas.paste(
            panel,
            (
                left.width + (index % columns) * (right_width // columns),
                (index // columns) * (height_px // rows),
            ),
        )
    return linework.cropped(canvas)


def fill_close_up(
    model: Mesh,
    fill_places_mm: Sequence[Vector] | None = None,
    *,
    width_px: int = 900,
    height_px: int = 700,
) -> Image.Image | None:
    """The model from where most of its fill is seen, with numbered places; None when nothing is filled.

    `fill_places_mm` as in `object_with_seam`.
    """
    _need_faces(model)
    filled = model.origin == int(Origin.FILL)
    if not filled.any():
        return None
    scene = Scene()
    scene.add(model, face_colours())
    basis = looking(viewpoint.best_for_fill(model), UP)
    near = model.vertices_mm[np.unique(model.faces[filled])]
    middle = (near.min(axis=0) + near.max(axis=0)) / 2.0
    size = float(np.linalg.norm(np.ptp(model.vertices_mm, axis=0)))
    reach = max(float(np.linalg.norm(near - middle, axis=1).max()) * 1.7, 0.22 * size)
    corners = middle + reach * np.array(
        [[x, y, z] for x in (-0.6, 0.6) for y in (-0.6, 0.6) for z in (-0.6, 0.6)]
    )
    camera = framed(basis, corners, width_px, height_px, margin=0.0)
    drawn = scene.draw(camera, width_px, height_px)
    image = linework.as_image(drawn)
    linework.draw_creases(image, drawn, crease_segments_mm(model), 0)
    small = linework.shrunk(image)
    spots = (
        fill_spots_mm(model)
        if fill_places_mm is None
        else [np.asarray(p, dtype=float) for p in fill_places_mm]
    )
    _number_places(small, drawn, camera, spots, 1.0 / 10.0)
    return linework.cropped(small)


def as_png(image: Image.Image) -> bytes:
    """The picture as PNG bytes."""
    out = BytesIO()
    image.save(out, format="PNG")
    return out.getvalue()


def _need_faces(mesh: Mesh) -> None:
    if not len(mesh.faces):
        raise ValueError(f"nothing to draw: a mesh in frame {mesh.frame!r} has no faces")


def _unit(pull: Vector) -> Floats:
    p = np.asarray(pull, dtype=np.float64)
    length = float(np.linalg.norm(p))
    if length < 1e-9:
        raise ValueError("a pull has no length")
    return p / length


def _apart(pieces: Sequence[Piece], model: Mesh, width_px: int, height_px: int) -> Image.Image:
    scene = Scene()
    every = np.concatenate([m.vertices_mm for _, m, _ in pieces])
    for index, (_, mesh, pull) in enumerate(pieces):
        unit = _unit(pull)
        reach = float(np.ptp(every @ unit))
        scene.add(mesh, face_colours(piece_colour(index)), unit * reach * 0.74)
    scene.add(model, face_colours())
    eye = _eye_for_insides(scene, [_unit(p) for _, _, p in pieces])
    camera = framed(looking(eye, UP), scene.points_mm(), width_px, height_px, margin=0.04)
    drawn = scene.draw(camera, width_px, height_px)
    image = linework.as_image(drawn)
    for index, (mesh, _, shift) in enumerate(scene.meshes):
        linework.draw_creases(image, drawn, crease_segments_mm(mesh) + shift, index)
    small = linework.shrunk(image)
    outside = np.isin(drawn.origin, [int(Origin.OUTSIDE)])
    for index, (letter, _, _) in enumerate(pieces):
        mine = drawn.part == index
        spot = linework.widest_spot(mine & outside) or linework.widest_spot(mine)
        if spot is not None:
            linework.plate(small, (spot[0] / 2, spot[1] / 2), letter, max(26, height_px // 26))
    return small


def _eye_for_insides(scene: Scene, pulls: Sequence[Floats]) -> Floats:
    """Where most of the pieces' inner faces are seen; from a little above, as one stands at a bench."""
    inner = [
        int(o) for o in (Origin.OBJECT, Origin.MOUTH, Origin.MEND, Origin.FILL, Origin.GATE, Origin.PARTING)
    ]
    best, best_score = viewpoint.direction(-60.0, 28.0), -1.0
    corners = scene.corners_mm()
    upright = all(abs(p[2]) > 0.9 for p in pulls)
    for elevation in (30.0,) if upright else (14.0, 32.0):
        for azimuth in (-60.0, -30.0, 25.0, 60.0, 120.0, 155.0, 210.0, 240.0):
            eye = viewpoint.direction(azimuth, elevation)
            camera = framed(looking(eye, UP), corners, viewpoint.TRIAL_PX, viewpoint.TRIAL_PX)
            drawn, _, _ = scene.trace(camera, viewpoint.TRIAL_PX, viewpoint.TRIAL_PX)
            shown = np.isin(drawn.origin, inner) & (drawn.part < len(pulls))
            score = float(shown.sum()) / drawn.camera.scale**2
            score *= 1.0 + 0.05 * np.cos(np.radians(azimuth + 60.0))
            if score > best_score:
                best, best_score = eye, score
    return best


def _inside(piece: Piece, index: int, width_px: int, height_px: int) -> Image.Image:
    letter, mesh, pull = piece
    unit = _unit(pull)
    side = np.array([0.0, -1.0, 0.0]) if abs(unit[1]) < 0.8 else np.array([0.0, 0.0, 1.0])
    eye = -unit + 0.42 * (side - unit * float(side @ unit))
    up = np.array([0.0, 1.0, 0.0]) if abs(unit[2]) > 0.7 else UP
    scene = Scene()
    scene.add(mesh, face_colours(piece_colour(index)))
    room = max(40, height_px // 9)
    camera = framed(looking(eye, up), mesh.vertices_mm, width_px, height_px - room, margin=0.06)
    drawn = scene.draw(camera, width_px, height_px - room)
    image = linework.as_image(drawn)
    linework.draw_creases(image, drawn, crease_segments_mm(mesh), 0)
    panel = Image.new("RGB", (width_px, height_px), "#FFFFFF")
    panel.paste(linework.shrunk(image), (0, 0))
    words = "inside, turned over" if unit[2] > 0.7 else "inside"
    size = max(26, min(width_px, height_px) // 14)
    columns = np.flatnonzero((drawn.part >= 0).any(axis=0)) / 2
    rows = np.flatnonzero((drawn.part >= 0).any(axis=1)) / 2
    middle = float(columns.mean()) if len(columns) else width_px / 2
    foot = float(rows.max()) + room * 0.62 if len(rows) else height_px - room / 2
    linework.plate(
        panel,
        (middle - size * 3.4 if "turned" in words else middle - size * 1.5, foot),
        letter,
        round(size * 0.82),
    )
    left = middle - size * 2.3 if "turned" in words else middle - size * 0.4
    linework.label(panel, (left, foot), words, round(size * 0.82), anchor="lm")
    return panel


def _number_places(
    image: Image.Image, drawn: Drawn, camera: Camera, spots_mm: Sequence[Floats], share: float
) -> None:
    """Number each place that is in sight, on a plate set outwards from the middle, `share` of the height
    large.

    A place may lie a little under the surface, in the middle of its clay; what lies deeper is on the far
    side.
    """
    if not len(spots_mm):
        return
    points = np.array(spots_mm, dtype=np.float64).reshape(-1, 3)
    solid = drawn.depth_mm[np.isfinite(drawn.depth_mm)]
    depth_mm = 0.1 * float(np.ptp(solid)) if len(solid) else 0.0
    visible = linework.seen(drawn, points, depth_mm)
    flat = camera.project(points)[:, :2]
    size = max(24, round(image.height * share))
    middle = np.array([image.width / 2, image.height / 2])
    for k in range(min(len(points), 12)):
        inside = 0 <= flat[k, 0] < image.width and 0 <= flat[k, 1] < image.height
        if not (visible[k] and inside):
            continue
        away = flat[k] - middle
        length = float(np.hypot(*away))
        away = away / length if length > 1.0 else np.array([0.7, -0.7])
        edge = size * 1.1
        at = np.clip(flat[k] + away * size * 3.2, edge, [image.width - edge, image.height - edge])
        linework.callout(image, (flat[k, 0], flat[k, 1]), (at[0], at[1]), str(k + 1), size)
