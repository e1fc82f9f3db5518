"""One or two photos whose outlines a person looks at and corrects, and the object that they give."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from claybed.actions import photographing
from claybed.actions.object_files import write_object
from claybed.errors import CannotError, InputError

if TYPE_CHECKING:
    from claybed.geometry.mesh import Floats
    from claybed.photos.shot import Shot

Progress = Callable[[str, float], None]
_VIEW_PX: Final = 1800
_RING_VIEW_PX: Final = 1100  # there are many of them on one page
_FIRST_MM: Final = (40.0, 120.0)  # width and height of the outline that a person begins with
_FIRST_POINTS: Final = 160


def run(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Show photos with their outlines, and write the object to "out" if the outlines will do.

    `payload` is that of `photographing.run_photo` less its files to write, and "views", a JPEG to write for
    each photo. Returns "pictures", each with "name", "size_px" of the upright file, "points_px" of its
    outline (n pairs) and whether it was "found"; "object", the description or None; and "says", why there is
    none. Raises InputError when a photo cannot be measured by at all.
    """
    photographing.need_opencv()
    from claybed.photos import shot as shots

    scale = shots.print_scale(payload["bar_mm"], payload["marker_mm"])
    paths = [Path(path) for path in (payload["path"], payload["side"]) if path is not None]
    files = [payload["outline"], payload["side_outline"]][: len(paths)]
    points = [photographing.points_of(file) for file in files]
    taken = photographing.take(paths, scale, payload["gap_mm"], progress)
    for one, view in zip(taken, payload["views"], strict=True):
        Path(view).write_bytes(_view(one))
    progress("drawing outlines", 0.0)
    pictures: list[dict[str, Any]] = []
    says = ""
    for one, given in zip(taken, points, strict=True):
        try:
            # The outline itself is worth seeing even where it is not good enough to measure by.
            line, found = _line(one, given), True
        except (InputError, CannotError) as reason:
            line, found, says = _first_line(one), False, str(reason)
        factor = one.picture.shrunk_factor
        pictures.append(
            {
                "name": one.picture.name,
                "size_px": [round(side * factor) for side in one.picture.size_px],
                "points_px": np.round(line, 1).tolist(),
                "found": found,
            }
        )
    described = None
    if not says:
        try:
            made, _ = photographing.measured(taken, scale, points, [_SCREEN] * len(taken), payload)
            progress("writing", 0.5)
            described = write_object(made, Path(payload["out"]))
        except (InputError, CannotError) as reason:
            says = str(reason)
    return {"pictures": pictures, "object": described, "says": says}


def run_ring(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Show the photos of a ring with their outlines, and write their hull to "out".

    `payload` is that of `photographing.run_photos` less "check", and for each photo "views", a JPEG to write;
    "outlines", a points file or None; and "taken_out". Returns as `run` does, each picture besides with
    whether it is "used" and "why" not; one whose mat was not found has no points. Raises InputError and
    CannotError as the stage does.
    """
    photographing.need_opencv()
    from claybed.photos.ring import Source, read_ring, ring_object
    from claybed.photos.shot import outline_points, print_scale

    scale = print_scale(payload["bar_mm"], payload["marker_mm"])
    paths = [Path(path) for path in payload["paths"]]
    photographing.compile_carving_first(progress)
    sources = [
        Source(path.name, partial(photographing.bytes_of, path), photographing.points_of(line), out)
        for path, line, out in zip(paths, payload["outlines"], payload["taken_out"], strict=True)
    ]
    ring = read_ring(sources, scale, progress)
    facts = {key: payload[key] for key in ("name", "mass_g", "height_mm")}
    made = ring_object(ring, scale, progress=progress, **facts)
    progress("writing", 0.5)
    why = {one.place: one.why for one in ring.left_out}
    used = zip(ring.places, ring.shots, ring.outlines, strict=True)
    seen = {k: (shot, line) for k, shot, line in (*used, *ring.aside)}
    pictures: list[dict[str, Any]] = []
    for k, path in enumerate(paths):
        picture: dict[str, Any] = {"name": path.name, "used": k not in why, "why": why.get(k, "")}
        if k in seen:
            shot, line = seen[k]
            Path(payload["views"][k]).write_bytes(_view(shot, _RING_VIEW_PX))
            points = sources[k].points_px
            if points is None:
                points = _first_line(shot) if line is None else outline_points(shot, line)
            size = [round(side * shot.picture.shrunk_factor) for side in shot.picture.size_px]
            picture |= {"size_px": size, "points_px": np.round(points, 1).tolist()}
        pictures.append(picture | {"found": k in seen and seen[k][1] is not None})
    return {"pictures": pictures, "object": write_object(made, Path(payload["out"])), "says": ""}


_SCREEN: Final = "the outline"


def _line(shot: Shot, given: Floats | None) -> Floats:
    """The outline of a photo, as given, or as found however faintly."""
    from claybed.photos.outline import find_outline
    from claybed.photos.shot import outline_points

    if given is not None:
        return given
    picture = shot.picture
    found = find_outline(picture.rgb, shot.posed.camera, shot.mat, shot.seen, picture.name, shot.stand)
    return outline_points(shot, found)


def _first_line(shot: Shot) -> Floats:
    """An oval where the object should stand, (n, 2) px of the upright file, to be pulled into shape."""
    camera = shot.camera
    foot = np.zeros(2) if shot.stand.gap_mm is None else np.array([0.0, -shot.stand.gap_mm - _FIRST_MM[0]])
    view = foot - camera.eye_mm[:2]
    across = np.array([view[1], -view[0]]) / max(float(np.linalg.norm(view)), 1e-9)
    turn = 2.0 * np.pi * np.arange(_FIRST_POINTS) / _FIRST_POINTS
    aside = foot + 0.5 * _FIRST_MM[0] * np.cos(turn)[:, None] * across
    up = 0.5 * _FIRST_MM[1] * (1.0 + np.sin(turn))
    pixels = (camera.project(np.column_stack([aside, up])) + 0.5) * shot.picture.shrunk_factor - 0.5
    width, height = (side * shot.picture.shrunk_factor for side in shot.picture.size_px)
    inside: Floats = np.clip(pixels, 0.0, [width - 1.0, height - 1.0])
    return inside


def _view(shot: Shot, side_px: int = _VIEW_PX) -> bytes:
    """The upright photo at a size for the screen, as JPEG, with nothing of what its camera noted."""
    from PIL import Image

    image = Image.fromarray(shot.picture.rgb)
    image.thumbnail((side_px, side_px))
    return photographing.as_jpeg(np.asarray(image))
