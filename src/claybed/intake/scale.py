"""How long one unit of the file is, and how that was known."""

from __future__ import annotations

import math

import numpy as np

from claybed.errors import InputError
from claybed.intake.skin import used_points
from claybed.intake.soup import Points, Soup
from claybed.records.brief import Brief, Vector
from claybed.records.measured import UnitReading
from claybed.units import MM_PER_FT, MM_PER_IN

MM_PER_UNIT = {"um": 0.001, "mm": 1.0, "cm": 10.0, "m": 1000.0, "in": MM_PER_IN, "ft": MM_PER_FT}
SMALLEST_MM = 0.1
LARGEST_MM = 5000.0
LARGEST_IN_FILE = 1e9

# Longest side in file units -> unit taken. Ware is between a thimble and a tall jar; below 1 only metres fit,
# up to 25 centimetres fit far better than millimetres.
_INFERRED = ((0.005, 1.0, "m"), (1.0, 25.0, "cm"), (25.0, 3000.0, "mm"))
_NAMES = {
    "um": "micrometres",
    "mm": "millimetres",
    "cm": "centimetres",
    "m": "metres",
    "in": "inches",
    "ft": "feet",
}


def checked_numbers(brief: Brief, where: str) -> None:
    """Refuse heights, masses, bodies, directions and units that cannot be meant. Raises InputError."""
    for value, option, name in ((brief.height_mm, "--height", "height"), (brief.mass_g, "--mass", "mass")):
        if value is not None and not (math.isfinite(value) and value > 0):
            raise InputError(
                f"the {name} must be more than zero, got {value:g}.", where=option, remedy="Measure it again."
            )
    if brief.unit is not None and brief.unit not in MM_PER_UNIT:
        raise InputError(
            f"'{brief.unit[:20]}' is no length unit known here.",
            where="--unit",
            remedy="Use mm, cm, m, in or ft.",
        )
    if brief.body is not None and brief.body < 1:
        raise InputError(
            f"bodies are counted from 1, got {brief.body}.", where="--body", remedy="Use 1 or more."
        )
    if brief.max_triangles < 1:
        raise InputError("the limit must be at least 1.", where="--max-triangles", remedy="Leave it out.")
    length = math.hypot(*brief.up)
    if not math.isfinite(length) or length == 0.0:
        raise InputError("up must be a direction.", where=where, remedy="Give three numbers, such as 0 0 1.")


def unit_of(soup: Soup, brief: Brief, where: str) -> UnitReading:
    """The unit of the soup: asked for, else stated by the file, else inferred from the longest side.

    With `brief.height_mm` any unit will do, since the object is scaled afterwards.
    Raises InputError when the size fits no unit, or is beyond `SMALLEST_MM` to `LARGEST_MM`.
    """
    longest = float(np.ptp(soup.vertices[used_points(soup.faces, len(soup.vertices))], axis=0).max())
    if not longest > 0:
        raise InputError("has no size: all its points coincide.", where=where, remedy="Export it again.")
    if not longest < LARGEST_IN_FILE:
        raise InputError(
            f"has points {longest:.3g} units apart; that is damage, not an object.",
            where=where,
            remedy="Export it again, and look for stray points far off.",
        )
    if brief.unit is not None:
        reading = _reading(brief.unit, longest, "asked", "as asked")
    elif soup.unit is not None and not _mislabelled(soup, longest):
        reading = _reading(soup.unit, longest, "file", f"as the {soup.format_name} file says")
    else:
        unit = next((u for low, high, u in _INFERRED if low <= longest < high), None)
        if unit is None and brief.height_mm is None:
            raise InputError(
                f"is {longest:.4g} units long, and no unit makes that an object to mold.",
                where=where,
                remedy="Say --unit mm, cm, m, in or ft, or give --height.",
            )
        why = "guessed from its size; say --unit if that is wrong"
        if soup.unit is not None:
            why = f"although {soup.format_name} should be in {_NAMES[soup.unit]}; {why}"
        reading = _reading(unit or "mm", longest, "inferred", why)
    length_mm = longest * reading.mm_per_unit
    if brief.height_mm is None and not SMALLEST_MM <= length_mm <= LARGEST_MM:
        raise InputError(
            f"would be {length_mm:.4g} mm long; plans are for {SMALLEST_MM:g} to {LARGEST_MM:g} mm.",
            where=where,
            remedy="Check --unit or give --height, and look for stray points far off.",
        )
    return reading


def _mislabelled(soup: Soup, longest: float) -> bool:
    """glTF is in metres by its standard, yet many programs write millimetres into it unchanged."""
    return soup.format_name == "glTF" and longest * MM_PER_UNIT["m"] > LARGEST_MM


def along(vertices: Points, up: Vector) -> float:
    """Extent of points (n, 3) along the direction `up`, in their own unit."""
    direction = np.asarray(up, np.float64)
    heights = vertices @ (direction / np.linalg.norm(direction))
    return float(np.ptp(heights))


def scaled_reading(reading: UnitReading, height_mm: float, factor: float) -> UnitReading:
    """The reading after a further scaling by `factor`, to a height that was measured or worked out."""
    per_unit = reading.mm_per_unit * factor
    says = f"Scaled to a height of {height_mm:.4g} mm: one unit of the file is {per_unit:.5g} mm."
    return UnitReading(reading.unit, per_unit, "scaled", says)


def _reading(unit: str, longest: float, how: str, why: str) -> UnitReading:
    factor = MM_PER_UNIT[unit]
    says = (
        f"The file is in {_NAMES[unit]}, {why}: the object is {longest * factor:.4g} mm on its longest side."
    )
    return UnitReading(unit, factor, how, says)
