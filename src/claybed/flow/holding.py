"""How to hold the closed mold while slip goes in and runs out, in words of its sides and with a ruler."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from claybed.geometry.lattice import XY_PER_MM, Z_PER_MM
from claybed.geometry.mesh import Floats
from claybed.materials import shelf
from claybed.proof.places import in_words
from claybed.records.assembly import Assembly
from claybed.records.flowed import Flow, Hold, Place
from claybed.units import say_length

# Tipped further from gate down than this, the gate looks upwards.
LEVEL_DEG = 90.0
# A corner is named only where no one side is as near.
ONE_SIDE_COSINE = math.cos(math.radians(30.0))


@dataclass(frozen=True, slots=True)
class Holding:
    """A way to hold the closed mold: `act` fill, drain or turn; `gate_up`; how far it leans, degrees; the
    side that is lower and the one that is higher for it; `lift_mm` under the higher one's edge while it
    stands (None: not stood on the bench); `wide_mm` across the way it leans and `tall_mm` along the gate;
    `says` the sentence.
    """

    act: str
    gate_up: bool
    lean_deg: float
    lower: str
    higher: str
    lift_mm: float | None
    wide_mm: float
    tall_mm: float
    says: str


def holdings(flow: Flow, assembly: Assembly) -> tuple[Holding, ...]:
    """How the mold is held, act by act, where that is not plainly gate up and gate down. Source:
    materials/practice (held_straight_deg, stands_leaning_most_deg, wedge_most_mm).
    """
    out = np.array(assembly.gate.out, dtype=np.float64)
    found = []
    if _angle_deg(flow.fill_up, out) > _practice("held_straight_deg"):
        found.append(_filled(flow.fill_up, out, assembly))
    if _angle_deg(flow.drain_down, out) > _practice("held_straight_deg") or flow.turn_down is not None:
        found.append(_drained("drain", flow.drain_down, out, assembly))
    if flow.turn_down is not None:
        found.append(_drained("turn", flow.turn_down, out, assembly))
    return tuple(found)


def _practice(name: str) -> float:
    return shelf.value("practice", name).value


def _filled(up: Place, out: Floats, assembly: Assembly) -> Holding:
    lean_deg, high = _lean(np.array(up), out)
    higher, lower = side_words(high, assembly), side_words(-high, assembly)
    wide_mm, tall_mm = _span_mm(high, assembly), _span_mm(out, assembly)
    lift_mm = wide_mm * math.sin(math.radians(lean_deg))
    under = "wedge" if lift_mm <= _practice("wedge_most_mm") else "prop"
    says = (
        f"While slip goes in, stand the mold gate up and tip it {lean_deg:.0f} degrees, {higher} higher, "
        f"with a {under} of {say_length(lift_mm)} under it, and a stop at {lower}, so that it neither "
        "slides nor falls. Full, it is set upright, topped up, and casts so."
    )
    return Holding("fill", True, lean_deg, lower, higher, lift_mm, wide_mm, tall_mm, says)


def _drained(act: str, down: Place, out: Floats, assembly: Assembly) -> Holding:
    lean_deg, low = _lean(np.array(down), out)
    straight = lean_deg <= _practice("held_straight_deg")
    most_deg = _practice("stands_leaning_most_deg")
    lower, higher = side_words(low, assembly), side_words(-low, assembly)
    wide_mm, tall_mm = _span_mm(low, assembly), _span_mm(out, assembly)
    lift_mm = wide_mm * math.sin(math.radians(lean_deg)) if not straight and lean_deg < most_deg else None
    if act == "drain":
        says = "To drain, turn the mold gate down over the bucket"
        says += "." if straight else f", tipped {lean_deg:.0f} degrees, {lower} lower."
        if lift_mm is not None:
            says += f" On sticks it leans so with {say_length(lift_mm)} more under {higher}."
    else:
        to = (
            "the gate points straight down"
            if straight
            else f"it is tipped {lean_deg:.0f} degrees from gate down, {lower} lower"
        )
        runs = "wait until it drips no more, and turn it slowly back the way it came."
        if lean_deg > LEVEL_DEG:
            runs = (
                "the gate then looks upwards. Wait a minute, while what stayed runs into the rest of the "
                "mold, and turn it slowly back the way it came: there it runs out."
            )
        lies = " Two people hold it, or it lies there in a cradle." if lean_deg >= most_deg else ""
        says = f"When it runs no more, turn it slowly until {to}; {runs}{lies}"
    return Holding(act, False, lean_deg, lower, higher, lift_mm, wide_mm, tall_mm, says)


def tip_words(flow: Flow, assembly: Assembly) -> str:
    """How the mold is tipped so that slip that stays in bores runs into the rest of it and out from there."""
    out = np.array(assembly.gate.out, dtype=np.float64)
    tips = list(dict.fromkeys(slug.tip for slug in flow.slugs if slug.tip is not None))
    stuck = sum(slug.tip is None for slug in flow.slugs)
    says = []
    for tip in tips:
        lean_deg, low = _lean(np.array(tip), out)
        says.append(f"{lean_deg:.0f} degrees from gate down, {side_words(low, assembly)} lower")
    words = ""
    if says:
        words = (
            f"When it runs no more, tip the mold slowly {', then '.join(says)}, wait until that slip has run "
            "out of the bore, and turn the mold slowly back, so that it drains too."
        )
    if stuck == len(flow.slugs):
        words = "No way of holding the mold that was tried empties it."
    elif stuck:
        count = "one" if stuck == 1 else str(stuck)
        words += f" Of the places, {count} empties in no way that was tried."
    return words


def vent_words(flow: Flow, assembly: Assembly) -> str:
    """Where vents let out the air that no way of holding the mold does, and how deep they are drilled.

    They come out on the gate's side, above the slip; their width is common practice, no source.
    """
    out = np.array(assembly.gate.out, dtype=np.float64)
    side = side_words(out / np.linalg.norm(out), assembly)
    places = "; ".join(
        f"from {in_words(hold.at_mm, assembly)}, {say_length(vent_mm(hold, assembly))} long"
        for hold in flow.air
    )
    one = len(flow.air) == 1
    return (
        f"Drill {'a vent' if one else 'vents'} of 2 to 3 mm through the plaster, out at {side}, where the "
        f"gate opens too, so that slip stays in: {places}. Near the seam cut {'it' if one else 'them'} as a "
        "groove in the face of one piece."
    )


def vent_mm(hold: Hold, assembly: Assembly) -> float:
    """Plaster, mm, between a pocket of air and the side of the block that the gate opens at."""
    out = np.array(assembly.gate.out, dtype=np.float64)
    out /= np.linalg.norm(out)
    plan = assembly.footprint / XY_PER_MM
    ends = [(*corner, z) for corner in plan.tolist() for z in (0.0, assembly.height / Z_PER_MM)]
    return max(float((np.array(ends) @ out).max() - np.array(hold.at_mm) @ out), 0.0)


def side_words(way: Floats, assembly: Assembly) -> str:
    """The side of the closed block that looks along a unit vector (3,) of its frame, or the two it looks
    between: front, back, left and right as for the first pour, or a piece by its letter.
    """
    names = []
    order = np.argsort(-np.abs(way), kind="stable")
    for k in order.tolist():
        if abs(float(way[k])) >= ONE_SIDE_COSINE:
            return _side(k, float(way[k]), assembly)
        if abs(float(way[k])) > 0.3:
            names.append(_side(k, float(way[k]), assembly))
    return f"the corner between {names[0]} and {names[1]}" if len(names) > 1 else names[0]


def _side(k: int, towards: float, assembly: Assembly) -> str:
    if k < 2:
        return f"its {(('left', 'right'), ('front', 'back'))[k][towards > 0.0]} side"
    piece = max(assembly.pieces, key=lambda one: one.pull[2] * (1.0 if towards > 0.0 else -1.0))
    return f"the side of piece {piece.id}"


def _lean(way: Floats, out: Floats) -> tuple[float, Floats]:
    """How far a way (3,) is off the gate's, degrees, and the unit vector square to the gate's it leans to."""
    unit = out / np.linalg.norm(out)
    aside = way - float(way @ unit) * unit
    length = float(np.linalg.norm(aside))
    if length < 1e-9:
        return 0.0, np.eye(3)[int(np.argmin(np.abs(unit)))]
    return math.degrees(math.atan2(length, float(way @ unit))), aside / length


def _span_mm(way: Floats, assembly: Assembly) -> float:
    """How far the block reaches along a unit vector (3,) of its frame, mm; a round one as if boxed."""
    x, y, z = (
        assembly.outer_mm
        if len(assembly.outer_mm) == 3
        else (*assembly.outer_mm[:1] * 2, assembly.outer_mm[1])
    )
    return float(np.abs(way) @ np.array([x, y, z]))


def _angle_deg(a: Place, b: Floats) -> float:
    return _lean(np.array(a), b)[0]
