"""What a person should be told of an object that floats in slurry, weighed or not."""

from __future__ import annotations

from claybed.flow.course import Course
from claybed.materials import shelf
from claybed.pours.mixing import slurry_g_per_ml
from claybed.records.bench import Packing
from claybed.records.brief import Brief
from claybed.records.finding import Amount, Finding
from claybed.units import say_mass, say_volume


def float_findings(course: Course, brief: Brief) -> tuple[Finding, ...]:
    """That the object floats in slurry; of a vessel that was not weighed, where it is sure to."""
    floating = course.poured.floating
    if floating is None:
        return _unweighed_findings(course, brief)
    if not floating.floats_in_slurry:
        return ()
    packing = _packing(course)
    remedy = (
        f"Fill its hollow, or screw or wire it to the board; that has to hold {say_mass(floating.on_top_g)}."
    )
    if packing is not None:
        remedy = (
            f"Pack its hollow with {say_mass(packing.clay_g.number)} of water clay before it is turned over."
        )
    return (
        Finding(
            id="object_floats",
            severity="look",
            where="the object",
            says=floating.says,
            remedy=f"{remedy} A weight resting on it would be covered by plaster.",
            amount=Amount(floating.lift_in_slurry_g, "g"),
        ),
    )


def _packing(course: Course) -> Packing | None:
    return next((pour.hold.packing for pour in course.bench.pours), None)


def _unweighed_findings(course: Course, brief: Brief) -> tuple[Finding, ...]:
    """A vessel that floats whatever clay it is of: even without a pore, its wall weighs less than the slurry
    that the closed vessel pushes aside. Source: archimedes, materials/clay.
    """
    obj = course.obj
    if obj.mouth is None or course.molded.assembly.hump:
        return ()
    wall_ml = obj.solid_ml - obj.mouth.closed_ml
    sheet_ml = shelf.value("measuring", "sheet_wall_most_fraction").value * obj.solid_ml
    if wall_ml < sheet_ml:  # drawn without a wall
        return ()
    heaviest_g = wall_ml * shelf.value("clay", "clay_solids_density_g_per_ml").high
    displaced_g = obj.solid_ml * slurry_g_per_ml(brief.consistency)
    if heaviest_g >= displaced_g:
        return ()
    packing = _packing(course)
    packs = ""
    if packing is not None:
        packs = (
            f" Pack its hollow with {say_mass(packing.clay_g.number)} of water clay before it is turned "
            "over, as the sheet says."
        )
    return (
        Finding(
            id="object_floats",
            severity="look",
            where="the object",
            says=f"The object was not weighed. Its wall is {say_volume(wall_ml)}: of clay, it weighs "
            f"{say_mass(heaviest_g)} at most, and pushes {say_mass(displaced_g)} of slurry aside. It floats "
            "where slurry creeps under.",
            remedy=f"Weigh it and say --mass: sheet and plan then tell with how much it lifts.{packs}",
            amount=Amount(displaced_g - heaviest_g, "g"),
        ),
    )
