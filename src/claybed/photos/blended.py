"""Front and side pictures: level sections of a chosen family, as wide and deep as the two outlines say.

Two outlines do not make an object: any section between the diamond and the rectangle of its width and depth
casts the same two. The band says how far that reaches.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from claybed.errors import CannotError
from claybed.geometry.lofting import loft
from claybed.geometry.mesh import Floats
from claybed.photos.outline import Outline
from claybed.photos.profile import Profile, read_profile
from claybed.photos.shot import PrintScale, Shot, outline_of, scale_finding, shot_findings
from claybed.photos.turned import height_finding, volume_doubt
from claybed.records.figure import Figure
from claybed.records.finding import Amount, Finding
from claybed.records.measured import Repair
from claybed.records.measuring import Measuring, VolumeBand
from claybed.records.object_file import ObjectFile

SIDES: Final = 160
LEVELS: Final = 240
LEANEST_EXPONENT: Final = 1.5  # a section leaner than this is hollow-sided and no turned or built form
_QUARTER_OFF_RAD: Final = float(np.radians(20.0))
_HEIGHTS_APART: Final = 0.04


def section_area_ratio(exponent_ratio: float) -> float:
    """Area of the superellipse |x/a|^n + |y/b|^n = 1 over a b: pi for n = 2, 4 for a rectangle.

    4 Gamma(1 + 1/n)^2 / Gamma(1 + 2/n), for n of 1 or more.
    """
    n = exponent_ratio
    return 4.0 * math.gamma(1.0 + 1.0 / n) ** 2 / math.gamma(1.0 + 2.0 / n)


@dataclass(frozen=True, slots=True, eq=False)
class _Side:
    shot: Shot
    outline: Outline
    profile: Profile
    right: Floats


def blended_object(
    front: Shot, side: Shot, scale: PrintScale, *, name: str, exponent_ratio: float = 2.0,
    mass_g: float | None = None, height_mm: float | None = None,
    points_px: tuple[Floats | None, Floats | None] = (None, None), points_names: tuple[str, str] = ("", ""),
) -> tuple[ObjectFile, tuple[Outline, Outline]]:  # fmt: skip
    """An object from a picture of its front and one of its side, and the two outlines.

    `exponent_ratio` of the level sections' superellipse: 2 is an ellipse, larger is squarer; `points_px`
    (n, 2) are outlines that a person gave. Raises CannotError when the pictures are not a quarter turn
    apart, InputError as finding the outlines does.
    """
    one = _side(front, points_px[0], points_names[0])
    other = _side(side, points_px[1], points_names[1])
    skew = float(np.arcsin(min(1.0, abs(float(one.right @ other.right)))))
    if skew > _QUARTER_OFF_RAD:
        raise CannotError(
            f"is {90.0 - np.degrees(skew):.0f}° from the first round the object, not a quarter turn.",
            where=side.picture.name,
            remedy="Take it from a quarter turn further on, or take a ring of pictures.",
        )
    tops = float(one.profile.height_mm[-1]), float(other.profile.height_mm[-1])
    found_mm = (tops[0] + tops[1]) / 2.0
    factor = 1.0 if height_mm is None else height_mm / found_mm
    rings = _rings(one, other, found_mm, exponent_ratio)
    rings = [ring * factor for ring in rings]
    middle = [np.array([*ring.mean(axis=0)[:2], ring[0, 2]]) for ring in (rings[0], rings[-1])]
    mesh = loft(rings, middle[0], middle[1])
    doubts = [volume_doubt(s.shot, s.outline, s.profile, scale, height_mm) for s in (one, other)]
    measured = max(d.band.larger_share for d in doubts)
    ratio = section_area_ratio(exponent_ratio)
    fuller, leaner = 4.0 / ratio - 1.0, max(0.0, 1.0 - section_area_ratio(LEANEST_EXPONENT) / ratio)
    band = VolumeBand(float(min(0.95, np.hypot(leaner, measured))), float(np.hypot(fuller, measured)))
    findings = [*shot_findings(one.shot, one.outline), *shot_findings(other.shot, other.outline)]
    findings += scale_finding(scale) if height_mm is None else height_finding(found_mm, height_mm)
    findings += _heights_apart(tops)
    x, y, z = (float(s) for s in np.ptp(mesh.vertices_mm, axis=0))
    section = "ellipse" if exponent_ratio == 2.0 else f"superellipse of exponent {exponent_ratio:g}"
    volume_ml = mesh.volume_mm3 / 1000.0
    says = (
        f"Blended from a front and a side photo: every level is taken as an {section}"
        if exponent_ratio == 2.0
        else f"Blended from a front and a side photo: every level is taken as a {section}"
    )
    made = ObjectFile(
        name=name,
        measuring=Measuring("photos", says + ".", band, cannot_tell=_CANNOT_TELL),
        volume_ml=volume_ml,
        mesh=mesh,
        extent_mm=(x, y, z),
        mass_g=mass_g,
        steps=(Repair("mat", 2, scale.ratio * 100.0, "percent", scale.says),),
        findings=tuple(findings),
        working={
            "/volume_ml": Figure(
                "ml",
                "levels lofted, each a superellipse of the width in front and at the side; larger by up to "
                "4 / area_ratio - 1 (rectangle), smaller down to the leanest exponent, with the measuring",
                "derived",
                {
                    "exponent": exponent_ratio,
                    "area_ratio": ratio,
                    "leanest_exponent": LEANEST_EXPONENT,
                    "measuring_share": measured,
                },
                volume_ml * (1.0 - band.smaller_share),
                volume_ml * (1.0 + band.larger_share),
            )
        },
    )
    return made, (one.outline, other.outline)


_CANNOT_TELL: Final = (
    "Two outlines are not the object: level sections between a diamond and a rectangle cast the same two.",
    "They show no hollows: the mouth's inside, the foot from below, and what lies between bulges.",
)


def _side(shot: Shot, points_px: Floats | None, points_name: str) -> _Side:
    outline = outline_of(shot, points_px, points_name)
    profile = read_profile(outline, shot.picture.name)
    view = profile.axis_mm - outline.camera.eye_mm[:2]
    view = view / np.linalg.norm(view)
    return _Side(shot, outline, profile, np.array([view[1], -view[0]]))


def _reach(side: _Side, share: Floats) -> tuple[Floats, Floats]:
    """Half width and middle along the side's own right, at heights given as shares of the whole."""
    p = side.profile
    z = p.height_mm / p.height_mm[-1]
    left = np.interp(share, z, np.where(np.isfinite(p.left_mm), p.left_mm, p.radius_mm))
    right = np.interp(share, z, np.where(np.isfinite(p.right_mm), p.right_mm, p.radius_mm))
    return (left + right) / 2.0, (right - left) / 2.0 + float(p.axis_mm @ side.right)


def _rings(one: _Side, other: _Side, height_mm: float, exponent_ratio: float) -> list[Floats]:
    share = np.linspace(0.0, 1.0, LEVELS)
    a, u = _reach(one, share)
    b, v = _reach(other, share)
    first = one.right
    second = np.array([-first[1], first[0]])
    # Middles are known along each view's own right, which need not be square to each other.
    basis = np.stack([one.right, other.right])
    middle = np.linalg.solve(basis, np.stack([u, v])).T
    turn = 2.0 * np.pi * np.arange(SIDES) / SIDES
    c, s = np.cos(turn), np.sin(turn)
    power = 2.0 / exponent_ratio
    x, y = np.sign(c) * np.abs(c) ** power, np.sign(s) * np.abs(s) ** power
    return [
        np.column_stack(
            [
                middle[k] + max(a[k], 0.05) * x[:, None] * first + max(b[k], 0.05) * y[:, None] * second,
                np.full(SIDES, share[k] * height_mm),
            ]
        )
        for k in range(LEVELS)
    ]


def _heights_apart(tops: tuple[float, float]) -> list[Finding]:
    off = abs(tops[0] / tops[1] - 1.0)
    if off <= _HEIGHTS_APART:
        return []
    return [
        Finding(
            "heights_apart",
            "look",
            "the two photos",
            f"The object is {tops[0]:.0f} mm tall in the first picture and {tops[1]:.0f} mm in the second.",
            "It may have moved off the cross; stand it there and take both again.",
            Amount(100.0 * off, "percent"),
        )
    ]
