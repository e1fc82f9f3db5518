"""What the pour of a case does to it: weight, heat, lift, pull on bolts; plastic and hours of its print."""

from __future__ import annotations

from dataclasses import dataclass

from claybed.cases import bearing
from claybed.cases.finger_slots import NO_CUTS, formers
from claybed.cases.loose_cores import loose_parts
from claybed.cases.loose_keys import with_sockets
from claybed.flow.case_heat import Heat, WaysOut, heat_of, ways_out
from claybed.flow.cases import MadeCase, MadeCases
from claybed.materials import shelf
from claybed.pours.mixing import slurry_g_per_ml
from claybed.records.cases import CasePart


@dataclass(frozen=True, slots=True)
class Print:
    """Plastic and hours of parts: `volume_ml` with skin and infill, grams and hours with their spread."""

    solid_ml: float
    skin_ml: float
    volume_ml: float
    plastic_g: float
    plastic_low_g: float
    plastic_high_g: float
    hours: float
    low_hours: float
    high_hours: float


@dataclass(frozen=True, slots=True)
class CaseLoad:
    """One piece's pour: the piece `wet_g`, slurry in kg/m³, its `heat` and the `ways_out` of it, the whole
    `printed`, its parts in order, `full_kg` of the filled case, its `joints`, and the weight that holds it
    down.

    For a printed piece slurry, heat and weight on top are those of the cement poured over it.
    """

    wet_g: float
    slurry_kg_per_m3: float
    heat: Heat
    ways_out: WaysOut
    printed: Print
    parts: tuple[Print, ...]
    full_kg: float
    joints: tuple[bearing.Joint, ...]
    hold_down_g: float
    taken_ml: float


def load_of(made: MadeCase, cases: MadeCases, water_celsius: float) -> CaseLoad:
    """The load of one piece's case; `water_celsius` of the mixing water."""
    plaster = 1000.0 * slurry_g_per_ml(cases.consistency)
    wet_g = (
        with_sockets(made.case.poured if made.case is not None else made.poured).volume_mm3 * 1e-6 * plaster
    )
    parts = tuple(print_of(part, cases) for part in parts_of(made))
    printed = _summed(parts)
    if made.case is not None:
        heat = heat_of(made, cases.consistency, water_celsius)
        full_kg = (wet_g + printed.plastic_g) / 1e3
        held, taken = bearing.hold_down_g(made.case, printed.plastic_g, plaster)
        return CaseLoad(
            wet_g=wet_g,
            slurry_kg_per_m3=plaster,
            heat=heat,
            ways_out=ways_out(heat, cases.plastic, cases.consistency),
            printed=printed,
            parts=parts,
            full_kg=full_kg,
            joints=bearing.joints_of(made.case, plaster, 1e9 * cases.plastic.modulus_gpa.value, full_kg),
            hold_down_g=held,
            taken_ml=taken,
        )
    consistency = shelf.value("plaster", "use_case_consistency_per_100").value
    heat = heat_of(made, consistency, water_celsius)
    cement = 1000.0 * slurry_g_per_ml(consistency)
    taken_ml = made.poured.solid.volume_mm3 / 1e3
    return CaseLoad(
        wet_g=wet_g,
        slurry_kg_per_m3=cement,
        heat=heat,
        ways_out=ways_out(heat, cases.plastic, consistency),
        printed=printed,
        parts=parts,
        full_kg=printed.plastic_g / 1e3,
        joints=(),
        hold_down_g=max(taken_ml * cement / 1e3 - printed.plastic_g, 0.0),
        taken_ml=taken_ml,
    )


def parts_of(made: MadeCase) -> tuple[CasePart, ...]:
    """What is printed for a piece: parts of its case, or of itself, loose keys, cores, slot blocks."""
    case = made.case
    cuts = (case.cuts_x_mm, case.cuts_y_mm) if case is not None else NO_CUTS
    loose = (*loose_parts(made.poured), *formers(made.poured, cuts))
    if case is not None:
        return (*case.parts, *loose)
    return (*made.master.parts, *loose) if made.master is not None else loose


def print_of(part: CasePart, cases: MadeCases) -> Print:
    """Plastic and hours of one part, with the spread of infill, density and rate."""
    skin_mm = shelf.value("printing", "print_skin_mm").value
    infill = shelf.value("printing", "print_infill_fraction")
    rate = shelf.value("printing", "print_rate_ml_per_h")
    density = cases.plastic.density_g_per_ml
    taken = [bearing.plastic_taken(part, skin_mm, share) for share in (infill.value, infill.low, infill.high)]
    usual, least, most = taken
    return Print(
        solid_ml=usual.solid_ml,
        skin_ml=usual.skin_ml,
        volume_ml=usual.volume_ml,
        plastic_g=usual.volume_ml * density.value,
        plastic_low_g=least.volume_ml * density.low,
        plastic_high_g=most.volume_ml * density.high,
        hours=usual.volume_ml / rate.value,
        low_hours=least.volume_ml / rate.high,
        high_hours=most.volume_ml / rate.low,
    )


def _summed(parts: tuple[Print, ...]) -> Print:
    return Print(*(sum(getattr(part, name) for part in parts) for name in Print.__slots__))
