"""The lifts that happen, how heavy they are, and what the lifting equation recommends for them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from claybed.bench.telling import bench, practice, worked
from claybed.materials import shelf
from claybed.physics.lifting import hand_reach_m, lifting_index_ratio, multipliers, recommended_weight_kg
from claybed.records.bench import Lift
from claybed.records.brief import Brief
from claybed.records.figure import Worked
from claybed.records.finding import Amount, Finding
from claybed.records.standing import StandingObject, StandingPour

Flag = Literal["none", "look", "stop"]
# Once the last pour has set, for its edges and grooves.
CLOSED = "tip the closed mold on its side, wet, with the object"


def plan_lifts(
    pours: tuple[StandingPour, ...],
    thing: StandingObject,
    flip_kg: float | None,
    brief: Brief,
    turns: Sequence[tuple[str, float]] = (),
) -> tuple[tuple[Lift, ...], tuple[Finding, ...]]:
    """The flip, each wet piece onto the drying shelf, and the closed mold full of slip; with findings.

    `turns` are further times that the mold is turned between pours: pieces and weight (kg) each.
    Reads `bench_mm`, `shelf_mm`, `lifter` and `use`. A plain wet block is a poor grip, one with hand-holds
    a fair one. Source: niosh-94-110 (metric constants, rare lifts, less than an hour).
    """
    width_mm = min(thing.outer_mm[:2]) if len(thing.outer_mm) == 3 else thing.outer_mm[0]
    found = []
    if flip_kg is not None:
        found.append(
            _lift(
                f"turn piece {pours[0].piece} over with "
                f"{'object and bed' if thing.hump is None else 'the vessel on it'}",
                flip_kg,
                width_mm,
                brief,
                brief.bench_mm,
            )
        )
    for pieces, turned_kg in turns:
        what = pieces if pieces == CLOSED else f"tip pieces {pieces} on their side with the object"
        found.append(_lift(what, turned_kg, width_mm, brief, brief.bench_mm))
    for pour in pours:
        found.append(
            _lift(f"piece {pour.piece}, wet, onto the shelf", pour.wet_kg, width_mm, brief, brief.shelf_mm)
        )
    if brief.use == "slip" and thing.gate_kind != "none":
        found.append(_full_mold(pours, thing, width_mm, brief))
    return tuple(found), _findings(found, brief)


def _lift(what: str, load_kg: float, width_mm: float, brief: Brief, to_mm: float) -> Lift:
    from_mm = brief.bench_mm
    grip_mm = bench("block_grip_mm")
    fair = load_kg >= practice("lift_look_kg")
    ends = []
    for level_mm in (from_mm, to_mm):
        hands_m = (level_mm + grip_mm) / 1000.0
        reach_m = hand_reach_m(width_mm / 1000.0, hands_m)
        share = multipliers(
            reach_m, hands_m, abs(to_mm - from_mm) / 1000.0, coupling="fair" if fair else "poor"
        )
        ends.append((recommended_weight_kg(share), reach_m, share))
    # A mold is set down with care, so that the harder end counts.
    limit_kg, reach_m, share = min(ends, key=lambda end: end[0])
    given: dict[str, float | str] = {
        "reach_share": share.reach_share,
        "height_share": share.height_share,
        "travel_share": share.travel_share,
        "coupling_share": share.coupling_share,
        "grip": "hand-holds cut in (fair)" if fair else "plain wet block (poor)",
    }
    index = None
    if limit_kg > 0.0:
        index = worked(
            lifting_index_ratio(load_kg, limit_kg),
            "-",
            "weight / recommended limit; aim at 1 or less",
            "niosh-94-110",
            {"load_kg": load_kg, "limit_kg": limit_kg},
        )
    return Lift(
        what=what,
        load_kg=worked(load_kg, "kg", "as planned, wet", "derived"),
        reach_mm=worked(
            1000.0 * reach_m, "mm", "20 cm + half the block's width", "niosh-94-110", {"width_mm": width_mm}
        ),
        from_mm=_height(from_mm, "bench"),
        to_mm=_height(to_mm, "shelf" if to_mm == brief.shelf_mm else "bench"),
        limit_kg=worked(
            limit_kg,
            "kg",
            "23 kg x reach x height x travel x twist x frequency x grip, the lesser of both ends",
            "niosh-94-110",
            given,
        ),
        index=index,
        flag=_flag(load_kg, brief),
        why="",
    )


def _full_mold(pours: tuple[StandingPour, ...], thing: StandingObject, width_mm: float, brief: Brief) -> Lift:
    slip = shelf.value("bench", "slip_density_g_per_ml")
    dry_kg = sum(pour.dry_kg for pour in pours)
    slip_kg = thing.model_ml * slip.value / 1000.0
    return Lift(
        what="tip the closed mold full of slip",
        load_kg=worked(
            dry_kg + slip_kg,
            "kg",
            "dry pieces + volume of the model x density of slip",
            slip.source,
            {"dry_kg": dry_kg, "model_ml": thing.model_ml, "slip_density_g_per_ml": slip.value},
            low=dry_kg + thing.model_ml * slip.low / 1000.0,
            high=dry_kg + thing.model_ml * slip.high / 1000.0,
        ),
        reach_mm=worked(
            1000.0 * hand_reach_m(width_mm / 1000.0, brief.bench_mm / 1000.0),
            "mm",
            "20 cm + half the block's width",
            "niosh-94-110",
            {"width_mm": width_mm},
        ),
        from_mm=_height(brief.bench_mm, "bench"),
        to_mm=_height(brief.bench_mm, "bench"),
        limit_kg=None,
        index=None,
        flag=_flag(dry_kg + slip_kg, brief),
        why="Slip shifts while it is tipped, and the floor is wet: the lifting equation does not hold for "
        "either, so "
        "no limit is given. Tip it over the edge of a trough rather than lift it.",
    )


def _height(level_mm: float, name: str) -> Worked:
    return worked(level_mm, "mm", f"height of the {name} above the floor", "asked")


def _flag(load_kg: float, brief: Brief) -> Flag:
    stop_kg = practice(f"lift_stop_{brief.lifter}_kg")
    look_kg = practice("lift_look_kg" if brief.lifter == "school" else "lift_look_staff_kg")
    return "stop" if load_kg > stop_kg else "look" if load_kg > look_kg else "none"


def _findings(found: list[Lift], brief: Brief) -> tuple[Finding, ...]:
    """One finding on the heaviest lift that is more than one of them should do alone."""
    hard = [one for one in found if one.flag == "stop" or (one.index is not None and one.index.number > 1.0)]
    if not hard:
        return ()
    worst = max(hard, key=lambda one: one.load_kg.number)
    who = "someone in a class" if brief.lifter == "school" else "one person"
    lifted = (
        worst.what[:1].upper() + worst.what[1:] if worst.what.startswith("t") else f"Lifting {worst.what}"
    )
    return (
        Finding(
            id="lift_two_people",
            severity="look",
            where="lifting",
            says=f"{lifted} is {worst.load_kg.number:.1f} kg, {_too_much(worst, brief, who)}.",
            remedy=f"That is too much for {who}: two people, a lower shelf, or slide and tip instead of "
            "lifting. Follow "
            "local rules on lifting.",
            amount=Amount(worst.load_kg.number, "kg"),
        ),
    )


def _too_much(lift: Lift, brief: Brief, who: str) -> str:
    """Which limit a lift is over, in words: what the lifting equation recommends, or what practice leaves to
    one person where the equation would take more.
    """
    stop_kg = practice(f"lift_stop_{brief.lifter}_kg")
    usual = f"more than the {stop_kg:g} kg that common practice leaves to {who}"
    if lift.limit_kg is None:
        return usual
    if lift.index is not None and lift.index.number > 1.0:
        return f"and the lifting equation recommends {lift.limit_kg.number:.1f} kg at most"
    return f"{usual}, though the lifting equation alone would take {lift.limit_kg.number:.1f} kg"
