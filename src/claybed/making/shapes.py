"""Simple bodies of given sizes: what a sketch in a drawing program would be used for."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from claybed.errors import CannotError, InputError
from claybed.geometry.lofting import loft
from claybed.geometry.mesh import Floats, Mesh
from claybed.making.sections import area_mm2, points_count, ring_mm
from claybed.records.form import Section

# Kind -> what its sizes are; a cone may be cut off.
SIZES: Final = {
    "box": ("length", "width", "height"),
    "cylinder": ("diameter", "height"),
    "cone": ("diameter", "height"),
    "sphere": ("diameter",),
    "egg": ("length", "diameter"),
    "tile": ("length", "width", "height"),
}
_ROUND_LEVELS: Final = 48


def made(
    kind: str, sizes_mm: Sequence[float], *, draft_deg: float, corner_mm: float, blunt_share: float
) -> Mesh:
    """A body of `kind` (a key of SIZES) standing on z = 0, its sizes in mm and in the order of SIZES.

    `draft_deg` leans upright sides in towards the top; `corner_mm` rounds the upright corners of box and
    tile; `blunt_share` is the share of an egg's length below its widest place. Raises InputError for
    sizes that are none, CannotError when the sides meet below the top.
    """
    checked(kind, sizes_mm, draft_deg, corner_mm, blunt_share)
    if kind in ("sphere", "egg"):
        length_mm, across_mm = (sizes_mm[0], sizes_mm[0]) if kind == "sphere" else sizes_mm
        low_mm = length_mm * (0.5 if kind == "sphere" else blunt_share)
        return _egg(across_mm / 2.0, low_mm, length_mm - low_mm)
    height_mm = sizes_mm[-1]
    inward_mm = height_mm * math.tan(math.radians(draft_deg))
    if kind == "cone":
        inward_mm = sizes_mm[0] / 2.0
    _leans(kind, sizes_mm, inward_mm, draft_deg)
    if kind in ("box", "tile"):
        sections = [Section("rectangle", corner_mm=max(corner_mm - t, 0.0)) for t in (0.0, inward_mm)]
        across = [(sizes_mm[0], sizes_mm[1])] * 2
    else:
        sections, across = [Section()] * 2, [(sizes_mm[0], sizes_mm[0])] * 2
    count = points_count(max(across[0]))
    rings = [
        ring_mm(section, w - 2.0 * t, d - 2.0 * t, z, count)
        for section, (w, d), t, z in zip(sections, across, (0.0, inward_mm), (0.0, height_mm), strict=True)
    ]
    return loft(rings, np.zeros(3), np.array([0.0, 0.0, height_mm]))


def volume_mm3(
    kind: str, sizes_mm: Sequence[float], *, draft_deg: float, corner_mm: float, blunt_share: float
) -> float:
    """The volume of the smooth body in closed form, mm³; arguments as in `made`.

    Source: prismatoid formula h/6 (A0 + 4 Am + A1), exact for flat and conical sides; half spheroids.
    """
    if kind == "sphere":
        return math.pi / 6.0 * sizes_mm[0] ** 3
    if kind == "egg":
        return math.pi / 6.0 * sizes_mm[1] ** 2 * sizes_mm[0]
    height_mm = sizes_mm[-1]
    inward_mm = sizes_mm[0] / 2.0 if kind == "cone" else height_mm * math.tan(math.radians(draft_deg))
    areas = []
    for part in (0.0, 0.5, 1.0):
        t = part * inward_mm
        if kind in ("box", "tile"):
            cut = Section("rectangle", corner_mm=max(corner_mm - t, 0.0))
            width, depth = sizes_mm[0] - 2.0 * t, sizes_mm[1] - 2.0 * t
        else:
            cut, width, depth = Section(), sizes_mm[0] - 2.0 * t, sizes_mm[0] - 2.0 * t
        areas.append(float(area_mm2(cut, np.array(width), np.array(depth))))
    return height_mm / 6.0 * (areas[0] + 4.0 * areas[1] + areas[2])


def half_width_mm3(
    kind: str,
    sizes_mm: Sequence[float],
    reading_mm: float,
    *,
    draft_deg: float,
    corner_mm: float,
    blunt_share: float,
) -> float:
    """Half-width (95 %) of the volume's interval that sizes read to `reading_mm` leave, mm³; first order."""
    form = {"draft_deg": draft_deg, "corner_mm": corner_mm, "blunt_share": blunt_share}
    step_mm = 1e-3
    middle = volume_mm3(kind, sizes_mm, **form)
    total = 0.0
    for k in range(len(sizes_mm)):
        moved = [s + (step_mm if j == k else 0.0) for j, s in enumerate(sizes_mm)]
        total += ((volume_mm3(kind, moved, **form) - middle) / step_mm * reading_mm) ** 2
    return math.sqrt(total)


def checked(
    kind: str, sizes_mm: Sequence[float], draft_deg: float, corner_mm: float, blunt_share: float
) -> None:
    """Refuse what is no body. Raises InputError."""
    if kind not in SIZES:
        raise InputError(
            f"“{kind}” is no shape known here.", where="shape", remedy=f"Use {', '.join(SIZES)}."
        )
    names = SIZES[kind]
    if len(sizes_mm) != len(names):
        raise InputError(
            f"a {kind} takes {' x '.join(names)}, and {len(sizes_mm)} sizes were given.",
            where="shape",
            remedy=f"Such as {'x'.join(['80'] * len(names))}mm.",
        )
    for name, size in zip(names, sizes_mm, strict=True):
        if not (math.isfinite(size) and 0.1 <= size <= 5000.0):
            raise InputError(
                f"a {name} of {size:g} mm is not made.", where="shape", remedy="Use 0.1 to 5000 mm."
            )
    if not 0.0 <= draft_deg < 60.0:
        raise InputError(
            f"a draft of {draft_deg:g} degrees is too much.", where="--draft", remedy="2 to 10 is usual."
        )
    if corner_mm < 0.0 or (
        corner_mm > 0.0 and kind in ("box", "tile") and 2.0 * corner_mm > min(sizes_mm[:2])
    ):
        raise InputError(
            f"corners of {corner_mm:g} mm do not fit.", where="--corner", remedy="At most half the width."
        )
    if not 0.1 <= blunt_share <= 0.9:
        raise InputError(
            f"{blunt_share:g} is no share of an egg.",
            where="--blunt",
            remedy="Use 0.1 to 0.9; 0.42 is usual.",
        )


def _leans(kind: str, sizes_mm: Sequence[float], inward_mm: float, draft_deg: float) -> None:
    least_mm = min(sizes_mm[:-1])
    if kind != "cone" and 2.0 * inward_mm >= least_mm:
        most_deg = math.degrees(math.atan(least_mm / 2.0 / sizes_mm[-1]))
        raise CannotError(
            f"with a draft of {draft_deg:g} degrees the sides meet below the top.",
            where="--draft",
            remedy=f"Use less than {math.floor(10.0 * most_deg) / 10.0:g} degrees.",
        )


def _egg(radius_mm: float, low_mm: float, high_mm: float) -> Mesh:
    """Two half spheroids on one equator: rings at even angles from pole to pole."""
    count = points_count(2.0 * radius_mm)
    polar = np.linspace(-math.pi / 2.0, math.pi / 2.0, 2 * _ROUND_LEVELS + 1)[1:-1]
    reach: Floats = np.where(polar < 0.0, low_mm, high_mm)
    rings = [
        ring_mm(Section(), 2.0 * radius_mm * math.cos(p), 2.0 * radius_mm * math.cos(p), z, count)
        for p, z in zip(polar.tolist(), (low_mm + reach * np.sin(polar)).tolist(), strict=True)
    ]
    return loft(rings, np.zeros(3), np.array([0.0, 0.0, low_mm + high_mm]))
