"""Ware on a plan: what the object becomes, and how its mold is cast or pressed, and dried."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from claybed.errors import CannotError, InputError
from claybed.materials import shelf
from claybed.materials.bodies import body as body_named
from claybed.materials.bodies import slip as slip_named
from claybed.materials.shelf import Constant
from claybed.physics.slurry import dry_density_kg_per_m3
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief
from claybed.records.finding import Amount, Finding
from claybed.records.measured import MeasuredObject
from claybed.records.reckoned import Reckoned
from claybed.records.surveyed import MoldOption
from claybed.records.ware import Cast, Drying, Fired, Grip, Measures, Press, Shrinkage, Ware
from claybed.ware.advice import cast_findings, press_findings
from claybed.ware.casting import CastAsk, plan_cast
from claybed.ware.drying import Room, days_between, plan_drying
from claybed.ware.gripping import grip_findings, opening_order, plan_grip
from claybed.ware.holes import plan_holes
from claybed.ware.humps import draped_cm2, hump_findings, hump_measures
from claybed.ware.measuring import Inside, inside_of, measure
from claybed.ware.pressing import plan_press, slab_for
from claybed.ware.reckoning import asked, reckon
from claybed.ware.sizing import shrinkage_of, sizes_of
from claybed.ware.slipping import usual_slip

# A size that misses the wish by less than this part is as good as a ruler tells.
_CLOSE = 0.005
_HALVINGS = 60


def shrinkage_for(brief: Brief) -> Shrinkage | None:
    """How the clay of a brief shrinks; None when no clay was named.

    Raises InputError for a clay that is not known, or a fired size without a clay.
    """
    if brief.clay is None:
        if brief.fired_height_mm is not None or brief.fired_capacity_ml is not None:
            raise InputError(
                "a fired size needs the clay that shrinks to it.",
                where="--fired-height",
                remedy="Name it: --body stoneware.",
            )
        return None
    return shrinkage_of(
        body=body_named(brief.clay, brief.clays),
        growth_fraction=brief.expansion_fraction,
        castings=brief.generations,
    )


def ware_wall(brief: Brief, longest_mm: float) -> Constant:
    """The wall of the ware, wet, mm: as asked for slip, the usual slab for a pressing `longest_mm` long."""
    return slab_for(longest_mm) if brief.use == "press" else asked(brief.ware_wall_mm)


def scale_for_capacity(
    inside: Inside, shrunk: Shrinkage, wanted_ml: float, wall_mm: Callable[[float], float]
) -> float:
    """How many times larger an object must be for its ware to hold `wanted_ml` when fired.

    `wall_mm` tells the wet wall at a scale. The room inside it is found by halving on the object's own shape:
    it grows with the scale, but for drops where a larger piece takes a thicker slab, and halving never ends
    at a drop. Raises CannotError when no scale from 1/50 to 50 will do.
    """
    total, growth = shrunk.total_percent.value / 100, shrunk.growth_percent.value / 100
    wet_ml = wanted_ml / (1 - total) ** 3

    def holds(scale: float) -> float:
        cast = scale * (1 + growth)
        return cast**3 * inside.holds_ml(wall_mm(scale) / cast)

    low, high = 0.02, 50.0
    if not holds(low) < wet_ml < holds(high):
        raise CannotError(
            f"no size of this shape holds {wanted_ml:.0f} ml behind a wall of {wall_mm(1.0):g} mm.",
            where="--fired-capacity",
            remedy="Check the volume and its unit, or ask for a thinner wall: --ware-wall 3mm.",
        )
    for _ in range(_HALVINGS):
        middle = (low * high) ** 0.5
        low, high = (middle, high) if holds(middle) < wet_ml else (low, middle)
    return float((low * high) ** 0.5)


def plan_ware(obj: MeasuredObject, option: MoldOption, assembly: Assembly, brief: Brief) -> Ware:
    """Everything of ware for one plan. Raises InputError for a clay that is not known."""
    wall = ware_wall(brief, max(obj.extent_mm))
    wall_mm = wall.value
    hollow = obj.hollow
    inside = None if hollow is not None else inside_of(obj, option, most_mm=wall_mm)
    measures = measure(obj, assembly, wall_mm, inside)
    if hollow is not None:
        measures = hump_measures(obj, hollow, measures)
    shrunk = shrinkage_for(brief)
    fired = None if shrunk is None else _fired(obj, brief, shrunk, measures, wall_mm)
    # Closed and strapped a mold dries as one body, from its outside; apart, each piece from all its faces.
    drying, apart = (
        plan_drying(
            water_per_100=brief.consistency,
            area_cm2=area_cm2,
            room=Room(),
            plaster_ml=measures.plaster_ml,
            face_mm=measures.face_mm.value,
        )
        for area_cm2 in (measures.outside_cm2 if hollow is None else measures.open_cm2, measures.open_cm2)
    )
    days = days_between(drying, brief.consistency, 15.0)
    cast = press = None
    findings: tuple[Finding, ...] = ()
    if brief.use == "press":
        press = plan_press(
            measures.cavity_cm2 if hollow is None else draped_cm2(assembly, wall_mm),
            slab_mm=wall,
            seam_mm=measures.seam_mm,
            pieces=len(assembly.pieces),
            body=None if brief.clay is None else body_named(brief.clay, brief.clays),
        )
        findings = press_findings(press)
    else:
        cast = _cast(brief, assembly, measures, days)
        findings = cast_findings(cast, k_known=slip_named(brief.slip, brief.clays).rate.source == "studio")
    wait = cast.release_minutes if cast is not None else press.wait_minutes if press is not None else 0.0
    grip = plan_grip(
        assembly,
        pressed=brief.use == "press",
        wait_minutes=wait,
        drying_percent=None if shrunk is None else shrunk.drying_percent,
    )
    if hollow is not None:
        findings = hump_findings(grip)
    else:
        told = grip_findings(grip, pressed=brief.use == "press", opening=opening_order(assembly))
        findings = (*findings, *told)
    ware = _gathered(brief, measures, shrunk, fired, cast, press, (drying, apart), days, findings, grip)
    scaled = fired is not None and fired.scaled
    return replace(ware, holes=plan_holes(obj.holes, shrunk, wall, scaled=scaled))


def _gathered(
    brief: Brief,
    measures: Measures,
    shrunk: Shrinkage | None,
    fired: Fired | None,
    cast: Cast | None,
    press: Press | None,
    drying: tuple[Drying, Drying],
    days: Reckoned | None,
    findings: tuple[Finding, ...],
    grip: Grip,
) -> Ware:
    missed = () if fired is None else _missed(brief, fired)
    return Ware(
        measures=measures,
        shrinkage=shrunk,
        fired=fired,
        slip=None if cast is None else usual_slip(slip_named(brief.slip, brief.clays)),
        cast=cast,
        press=press,
        drying=drying[0],
        drying_open=drying[1],
        drying_days=days,
        findings=(*missed, *findings),
        grip=grip,
    )


def _cast(brief: Brief, assembly: Assembly, measures: Measures, days: Reckoned | None) -> Cast:
    dry = dry_density_kg_per_m3(
        brief.consistency,
        plaster_kg_per_m3=1000 * shelf.value("plaster", "hemihydrate_density_g_per_ml").value,
        water_kg_per_m3=1000 * shelf.value("plaster", "water_density_g_per_ml").value,
    )
    behind = reckon(
        lambda near_plaster_ml, cavity_cm2, dry_kg_per_m3: near_plaster_ml / cavity_cm2 / 100 * dry_kg_per_m3,
        "kg/m2",
        "plaster near the cavity x its dry density / cavity",
        "geometry",
        near_plaster_ml=measures.near_plaster_ml,
        cavity_cm2=measures.cavity_cm2,
        dry_kg_per_m3=dry,
    )
    gate = assembly.gate
    bore = (gate.bore_mm,) if gate.bore_mm == gate.bore_mm and gate.bore_mm > 0 else ()
    return plan_cast(
        CastAsk(
            slip=slip_named(brief.slip, brief.clays),
            wall_mm=brief.ware_wall_mm,
            area_cm2=measures.cavity_cm2,
            plaster_kg_per_m2=behind,
            cavity_ml=measures.cavity_ml,
            spare_ml=gate.spare_ml if gate.spare_ml > 0 else None,
            bores_mm=bore,
            drying_days=days,
        )
    )


def _fired(obj: MeasuredObject, brief: Brief, shrunk: Shrinkage, measures: Measures, wall_mm: float) -> Fired:
    up = brief.up if obj.hollow is None else obj.hollow.up
    length = sum(part * part for part in up) ** 0.5
    heights = obj.mesh.vertices_mm @ [part / length for part in up]
    height = _becomes(shrunk, float(heights.max() - heights.min()))
    sides = [_becomes(shrunk, side) for side in obj.extent_mm]
    wall = sizes_of(shrunk, wet_wall_mm=wall_mm).fired_wall_mm
    capacity = None
    if measures.capacity_ml is not None:
        capacity = sizes_of(shrunk, wet_capacity_ml=measures.capacity_ml.value).fired_capacity_ml
    assert wall is not None
    wished = brief.fired_height_mm is not None or brief.fired_capacity_ml is not None
    scaled = wished and not _missed_wish(brief, height, capacity)
    holds = "" if capacity is None else f", and holds {capacity.value:.0f} ml"
    return Fired(
        height_mm=height,
        x_mm=sides[0],
        y_mm=sides[1],
        z_mm=sides[2],
        wall_mm=wall,
        capacity_ml=capacity,
        scaled=scaled,
        says=f"Fired, in {shrunk.clay.replace('_', ' ')}, it is {height.value:.1f} mm "
        f"{'tall' if obj.hollow is None else 'deep inside'}{holds}; "
        f"the model is {shrunk.oversize_ratio.value:.4f} times as large.",
    )


def _becomes(shrunk: Shrinkage, model_mm: float) -> Reckoned:
    found = sizes_of(shrunk, model_mm=model_mm).fired_mm
    assert found is not None
    return found


def _missed_wish(brief: Brief, height: Reckoned, capacity: Reckoned | None) -> bool:
    if brief.fired_height_mm is not None and abs(height.value / brief.fired_height_mm - 1) > _CLOSE:
        return True
    if brief.fired_capacity_ml is None:
        return False
    return capacity is None or abs(capacity.value / brief.fired_capacity_ml - 1) > 4 * _CLOSE


def _missed(brief: Brief, fired: Fired) -> tuple[Finding, ...]:
    """A found object keeps its size: say what it becomes, and by how much that misses the wish."""
    found = []
    pairs = (
        ("tall", "mm", brief.fired_height_mm, fired.height_mm),
        ("of room inside", "ml", brief.fired_capacity_ml, fired.capacity_ml),
    )
    for word, unit, wanted, becomes in pairs:
        if wanted is None or becomes is None or abs(becomes.value / wanted - 1) <= 4 * _CLOSE:
            continue
        found.append(
            Finding(
                id="fired_size_missed",
                severity="look",
                where="fired size",
                says=f"It becomes {becomes.value:.0f} {unit} {word} when fired, not {wanted:.0f} {unit}.",
                remedy="Leave --height out to scale a model, or take another clay for a found object.",
                amount=Amount(becomes.value - wanted, unit),
            )
        )
    return tuple(found)
