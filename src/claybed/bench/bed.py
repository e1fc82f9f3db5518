"""The clay bed of the first pour: how much clay, which keys are pressed into it, which are carved later."""

from __future__ import annotations

from claybed.bench.humps import hump_bed
from claybed.bench.telling import from_shelf, weighed, worked
from claybed.records.assembly import BlockKey
from claybed.records.bench import Bed, KeyUse
from claybed.records.figure import Worked
from claybed.records.standing import StandingObject, StandingPour
from claybed.units import say_length


def plan_bed(thing: StandingObject, first: StandingPour) -> Bed | None:
    """The bed of the first pour, None when one piece stands on the board without one.

    Its clay is what lies between the board and the parting surface inside the form, less the object.
    Sources: geometry, materials/clay, practice.
    """
    if thing.hump is not None:
        return hump_bed(thing.hump)
    if thing.bed_ml is None:
        return None
    keys = keys_of(thing.keys, thing.first, "pressed")
    press: tuple[str, ...] = ()
    if keys:
        press = (
            f"Press the {len(keys)} keys with a ball of Ø {say_length(keys[0].tool_mm.number)}, "
            f"{say_length(keys[0].depth_mm.number)} deep, where the template marks them.",
        )
    return Bed(
        pad_mm=from_shelf("practice", "bed_pad_mm", "clay under the object's deepest point"),
        height_mm=worked(
            first.bed_level_mm,
            "mm",
            "flat part of the parting surface above the board: object below the seam + pad",
            "geometry",
            {"pad_mm": thing.pad_mm},
        ),
        clay_ml=worked(
            thing.bed_ml,
            "ml",
            "between board and parting surface inside the form, less the object",
            "geometry",
            {"footprint_mm2": first.footprint_mm2},
        ),
        clay_g=weighed(
            thing.bed_ml, "clay", "bed_clay_density_g_per_ml", "clay_ml x density of plastic clay"
        ),
        keys=keys,
        steps=(
            f"Lay a pad of clay {say_length(thing.pad_mm)} thick, wrap it in plastic film if the object "
            "marks.",
            "Set the object in its pose on the pad, then build clay up around it in slabs to the seam, "
            "without "
            "gaps that slurry could run into.",
            f"Level it with a straightedge at {say_length(first.bed_level_mm)} above the board where it is "
            "flat, "
            "and bring it up or down to the seam at the stations.",
            "Meet the object squarely, pressed tight against it; a gap there becomes a fin of plaster.",
            *press,
            "Smooth it with a rib and a damp sponge, then cut it square to the inside of the form.",
        ),
        cautions=("Bed clay picks up plaster: keep it in its own bucket, and never use it for ware.",),
    )


def keys_of(keys: tuple[BlockKey, ...], first: str, when: str) -> tuple[KeyUse, ...]:
    """The keys that are pressed into the bed (bumps on the first piece) or carved into it (sockets)."""
    wanted = [key for key in keys if (key.bump_on == first) == (when == "pressed")]
    return tuple(
        KeyUse(
            when="pressed" if when == "pressed" else "carved",
            at_mm=worked(key.at_mm, "mm", "middle on the parting surface, block frame", "geometry"),
            diameter_mm=worked(key.diameter_mm, "mm", "usual for the wall", "practice"),
            depth_mm=worked(key.depth_mm, "mm", "usual for the diameter", "practice"),
            tool_mm=_ball(key),
        )
        for key in wanted
    )


def _ball(key: BlockKey) -> Worked:
    """Diameter of the ball whose cap the key is: d²/(4 h) + h, from the cap's width and depth."""
    return worked(
        key.diameter_mm**2 / (4.0 * key.depth_mm) + key.depth_mm,
        "mm",
        "diameter² / (4 x depth) + depth: the ball that leaves this cap",
        "geometry",
        {"diameter_mm": key.diameter_mm, "depth_mm": key.depth_mm},
    )


def hanging_kg(bed: Bed | None) -> float:
    """Clay that hangs on the first piece when it is turned over: the whole bed, kg. Source: practice."""
    return 0.0 if bed is None else bed.clay_g.number / 1000.0
