"""A vessel that stands open face down on the board: what slurry does to it, and the clay packed into it."""

from __future__ import annotations

from claybed.bench.telling import weighed, worked
from claybed.materials import shelf
from claybed.records.bench import Ballast, Packing
from claybed.records.standing import StandingObject
from claybed.units import say_mass, say_volume


def plan_packing(thing: StandingObject, slurry_g_per_ml: float) -> Packing | None:
    """The water clay that a vessel is packed with before it is turned over onto the board.

    What is only laid into a hollow that looks down lies on the board and holds nothing; clay that clings to
    the inside weighs on the vessel, keeps slurry out, and leaves no air to swell in the heat. None for an
    object that does not stand like this, or whose weight is known to keep it down. Sources: archimedes,
    materials/clay.
    """
    if not thing.open_down or not thing.room_ml:
        return None
    displaced_g = thing.solid_ml * slurry_g_per_ml
    if thing.mass_g is not None and thing.mass_g >= displaced_g:
        return None
    clay = shelf.value("clay", "bed_clay_density_g_per_ml")
    return Packing(
        clay_g=weighed(
            thing.room_ml,
            "clay",
            "bed_clay_density_g_per_ml",
            "room inside x density of plastic clay",
            called="room_ml",
        ),
        least_g=worked(
            max(displaced_g - thing.room_ml * clay.low, 0.0),
            "g",
            "slurry that the vessel pushes aside - room inside x the least density of plastic clay",
            "archimedes",
            {
                "displaced_g": displaced_g,
                "room_ml": thing.room_ml,
                "bed_clay_least_g_per_ml": clay.low,
            },
        ),
    )


def packed_ballast(thing: StandingObject, packing: Packing) -> tuple[Ballast, ...]:
    """What weighs a packed vessel down where clay alone does not; none where clay does, or is not known to.

    Nuts pressed into the clay take its place in the hollow, so they count by how much heavier they are.
    """
    short_g = packing.least_g.number - (thing.mass_g or 0.0)
    if thing.mass_g is None or thing.room_ml is None or short_g <= 0.0:
        return ()
    nuts = shelf.value("bench", "steel_nuts_bulk_density_g_per_ml")
    clay = shelf.value("clay", "bed_clay_density_g_per_ml")
    more = nuts.value - clay.low
    needed_ml = short_g / more
    fits = needed_ml <= thing.room_ml
    return (
        Ballast(
            "steel nuts and bolts",
            worked(
                needed_ml,
                "ml",
                "what the packed vessel lacks / (bulk density - density of plastic clay)",
                nuts.source,
                {"short_g": short_g, "steel_nuts_bulk_density_g_per_ml": nuts.value, "clay": clay.low},
                low=short_g / (nuts.high - clay.low),
                high=short_g / (nuts.low - clay.low),
            ),
            weighed(
                thing.room_ml,
                "bench",
                "steel_nuts_bulk_density_g_per_ml",
                "room inside x bulk density",
                called="room_ml",
            ),
            fits,
            f"{say_volume(needed_ml)} of steel nuts and bolts, pressed into the clay, keep it down."
            if fits
            else "Clay full of steel nuts and bolts does not keep it down either.",
        ),
    )


def packed_says(
    thing: StandingObject, down_g: float, displaced_g: float, packing: Packing, ballast: tuple[Ballast, ...]
) -> str:
    """The same in words for the bench."""
    pressed = f"Sealed at its rim, slurry presses it down with {say_mass(down_g)}."
    pack = (
        f"Pack its hollow quite full of water clay, about {say_mass(packing.clay_g.number)}, so that it "
        "clings to the inside, before it is turned over onto the board"
    )
    if thing.mass_g is None:
        lifts = (
            f"It pushes {say_mass(displaced_g)} of slurry aside; once some creeps under the rim, it lifts "
            "with what its own weight lacks of that."
        )
        least_g = packing.least_g.number
        stays = (
            f"it then stays down if the vessel alone weighs {say_mass(least_g)} or more"
            if least_g > 0.0
            else "it then stays down by its weight"
        )
    else:
        lifts = f"If slurry creeps under the rim, it lifts with {say_mass(displaced_g - thing.mass_g)}."
        stays = "it then stays down by its weight"
        if ballast:
            one = ballast[0]
            stays = (
                f"press {say_volume(one.needed_ml.number)} of {one.what} into that clay: without them it "
                "still lifts"
                if one.fits
                else "it still lifts, so screw a block of wood that is glued into it to the board as well"
            )
    return f"{pressed} {lifts} {pack}: {stays}. A weight resting on it would be covered by plaster."
