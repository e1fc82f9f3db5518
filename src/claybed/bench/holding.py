"""What moves the object during a pour, what sinks it, and what holds it down."""

from __future__ import annotations

from claybed.bench.density import slurry_kg_per_m3
from claybed.bench.face_down import packed_ballast, packed_says, plan_packing
from claybed.bench.humps import hump_hold
from claybed.bench.telling import practice, worked
from claybed.materials import shelf
from claybed.records.bench import Ballast, Hold
from claybed.records.brief import Brief
from claybed.records.figure import Worked
from claybed.records.standing import StandingObject, StandingPour
from claybed.units import say_mass, say_volume

# What a hollow can be filled with, lightest first: name for the bench, file and entry of its bulk density.
_BALLASTS = (
    ("dry sand", "clay", "dry_sand_bulk_density_g_per_ml"),
    ("wet sand", "bench", "wet_sand_bulk_density_g_per_ml"),
    ("steel nuts and bolts", "bench", "steel_nuts_bulk_density_g_per_ml"),
    ("steel shot", "bench", "steel_shot_bulk_density_g_per_ml"),
)


def plan_hold(thing: StandingObject, pour: StandingPour, brief: Brief) -> Hold:
    """What slurry does to the object in one pour.

    Reads `consistency`. Sealed below, the object only feels the slurry that stands on it, which presses down;
    once slurry has crept under, it feels the lift of all that it displaces. Source: archimedes, hydrostatics.
    """
    if thing.hump is not None:
        return hump_hold(thing.hump, pour, brief)
    slurry_g_per_ml = slurry_kg_per_m3(brief.consistency) / 1000.0
    down_g = pour.over_object_ml * slurry_g_per_ml
    down = worked(
        down_g,
        "g",
        "slurry that stands right above the object x its density",
        "hydrostatics",
        {"over_object_ml": pour.over_object_ml, "slurry_g_per_ml": slurry_g_per_ml},
    )
    room = None
    if thing.room_ml is not None:
        room = worked(
            thing.room_ml, "ml", thing.room_from, "asked" if "asked" in thing.room_from else "geometry"
        )
    displaced_g = thing.solid_ml * slurry_g_per_ml
    displaced = worked(
        displaced_g,
        "g",
        "volume of the object x density of the slurry",
        "archimedes",
        {"solid_ml": thing.solid_ml, "slurry_g_per_ml": slurry_g_per_ml},
    )
    packing = plan_packing(thing, slurry_g_per_ml)
    if thing.mass_g is None:
        if packing is not None:
            says = packed_says(thing, down_g, displaced_g, packing, ())
            return Hold(down, None, None, room, (), "", says, displaced, packing)
        says = (
            f"Sealed below, slurry presses it down with {say_mass(down_g)}. Weigh the object: if it is "
            f"lighter than the {say_mass(displaced_g)} of slurry that it pushes aside, it floats once slurry "
            "creeps under."
        )
        return Hold(down, None, None, room, (), _CAP, says, displaced)
    up_g = displaced_g - thing.mass_g
    given: dict[str, float | str] = {
        "solid_ml": thing.solid_ml,
        "mass_g": thing.mass_g,
        "slurry_g_per_ml": slurry_g_per_ml,
    }
    up = worked(up_g, "g", "density of the slurry x volume of the object - its mass", "archimedes", given)
    margin = practice("hold_down_margin_ratio")
    held = worked(
        max(up_g, 0.0) * margin,
        "g",
        "lift once slurry is under it x the usual margin",
        "practice",
        {"seeping_up_g": up_g, "margin_ratio": margin},
    )
    if packing is not None:
        ballast = packed_ballast(thing, packing)
        says = packed_says(thing, down_g, displaced_g, packing, ballast)
        return Hold(down, up, held, room, ballast, "", says, displaced, packing)
    ballast = _ballasts(up_g, thing) if up_g > 0.0 else ()
    return Hold(down, up, held, room, ballast, _CAP, _sentence(down_g, up_g, held, ballast), displaced)


_CAP = (
    "Stuff what it leaves empty with newspaper so that nothing shifts, then cap it with clay over plastic "
    "film, flush with the opening."
)


def _ballasts(up_g: float, thing: StandingObject) -> tuple[Ballast, ...]:
    found = []
    for name, file, entry in _BALLASTS:
        bulk = shelf.value(file, entry)
        needed_ml = up_g / bulk.value
        given: dict[str, float | str] = {"seeping_up_g": up_g, entry: bulk.value}
        most: Worked | None = None
        fits: bool | None = None
        if thing.room_ml is None:
            says = f"{say_volume(needed_ml)} of {name}, if the hollow holds as much."
        else:
            fits = needed_ml <= thing.room_ml
            most = worked(
                thing.room_ml * bulk.value,
                "g",
                "room inside x bulk density",
                bulk.source,
                {"room_ml": thing.room_ml, entry: bulk.value},
                low=thing.room_ml * bulk.low,
                high=thing.room_ml * bulk.high,
            )
            says = (
                f"{say_mass(up_g)} of {name} sinks it: {say_volume(needed_ml)} of the "
                f"{say_volume(thing.room_ml)} inside."
                if fits
                else f"A hollow full of {name} is {say_mass(most.number)}, and it still floats in slurry."
            )
        needed = worked(
            needed_ml,
            "ml",
            "lift once slurry is under it / bulk density",
            bulk.source,
            given,
            low=up_g / bulk.high,
            high=up_g / bulk.low,
        )
        found.append(Ballast(name, needed, most, fits, says))
    return tuple(found)


def _sentence(down_g: float, up_g: float, held: Worked, ballast: tuple[Ballast, ...]) -> str:
    pressed = f"Sealed below, slurry presses it down with {say_mass(down_g)}."
    if up_g <= 0.0:
        return f"{pressed} If slurry creeps under, it still stays down by its own weight."
    remedy = "Press clay into the joint all round first"
    fitting = next((one for one in ballast if one.fits), None)
    if fitting is not None:
        remedy += f", then fill it with {say_mass(up_g)} of {fitting.what}"
    return (
        f"{pressed} If slurry creeps under, it lifts with {say_mass(up_g)}. {remedy}, and screw "
        f"or wire it to the board so that it holds {say_mass(held.number)}; a weight resting on it would be "
        "covered by plaster."
    )
