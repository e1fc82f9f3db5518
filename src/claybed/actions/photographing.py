"""From photographs to an object file, and the mat they are taken on."""

from __future__ import annotations

import importlib.util
from collections.abc import Callable, Mapping, Sequence
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from claybed.actions.object_files import write_object
from claybed.errors import CannotError, InputError

if TYPE_CHECKING:
    from claybed.geometry.mesh import Floats
    from claybed.photos.outline import Outline
    from claybed.photos.shot import PrintScale, Shot
    from claybed.records.object_file import ObjectFile

Progress = Callable[[str, float], None]


def write_mat(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Write the mat as PDF to "out" for "paper" (a4, letter, a3); return its measures.

    Raises InputError for another paper, CannotError without OpenCV.
    """
    need_opencv()
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
    None), "gap_mm" (before an upright mat; None on a lying one), "exponent", "outline" and "side_outline"
    (points files or None), "save_outline", "save_side_outline" and "check" (files to write, or None). Raises
    InputError and CannotError as the stage does; no file is written then.
    """
    need_opencv()
    from claybed.photos import shot as shots

    scale = shots.print_scale(payload["bar_mm"], payload["marker_mm"])
    paths = [Path(path) for path in (payload["path"], payload["side"]) if path is not None]
    files = [payload["outline"], payload["side_outline"]][: len(paths)]
    points = [points_of(file) for file in files]
    taken = take(paths, scale, payload["gap_mm"], progress)
    progress("drawing outlines", 0.0)
    made, outlines = measured(taken, scale, points, [Path(file or "").name for file in files], payload)
    progress("writing", 0.5)
    wanted = (payload["save_outline"], payload["save_side_outline"])
    for one, outline, file in zip(taken, outlines, wanted, strict=False):
        if file is not None:
            Path(file).write_text(points_text(shots.outline_points(one, outline)), "utf-8")
    if payload["check"] is not None:
        drawn = [shots.drawn_outline(one, outline) for one, outline in zip(taken, outlines, strict=True)]
        Path(payload["check"]).write_bytes(_side_by_side(drawn))
    return write_object(made, Path(payload["out"]))


def take(paths: Sequence[Path], scale: PrintScale, gap_mm: float | None, progress: Progress) -> list[Shot]:
    """One or two photos with mat and camera found in each, upright mats `gap_mm` behind the object.

    Raises InputError when one cannot be measured by.
    """
    from claybed.photos.picture import open_picture
    from claybed.photos.shot import aim
    from claybed.photos.standing import Stand, check_way_round

    stand = Stand(gap_mm)
    taken = []
    for k, path in enumerate(paths):
        progress("reading photos", k / len(paths))
        one = aim(open_picture(bytes_of(path), path.name), scale, stand)
        check_way_round(one.posed.camera, one.mat, stand, one.picture.name)
        taken.append(one)
    return taken


def measured(
    taken: Sequence[Shot],
    scale: PrintScale,
    points: Sequence[Any],
    names: Sequence[str],
    asked: Mapping[str, Any],
) -> tuple[ObjectFile, list[Outline]]:
    """The object in one photo, or blended from two, and the outlines it was read from.

    `points` are outlines that a person gave, of files called `names`, or None; `asked` has "name", "mass_g",
    "height_mm" and "exponent". Raises InputError and CannotError as the stage does.
    """
    from claybed.photos.blended import blended_object
    from claybed.photos.turned import turned_object

    facts = {key: asked[key] for key in ("name", "mass_g", "height_mm")}
    if len(taken) == 1:
        made, outline = turned_object(taken[0], scale, points_px=points[0], points_name=names[0], **facts)
        return made, [outline]
    made, both = blended_object(
        taken[0],
        taken[1],
        scale,
        exponent_ratio=asked["exponent"],
        points_px=(points[0], points[1]),
        points_names=(names[0], names[1]),
        **facts,
    )
    return made, [*both]


def points_text(points_px: Floats) -> str:
    """An outline (n, 2) px as a points file."""
    return "x_px,y_px\n" + "".join(f"{x:.1f},{y:.1f}\n" for x, y in points_px)


def run_photos(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Make the hull of a ring of photos and write it to "out".

    `payload` has "paths", "name", "bar_mm", "marker_mm", "height_mm" and "mass_g" (each or None), and
    "check", a JPEG to write with the outline drawn in each picture, or None. Raises InputError and
    CannotError as the stage does.
    """
    need_opencv()
    from claybed.photos.ring import Source, read_ring, ring_object
    from claybed.photos.shot import print_scale

    scale = print_scale(payload["bar_mm"], payload["marker_mm"])
    paths = [Path(path) for path in payload["paths"]]
    compile_carving_first(progress)
    sources = [Source(path.name, lambda path=path: bytes_of(path)) for path in paths]  # type: ignore[misc]
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
    if payload["check"] is not None:
        from claybed.photos.contact_sheet import contact_sheet

        Path(payload["check"]).write_bytes(as_jpeg(contact_sheet(ring.shots, ring.outlines)))
    return write_object(made, Path(payload["out"]))


def compile_carving_first(progress: Progress) -> None:
    """Compile the carving kernels when none are kept yet, and say so."""
    from claybed.geometry.outline_hull import carving_cache, compile_carving

    folder, pattern = carving_cache()
    if any(Path(folder).glob(pattern)):
        return
    progress("compiling", 0.0)
    compile_carving()
    progress("compiling", 1.0)


def need_opencv() -> None:
    """Raise CannotError when photos cannot be measured in here."""
    if importlib.util.find_spec("cv2") is None:
        raise CannotError(
            "measuring in photos needs OpenCV, which is not installed.",
            where="photos",
            remedy="Install it from the folder of claybed: pip install '.[photo]'",
        )


def bytes_of(path: Path) -> bytes:
    """What a photo's file holds. Raises InputError when it cannot be read."""
    try:
        return path.read_bytes()
    except FileNotFoundError:
        raise InputError("is not there.", where=str(path), remedy="Check the name and folder.") from None
    except OSError as error:
        raise InputError(
            f"cannot be read ({error.strerror or error}).", where=str(path), remedy="Check the file."
        ) from error


def points_of(path: str | Path | None) -> Any:
    """The outline in a points file, (n, 2) px, or None for no file. Raises InputError for another text."""
    if path is None:
        return None
    from claybed.photos.shot import read_points

    try:
        text = bytes_of(Path(path)).decode("utf-8-sig")
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
    return as_jpeg(np.hstack([np.asarray(one) for one in row]))


def as_jpeg(rgb: Any) -> bytes:
    """A picture (h, w, 3) uint8 as JPEG."""
    from PIL import Image

    out = BytesIO()
    Image.fromarray(rgb).save(out, "JPEG", quality=88)
    return out.getvalue()
