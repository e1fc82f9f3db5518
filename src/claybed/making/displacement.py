"""An object of which only the displaced water and the weight are known."""

from __future__ import annotations

import math
from dataclasses import dataclass

from claybed.errors import InputError
from claybed.materials import shelf


@dataclass(frozen=True, slots=True)
class Displaced:
    """What displaced water and weight tell: `volume_ml`, with the half-width of its 95 % interval as a share,
    and the parts it is made of; `density_g_per_ml` when it was weighed, None otherwise.
    """

    volume_ml: float
    half_width_share: float
    reading_share: float
    film_share: float
    water_share: float
    density_g_per_ml: float | None


def displaced(
    *,
    water_g: float | None,
    water_ml: float | None,
    mass_g: float | None,
    extent_mm: tuple[float, float, float] | None,
    reading_g: float | None = None,
) -> Displaced:
    """The volume of an object from the water it pushes out when held right under, weighed or measured.

    Just one of `water_g` and `water_ml`; `mass_g` of the object dry; `extent_mm` the box that it just fits
    into; `reading_g` how far one weighing may be off (95 %), the usual when None; a measured volume is taken
    as good to a hundredth. Raises InputError for amounts that no object has. Source: Archimedes; spreads from
    materials/measuring and materials/plaster.
    """
    if (water_g is None) == (water_ml is None):
        raise InputError(
            "the displaced water must be given once.", where="displaced", remedy="Use --water 640g or 640ml."
        )
    density = shelf.value("plaster", "water_density_g_per_ml")
    off_g = 1000.0 * shelf.value("measuring", "scale_reading_kg").value if reading_g is None else reading_g
    if water_g is not None:
        volume_ml = water_g / density.value
        reading_share = math.sqrt(2.0) * off_g / water_g if water_g > 0.0 else math.inf
        water_share = max(density.high - density.value, density.value - density.low) / density.value
    else:
        assert water_ml is not None
        volume_ml, water_share = water_ml, 0.0
        reading_share = shelf.value("measuring", "measured_volume_fraction").value
    if not (math.isfinite(volume_ml) and volume_ml > 0.0):
        raise InputError("no water was displaced.", where="--water", remedy="Hold the object right under.")
    film_share = shelf.value("measuring", "displaced_film_fraction").value
    share = math.sqrt(reading_share**2 + film_share**2 + water_share**2)
    if share > 0.4:
        raise InputError(
            f"{volume_ml:.0f} ml is too little to be weighed on this scale.",
            where="--water",
            remedy="Use a finer scale, and say --reading 0.1g.",
        )
    if mass_g is not None and mass_g / volume_ml > 25.0:
        raise InputError(
            f"{mass_g:g} g in {volume_ml:.0f} ml is heavier than any metal.",
            where="--mass",
            remedy="Check both amounts and their units.",
        )
    if extent_mm is not None:
        box_ml = math.prod(extent_mm) / 1000.0
        if volume_ml * (1.0 - share) > box_ml:
            raise InputError(
                f"{volume_ml:.0f} ml does not fit into a box of {box_ml:.0f} ml.",
                where="--box",
                remedy="Measure the box that the object just fits into, and the water again.",
            )
    return Displaced(
        volume_ml,
        share,
        reading_share,
        film_share,
        water_share,
        None if mass_g is None else mass_g / volume_ml,
    )


def form_mm(extent_mm: tuple[float, float, float]) -> tuple[float, float, float]:
    """Inside of a form that leaves the usual wall about an object of this box, mm: length, width, height.

    Source: materials/practice (walls by size).
    """
    longest = max(extent_mm)
    size = "large"
    for name in ("small", "medium"):
        if longest <= shelf.value("practice", f"object_{name}_mm").value:
            size = name
            break
    wall_mm = shelf.value("practice", f"wall_{size}_mm").value
    length, width, height = (5.0 * math.ceil((side + 2.0 * wall_mm) / 5.0) for side in extent_mm)
    return length, width, height
