"""One picture to a turned object: the profile made solid, and how well its volume is known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from claybed.geometry.lofting import loft
from claybed.geometry.mesh import Floats, Mesh
from claybed.photos.camera import Camera
from claybed.photos.outline import Outline
from claybed.photos.profile import Profile, read_profile
from claybed.photos.shot import PrintScale, Shot, outline_of, scale_finding, shot_findings
from claybed.photos.standing import FOOT_LEVEL_MM
from claybed.records.figure import Figure
from claybed.records.finding import Amount, Finding
from claybed.records.measured import Repair
from claybed.records.measuring import Measuring, VolumeBand
from claybed.records.object_file import ObjectFile

SIDES = 180
_EDGE_PX = 0.7  # how far off the edge may lie all around, 95 %
_HEIGHT_OFF = 0.02


@dataclass(frozen=True, slots=True)
class Doubt:
    """Where the doubt in a volume comes from, each a share of the volume, 95 %: `scale_share` of the picture,
    `edge_share` of the outline, `faint_share` of what of the outline hardly shows.
    """

    scale_share: float
    edge_share: float
    faint_share: float = 0.0

    @property
    def band(self) -> VolumeBand:
        """All together."""
        both = float(np.linalg.norm([self.scale_share, self.edge_share, self.faint_share]))
        return VolumeBand(min(both, 0.95), both)


def turned_object(
    shot: Shot, scale: PrintScale, *, name: str, mass_g: float | None = None, height_mm: float | None = None,
    points_px: Floats | None = None, points_name: str = "",
) -> tuple[ObjectFile, Outline]:  # fmt: skip
    """The object in one picture, taken as turned, and the outline it was read from.

    `height_mm` measured with a ruler corrects the scale; `points_px` (n, 2) is an outline that a person gave.
    Raises InputError and CannotError as finding outline and profile does.
    """
    outline = outline_of(shot, points_px, points_name)
    profile = read_profile(outline, shot.picture.name, gap_mm=shot.stand.gap_mm)
    found_mm = float(profile.height_mm[-1])
    factor = 1.0 if height_mm is None else height_mm / found_mm
    mesh = turned_mesh(profile.height_mm * factor, profile.radius_mm * factor)
    doubt = volume_doubt(shot, outline, profile, scale, by_height_mm=height_mm)
    findings = [*shot_findings(shot, outline), *_uneven_findings(profile, factor)]
    findings += scale_finding(scale) if height_mm is None else height_finding(found_mm, height_mm)
    x, y, z = (float(s) for s in np.ptp(mesh.vertices_mm, axis=0))
    steps = [Repair("mat", 1, scale.ratio * 100.0, "percent", scale.says)] if height_mm is None else []
    if height_mm is not None:
        steps.append(Repair("scale", 1, factor, "-", f"Scaled to the height you measured, {height_mm:g} mm."))
    return ObjectFile(
        name=name,
        measuring=Measuring(
            "photo", _says(shot, profile, doubt, factor), doubt.band, cannot_tell=cannot_tell(profile)
        ),
        volume_ml=mesh.volume_mm3 / 1000.0,
        mesh=mesh,
        extent_mm=(x, y, z),
        mass_g=mass_g,
        steps=tuple(steps),
        findings=tuple(findings),
        working={"/volume_ml": _figure(mesh, profile, doubt, factor)},
    ), outline


def turned_mesh(height_mm: Floats, radius_mm: Floats) -> Mesh:
    """The solid of a profile (n,), closed by flat ends, frame "object", of the volume of the round."""
    turn = 2.0 * np.pi * np.arange(SIDES) / SIDES
    # A polygon through the circle would be too small by its corners.
    larger = np.sqrt(2.0 * np.pi / SIDES / np.sin(2.0 * np.pi / SIDES))
    circle = np.column_stack([np.cos(turn), np.sin(turn)]) * larger
    rings = [
        np.column_stack([circle * max(float(r), 0.05), np.full(SIDES, z)])
        for z, r in zip(height_mm, radius_mm, strict=True)
    ]
    ends = (np.array([0.0, 0.0, height_mm[0]]), np.array([0.0, 0.0, height_mm[-1]]))
    return loft(rings, *ends)


def volume_doubt(
    shot: Shot, outline: Outline, profile: Profile, scale: PrintScale, by_height_mm: float | None = None
) -> Doubt:
    """How far the volume may be off: print, pose, place of the axis, and the edge of the outline."""
    camera = outline.camera
    away_mm = float(np.linalg.norm(camera.eye_mm))
    if by_height_mm is None:
        pose = pose_share(shot, profile)
        length = float(np.hypot(scale.spread_share, pose))
        # Depth of the axis changes the scale, and, seen from above, moves the top up or down.
        depth_mm, slant = 2.0 * profile.axis_spread_mm, float(np.tan(camera.elevation_rad))
        deep = np.hypot(3.0 * depth_mm / away_mm, depth_mm * slant / float(profile.height_mm[-1]))
    else:
        deep = np.float64(0.0)
        length = 0.5 / by_height_mm + 0.5 * away_mm / camera.lens.focal_px / by_height_mm
    edge_mm = float(np.hypot(_EDGE_PX * away_mm / camera.lens.focal_px, 2.0 * profile.disagree_mm))
    r, z = profile.radius_mm, profile.height_mm
    lever = 2.0 * float(np.trapezoid(r, z)) / max(float(np.trapezoid(r**2, z)), 1e-9)
    if shot.stand.gap_mm is not None:  # the table is taken to be where the sheet's edge is
        deep = np.hypot(deep, FOOT_LEVEL_MM * np.pi * float(r[0]) ** 2 / profile.volume_mm3)
    # Where the edge is not seen its place is a guess, and the volume behind it as well.
    return Doubt(float(np.hypot(3.0 * length, deep)), lever * edge_mm, outline.faint_share)


def pose_share(shot: Shot, profile: Profile) -> float:
    """How far lengths at the axis may be off by what the pose leaves open, as a share, 95 %."""
    axis = np.array([*profile.axis_mm, 0.0])
    height, radius = float(profile.height_mm[-1]), float(profile.radius_mm.max())
    view = axis[:2] - shot.camera.eye_mm[:2]
    view = np.append(view / np.linalg.norm(view), 0.0)
    across = np.array([view[1], -view[0], 0.0])
    middle = axis + np.array([0.0, 0.0, height / 2.0])
    marks = np.stack(
        [axis, axis + np.array([0.0, 0.0, height]), middle - radius * across, middle + radius * across]
    )
    pixels = shot.camera.freed(shot.camera.project(marks))

    def sizes(camera: Camera, seen: Floats) -> Floats:
        rays = camera.rays(seen)
        reach = (axis - camera.eye_mm) @ view / (rays @ view)
        at = camera.eye_mm + rays * reach[:, None]
        return np.array([at[1, 2] - at[0, 2], np.linalg.norm(at[3] - at[2])])

    now = sizes(shot.camera, pixels)
    off = [sizes(one, one.freed(shot.camera.project(marks))) / now - 1.0 for one in shot.vary()]
    return 1.96 * float(np.sqrt((np.mean(off, axis=1) ** 2).mean()))


def cannot_tell(profile: Profile) -> tuple[str, ...]:
    """What one picture leaves open."""
    top = "how deep the mouth goes" if profile.flat_top else "the shape of the very top"
    return (
        "One picture cannot tell whether the object is round: it is taken as turned about its axis.",
        f"It does not show hollows: {top}, the foot from below, and what lies between bulges.",
    )


def height_finding(found_mm: float, height_mm: float) -> list[Finding]:
    """Say when a measured height and the mat disagree by more than 2 %."""
    off = height_mm / found_mm - 1.0
    if abs(off) <= _HEIGHT_OFF:
        return []
    return [
        Finding(
            "scale_disagrees",
            "look",
            "the mat",
            f"By the mat the object is {found_mm:.0f} mm tall, by your measure "
            f"{height_mm:.0f} mm; yours is taken.",
            "If the mat was printed smaller or larger than meant, its check bar says so.",
            Amount(100.0 * off, "percent"),
        )
    ]


def _uneven_findings(profile: Profile, factor: float) -> list[Finding]:
    return [
        Finding(
            "one_sided",
            "look",
            f"{factor * low:.0f} to {factor * high:.0f} mm up",
            f"Something sticks out on the {side} between {factor * low:.0f} and "
            f"{factor * high:.0f} mm and was left out: a handle, a spout, or a slip of the outline.",
            "Look at the outline with --check; for a handle take a ring of pictures.",
        )
        for low, high, side in profile.uneven
    ]


def _says(shot: Shot, profile: Profile, doubt: Doubt, factor: float) -> str:
    count = len(shot.seen.numbers)
    return (
        f"Read off one photo by {count} markers of the {shot.seen.paper.upper()} mat and taken as turned; "
        f"its two sides differ by {2.0 * factor * profile.disagree_mm:.1f} mm (root mean square), "
        f"the volume is known to {100.0 * doubt.band.larger_share:.0f} %."
    )


def _figure(mesh: Mesh, profile: Profile, doubt: Doubt, factor: float) -> Figure:
    volume_ml = mesh.volume_mm3 / 1000.0
    band = doubt.band
    return Figure(
        "ml",
        "radius at each height = least distance from the axis over all rays of the outline; frustums summed; "
        "95 % by the root of the sum of squares of scale_share, edge_share and faint_share",
        "derived",
        {
            "height_mm": float(profile.height_mm[-1]) * factor,
            "largest_radius_mm": float(profile.radius_mm.max()) * factor,
            "sides_differ_rms_mm": 2.0 * profile.disagree_mm * factor,
            "scale_share": doubt.scale_share,
            "edge_share": doubt.edge_share,
            "faint_share": doubt.faint_share,
        },
        volume_ml * (1.0 - band.smaller_share),
        volume_ml * (1.0 + band.larger_share),
    )
