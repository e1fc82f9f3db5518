"""What was read off an object with a ruler and calipers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

SectionKind = Literal["round", "oval", "superellipse", "rectangle"]
SECTIONS: Final[tuple[SectionKind, ...]] = ("round", "oval", "superellipse", "rectangle")


@dataclass(frozen=True, slots=True)
class Section:
    """The shape of a level cut: `exponent` of a superellipse (2 is an ellipse, larger is squarer),
    `corner_mm` radius of the corners of a rectangle.
    """

    kind: SectionKind = "round"
    exponent: float = 2.0
    corner_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class Reading:
    """One level: `height_mm` above the board, `width_mm` and `depth_mm` across (equal when round).

    `sharp` keeps an edge there, where the curve would run smooth.
    """

    height_mm: float
    width_mm: float
    depth_mm: float
    sharp: bool = False


@dataclass(frozen=True, slots=True)
class Tube:
    """A handle or a spout: an oval tube swept along a curve through `path_mm`, points (x, z) from the axis
    outwards and up from the board, turned about the axis by `around_deg`.

    `width_mm` across the plane of the path, `thick_mm` in it; `bore_mm` the hole of a spout, 0 for none.
    """

    name: str
    path_mm: tuple[tuple[float, float], ...]
    width_mm: float
    thick_mm: float
    bore_mm: float = 0.0
    around_deg: float = 0.0


@dataclass(frozen=True, slots=True)
class Form:
    """A form as read: `outside` from the board up, `inside` from its floor up (empty: solid), both rising.

    `foot_inside_mm` and `foot_deep_mm` are the hollow under a foot ring, 0 for none; `lip` how the rim of a
    hollow form ends; `reading_mm` how far one reading may be off (95 %).
    """

    outside: tuple[Reading, ...]
    inside: tuple[Reading, ...] = ()
    section: Section = Section()
    foot_inside_mm: float = 0.0
    foot_deep_mm: float = 0.0
    lip: Literal["flat", "round"] = "flat"
    tubes: tuple[Tube, ...] = ()
    reading_mm: float = 0.5
