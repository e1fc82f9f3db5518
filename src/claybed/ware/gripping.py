"""Where ware grips its plaster as it shrinks, by how much, and how long it may stay."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from claybed.geometry.holding import least_hold
from claybed.geometry.mesh import Floats, Origin
from claybed.materials import shelf
from claybed.materials.shelf import Constant
from claybed.physics.shrinkage import water_loss_shrinkage_fraction
from claybed.records.assembly import BLOCK_FRAME, Assembly
from claybed.records.figure import Figure, Worked
from claybed.records.finding import ABOVE_FOOT, Amount, Finding
from claybed.records.reckoned import Reckoned
from claybed.records.ware import Grip
from claybed.units import say_length, say_time
from claybed.ware.letting_go import in_time, onto
from claybed.ware.reckoning import Input, reckon

SKIN = (Origin.OBJECT, Origin.MEND, Origin.FILL)


def plan_grip(
    assembly: Assembly, *, pressed: bool, wait_minutes: Input, drying_percent: Input | None
) -> Grip:
    """How the ware of a closed mold grips it, from the end of casting or pressing to leather-hard.

    `wait_minutes` until it is leather-hard and usually let go; `drying_percent` what its clay shrinks by in
    drying, of its length, when known. Even shrinkage of the whole skin; the mouth and the gate are open.
    """
    points, normals, areas, letters = _skin(assembly)
    shrinkage = _shrinkage(pressed, drying_percent)
    if not len(points):
        return Grip(shrinkage, _held(0.0), _grip(shrinkage, _held(0.0)), None, None, None)
    hold = least_hold(points, normals)
    worst = int(np.argmax(hold.before_mm))
    held = _held(max(hold.deepest_mm, 0.0))
    grip = _grip(shrinkage, held)
    least = shelf.value("clay", "grip_least_mm")
    gripping = hold.before_mm * shrinkage.value / 100.0 >= least.value
    least_mm2 = shelf.value("clay", "grip_area_least_mm2").value
    if float(areas[gripping].sum()) < least_mm2:
        return Grip(shrinkage, held, grip, None, None, None)
    x, y, z = (float(v) for v in points[worst])
    at = Worked((x, y, z), Figure("mm", "middle of the face that holds most, block frame", "geometry"))
    gripped = tuple(
        name
        for name in dict.fromkeys(letters)
        if areas[gripping & (np.array(letters) == name)].sum() >= least_mm2
    )
    within = reckon(
        lambda wait_minutes, held_stretch_fraction, shrinkage_percent: (
            wait_minutes * min(1.0, 100.0 * held_stretch_fraction / shrinkage_percent)
        ),
        "min",
        "wait until leather-hard x what held clay stretches / shrinkage until then, water leaving evenly",
        "practice",
        wait_minutes=wait_minutes,
        held_stretch_fraction=shelf.value("clay", "held_stretch_fraction"),
        shrinkage_percent=shrinkage,
    )
    return Grip(shrinkage, held, grip, within, letters[worst], at, gripped)


def opening_order(assembly: Assembly) -> tuple[str, ...]:
    """The letters of a mold's pieces in the order in which they come off."""
    return tuple(piece.id for piece in sorted(assembly.pieces, key=lambda one: one.opens or one.order))


def grip_findings(grip: Grip, *, pressed: bool, opening: Sequence[str] = ()) -> tuple[Finding, ...]:
    """What a person should know of a grip; nothing where the ware draws away everywhere.

    `opening` is the order in which the pieces come off.
    """
    if grip.within_minutes is None or grip.at_mm is None or not isinstance(grip.at_mm.value, tuple):
        return ()
    x, y, z = grip.at_mm.value
    since = "pouring out" if not pressed else "pressing" if len(opening) == 1 else "closing"
    told = {"piece": grip.piece, "gripped": grip.gripped}
    soon = in_time(told, opening)
    return (
        Finding(
            id="ware_grips",
            severity="look",
            where=f"piece {grip.piece}, {z:.0f} {ABOVE_FOOT}",
            says=f"The clay shrinks onto {onto(told, opening).rstrip(',')}, {z:.0f} {ABOVE_FOOT}, by "
            f"{say_length(grip.grip_mm.value)} until it is leather-hard.",
            remedy=f"{soon[0].upper()}{soon[1:]} within about {say_time(grip.within_minutes.value)} after "
            f"{since}; left longer, clay cracks there. The time is common practice, no source: try one.",
            amount=Amount(grip.grip_mm.value, "mm"),
            at_mm=(x, y, z),
        ),
    )


def _skin(assembly: Assembly) -> tuple[Floats, Floats, Floats, list[str]]:
    """Middles (n, 3) mm, unit normals out of the clay (n, 3), areas (n,) mm² and piece letters of the faces
    that the ware lies against.
    """
    points, normals, areas, letters = [], [], [], []
    for piece in assembly.pieces:
        mesh = piece.solid.mesh(BLOCK_FRAME)
        corner = mesh.corners_mm[np.isin(mesh.origin, [int(one) for one in SKIN])]
        cross = np.cross(corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0])
        twice = np.linalg.norm(cross, axis=1)
        sound = twice > 1e-6
        points.append(corner[sound].mean(axis=1))
        normals.append(-cross[sound] / twice[sound, None])
        areas.append(twice[sound] / 2.0)
        letters += [piece.id] * int(sound.sum())
    return np.concatenate(points), np.concatenate(normals), np.concatenate(areas), letters


def _shrinkage(pressed: bool, drying_percent: Input | None) -> Reckoned:
    water = (
        shelf.value("clay", "plastic_water_fraction")
        if pressed
        else shelf.value("slip", "cast_water_fraction")
    )
    name = "plastic_drying_shrinkage_fraction" if pressed else "cast_drying_shrinkage_fraction"
    usual = shelf.value("clay", name)
    whole = (
        Constant(
            100 * usual.value,
            "percent",
            100 * usual.low,
            100 * usual.high,
            usual.source,
            usual.seen,
            usual.note,
        )
        if drying_percent is None
        else drying_percent
    )
    return reckon(
        lambda water_before, water_after, solids_g_per_ml, drying_percent: min(
            100 * water_loss_shrinkage_fraction(water_before, water_after, 1000 * solids_g_per_ml, 1000.0),
            drying_percent,
        ),
        "percent",
        "length lost with the water lost until leather-hard, at most what the clay loses in drying",
        "mass-balance",
        water_before=water,
        water_after=shelf.value("slip", "leather_water_fraction"),
        solids_g_per_ml=shelf.value("clay", "clay_solids_density_g_per_ml"),
        drying_percent=whole,
    )


def _held(mm: float) -> Reckoned:
    formula = "least distance, over all points to shrink to, before the face that holds most"
    return Reckoned(mm, Figure("mm", formula, "geometry", {}))


def _grip(shrinkage: Reckoned, held: Reckoned) -> Reckoned:
    return reckon(
        lambda shrinkage_percent, held_mm: shrinkage_percent / 100 * held_mm,
        "mm",
        "shrinkage x held length",
        "derived",
        shrinkage_percent=shrinkage,
        held_mm=held,
    )
