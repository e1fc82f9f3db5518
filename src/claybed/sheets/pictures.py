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
from claybed.geometry.barred import Barred
from claybed.geometry.mesh import Floats, Mesh, Origin
from claybed.posing.filling import MOST_NUMBERED
from claybed.scene.smoothing import crease_segments_mm
from claybed.sheets import linework, viewpoint
from claybed.sheets.places import fill_spots_mm
from claybed.sheets.rendering import Camera, Drawn, Scene, framed, looking
from claybed.wording import spot_mark

UP = np.array([0.0, 0.0, 1.0])
MOST_LETTERED = 12  # closed holes that carry letters in a picture
Vector = Sequence[float] | Floats
Piece = tuple[str, Mesh, Vector]


def object_with_seam(
    model: Mesh,
    seam_loops_mm: Sequence[Floats],
    fill_places_mm: Sequence[Vector] | None = None,
    witness_mm: Sequence[Vector] = (),
    barred: Barred | None = None,
    *,
    holes: Sequence[tuple[str, Floats]] = (),
    width_px: int = 1400,
    height_px: int = 1000,
) -> Image.Image:
    """The model in plaster grey with its seam and fill, and the spots that no two pulls share.

    `seam_loops_mm` closed curves (n, 3); `fill_places_mm` points that are numbered 1, 2, ... in the order
    given, so that they match the plan's list (those out of sight are left out); None finds the patches of
    fill itself, largest first. The seam has a tick every 10 mm and a longer one every 50 (only those when
    10 mm would crowd); where it runs behind it is dotted. Spots of `witness_mm` are marked I, II, ... in the
    order given, those that lie behind by a ring; a lattice lies over what is in `barred`, where no seam may
    run. Of `holes` that were closed the rims (n, 3) are dashed and the first marked with their letters, those
    that lie behind by a ring. Raises ValueError for a model without faces.
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
    if barred:
        linework.draw_lattice(image, drawn, barred)
    linework.draw_seam(image, drawn, seam_loops_mm)
    linework.draw_dashes(image, drawn, [linework.closed(rim) for _, rim in holes])
    small = linework.shrunk(image)
    if viewpoint.open_below(model, seam_loops_mm):
        middle = camera.project(np.mean(np.concatenate(loose), axis=0)[None])[0]
        linework.label(small, (middle[0], middle[1]), "open face", max(26, height_px // 24))
    spots = (
        fill_spots_mm(model)
        if fill_places_mm is None
        else [np.asarray(p, dtype=float) for p in fill_places_mm]
    )
    _number_places(small, drawn, camera, spots, 1.0 / 26.0)
    _mark_spots(small, drawn, camera, witness_mm, [spot_mark(k) for k in range(len(witness_mm))])
    told = holes[:MOST_LETTERED]
    _mark_spots(small, drawn, camera, [rim.mean(axis=0) for _, rim in told], [mark for mark, _ in told])
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
    left = linework.cropped(_apart(pieces, model, round(width_px * 0.5), height_px), border_px=4)
    gap = width_px // 40
    columns, rows = _panel_grid(pieces, width_px - left.width - gap, height_px)
    across, down = (width_px - left.width - gap) // columns, height_px // rows
    panels = [
        linework.cropped(_inside(piece, k, across, down), border_px=4) for k, piece in enumerate(pieces)
    ]
    widest, tallest = max(p.width for p in panels), max(p.height for p in panels)
    whole = (
        left.width + columns * (gap + widest),
        max(left.height, rows * tallest + (rows - 1) * gap),
    )
    canvas = Image.new("RGB", whole, "#FFFFFF")
    canvas.paste(left, (0, (whole[1] - left.height) // 2))
    top = (whole[1] - rows * tallest - (rows - 1) * gap) // 2
    for k, panel in enumerate(panels):
        row, column = divmod(k, columns)
        x = left.width + gap + column * (gap + widest) + (widest - panel.width) // 2
        canvas.paste(panel, (x, top + row * (gap + tallest) + (tallest - panel.height) // 2))
    return linework.cropped(canvas)


def _panel_grid(pieces: Sequence[Piece], width_px: int, height_px: int) -> tuple[int, int]:
    """Columns and rows of the pieces' insides that let them be drawn largest."""
    sizes = []
    for _, mesh, pull in pieces:
        eye, up = _eye_for_inside(_unit(pull))
        sizes.append(np.ptp(mesh.vertices_mm @ looking(eye, up)[:2].T, axis=0))
    wide, tall = np.max(sizes, axis=0)
    counts = range(1, len(pieces) + 1)
    columns = max(counts, key=lambda c: min(width_px / c / wide, height_px / -(-len(pieces) // c) / tall))
    return columns, -(-len(pieces) // columns)


def fill_close_up(
    model: Mesh,
    fill_places_mm: Sequence[Vector] | None = None,
    *,
    width_px: int = 900,
    height_px: int = 700,
    other_side: bool = False,
) -> Image.Image | None:
    """The model from where most of its fill is seen, with numbered places; None when nothing is filled.

    `fill_places_mm` as in `object_with_seam`; `other_side` shows what fill is out of sight from there, None
    when none is.
    """
    _need_faces(model)
    filled = model.origin == int(Origin.FILL)
    if not filled.any():
        return None
    scene = Scene()
    scene.add(model, face_colours())
    eye = viewpoint.best_for_fill(model)
    if other_side:
        beyond = viewpoint.best_for_rest(model, eye)
        if beyond is None:
            return None
        eye = beyond
    basis = looking(eye, UP)
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
    _number_places(small, drawn, camera, spots, 1.0 / 17.0)
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
        scene.add(mesh, face_colours(piece_colour(index)), unit * _way_mm(mesh, model, unit, every))
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


def _way_mm(mesh: Mesh, model: Mesh, unit: Floats, every_mm: Floats) -> float:
    """How far a piece moves so that the model is seen whole; one that is lifted hides what lies behind its
    lower edge, so it moves farther."""
    reach = float(np.ptp(every_mm @ unit))
    apart = float((model.vertices_mm @ unit).max() - (mesh.vertices_mm @ unit).min()) + 0.06 * reach
    if unit[2] > 0.7:
        apart += 0.2 * float(np.ptp(every_mm[:, :2], axis=0).max())
    return max(0.74 * reach, apart)


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


def _eye_for_inside(unit: Floats) -> tuple[Floats, Floats]:
    """Where a piece's inside is looked at from, and what is upright then."""
    side = np.array([0.0, -1.0, 0.0]) if abs(unit[1]) < 0.8 else np.array([0.0, 0.0, 1.0])
    eye = -unit + 0.42 * (side - unit * float(side @ unit))
    return eye, np.array([0.0, 1.0, 0.0]) if abs(unit[2]) > 0.7 else UP


def _inside(piece: Piece, index: int, width_px: int, height_px: int) -> Image.Image:
    letter, mesh, pull = piece
    unit = _unit(pull)
    eye, up = _eye_for_inside(unit)
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
    size = min(54, max(26, min(width_px, height_px) // 12))
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
    size = max(22, round(image.height * share))
    taken: list[Floats] = []
    for k in range(min(len(points), MOST_NUMBERED)):
        inside = 0 <= flat[k, 0] < image.width and 0 <= flat[k, 1] < image.height
        if not (visible[k] and inside):
            continue
        at = _free_spot(flat[k], taken, flat[:MOST_NUMBERED], (image.width, image.height), size)
        taken.append(at)
        linework.callout(image, (flat[k, 0], flat[k, 1]), (at[0], at[1]), str(k + 1), size)


def _mark_spots(
    image: Image.Image, drawn: Drawn, camera: Camera, spots_mm: Sequence[Vector], marks: Sequence[str]
) -> None:
    """Mark every spot with its numeral or letter, whether or not it is in sight."""
    if not len(spots_mm):
        return
    points = np.array(spots_mm, dtype=np.float64).reshape(-1, 3)
    visible = linework.seen(drawn, points, 4.0 / camera.scale)
    flat = camera.project(points)[:, :2]
    size = max(22, round(image.height / 26.0))
    taken: list[Floats] = []
    for k, tip in enumerate(flat):
        at = _free_spot(tip, taken, flat, (image.width, image.height), size)
        taken.append(at)
        linework.callout(image, (tip[0], tip[1]), (at[0], at[1]), marks[k], size, hidden=not bool(visible[k]))


def _free_spot(
    tip_px: Floats, taken_px: Sequence[Floats], tips_px: Floats, frame_px: tuple[int, int], size_px: int
) -> Floats:
    """Where the plate of a place goes: outwards from the middle, turned or farther off when another plate or
    another place is there already."""
    middle = np.array(frame_px) / 2.0
    away = tip_px - middle if np.hypot(*(tip_px - middle)) > 1.0 else np.array([0.7, -0.7])
    outwards = float(np.arctan2(away[1], away[0]))
    edge = size_px * 1.1
    best, most_room = tip_px, -np.inf
    for reach in (3.0, 4.2, 5.6):
        for turn in np.radians([0, 25, -25, 50, -50, 80, -80, 120, -120, 160]):
            at = tip_px + size_px * reach * np.array([np.cos(outwards + turn), np.sin(outwards + turn)])
            at = np.clip(at, edge, np.array(frame_px) - edge)
            plates = min((float(np.hypot(*(at - other))) for other in taken_px), default=np.inf)
            places = min(float(np.hypot(*(at - tip))) for tip in tips_px)
            room = min(plates / 2.2, places / 1.4) / size_px
            if room >= 1.0:
                return np.asarray(at)
            if room > most_room:
                best, most_room = at, room
    return np.asarray(best)
