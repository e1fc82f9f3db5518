"""From photographs to an object file, and the mat they are taken on."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable, Mapping
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np

from claybed.actions.object_files import write_object
from claybed.errors import CannotError, InputError

Progress = Callable[[str, float], None]


def write_mat(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Write the mat as PDF to "out" for "paper" (a4, letter, a3); return its measures.

    Raises InputError for another paper, CannotError without OpenCV.
    """
    _need_opencv()
    from claybed.photos.mat import lay_out_mat
    from claybed.sheets.mat_sheet import render_mat

    progress("drawing", 0.0)
    mat = lay_out_mat(str(payload["paper"]))
    Path(payload["out"]).write_bytes(render_mat(mat))
    return {
        "paper": mat.paper,
        "size_mm": [mat.width_mm, mat.height_mm],
        "bar_mm": mat.bar_mm,
        "marker_mm": mat.marker_mm,
        "markers": len(mat.markers),
        "clear_mm": [2.0 * mat.clear_x_mm, 2.0 * mat.clear_y_mm],
    }


def run_photo(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Make an object from one photo, or from a front and a side photo, and write it to "out".

    `payload` has "path", "side" (or None), "name", "bar_mm", "marker_mm", "height_mm", "mass_g" (each or
    None), "gap_mm" (before an upright mat; None on a lying one), "exponent", "outline" (a points file or
    None), "save_outline" and "check" (files to write, or None). Raises InputError and CannotError as the
    stage does; no file is written then.
    """
    _need_opencv()
    from claybed.photos import shot as shots
    from claybed.photos.blended import blended_object
    from claybed.photos.picture import open_picture
    from claybed.photos.standing import Stand, check_way_round
    from claybed.photos.turned import turned_object

    scale = shots.print_scale(payload["bar_mm"], payload["marker_mm"])
    paths = [Path(payload["path"]), *([Path(payload["side"])] if payload["side"] is not None else [])]
    points = _points(payload["outline"])
    progress("reading photos", 0.0)
    stand = Stand(payload["gap_mm"])
    taken = [shots.aim(open_picture(_bytes_of(path), path.name), scale, stand) for path in paths]
    for one in taken:
        check_way_round(one.posed.camera, one.mat, stand, one.picture.name)
    progress("drawing outlines", 0.0)
    asked = {"name": payload["name"], "mass_g": payload["mass_g"], "height_mm": payload["height_mm"]}
    if len(taken) == 1:
        name = "" if payload["outline"] is None else Path(payload["outline"]).name
        made, outline = turned_object(taken[0], scale, points_px=points, points_name=name, **asked)
        outlines = [outline]
    else:
        made, both = blended_object(taken[0], taken[1], scale, exponent_ratio=payload["exponent"], **asked)
        outlines = [*both]
    progress("writing", 0.5)
    if payload["save_outline"] is not None:
        lines = [f"{x:.1f},{y:.1f}" for x, y in shots.outline_points(taken[0], outlines[0])]
        Path(payload["save_outline"]).write_text("x_px,y_px\n" + "\n".join(lines) + "\n", "utf-8")
    if payload["check"] is not None:
        drawn = [shots.drawn_outline(one, outline) for one, outline in zip(taken, outlines, strict=True)]
        Path(payload["check"]).write_bytes(_side_by_side(drawn))
    return write_object(made, Path(payload["out"]))


def run_photos(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Make the hull of a ring of photos and write it to "out".

    `payload` has "paths", "name", "bar_mm", "marker_mm", "height_mm" and "mass_g" (each or None). Raises
    InputError and CannotError as the stage does.
    """
    _need_opencv()
    from claybed.photos.ring import Source, read_ring, ring_object
    from claybed.photos.shot import print_scale

    scale = print_scale(payload["bar_mm"], payload["marker_mm"])
    paths = [Path(path) for path in payload["paths"]]
    _compile_carving(progress)
    sources = [Source(path.name, lambda path=path: _bytes_of(path)) for path in paths]  # type: ignore[misc]
    ring = read_ring(sources, scale, progress)
    made = ring_object(
        ring,
        scale,
        name=payload["name"],
        mass_g=payload["mass_g"],
        height_mm=payload["height_mm"],
        progress=progress,
    )
    progress("writing", 0.5)
    return write_object(made, Path(payload["out"]))


def _compile_carving(progress: Progress) -> None:
    """Compile the carving kernels when none are kept yet, and say so."""
    from claybed.geometry.outline_hull import carving_cache, compile_carving

    folder, pattern = carving_cache()
    if any(Path(folder).glob(pattern)):
        return
    progress("compiling", 0.0)
    compile_carving()
    progress("compiling", 1.0)


def _need_opencv() -> None:
    if importlib.util.find_spec("cv2") is None:
        raise CannotError(
            "measuring in photos needs OpenCV, which is not installed.",
            where="photos",
            remedy="Type: pip install 'claybed[photo]', or pip install opencv-python-headless.",
        )


def _bytes_of(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise InputError("is not there.", where=str(path), remedy="Check the name and folder.") from None
    except OSError as error:
        raise InputError(
            f"cannot be read ({error.strerror or error}).", where=str(path), remedy="Check the file."
        ) from error


def _points(path: str | Path | None) -> Any:
    if path is None:
        return None
    from claybed.photos.shot import read_points

    try:
        text = _bytes_of(Path(path)).decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError(
            "is not a text of points.", where=Path(path).name, remedy="Write x,y in pixels, one point a line."
        ) from None
    return read_points(text, Path(path).name)


def _side_by_side(drawn: list[Any]) -> bytes:
    """Pictures beside one another as one JPEG."""
    from PIL import Image

    height = min(one.shape[0] for one in drawn)
    row = [
        Image.fromarray(one).resize((round(one.shape[1] * height / one.shape[0]), height)) for one in drawn
    ]
    out = BytesIO()
    Image.fromarray(np.hstack([np.asarray(one) for one in row])).save(out, "JPEG", quality=88)
    return out.getvalue()
