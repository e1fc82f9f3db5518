"""Filling and draining as findings, a check and a part of the document."""

from __future__ import annotations

import math

from claybed.flow.ledger import Part
from claybed.materials import shelf
from claybed.proof.places import in_words
from claybed.records.assembly import Assembly
from claybed.records.finding import Amount, Check, Finding
from claybed.records.flowed import Flow, Hold
from claybed.units import say_length, say_volume

_CELLS = "cells of the cavity in the order of their height, joined where they meet"


def flow_findings(flow: Flow | None, assembly: Assembly) -> tuple[Finding, ...]:
    """What to do about trapped air, slip that stays, and parts that close off."""
    if flow is None:
        return ()
    found = []
    tilt_deg = _angle_deg(flow.fill_up, assembly.gate.out)
    if tilt_deg > 1.0:
        found.append(
            Finding(
                id="fill_tilted",
                severity="look",
                where="the closed mold",
                says=f"Filled upright it traps more air than tilted by {tilt_deg:.0f} degrees.",
                remedy="Wedge it as the plan's flow says while slip goes in, then set it upright to cast.",
                amount=Amount(tilt_deg, "deg"),
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
                "Drill a vent of 2 to 3 mm from each place to the outside of the plaster, or turn and tap "
                "the mold while it fills.",
                assembly,
            )
        )
    if flow.slip_ml > 0.0 and flow.turn_down is not None:
        found.append(
            Finding(
                id="drain_by_turning",
                severity="look",
                where="the closed mold",
                says=f"Held one way it keeps {say_volume(flow.slip_ml)} of slip; turned a second way, at "
                f"most {say_volume(flow.turned_ml)}.",
                remedy="Drain it gate down first, then turn it slowly to the second direction of the plan's "
                "flow and back.",
                amount=Amount(flow.turned_ml, "ml"),
            )
        )
    for hold in flow.closed:
        found.append(
            _of_hold(
                hold,
                "closes_off",
                f"At a wall of {say_length(flow.wall_mm)} a part of {say_volume(hold.volume_ml)} closes off "
                "before it has drained.",
                "It will be solid: cast thinner with --ware-wall, widen the neck, or dry this ware slowly.",
                assembly,
            )
        )
    return tuple(found)


def flow_checks(flow: Flow | None, assembly: Assembly) -> tuple[Check, ...]:
    """The check that no more than a small share of the slip stays after draining.

    Source: materials/practice (slip_left_most_fraction).
    """
    if flow is None:
        return ()
    limit = 100.0 * shelf.value("practice", "slip_left_most_fraction").value
    left = 100.0 * flow.left_ml / flow.cavity_ml
    at = flow.slip[0].at_mm if flow.slip else None
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
            how=f"cavity less a wall of {flow.wall_mm:g} mm, in cells of {flow.cell_mm:.2g} mm",
            remedy="" if ok else "Put the gate at the end where this slip collects, or cast it solid.",
            at_mm=at,
        ),
    )


def write_flow(document: Part, flow: Flow | None) -> None:
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
    part.number("slip_ml", flow.slip_ml, "ml", f"{_CELLS}; less the wall", "geometry", cells)
    part.number("turned_ml", flow.turned_ml, "ml", "what runs into a hollow after turning", "geometry", cells)
    for name, holds in (("air", flow.air), ("slip", flow.slip), ("closed", flow.closed)):
        part.say(**{name: []})
        for hold in holds:
            row = part.row(name)
            row.number("volume_ml", hold.volume_ml, "ml", _CELLS, "geometry", cells)
            row.number("at_mm", hold.at_mm, "mm", "place in the block's frame", "geometry")


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


def _angle_deg(a: tuple[float, float, float], b: tuple[float, float, float]) -> float:
    dot = sum(p * q for p, q in zip(a, b, strict=True))
    return math.degrees(math.acos(max(-1.0, min(1.0, dot / (math.hypot(*a) * math.hypot(*b))))))
