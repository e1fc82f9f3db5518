"""Why the gate stands where it does: one sentence with figures, and the places it was compared with."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from claybed.flow.ledger import Part
from claybed.gate.necks import round_top_mm
from claybed.geometry.mesh import Mesh
from claybed.materials import shelf
from claybed.records.assembly import Gate
from claybed.records.brief import Brief
from claybed.records.finding import Amount, Check, Finding
from claybed.records.gated import GatePlan, GateTrial, Vector
from claybed.units import say_length, say_volume
from claybed.wording import count_word, in_a_row

# A pull this near to the way asked for has none across.
SQUARE = 0.1
# Within 45 degrees of straight down a bore comes out at the foot.
AT_FOOT = math.cos(math.radians(45.0))


def gate_words(gate: GatePlan) -> str:
    """Why a gate stands where it does, in one sentence; empty where no other place was compared."""
    if not gate.tried:
        return ""
    here, other = gate.tried[0], gate.tried[-1]
    goes, stays = f"Slip goes in {here.words}", f"{_left(here)} {_stay(here)} behind"
    if gate.chosen in ("better", "next"):
        those = "" if gate.chosen == "better" else " for which a sound mold could be cut"
        return (
            f"{goes}, the best of {count_word(gate.places)} places{those}: {stays}, and {_left(other)} with "
            f"the gate {other.words}, the usual place."
        )
    if gate.chosen == "usual":
        count = gate.places - 1
        others = "the other place is not" if count == 1 else f"none of {count_word(count)} other places is"
        return (
            f"{goes}, the usual place, where {stays}: {others} clearly better, and the next best, "
            f"{other.words}, keeps {_left(other)}."
        )
    if gate.chosen == "wider":
        return (
            f"{goes}, where the object is wider than the bore with a wall beside it: {stays}; {other.words}, "
            "the usual place, it is not, and the gate would take what is seen there."
        )
    end = say_length(gate.end_mm)
    if gate.chosen == "neck":
        return (
            f"{goes}, where the object narrows to a flat round end of {end}, as hollow ware does to its "
            f"mouth: {stays}; with the gate {other.words} {_left(other)} would, and the ware would have "
            "a hole there."
        )
    if gate.chosen == "neck_narrow":
        bore = say_length(gate.bore_mm)
        return (
            f"{goes}, not at the flat round end of {end} on top: a bore of {bore} would leave no rim of it."
        )
    return f"{goes}, where {stays}, not at the flat round end of {end} on top, where {_left(other)} would."


def gate_placed(gate: GatePlan) -> tuple[Finding, ...]:
    """What to say of a gate that is elsewhere than usual."""
    if gate.in_place_of is None:
        return ()
    here, usual = gate.tried[0], gate.tried[-1]
    back = f"for the usual place, {usual.words}, say --gate {_axis(usual)}."
    marks = f"It leaves its mark there on the ware; {back}"
    return (
        Finding(
            id="gate_placed",
            severity="note",
            where="the gate",
            says=gate_words(gate),
            remedy=f"If the ware is to be closed: {back}" if gate.chosen == "neck" else marks,
            amount=Amount(here.left_ml, "ml"),
        ),
    )


def closed_on_top(gate: GatePlan, mesh: Mesh, brief: Brief) -> tuple[Finding, ...]:
    """What to say of an object that ends flat and round on top, as a vessel drawn without its inside does,
    and whose gate was put at the foot: the ware comes out closed where its mouth may be meant.
    """
    up = np.array(brief.up, dtype=float) / np.linalg.norm(brief.up)
    chosen = brief.gate == "auto" and gate.kind == "bore" and not gate.chosen.startswith("neck")
    if not chosen or float(np.array(gate.out) @ up) > -AT_FOOT:
        return ()
    wide_mm = round_top_mm(mesh, up)
    if wide_mm is None or wide_mm < gate.bore_mm + 2.0 * shelf.value("practice", "gate_neck_rim_mm").value:
        return ()
    return (
        Finding(
            id="closed_on_top",
            severity="note",
            where="the gate",
            says="Slip goes in at the foot: the ware is open there, and closed on top, where the object ends "
            f"in a flat round place of {say_length(wide_mm)}.",
            remedy="If it is a vessel, draw its inside too and add --mouth, so that slip goes in by its own "
            f"mouth. Or say --gate {as_typed(tuple(up.tolist()))}, and cut the top out while the cast is "
            "leather hard.",
        ),
    )


def gate_off(gate: GatePlan, asked: object, pull: Vector) -> tuple[Finding, ...]:
    """What to say of a bore that comes out aslant of the way `asked` for (object's frame, where it is one):
    it lies in the seam, square to the `pull`. Source: materials/practice (gate_off_told_deg).
    """
    if not isinstance(asked, tuple) or gate.kind != "bore":
        return ()
    wish, out, along = (np.array(v, dtype=float) / np.linalg.norm(v) for v in (asked, gate.out, pull))
    off_deg = math.degrees(math.acos(max(-1.0, min(1.0, float(wish @ out)))))
    if off_deg < shelf.value("practice", "gate_off_told_deg").value:
        return ()
    across = along - float(along @ wish) * wish
    why = "along the pull of the first piece" if gate.along_pull else "in the seam, square to the pull"
    # Square to what was asked, as near to this pull as can be; along it there is none.
    other = ""
    if float(np.linalg.norm(across)) > SQUARE:
        x, y, z = (float(v) for v in across / np.linalg.norm(across))
        other = (
            f" A pull with a seam along it is --axis {as_typed((x, y, z))}: compare what that leaves to fill."
        )
    return (
        Finding(
            id="gate_off",
            severity="note",
            where="the gate",
            says=f"The gate comes out {off_deg:.0f} degrees off {as_typed((*wish.tolist(),))}, the way that "
            f"was asked for: it lies {why}.",
            remedy=f"If that will do, nothing has to be done.{other}",
            amount=Amount(off_deg, "deg"),
        ),
    )


def usual_bore_mm(plan: GatePlan, gate: Gate) -> float | None:
    """The bore that the rules give where a `gate` was cut narrower than that, mm; else None."""
    usual_mm = plan.usual_bore_mm if math.isfinite(plan.usual_bore_mm) else plan.bore_mm
    return usual_mm if gate.kind == "bore" and gate.bore_mm < usual_mm else None


def gate_narrowed(plan: GatePlan, gate: Gate, wall_mm: float) -> tuple[Finding, ...]:
    """What to say of a bore that was made narrower than the rules have it, for ware of `wall_mm`.

    A round bore D narrows to sqrt(D² - 8 L²) while a wall L builds up. Source: casting law.
    """
    usual_mm = usual_bore_mm(plan, gate)
    if usual_mm is None:
        return ()
    closes_mm = shelf.value("practice", "closing_bore_factor").value * wall_mm
    clear_mm = math.sqrt(max(0.0, gate.bore_mm**2 - closes_mm**2))
    why = "which has no room there"
    if plan.usual_takes_mm > 0.0:
        why = (
            f"which would take {say_volume(plan.usual_takes_ml)} of the object's end, its last "
            f"{say_length(plan.usual_takes_mm)}"
        )
    return (
        Finding(
            id="gate_narrowed",
            severity="note",
            where="the gate",
            says=f"The bore is {say_length(gate.bore_mm)} wide, not {say_length(usual_mm)} as usual, {why}.",
            remedy="Slip runs in and out more slowly through it, past a clear way of "
            f"{say_length(clear_mm)} once the wall stands: pour a thin stream, so that air gets out beside "
            "it, and leave the mold upside down until nothing drips.",
            amount=Amount(gate.bore_mm, "mm"),
            at_mm=gate.at_mm,
        ),
    )


def write_bore(part: Part, plan: GatePlan, gate: Gate, asked: bool) -> None:
    """Write how wide a gate is and why."""
    usual_mm = usual_bore_mm(plan, gate)
    if usual_mm is None:
        part.number("bore_mm", gate.bore_mm, "mm", plan.reason, "asked" if asked else "practice")
        return
    ratio = shelf.value("practice", "gate_taken_most_ratio").value
    why, inputs = "widest that has room there", {"usual_bore_mm": usual_mm}
    if plan.usual_takes_mm > 0.0:
        why = f"widest that takes at most {ratio:g} of its width of the object's end whole"
        inputs |= {"usual_takes_mm": plan.usual_takes_mm, "usual_takes_ml": plan.usual_takes_ml}
    part.number("bore_mm", gate.bore_mm, "mm", f"{plan.reason}, {why}", "practice", inputs)
    part.number("usual_bore_mm", usual_mm, "mm", "usual for the object and its wall", "practice")
    if plan.usual_takes_mm > 0.0:
        inside = "sections of the object that lie inside a bore of usual_bore_mm whole"
        part.number("usual_takes_mm", plan.usual_takes_mm, "mm", inside, "geometry")
        part.number("usual_takes_ml", plan.usual_takes_ml, "ml", inside, "geometry")


def gate_breaks_through(gate: Gate) -> tuple[Finding, ...]:
    """What to say of a bore that comes out again on the far side of an object too thin for it.

    Source: materials/practice (gate_beyond_least_ml).
    """
    if gate.beyond_ml < shelf.value("practice", "gate_beyond_least_ml").value:
        return ()
    return (
        Finding(
            id="gate_breaks_through",
            severity="look",
            where="the gate",
            says="The object is thinner there than the gate is deep: the bore comes out again on its far "
            f"side, and {say_volume(gate.beyond_ml)} of it stand in a hole, a hollow or the inside.",
            remedy="Put it where the object is thicker, with --gate and a direction, or narrower with "
            "--gate-bore. Else cut that away with the gate, and open the hole again, while the cast is "
            "leather hard.",
            amount=Amount(gate.beyond_ml, "ml"),
            at_mm=gate.at_mm,
        ),
    )


def gate_takes(gate: Gate, checks: Sequence[Check]) -> tuple[Finding, ...]:
    """What to say of a bore that takes some of the object's own shape, as far as it may by the `checks`.
    Source: materials/practice (gate_taken_told_mm).
    """
    too_much = any(check.id == "gate_spares_object" and not check.ok for check in checks)
    if too_much or gate.kind != "bore" or gate.taken_mm < shelf.value("practice", "gate_taken_told_mm").value:
        return ()
    return (
        Finding(
            id="gate_takes",
            severity="note",
            where="the gate",
            says=f"The bore takes the place of the object over its last {say_length(gate.taken_mm)} there, "
            f"{say_volume(gate.taken_ml)} of it.",
            remedy="The cast has the gate's shape there: cut that back and model what is missing while it is "
            "leather hard, or put the gate elsewhere with --gate and a direction.",
            amount=Amount(gate.taken_mm, "mm"),
            at_mm=gate.at_mm,
        ),
    )


def write_gate_trials(part: Part, gate: GatePlan) -> None:
    """Write why this place, and what it and the next best keep."""
    part.say(why=gate_words(gate) or None, compared=[])
    if gate.chosen in ("better", "next", "usual"):
        part.number("places", gate.places, "-", "ends of the object, and along the pull, judged", "geometry")
    for trial in gate.tried:
        row = part.row("compared")
        cells = {"cell_mm": trial.cell_mm}
        row.say(words=trial.words)
        row.number("out", trial.out, "-", "way in which it comes out, object's frame", "geometry")
        row.number("cell_mm", trial.cell_mm, "mm", "cube root of volume / number of cells", "geometry")
        for key, value, formula, source in (
            ("air_ml", trial.air_ml, "cells from which no way rises to the gate", "geometry"),
            ("slip_ml", trial.slip_ml, "the same of what the wall leaves, turned over", "geometry"),
            ("shut_ml", trial.shut_ml, "slip that no way leads out of", "casting-law"),
        ):
            row.number(key, value, "ml", f"{formula}; mold held as well as may be", source, cells)


def _axis(trial: GateTrial) -> str:
    """The file's axis nearest to the way out of a gate, as it is typed; the way itself far off any."""
    return as_typed(trial.out, within_deg=20.0)


def as_typed(way: Sequence[float], *, within_deg: float = 0.5) -> str:
    """A unit direction as it is typed: the file's axis where one is near, else its numbers."""
    k = max(range(3), key=lambda i: abs(way[i]))
    if abs(way[k]) > math.cos(math.radians(within_deg)):
        return f"{'-' if way[k] < 0.0 else ''}{'xyz'[k]}"
    return ",".join(f"{v + 0.0:.2f}" for v in way)


def _left(trial: GateTrial) -> str:
    """What stays behind, in words."""
    parts = [
        f"about {say_volume(ml)} of {what}"
        for ml, what in ((trial.air_ml, "air"), (trial.slip_ml, "slip"), (trial.shut_ml, "shut-in slip"))
        if ml > 0.0
    ]
    return in_a_row(parts) or "neither air nor slip"


def _stay(trial: GateTrial) -> str:
    return "stay" if sum(ml > 0.0 for ml in (trial.air_ml, trial.slip_ml, trial.shut_ml)) > 1 else "stays"
