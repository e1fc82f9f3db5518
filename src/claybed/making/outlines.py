"""Drawn outlines made into bodies: revolved about an axis, or extruded with draft."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, Literal

import numpy as np
from shapely import Polygon

from claybed.errors import CannotError, InputError
from claybed.geometry.drafting import NarrowError, drafted
from claybed.geometry.lofting import bodies_count, revolution
from claybed.geometry.mesh import Floats, Mesh
from claybed.making.profile import thinned
from claybed.making.sections import points_count

AxisSide = Literal["left", "right", "middle"]
THIN_MM: Final = 0.01
LEAST_MM: Final = 0.1
LARGEST_MM: Final = 5000.0


def extruded(closed_mm: Sequence[Floats], height_mm: float, draft_deg: float, where: str) -> Mesh:
    """An upright body over closed outlines, each (n, 2) mm; outlines inside others are holes.

    Sides lean in towards the top by `draft_deg`. Raises InputError for outlines that cross, CannotError when
    the draft does not fit or the drawing is of several bodies.
    """
    if not closed_mm:
        raise InputError(
            "has no closed outline.", where=where, remedy="Close it: let its last point meet its first."
        )
    _size(closed_mm, where)
    if not (0.0 < height_mm <= LARGEST_MM):
        raise InputError(
            f"a height of {height_mm:g} mm is not made.", where="--thick", remedy="Such as 20mm."
        )
    groups = _nested([_simplified(c) for c in closed_mm])
    if len(groups) > 1:
        raise CannotError(
            f"the drawing holds {len(groups)} bodies side by side.",
            where=where,
            remedy="Keep one outline; a mold holds one object.",
        )
    try:
        return drafted(groups[0], height_mm, draft_deg, frame="object")
    except NarrowError as reason:
        x, y = reason.at_mm
        most_deg = np.floor(10.0 * reason.most_deg) / 10.0
        raise CannotError(
            f"with a draft of {draft_deg:g} degrees the sides meet below the top near {x:.0f}, {y:.0f} mm.",
            where=where,
            remedy=f"Use at most {most_deg:g} degrees, or less height.",
        ) from reason
    except ValueError as reason:
        raise InputError(f"{reason}.", where=where, remedy="Draw each outline without crossings.") from reason


def revolved(closed_mm: Sequence[Floats], open_mm: Sequence[Floats], axis: AxisSide, where: str) -> Mesh:
    """A body of revolution about an upright line in the drawing, standing on z = 0.

    `axis` is that line: the drawing's left or right edge, or its middle when both sides are drawn. One open
    line is closed level to the axis at both its ends. Raises InputError for drawings that are no profile.
    """
    if not closed_mm and len(open_mm) != 1:
        raise InputError(
            f"holds {len(open_mm)} open lines and no closed outline.",
            where=where,
            remedy="Draw half the profile as one line, or close it.",
        )
    lines = list(closed_mm) or list(open_mm)
    _size(lines, where)
    every = np.concatenate(lines)
    low, high = every.min(axis=0), every.max(axis=0)
    at = {"left": low[0], "right": high[0], "middle": (low[0] + high[0]) / 2.0}[axis]
    sign = -1.0 if axis == "right" else 1.0
    outlines = [np.stack([sign * (line[:, 0] - at), line[:, 1] - low[1]], axis=1) for line in lines]
    if not closed_mm:
        line = outlines[0]
        ends = [np.array([[0.0, line[k, 1]]]) for k in (-1, 0)]
        outlines = [np.concatenate([line, *ends])]
    shapes = [Polygon(_simplified(o)) for o in outlines]
    if not all(shape.is_valid and shape.area > 0.0 for shape in shapes):
        raise InputError(
            "has an outline that crosses itself.", where=where, remedy="Draw it without crossings."
        )
    widest_mm = 2.0 * float(max(o[:, 0].max() for o in outlines))
    try:
        mesh = revolution([_simplified(o) for o in outlines], points_count(widest_mm))
    except ArithmeticError as reason:
        raise InputError(
            "encloses nothing beside the axis.", where=where, remedy="Choose --axis left, right or middle."
        ) from reason
    if bodies_count(mesh) > 1:
        raise CannotError(
            "the drawing makes several bodies.",
            where=where,
            remedy="Keep one outline; a mold holds one object.",
        )
    return mesh


def traced_half_width_mm3(mesh: Mesh, line_mm: float) -> float:
    """Half-width (95 %) of a volume whose surface is known to `line_mm` all over, mm³: a common shift of the
    whole surface, which is the most a traced line can do.
    """
    return mesh.area_mm2 * line_mm


def _simplified(contour_mm: Floats) -> Floats:
    """The closed outline without points that lie on the line between their neighbours."""
    start = int(contour_mm[:, 0].argmax())  # an extreme point is a corner or may well stay
    turned = np.roll(contour_mm, -start, axis=0)
    return thinned(np.concatenate([turned, turned[:1]]), within_mm=THIN_MM)[:-1]


def _size(lines: Sequence[Floats], where: str) -> None:
    size = float(np.ptp(np.concatenate(list(lines)), axis=0).max())
    if not LEAST_MM <= size <= LARGEST_MM:
        raise InputError(
            f"would be {size:.4g} mm large.", where=where, remedy="Say --unit mm, cm or in, or give --size."
        )


def _nested(contours_mm: list[Floats]) -> list[list[Floats]]:
    """Outlines in groups: an outside and the holes straight inside it; within a hole a body begins anew."""
    shapes = [Polygon(c) for c in contours_mm]
    depth = [
        sum(j != k and other.contains(shape) for j, other in enumerate(shapes))
        for k, shape in enumerate(shapes)
    ]
    groups = []
    for k, shape in enumerate(shapes):
        if depth[k] % 2:
            continue
        holes = [
            contours_mm[j]
            for j, other in enumerate(shapes)
            if depth[j] == depth[k] + 1 and shape.contains(other)
        ]
        groups.append([contours_mm[k], *holes])
    return groups
