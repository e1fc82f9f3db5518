"""The check that a bore leaves the object's own shape: it may take an end that is cut off flush, no more."""

from __future__ import annotations

import math

from claybed.gate.bore_end import most_taken_mm
from claybed.materials import shelf
from claybed.proof.places import in_words
from claybed.records.assembly import Assembly
from claybed.records.brief import Brief
from claybed.records.finding import Check
from claybed.units import say_length, say_volume


def sparing_checks(
    assembly: Assembly, brief: Brief, extent_mm: float, *, shown_to_mm: float = 0.0
) -> tuple[Check, ...]:
    """The check that a bore takes little of the object's own shape; none for other gates. The limit is of the
    bore's width where it meets the object, and of the object's longest side `extent_mm`, and as much more as
    what it takes is `shown_to_mm`.

    Reads `gate`, `gate_bore_mm` and `ware_wall_mm` of the brief. Source: materials/practice
    (gate_taken_most_ratio, gate_taken_most_fraction).
    """
    gate = assembly.gate
    if gate.kind != "bore":
        return ()
    wide_mm = gate.bore_mm if gate.at_object_mm is None else gate.at_object_mm
    limit_mm = most_taken_mm(wide_mm, extent_mm) + shown_to_mm
    ok = gate.taken_mm <= limit_mm
    return (
        Check(
            id="gate_spares_object",
            ok=ok,
            measured=gate.taken_mm,
            limit=limit_mm,
            unit="mm",
            sense="most",
            where=f"the gate, {in_words(gate.at_mm, assembly)}",
            how="sections of the object, square to the bore and half a millimetre apart, that lie inside it "
            "whole or go on beside less than half of its girth; the limit is the lesser of a share of the "
            "bore's width and one of the object's longest side",
            remedy="" if ok else _remedy(assembly, brief),
            at_mm=gate.at_mm,
        ),
    )


def _remedy(assembly: Assembly, brief: Brief) -> str:
    gate = assembly.gate
    volume = f", {say_volume(gate.taken_ml)} of it" if math.isfinite(gate.taken_ml) else ""
    takes = (
        f"A bore of {say_length(gate.bore_mm)} takes the last {say_length(gate.taken_mm)} of the object "
        f"there{volume}, and leaves a plain stump."
    )
    elsewhere = "Put it where the object is thicker, with --gate and a direction"
    if isinstance(brief.gate, tuple):
        elsewhere = "Leave the place to be found, with --gate auto"
    if assembly.base or gate.at_object_mm is not None:  # there is one way out of such a mold
        elsewhere = "Plan it with --gate none, and cut a way in through the set plaster"
    narrower = _narrower(gate.sparing_mm, brief)
    return (
        f"{takes} {narrower} Or: {elsewhere[:1].lower()}{elsewhere[1:]}."
        if narrower
        else f"{takes} {elsewhere}."
    )


def _narrower(bore_mm: float | None, brief: Brief) -> str:
    """What to type for a bore that spares the object, with a wall that leaves it open; empty where none is.

    Source: materials/practice (closing_bore_factor, neck_open_fraction, ware_wall_least_mm).
    """

    def practice(name: str) -> float:
        return shelf.value("practice", name).value

    if bore_mm is None:
        return ""
    closes_mm = bore_mm / practice("closing_bore_factor")
    wall_mm = math.floor(2.0 * practice("neck_open_fraction") * closes_mm) / 2.0
    if brief.ware_wall_mm <= wall_mm:
        return f"Make it narrower with --gate-bore {bore_mm:g}mm."
    if wall_mm < practice("ware_wall_least_mm"):
        return ""
    return f"Make it narrower and cast thinner with --gate-bore {bore_mm:g}mm --ware-wall {wall_mm:g}mm."
