"""The bench of a hump: the vessel in its bed of sand and clay, what holds it, release, and lifting off."""

from __future__ import annotations

from claybed.bench.density import slurry_kg_per_m3
from claybed.bench.telling import bench, practice, weighed, worked
from claybed.materials import shelf
from claybed.records.bench import Bed, Hold
from claybed.records.brief import Brief
from claybed.records.figure import Worked
from claybed.records.hump import Hump
from claybed.records.standing import StandingPour
from claybed.units import say_length, say_mass, say_volume


def hump_bed(hump: Hump) -> Bed:
    """The bed round the vessel: sand, and a layer of clay level with its rim. Source: practice."""
    clay_ml = hump.clay_ml.number
    layer_mm = hump.ledge_from_board_mm.number - hump.sand_from_board_mm.number
    sand: tuple[str, ...] = ()
    if hump.sand_ml.number > 0.0:
        sand = (
            f"Fill dry sand round the vessel in layers, {say_volume(hump.sand_ml.number)} "
            f"({say_mass(hump.sand_g.number)}), pressed down, to "
            f"{say_length(hump.sand_from_board_mm.number)} "
            f"above the board: {say_length(layer_mm)} below the rim. It carries the vessel against the "
            f"plaster.",
        )
    rise_mm = hump.rise_mm.number
    strip = (
        (
            f"Build low places of the rim up to its highest with a strip of clay, {say_length(rise_mm)} "
            f"at most, flush with the inside.",
        )
        if rise_mm > shelf.value("practice", "rim_level_mm").value
        else ()
    )
    return Bed(
        pad_mm=worked(0.0, "mm", "the vessel stands on the board", "geometry"),
        height_mm=hump.ledge_from_board_mm,
        clay_ml=hump.clay_ml,
        clay_g=weighed(clay_ml, "clay", "bed_clay_density_g_per_ml", "clay_ml x density of plastic clay"),
        keys=(),
        steps=(
            *sand,
            *strip,
            "Lay soft clay on it, level with the rim all round and tight against it, out to the form: the "
            "ledge of the plinth is poured on this clay. It must not stand over the rim, nor leave a groove.",
            "Smooth it with a rib and a damp sponge. Wipe what fell into the vessel out of it.",
        ),
        cautions=(
            "Bed clay picks up plaster: keep it in its own bucket, and never use it for ware.",
            "Dry sand dusts: pour it low, and dampen it where it flies.",
        ),
    )


def hump_hold(hump: Hump, pour: StandingPour, brief: Brief) -> Hold:
    """What slurry does to a vessel that it fills: it presses down and out, and lifts nothing.

    Source: hydrostatics.
    """
    slurry_g_per_ml = slurry_kg_per_m3(brief.consistency) / 1000.0
    down_g = pour.volume_ml * slurry_g_per_ml
    return Hold(
        sealed_down_g=worked(
            down_g,
            "g",
            "plaster of the piece, wet, x its density as slurry",
            "hydrostatics",
            {"volume_ml": pour.volume_ml, "slurry_g_per_ml": slurry_g_per_ml},
        ),
        seeping_up_g=None,
        hold_down_g=None,
        room_ml=None,
        ballast=(),
        cap="",
        says=f"The slurry fills the vessel, so nothing floats: it presses down with {say_mass(down_g)}, "
        f"and with {hump.head_kpa.number:.1f} kPa on the deepest place. The sand carries a thin or "
        f"cracked vessel.",
    )


def hump_flip(wet_kg: float, vessel_g: float | None) -> Worked:
    """What is turned over once it has set: the piece with its vessel on it, kg."""
    vessel_kg = (vessel_g or 0.0) / 1000.0
    return worked(
        wet_kg + vessel_kg,
        "kg",
        "wet piece + vessel, where it was weighed",
        "derived",
        {"wet_kg": wet_kg, "vessel_kg": vessel_kg if vessel_g else "not weighed"},
    )


def hump_last_steps(nail: str, scratch: str, holds: bool) -> tuple[str, ...]:
    """From set plaster to a hump on its plinth, free of its vessel. Source: practice."""
    grip = (
        ("Cut hand-holds into two opposite sides of the plinth, as deep as your fingers, while it is soft.",)
        if holds
        else ()
    )
    return (
        nail,
        "Scrape the open face level while a knife still cuts it: it is the foot that the hump will stand on.",
        f"Scratch into the side of the plinth: {scratch}. Paper tags do not last.",
        f"Chamfer the outside edges of that face {practice('chamfer_mm'):g} mm wide with a rasp.",
        *grip,
        f"Let it rest in its sand for {bench('rest_h'):g} hours. Then dig sand and clay away, turn it "
        f"over onto a soft mat, plinth down, and lift the vessel straight up: wet the rim, tap all round "
        f"with a rubber "
        "mallet, and wait if it holds. A thin bowl of plastic is flexed at its rim; do not lever against the "
        "plaster.",
        "Round the edge of the ledge, and what the rim left sharp, with a damp sponge. Wash release off the "
        "hump, as the page “Ware” tells.",
        "Weigh the piece trimmed and wet, write it down, and stand it on slats to dry.",
    )


HUMP_POUR = (
    "Pour slowly onto the deepest place of the vessel and let it rise without a stop; no air is caught, "
    "since the inside opens upwards. Tap the board to bring bubbles up. Stop at the fill line."
)
