"""The pours: what each piece is poured from, and what it then weighs."""

from __future__ import annotations

from dataclasses import dataclass

from claybed.records.finding import Finding
from claybed.records.mix import Mix


@dataclass(frozen=True, slots=True)
class PiecePour:
    """One piece as the pours need it.

    `piece` its letter; `order` 1 for the first pour; `space_ml` to fill inside the form; `volume_ml` of the
    set piece; fill lines in mm, up from the board and down from the rim; `footprint_mm2` inside the form at
    the fill line. `object_ml` is the part of the object that stands in this pour: when it is given only
    that part is uncertain, else the whole space is.
    """

    piece: str
    order: int
    space_ml: float
    volume_ml: float
    fill_line_from_board_mm: float
    fill_line_from_rim_mm: float
    footprint_mm2: float
    object_ml: float | None = None


@dataclass(frozen=True, slots=True)
class Pour:
    """One pour, ready for the bench.

    `mix` at the volume as measured; `mix_low` and `mix_high` at the ends of the volume's 95 % interval;
    `waste` the fraction added and `waste_reason` why; `volume_ml` of the set piece and `footprint_mm2` inside
    the form as handed in; fill lines in mm; `wet_kg` of the freshly set piece, `dry_kg` once dry (the `low`
    and `high` ones at the ends of the interval); `water_g_per_mm`, `plaster_g_per_mm` for a fill line one
    millimetre higher, no allowance; `slurry_celsius` of the mix of water at
    `mix_water_celsius` with plaster at room temperature, `peak_celsius` the adiabatic peak from there.
    """

    piece: str
    order: int
    mix: Mix
    mix_low: Mix
    mix_high: Mix
    waste: float
    waste_reason: str
    volume_ml: float
    footprint_mm2: float
    fill_line_from_board_mm: float
    fill_line_from_rim_mm: float
    wet_kg: float
    wet_low_kg: float
    wet_high_kg: float
    dry_kg: float
    dry_low_kg: float
    dry_high_kg: float
    water_g_per_mm: float
    plaster_g_per_mm: float
    mix_water_celsius: float
    slurry_celsius: float
    peak_celsius: float
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class FloatReading:
    """Whether the object floats, in water and in this slurry.

    `relative_density` against water; `slurry_relative_density` of this mix; lifts are upward on the object
    held right under, in grams-force and newtons, negative when it sinks; `ballast_g` inside that just sinks
    it in slurry, `on_top_g` weight on top that holds it down with the usual margin; `says` one sentence for
    the bench.
    """

    relative_density: float
    slurry_relative_density: float
    floats_in_water: bool
    floats_in_slurry: bool
    lift_in_water_g: float
    lift_in_water_newtons: float
    lift_in_slurry_g: float
    lift_in_slurry_newtons: float
    ballast_g: float
    on_top_g: float
    says: str
