"""Filling and draining as findings, a check and a part of the document."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from claybed.flow.holding import holdings, tip_words, vent_mm, vent_words
from claybed.flow.ledger import Part
from claybed.flow.starved_noticing import write_starved
from claybed.materials import shelf
from claybed.proof.places import in_words
from claybed.records.assembly import Assembly
from claybed.records.finding import Amount, Check, Finding
from claybed.records.flowed import Flow, Hold, Shut, Solid
from claybed.units import say_length, say_volume
from claybed.wording import count_word

_CLOSES = "wall on flat plaster at which no way leads out"
_TURNS = "wall on flat plaster at which its narrowest place is clay throughout"
_CELLS = "cells of the cavity in the order of their height, joined where they meet"


def flow_findings(flow: Flow | None, assembly: Assembly) -> tuple[Finding, ...]:
    """What to do about trapped air, slip that stays, and parts that close off."""
    if flow is None:
        return ()
    found = []
    held = {one.act: one for one in holdings(flow, assembly)}
    if "fill" in held:
        found.append(
            Finding(
                id="fill_tilted",
                severity="look",
                where="the closed mold",
                says="Filled with the gate straight up it traps more air than when it leans.",
                remedy=held["fill"].says,
                amount=Amount(held["fill"].lean_deg, "deg"),
            )
        )
    if flow.air:
        worst = flow.air[0]
        count = "one place" if len(flow.air) == 1 else f"{len(flow.air)} places"
        found.append(
            _of_hold(
                worst,
                "vent_needed",
                f"{say_volume(sum(hold.volume_ml for hold in flow.air))} of air is trapped in {count} while "
                "the mold fills, most of it here.",
                f"{vent_words(flow, assembly)} Or turn and tap the mold while it fills.",
                assembly,
            )
        )
    if flow.turn_down is not None:
        found.append(
            Finding(
                id="drain_by_turning",
                severity="look",
                where="the closed mold",
                says=f"Held one way it keeps {say_volume(flow.slip_ml)} of slip{_most_of(flow, assembly)}; "
                f"turned a second way and back, {_about(flow.turned_ml)}.",
                remedy=f"{held['drain'].says} {held['turn'].says}",
                amount=Amount(flow.turned_ml, "ml"),
            )
        )
    elif "drain" in held:
        found.append(
            Finding(
                id="drain_tilted",
                severity="look",
                where="the closed mold",
                says="With the gate straight down it keeps more slip than when it leans.",
                remedy=held["drain"].says,
                amount=Amount(held["drain"].lean_deg, "deg"),
            )
        )
    found.extend(_of_slugs(flow, assembly))
    for part in flow.closed:
        says = f"{say_volume(part.volume_ml)} of slip is shut in there"
        found.append(
            Finding(
                id="closes_off",
                severity="look",
                where=in_words(part.at_mm, assembly),
                says=f"{says} while a wall of {say_length(flow.wall_mm)} builds: "
                f"{_neck_words(part, assembly)}.",
                remedy=f"{_wider(part.closes_at_wall_mm, flow.wall_mm)} What is shut in stays wet long after "
                "the rest is dry.",
                amount=Amount(part.volume_ml, "ml"),
                at_mm=part.at_mm,
            )
        )
    found.extend(_of_solid(neck, flow.wall_mm, assembly) for neck in flow.solid)
    return (*found, *_of_ends(flow, assembly))


def _about(volume_ml: float) -> str:
    return f"about {say_volume(volume_ml)}" if volume_ml > 0.0 else "next to nothing"


def _most_of(flow: Flow, assembly: Assembly) -> str:
    return f", most of it {in_words(flow.slip[0].at_mm, assembly)}" if flow.slip else ""


def _of_slugs(flow: Flow, assembly: Assembly) -> tuple[Finding, ...]:
    """Bores that stay full of slip when the rest has run out, in one finding, however little it is."""
    if not flow.slugs:
        return ()
    first, *others = flow.slugs
    volume_ml, spread_ml = (sum(getattr(s, key) for s in flow.slugs) for key in ("volume_ml", "spread_ml"))
    places = f" in {count_word(len(flow.slugs))} places, most of it here" if others else ""
    more = [f"{say_volume(slug.volume_ml)}, {in_words(slug.at_mm, assembly)}" for slug in others]
    says = (
        f"{say_volume(volume_ml)} of slip, give or take {say_volume(spread_ml)}, fills the bore{places} and "
        f"does not run out with the rest: the wall leaves about {say_length(first.wide_mm)} there."
    )
    solid = (
        "What stays casts solid in time and is wet longer than the wall beside it: dry it slowly. With a "
        "thinner --ware-wall the bore is wider, and empties sooner."
    )
    return (
        Finding(
            id="slip_stays",
            severity="look",
            where=in_words(first.at_mm, assembly),
            says=f"{says} The rest: {'; '.join(more)}." if more else says,
            remedy=f"{tip_words(flow, assembly)} {solid}",
            amount=Amount(volume_ml, "ml"),
            at_mm=first.at_mm,
        ),
    )


def _of_ends(flow: Flow, assembly: Assembly) -> tuple[Finding, ...]:
    """Rims, points and plates that cast solid, in one finding, where they are worth a word.

    Source: materials/practice (solid_ends_least_fraction, solid_most_fraction).
    """
    volume_ml = sum(end.volume_ml for end in flow.ends)
    if (
        volume_ml < shelf.value("practice", "solid_ends_least_fraction").value * flow.cavity_ml
        or not flow.ends
    ):
        return ()
    largest, wall = flow.ends[0], say_length(flow.wall_mm)
    mostly = volume_ml > shelf.value("practice", "solid_most_fraction").value * flow.cavity_ml
    count = len(flow.ends)
    places = "in one place" if count == 1 else f"in {count_word(count)} places, most of it here"
    if mostly:
        says = (
            f"Nearly all of it casts solid: {say_volume(volume_ml)} of {say_volume(flow.cavity_ml)} lie "
            f"where walls of {wall} from both sides meet, and hardly any slip runs out again."
        )
        remedy = (
            "Cast it solid, then: leave the slip in, top up the gate as it sinks, and do not go by the "
            "time of a drained wall. Or cast thinner with --ware-wall."
        )
    else:
        says = (
            f"Thin edges or ends cast solid, {say_volume(volume_ml)} {places}: about "
            f"{say_length(largest.thick_mm)} thick, so that walls of {wall} from both sides meet."
        )
        remedy = "Cover them while the piece dries: they stay wet longer than the wall beside them."
    return (
        Finding(
            id="ends_solid",
            severity="look" if mostly else "note",
            where=in_words(largest.at_mm, assembly),
            says=says,
            remedy=remedy,
            amount=Amount(volume_ml, "ml"),
            at_mm=largest.at_mm,
        ),
    )


def _of_solid(neck: Solid, wall_mm: float, assembly: Assembly) -> Finding:
    return Finding(
        id="casts_solid",
        severity="look",
        where=in_words(neck.at_mm, assembly),
        says=f"A neck or limb about {say_length(neck.wide_mm)} thick at its narrowest casts solid, at least "
        f"{say_volume(neck.volume_ml)} of it: it has grown shut at a wall of "
        f"{say_length(neck.closes_at_wall_mm)}, and {say_length(wall_mm)} is asked for.",
        remedy=f"{_wider(neck.closes_at_wall_mm, wall_mm)} If it may be solid, dry it slowly: it stays wet "
        "longer than the wall beside it.",
        amount=Amount(neck.volume_ml, "ml"),
        at_mm=neck.at_mm,
    )


def _neck_words(part: Shut, assembly: Assembly) -> str:
    if part.neck_mm is None or part.closes_at_wall_mm is None or part.neck_at_mm is None:
        return "its way out grows shut"
    return (
        f"the neck of about {say_length(part.neck_mm)} before it, {in_words(part.neck_at_mm, assembly)}, has "
        f"grown shut at a wall of {say_length(part.closes_at_wall_mm)}"
    )


def _other_end(assembly: Assembly) -> str:
    """What to type where a gate came in at an end too thin to feed the rest."""
    way = -(assembly.to_block.T @ np.array(assembly.gate.out))
    # Square to the pull as it is, it lies near enough to one of the file's own axes.
    nearest = int(np.argmax(np.abs(way)))
    asked = f"{'-' if way[nearest] < 0.0 else ''}{'xyz'[nearest]}"
    return f"Put the gate at the other end, if the object is thicker there: --gate {asked}."


def _other_walls(flow: Flow) -> list[str]:
    """What to type for walls at which next to nothing stays, each tried on the mold as it is."""
    walls = []
    if flow.thinner_mm is not None:
        walls.append(f"cast thinner with --ware-wall {flow.thinner_mm:g}mm")
    if flow.solid_mm is not None:
        walls.append(f"let it cast solid there with --ware-wall {flow.solid_mm:g}mm, and dry it slowly")
    return walls


def _sentence(ways: Sequence[str]) -> str:
    """Ways out, one of which is enough, as a sentence."""
    line = ", or ".join(ways)
    return f"{line[:1].upper()}{line[1:]}."


def _wide_neck(wall_mm: float) -> str:
    """A neck that leaves a wall open, in words."""
    closes_mm = shelf.value("practice", "closing_bore_factor").value * wall_mm
    wide_mm = math.ceil(math.hypot(closes_mm, shelf.value("practice", "gate_clear_least_mm").value))
    return f"widen its neck to {wide_mm} mm in the model"


def _wider(closes_at_mm: float | None, wall_mm: float) -> str:
    """What keeps a neck open: a wall that leaves it, or a neck that leaves the wall."""
    open_fraction = shelf.value("practice", "neck_open_fraction").value
    thin_mm = math.floor(2.0 * open_fraction * (closes_at_mm or 0.0)) / 2.0
    ways = [_wide_neck(wall_mm)]
    if thin_mm >= shelf.value("practice", "ware_wall_least_mm").value:
        ways = [f"cast thinner with --ware-wall {thin_mm:g}mm", *ways]
    return _sentence(ways)


def flow_checks(flow: Flow | None, assembly: Assembly, *, searched: bool = False) -> tuple[Check, ...]:
    """The check that no more than a small share of the slip stays after draining, what is shut in included.

    No other place for the gate is proposed where the best one was `searched` for.
    Source: materials/practice (slip_left_most_fraction).
    """
    if flow is None:
        return ()
    limit = 100.0 * shelf.value("practice", "slip_left_most_fraction").value
    left = 100.0 * (flow.left_ml + flow.shut_ml) / flow.cavity_ml
    shut = flow.closed[0] if flow.shut_ml > flow.left_ml else None
    at = shut.neck_at_mm or shut.at_mm if shut else flow.slip[0].at_mm if flow.slip else None
    walls = _other_walls(flow)
    remedy = _sentence(["put the gate at the end where this slip collects, with --gate", *walls])
    if searched:
        none = ["round off in the model what holds it, or leave it in and cast that part solid"]
        remedy = f"No place for the gate empties it. {_sentence(walls or none)}"
    if shut is not None:
        neck = _neck_words(shut, assembly)
        mend = _sentence([*walls, _wide_neck(flow.wall_mm)])
        wrong_end = 100.0 * shelf.value("practice", "gate_wrong_end_least_fraction").value
        if left > wrong_end and assembly.gate.kind == "bore" and not searched:
            mend = " Or: ".join([_other_end(assembly), *([_sentence(walls)] if walls else [])])
        remedy = f"{say_volume(flow.shut_ml)} is shut in: {neck}. {mend}"
    ok = left <= limit
    return (
        Check(
            id="slip_drains",
            ok=ok,
            measured=left,
            limit=limit,
            unit="percent",
            sense="most",
            where="the cavity" if at is None else in_words(at, assembly),
            how=f"cavity less the clay on it while flat plaster takes {flow.wall_mm:g} mm, in cells of "
            f"{_slip_cell_mm(flow):.2g} mm; slip that is shut in counts",
            remedy="" if ok else remedy,
            at_mm=at,
        ),
    )


def _slip_cell_mm(flow: Flow) -> float:
    return flow.slip_cell_mm if math.isfinite(flow.slip_cell_mm) else flow.cell_mm


def write_flow(document: Part, flow: Flow | None, assembly: Assembly) -> None:
    """Write filling and draining; None when the mold is not filled with slip."""
    if flow is None:
        document.say(flow=None)
        return
    part = document.part("flow")
    cells = {"cell_mm": flow.cell_mm}
    part.number("cell_mm", flow.cell_mm, "mm", "longest side of the block / number of cells", "geometry")
    part.number("wall_mm", flow.wall_mm, "mm", "wall of the ware", "asked")
    part.number("cavity_ml", flow.cavity_ml, "ml", "cells at least half inside the model", "geometry", cells)
    part.number("fill_up", flow.fill_up, "-", "direction that is up while it fills", "geometry")
    part.number("drain_down", flow.drain_down, "-", "direction that is down while it drains", "geometry")
    part.number("turn_down", flow.turn_down, "-", "direction that is down after turning", "geometry")
    fine = {"slip_cell_mm": _slip_cell_mm(flow)}
    part.number(
        "slip_cell_mm", _slip_cell_mm(flow), "mm", "cell_mm, half of it for narrow bores", "geometry", cells
    )
    part.number("slip_ml", flow.slip_ml, "ml", f"{_CELLS}; less the wall", "geometry", fine)
    part.number(
        "turned_ml",
        flow.turned_ml,
        "ml",
        "cells whose way, turned and turned back, ends in a hollow",
        "geometry",
        fine,
    )
    tried = "nearest half millimetre at which next to nothing stays, of the mold as it is"
    part.number("thinner_wall_mm", flow.thinner_mm, "mm", tried, "casting-law", cells)
    solid = "nearest half millimetre at which nothing is left to shut in, of the mold as it is"
    part.number("solid_wall_mm", flow.solid_mm, "mm", solid, "casting-law", cells)
    for name, holds in (("air", flow.air), ("slip", flow.slip)):
        part.say(**{name: []})
        for hold in holds:
            row = part.row(name)
            row.number(
                "volume_ml", hold.volume_ml, "ml", _CELLS, "geometry", cells if name == "air" else fine
            )
            row.number("at_mm", hold.at_mm, "mm", "place in the block's frame", "geometry")
            if name == "air":
                deep_mm = vent_mm(hold, assembly)
                row.number("vent_mm", deep_mm, "mm", "plaster from there to the gate's side", "geometry")
    part.say(slugs=[])
    for slug in flow.slugs:
        row = part.row("slugs")
        low, high = slug.volume_ml - slug.spread_ml, slug.volume_ml + slug.spread_ml
        row.number("volume_ml", slug.volume_ml, "ml", _CELLS, "geometry", fine, low=low, high=high)
        spread = {"volume_ml": slug.volume_ml, "wide_mm": slug.wide_mm, **fine}
        row.number(
            "spread_ml", slug.spread_ml, "ml", "2 volume_ml slip_cell_mm / wide_mm", "geometry", spread
        )
        row.number("at_mm", slug.at_mm, "mm", "its lowest place, block's frame", "geometry")
        row.number("wide_mm", slug.wide_mm, "mm", "widest ball in the slip of the bore", "geometry", fine)
        row.number("tip", slug.tip, "-", "direction that is down while it runs into the rest", "geometry")
    part.say(vents=vent_words(flow, assembly) if flow.air else None, closed=[], held=[])
    for shut in flow.closed:
        row = part.row("closed")
        row.number("volume_ml", shut.volume_ml, "ml", "slip that no way leads out of", "casting-law", cells)
        row.number("at_mm", shut.at_mm, "mm", "place in the block's frame", "geometry")
        row.number("neck_at_mm", shut.neck_at_mm, "mm", "place in the block's frame", "geometry")
        row.number("neck_mm", shut.neck_mm, "mm", "widest ball that passes", "geometry", cells)
        row.number("closes_at_wall_mm", shut.closes_at_wall_mm, "mm", _CLOSES, "casting-law", cells)
    part.say(solid=[])
    for neck in flow.solid:
        row = part.row("solid")
        row.number("volume_ml", neck.volume_ml, "ml", "clay far from any slip", "casting-law", cells)
        row.number("at_mm", neck.at_mm, "mm", "place in the block's frame", "geometry")
        row.number("wide_mm", neck.wide_mm, "mm", "widest ball at its narrowest", "geometry", cells)
        row.number("closes_at_wall_mm", neck.closes_at_wall_mm, "mm", _TURNS, "casting-law", cells)
    part.say(ends=[])
    for end in flow.ends:
        row = part.row("ends")
        row.number("volume_ml", end.volume_ml, "ml", "clay far from any slip", "casting-law", cells)
        row.number("at_mm", end.at_mm, "mm", "place in the block's frame", "geometry")
        row.number("thick_mm", end.thick_mm, "mm", "widest ball there", "geometry", cells)
    write_starved(part, flow)
    for way in holdings(flow, assembly):
        row = part.row("held")
        row.say(act=way.act, gate_up=way.gate_up, lower=way.lower, higher=way.higher, says=way.says)
        row.number("lean_deg", way.lean_deg, "deg", "angle to the gate's direction", "geometry")
        row.number("lift_mm", way.lift_mm, "mm", "wide_mm sin(lean_deg)", "geometry")
        row.number("wide_mm", way.wide_mm, "mm", "the block across the way it leans", "geometry")
        row.number("tall_mm", way.tall_mm, "mm", "the block along its gate", "geometry")


def _of_hold(hold: Hold, name: str, says: str, remedy: str, assembly: Assembly) -> Finding:
    return Finding(
        id=name,
        severity="look",
        where=in_words(hold.at_mm, assembly),
        says=says,
        remedy=remedy,
        amount=Amount(hold.volume_ml, "ml"),
        at_mm=hold.at_mm,
    )
