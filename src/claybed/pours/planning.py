"""One pour for each piece: weights, fill lines, and whether it can be lifted."""

from __future__ import annotations

import math
from collections.abc import Sequence

from claybed.errors import InputError
from claybed.materials import shelf
from claybed.physics.heat import adiabatic_rise_K, peak_temperature_C, slurry_temperature_C
from claybed.physics.plaster import dry_from_wet_kg
from claybed.pours.mixing import allowance, mix_for_space, slurry_g_per_ml
from claybed.records.brief import Brief
from claybed.records.finding import Amount, Finding
from claybed.records.measuring import VolumeBand
from claybed.records.mix import Mix
from claybed.records.pour import PiecePour, Pour
from claybed.units import say_ratio, say_share


def plan_pours(
    pieces: Sequence[PiecePour], brief: Brief, volume_rel_95: float, uneven: VolumeBand | None = None
) -> tuple[Pour, ...]:
    """Plan the pour of each piece, in pouring order.

    `pieces` as measured (ml, mm, mm²), at least one; from `brief` it reads consistency, waste, form,
    bucket_l, lift_kg and water_celsius; `volume_rel_95` half-width of the 95 % interval of the object's
    volume, a fraction of 0 to 0.5; `uneven` replaces it where the two sides differ. A larger object
    leaves less space, so the low end of a mix goes with the high end of the object; the usual allowance
    grows by what the object may be smaller. Raises InputError for a piece or brief that makes no sense.
    Sources: physics.plaster, physics.heat, materials/practice.
    """
    if not pieces:
        raise InputError("there is no piece to pour.", where="pours", remedy="Plan the mold first.")
    band = uneven or VolumeBand(volume_rel_95, volume_rel_95)
    widest = max(band.smaller_share, band.larger_share)
    if not 0.0 <= min(band.smaller_share, band.larger_share) <= widest <= 0.5:
        raise InputError(
            f"a volume known to {say_share(widest)} is too vague to pour from.",
            where="volume",
            remedy="Measure it again, for instance by displaced water.",
        )
    return tuple(_pour(piece, brief, band) for piece in sorted(pieces, key=lambda piece: piece.order))


def consistency_findings(brief: Brief) -> tuple[Finding, ...]:
    """What is unusual about the brief's consistency, for its plaster and for the use of the mold.

    Raises InputError for a plaster that is not on the shelf. Source: materials/plaster.
    """
    said = say_ratio(brief.consistency)
    found = []
    for_plaster = shelf.consistency_range(brief.plaster)
    for_use = shelf.value("plaster", f"use_{brief.use}_consistency_per_100")
    if not for_plaster.low <= brief.consistency <= for_plaster.high:
        name = brief.plaster.replace("_", " ")
        found.append(
            Finding(
                id="consistency_off_plaster",
                severity="look",
                where="mix",
                says=f"{said} is outside the {for_plaster.low:g} to {for_plaster.high:g} of {name}.",
                remedy="Follow the sheet that came with the plaster.",
                amount=Amount(brief.consistency, "per 100"),
            )
        )
    if not for_use.low <= brief.consistency <= for_use.high:
        effect = (
            "softer and thirstier" if brief.consistency > for_use.high else "harder and slower to take water"
        )
        found.append(
            Finding(
                id="consistency_off_use",
                severity="note",
                where="mix",
                says=f"{said} makes a mold {effect} than is usual for {brief.use} molds, "
                f"{for_use.low:g} to {for_use.high:g}.",
                remedy=f"Use {for_use.value:.0f} unless it is meant.",
                amount=Amount(brief.consistency, "per 100"),
            )
        )
    return tuple(found)


def _allowance(brief: Brief, more_ml: float, space_ml: float) -> tuple[float, str]:
    """The share to mix beyond the space, and why; `more_ml` is how much larger the space may be."""
    if brief.waste is not None:
        return brief.waste, f"{say_share(brief.waste)} as asked"
    return allowance(brief.form, more_ml=more_ml, space_ml=space_ml)


def _pour(piece: PiecePour, brief: Brief, band: VolumeBand) -> Pour:
    _check(piece)
    # Space and piece both shrink by what the object grows.
    about_ml = piece.space_ml if piece.object_ml is None else piece.object_ml
    less_ml, more_ml = band.larger_share * about_ml, band.smaller_share * about_ml
    if less_ml >= min(piece.space_ml, piece.volume_ml):
        raise InputError(
            "the object's volume is too uncertain for the space around it.",
            where=f"piece {piece.piece}",
            remedy="Measure it again, for instance by displaced water.",
        )

    waste, reason = _allowance(brief, more_ml, piece.space_ml)

    def mixed(shift_ml: float) -> Mix:
        return mix_for_space(
            piece.space_ml + shift_ml, consistency=brief.consistency, waste=waste, bucket_l=brief.bucket_l
        )

    def weighed(shift_ml: float) -> tuple[float, float]:
        wet_kg = (piece.volume_ml + shift_ml) * slurry_g_per_ml(brief.consistency) / 1000.0
        return wet_kg, dry_from_wet_kg(wet_kg, brief.consistency)

    mix = mixed(0.0)
    (wet_low_kg, dry_low_kg), (wet_kg, dry_kg), (wet_high_kg, dry_high_kg) = map(
        weighed, (-less_ml, 0.0, more_ml)
    )
    per_mm = mix_for_space(
        piece.footprint_mm2 / 1000.0, consistency=brief.consistency, waste=0.0, bucket_l=brief.bucket_l
    )
    water_C = (
        shelf.value("practice", "mix_water_C").value if brief.water_celsius is None else brief.water_celsius
    )
    slurry_C = _slurry_C(brief.consistency, water_C)
    told = batch_findings(mix, where=f"pour of piece {piece.piece}", what=f"Piece {piece.piece}")
    return Pour(
        piece=piece.piece,
        order=piece.order,
        mix=mix,
        mix_low=mixed(-less_ml),
        mix_high=mixed(more_ml),
        waste=waste,
        waste_reason=reason,
        volume_ml=piece.volume_ml,
        footprint_mm2=piece.footprint_mm2,
        fill_line_from_board_mm=piece.fill_line_from_board_mm,
        fill_line_from_rim_mm=piece.fill_line_from_rim_mm,
        wet_kg=wet_kg,
        wet_low_kg=wet_low_kg,
        wet_high_kg=wet_high_kg,
        dry_kg=dry_kg,
        dry_low_kg=dry_low_kg,
        dry_high_kg=dry_high_kg,
        water_g_per_mm=per_mm.water_g,
        plaster_g_per_mm=per_mm.plaster_g,
        mix_water_celsius=water_C,
        slurry_celsius=slurry_C,
        peak_celsius=_peak_C(brief.consistency, slurry_C),
        findings=(*_lift_findings(piece, wet_kg, brief), *told),
    )


def _joules(name: str) -> float:
    return 1000.0 * shelf.value("plaster", name).value


def _slurry_C(consistency: float, water_C: float) -> float:
    return slurry_temperature_C(
        water_C,
        shelf.value("practice", "mix_water_C").value,
        consistency,
        water_J_per_kg_K=_joules("water_heat_capacity_kJ_per_kg_K"),
        plaster_J_per_kg_K=_joules("plaster_heat_capacity_kJ_per_kg_K"),
    )


def _peak_C(consistency: float, slurry_C: float) -> float:
    rise_K = adiabatic_rise_K(
        consistency,
        heat_J_per_kg=_joules("hydration_heat_kJ_per_kg"),
        gypsum_J_per_kg_K=_joules("gypsum_heat_capacity_kJ_per_kg_K"),
        water_J_per_kg_K=_joules("water_heat_capacity_kJ_per_kg_K"),
    )
    return peak_temperature_C(slurry_C, rise_K)


def _lift_findings(piece: PiecePour, wet_kg: float, brief: Brief) -> tuple[Finding, ...]:
    """What to do about the weight of a wet piece: too heavy, one for two people, or a poor grip."""
    lift_kg, alone_kg = brief.lift_kg, shelf.value("practice", f"lift_stop_{brief.lifter}_kg").value
    where, amount = f"piece {piece.piece}", Amount(wet_kg, "kg")
    if wet_kg > lift_kg:
        return (
            Finding(
                id="lift_over_limit",
                severity="stop",
                where=where,
                says=f"Piece {piece.piece} is {_over_kg(wet_kg, lift_kg)} kg wet, over the limit of "
                f"{lift_kg:g} kg.",
                remedy=_heavy_remedy(wet_kg, lift_kg),
                amount=amount,
            ),
        )
    if wet_kg > alone_kg:
        return (
            Finding(
                id="lift_with_two",
                severity="look",
                where=where,
                says=f"Piece {piece.piece} is {_over_kg(wet_kg, alone_kg)} kg wet, more than the "
                f"{alone_kg:g} kg that common practice leaves to "
                f"{'someone in a class' if brief.lifter == 'school' else 'one person'}.",
                remedy=f"{_who_lifts(wet_kg, alone_kg)} with hand-holds formed and a dry floor, or it is "
                "slid onto a trolley. A thinner --wall makes it lighter. Follow local rules on lifting.",
                amount=amount,
            ),
        )
    if wet_kg >= shelf.value("practice", "lift_look_kg").value:
        return (
            Finding(
                id="lift_heavy",
                severity="look",
                where=where,
                says=f"Piece {piece.piece} is {wet_kg:.1f} kg wet, and a plain wet block is a poor grip.",
                remedy="Form hand-holds, lift it close to the body, and turn it with a second person.",
                amount=amount,
            ),
        )
    return ()


def _over_kg(wet_kg: float, limit_kg: float) -> str:
    """A weight in as many figures as show that it is over its limit."""
    return next((f"{wet_kg:.{n}f}" for n in (1, 2) if round(wet_kg, n) > limit_kg), f"{wet_kg:.3f}")


def _who_lifts(wet_kg: float, alone_kg: float) -> str:
    """Who lifts what is more than the `alone_kg` of one person: two of them, or where that is too little two
    who are used to it.
    """
    staff_kg = shelf.value("practice", "lift_stop_staff_kg").value
    if wet_kg <= shelf.value("practice", "lift_two_people_kg").value * alone_kg / staff_kg:
        return "Two people lift and turn it together,"
    return "Two of the staff lift and turn it together, nobody of the class,"


def _heavy_remedy(wet_kg: float, lift_kg: float) -> str:
    allow = f"allow it with --lift {math.ceil(wet_kg)}kg"
    if wet_kg <= shelf.value("practice", "lift_two_people_kg").value:
        return f"Split it, thin the wall, or plan two people and {allow}."
    return (
        "Make the model smaller, the wall thinner, or more pieces of it. By hand this is no weight for two; "
        f"where lifting gear takes it and trained staff work that, {allow}."
    )


def batch_findings(mix: Mix, *, where: str, what: str) -> tuple[Finding, ...]:
    """What a person should know of a mix of several buckets: `where` it is mixed for, `what` takes it.

    None for a single bucket. More buckets than a person can mix before the first one sets ask to be looked
    at, with the batch and the bucket that would do for one person. Source: practice.
    """
    count = len(mix.batches)
    if count == 1:
        return ()
    alone = int(shelf.value("practice", "batches_per_person_count").value)
    people = math.ceil(count / alone)
    if people == 1:
        remedy = "Start the second slaking before the first is mixed, and pour both within the working time."
    else:
        batch_l = math.ceil(mix.slurry_ml / alone / 100.0) / 10.0
        pail_l = math.ceil(batch_l / shelf.value("practice", "bucket_fill_fraction").value)
        batch_kg = (mix.water_g + mix.plaster_g) / alone / 1000.0
        heavy = ""
        if batch_kg > shelf.value("practice", "lift_look_staff_kg").value:
            heavy = f" (each {batch_kg:.0f} kg of slurry: two people lift and pour it)"
        # Nobody finds a hundred hands: then the bucket is what is wrong.
        found = people <= shelf.value("practice", "mixers_most_count").value
        hands = f"Plan {people} mixers, or batches" if found else "Mix batches"
        remedy = (
            f"{hands} of {batch_l:g} l, in a bucket of {pail_l} l or more{heavy}; a late bucket leaves a "
            "cold joint."
        )
    return (
        Finding(
            id="batches_many" if people > 1 else "batches_several",
            severity="look" if people > 1 else "note",
            where=where,
            says=f"{what} takes {count} buckets, and they must slake together.",
            remedy=remedy,
            amount=Amount(float(count), "buckets"),
        ),
    )


def _check(piece: PiecePour) -> None:
    amounts = {
        "space_ml": piece.space_ml,
        "volume_ml": piece.volume_ml,
        "footprint_mm2": piece.footprint_mm2,
        "fill_line_from_board_mm": piece.fill_line_from_board_mm,
    }
    for name, amount in amounts.items():
        if not (math.isfinite(amount) and amount > 0.0):
            raise InputError(
                f"{name} cannot be {amount:g}.",
                where=f"piece {piece.piece}",
                remedy="Check the object's unit and the wall.",
            )
    if not (math.isfinite(piece.fill_line_from_rim_mm) and piece.fill_line_from_rim_mm >= 0.0):
        raise InputError(
            f"the fill line lies {-piece.fill_line_from_rim_mm:g} mm above the rim of the form.",
            where=f"piece {piece.piece}",
            remedy="Use higher boards.",
        )
