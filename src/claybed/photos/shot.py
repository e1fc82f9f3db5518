"""One picture made ready to measure in: opened, its mat found, its camera solved, its outline drawn."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from claybed.errors import InputError
from claybed.geometry.mesh import Floats
from claybed.materials import shelf
from claybed.photos.camera import Camera
from claybed.photos.lens import Posed, solve_pose
from claybed.photos.mat import BAR_MM, MARKER_MM, lay_out_mat
from claybed.photos.outline import Outline, find_outline, given_outline
from claybed.photos.picture import Picture
from claybed.photos.seeing import MatSeen, find_mat
from claybed.photos.standing import ON_THE_MAT, Stand
from claybed.records.finding import Finding
from claybed.records.mat import Mat

READ_BY_RULER_MM: Final = shelf.value("measuring", "ruler_reading_mm").value
UNCHECKED_PRINT: Final = shelf.value("measuring", "print_scale_fraction").value
_PRINT_LEAST: Final = 0.6
_PRINT_MOST: Final = 1.6
_PRINT_OFF: Final = 0.002
_FAINT_MOST: Final = 0.12
_FAINT_RUN_MOST: Final = 0.4
_LOST_SHARE: Final = 0.2  # rendered bottles whose outline ran across the body had more, or a longer stretch
_LOST_RUN: Final = 0.8


@dataclass(frozen=True, slots=True)
class PrintScale:
    """How large the mat came out of the printer, and how well that is known (95 %, as a share)."""

    ratio: float = 1.0
    spread_share: float = UNCHECKED_PRINT
    checked: bool = False

    @property
    def says(self) -> str:
        """What the print's scale means for a person, one sentence."""
        if not self.checked:
            return "The mat is taken as printed at 100 %; its check bar was not measured."
        if abs(self.ratio - 1.0) <= _PRINT_OFF:
            return "The mat was printed at its true size."
        return f"The mat was printed at {100.0 * self.ratio:.1f} %, and all lengths are corrected for that."


def print_scale(bar_mm: float | None, marker_mm: float | None) -> PrintScale:
    """The print's scale from what the check bar, or one marker's side, measures; both lengths in mm.

    Raises InputError for lengths that cannot be those, or that contradict each other by more than 2 %.
    """
    found: list[tuple[float, float]] = []
    for measured_mm, meant_mm, where in ((bar_mm, BAR_MM, "--bar"), (marker_mm, MARKER_MM, "--marker")):
        if measured_mm is None:
            continue
        ratio = measured_mm / meant_mm
        if not _PRINT_LEAST <= ratio <= _PRINT_MOST:
            raise InputError(
                f"{measured_mm:g} mm cannot be what is drawn as {meant_mm:g} mm.",
                where=where,
                remedy="Measure it again, and write its unit.",
            )
        found.append((ratio, READ_BY_RULER_MM / measured_mm))
    if not found:
        return PrintScale()
    if len(found) == 2 and abs(found[0][0] / found[1][0] - 1.0) > max(0.02, 2.0 * found[1][1]):
        raise InputError(
            f"the bar says {100.0 * found[0][0]:.1f} %, the marker {100.0 * found[1][0]:.1f} %.",
            where="--bar and --marker",
            remedy="Measure both again; a sheet that stretched one way has to be printed anew.",
        )
    return PrintScale(found[0][0], found[0][1], True)


@dataclass(frozen=True, slots=True, eq=False)
class Shot:
    """A picture with its mat as printed, the camera, what was found of it, and how the object stands."""

    picture: Picture
    seen: MatSeen
    mat: Mat
    posed: Posed
    stand: Stand = ON_THE_MAT

    @property
    def camera(self) -> Camera:
        """The camera of the picture, in the frame of the table."""
        return self.stand.in_table(self.posed.camera, self.mat)

    def vary(self) -> list[Camera]:
        """Cameras that fit the mat about as well, in the frame of the table."""
        return [self.stand.in_table(one, self.mat) for one in self.posed.vary()]


def aim(picture: Picture, scale: PrintScale, stand: Stand = ON_THE_MAT) -> Shot:
    """Find the mat and solve the camera; raises InputError when the picture cannot be measured by."""
    seen = find_mat(picture)
    mat = lay_out_mat(seen.paper).printed_at(scale.ratio)
    points = seen.points_mm(mat).reshape(-1, 3)
    posed = solve_pose(
        points,
        seen.corners_px.reshape(-1, 2),
        picture.size_px,
        picture.focal_px,
        picture.name,
        upright=stand.gap_mm is not None,
    )
    return Shot(picture, seen, mat, posed, stand)


def outline_of(shot: Shot, points_px: Floats | None = None, points_name: str = "") -> Outline:
    """The object's outline: found, or as a person gave it in pixels (n, 2) of the upright file.

    Raises InputError when nothing is found, when the object runs out of the picture, or when
    so much of the edge looks like what is behind it that its place is a guess.
    """
    picture = shot.picture
    if points_px is not None:
        outline = given_outline(
            (points_px + 0.5) / picture.shrunk_factor - 0.5, shot.camera, picture.size_px, points_name
        )
    else:
        outline = find_outline(picture.rgb, shot.posed.camera, shot.mat, shot.seen, picture.name, shot.stand)
    if outline.cut_off:
        raise InputError(
            "cuts the object off at its edge.",
            where=picture.name,
            remedy="Step back until the whole object and the mat are in the picture.",
        )
    if outline.faint_share > _LOST_SHARE or outline.faint_run_ratio > _LOST_RUN:
        raise InputError(
            f"leaves the outline open: along {100.0 * outline.faint_share:.0f} % of its edge the object "
            "looks like what is behind it.",
            where=picture.name,
            remedy="Take it before a background of another colour, in even light; or give its outline with "
            "--outline.",
        )
    return outline


def outline_points(shot: Shot, outline: Outline, spacing_px: float = 6.0) -> Floats:
    """The outer edge as pixels (n, 2) of the upright file, for a person to correct."""
    edge = outline.edge_px()[0][:-1]
    steps = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(edge, axis=0), axis=1))])
    count = max(16, int(steps[-1] * shot.picture.size_px[0] / max(outline.inside.shape) / spacing_px))
    at = np.linspace(0.0, steps[-1], min(count, 1500), endpoint=False)
    even = np.column_stack([np.interp(at, steps, edge[:, k]) for k in (0, 1)])
    pixels = shot.camera.project(outline.camera.eye_mm + 500.0 * outline.camera.rays(even))
    points: Floats = (pixels + 0.5) * shot.picture.shrunk_factor - 0.5
    return points


def drawn_outline(shot: Shot, outline: Outline) -> NDArray[np.uint8]:
    """The picture with the outline drawn over it, (h, w, 3) uint8."""
    import cv2

    canvas = shot.picture.rgb.copy()
    points = (outline_points(shot, outline, 2.0) + 0.5) / shot.picture.shrunk_factor - 0.5
    width = max(2, round(max(canvas.shape) / 700))
    line = [np.round(points * 16.0).astype(np.int32)]
    cv2.polylines(canvas, line, True, (255, 255, 255), width + 2, cv2.LINE_AA, 4)
    cv2.polylines(canvas, line, True, (44, 74, 138), width, cv2.LINE_AA, 4)
    return canvas


def shot_findings(shot: Shot, outline: Outline) -> list[Finding]:
    """What a person should know of one picture's outline."""
    clear = outline.faint_share <= _FAINT_MOST and outline.faint_run_ratio <= _FAINT_RUN_MOST
    if outline.corrected or clear:
        return []
    return [
        Finding(
            "outline_faint",
            "look",
            shot.picture.name,
            f"Along {100.0 * outline.faint_share:.0f} % of its edge the object looks much "
            "like what is behind it.",
            "Look at the outline with --check, correct it with --outline, or take the picture before another "
            "background.",
        )
    ]


def scale_finding(scale: PrintScale) -> list[Finding]:
    """Ask for the check bar when it was not measured."""
    if scale.checked:
        return []
    return [
        Finding(
            "print_unchecked",
            "look",
            "the mat",
            "The mat's check bar was not measured, so every length hangs on the printer.",
            "Measure the bar and add it, as in --bar 149.2mm.",
        )
    ]


def read_points(text: str, where: str) -> Floats:
    """Points (n, 2) of an outline from lines of "x,y" in pixels; a heading is passed over.

    Raises InputError for a line that is not two numbers.
    """
    points: list[tuple[float, float]] = []
    for number, line in enumerate(text.splitlines(), 1):
        words = line.replace(";", ",").replace("\t", ",").split(",")
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        try:
            x, y = (float(word) for word in words)
            if not np.isfinite([x, y]).all():
                raise ValueError
        except ValueError:
            if number == 1:
                continue
            raise InputError(
                f"line {number} is not two numbers.",
                where=where,
                remedy="Write x,y in pixels, one point a line.",
            ) from None
        points.append((x, y))
    return np.array(points, dtype=np.float64).reshape(-1, 2)
