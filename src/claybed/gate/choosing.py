"""Which gate a mold needs: the vessel's own mouth, the open face of a one-piece mold, or a bore at the
seam.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from claybed.errors import InputError
from claybed.geometry.directions import first_level
from claybed.materials import shelf
from claybed.records.brief import Brief, Vector
from claybed.records.gated import GatePlan
from claybed.records.measured import MeasuredObject
from claybed.records.surveyed import MoldOption

NONE = (0.0, 0.0, 0.0)
# Below this share the mouth looks along the pull rather than out of the block's side.
ALONG = math.cos(math.radians(30.0))
# How closely the ways across the pull are looked at for one that is clear.
WAYS_RAD = math.radians(15.0)


def choose_gate(obj: MeasuredObject, option: MoldOption, brief: Brief) -> GatePlan:
    """Choose the gate for one way of making the mold.

    Reads `gate`, `gate_bore_mm`, `use`, `ware_wall_mm`, `up` of the brief. Raises InputError for a bore that
    slip of the asked wall would close. Source: materials/practice (gate bores, closing factor).
    """
    through = _through_first(option) if obj.mouth is None else ""
    if isinstance(brief.gate, tuple):
        _check_asked(brief.gate, obj, option, brief, through)
    if option.kind == "one_piece":
        return GatePlan("face", option.pull, math.nan, True, "the open face takes the slip or the clay")
    if brief.gate == "none":
        return GatePlan("none", NONE, math.nan, False, "asked for none")
    pull = np.asarray(option.pull)
    if obj.mouth is not None:
        up = np.asarray(obj.mouth.up)
        along = abs(float(up @ pull)) > ALONG
        out = up if along else sideways(up, pull)
        return GatePlan("mouth", _tuple(out), math.nan, along, "the vessel's own mouth")
    if brief.use == "press":
        return GatePlan("none", NONE, math.nan, False, "a press mold is filled before it is closed")
    bore_mm = _bore(obj, brief)
    if through:
        why = f"a bore through the first piece, along its pull: {through}"
        return _along(option, bore_mm, brief, why)
    if isinstance(brief.gate, tuple):
        out = sideways(np.asarray(brief.gate, dtype=float), pull)
        at_base = option.base_mm is not None
        return GatePlan(
            "bore",
            _tuple(out),
            bore_mm,
            False,
            "a bore where asked, in the seam",
            at_base,
            _slot(bore_mm, brief),
            () if at_base else option.sides,
        )
    if option.base_mm is not None:
        # What lies under the object slides off along the bore, which widens the other way.
        x, y, z = option.sides[-1]
        why = "a bore at the foot, in the seam"
        out_of_foot = (-x + 0.0, -y + 0.0, -z + 0.0)
        return GatePlan("bore", out_of_foot, bore_mm, False, why, at_base=True, slot_mm=_slot(bore_mm, brief))
    up = -np.asarray(brief.up, dtype=float)
    if float(np.linalg.norm(_sideways_raw(up, pull))) < 0.5:
        up = _squared(long_way(obj, pull), option)
    out, reason = sideways(up, pull), "a bore at the foot, in the seam"
    if not is_clear(out, option):
        # At the other end no side piece may stand where it comes out, or across when one stands at either.
        across = np.cross(pull, out)
        ways = (-out, across, -across, *_round_about(out, pull))
        out = next((way for way in ways if is_clear(way, option)), -out)
        end = "opposite the foot piece" if out @ sideways(up, pull) < 0.0 else "beside the side pieces"
        reason = f"a bore {end}, in the seam"
    return GatePlan(
        "bore", _tuple(out), bore_mm, False, reason, slot_mm=_slot(bore_mm, brief), beside=option.sides
    )


def another_way(obj: MeasuredObject, option: MoldOption, brief: Brief, out: Vector) -> Vector | None:
    """A way (object's frame) other than `out` in which a gate may be asked to come out of an option's mold:
    the opposite, else along one of the file's axes; None where none is.
    """
    opposite = (-out[0] + 0.0, -out[1] + 0.0, -out[2] + 0.0)
    for way in (opposite, *(_tuple(sign * axis) for axis in np.eye(3) for sign in (1.0, -1.0))):
        try:
            other = choose_gate(obj, option, replace(brief, gate=way))
        except InputError:
            continue
        if other.kind == "bore" and float(np.asarray(other.out) @ np.asarray(out)) < ALONG:
            return way
    return None


def _check_asked(way: Vector, obj: MeasuredObject, option: MoldOption, brief: Brief, through: str) -> None:
    """Raise InputError where a gate cannot come out in the asked `way`, of the object's frame; `through`
    tells why it comes out along the pull only, empty where it comes out across.
    """
    asked, pull = np.asarray(way, dtype=float), np.asarray(option.pull)
    refused = [
        (option.kind == "one_piece", "An open mold takes the clay by its open face", "Leave --gate out."),
        (brief.use == "press", "A press mold takes no slip", "Leave --gate out."),
        (obj.mouth is not None, "A vessel is filled by its own mouth", "Leave --gate or --mouth out."),
        (
            not through and abs(float(asked @ pull)) > ALONG,
            "A bore comes out in the seam, square to the pull, which is nearly along it",
            "Ask for a direction across the pull, or for another pull with --axis.",
        ),
    ]
    for wrong, why, remedy in refused:
        if wrong:
            raise InputError(f"{why}.", where="--gate", remedy=remedy)
    if through:
        if float(asked @ pull) < ALONG * float(np.linalg.norm(asked)):
            raise InputError(
                f"A gate of this mold comes out along the pull of its first piece only: {through}.",
                where="--gate",
                remedy="Leave --gate out.",
            )
        return
    out = sideways(asked, pull)
    base = None if option.base_mm is None else np.asarray(option.sides[-1])
    if not is_clear(out, option) or (base is not None and float(out @ -base) < ALONG):
        raise InputError(
            "A side piece stands where that gate would come out.",
            where="--gate",
            remedy="Ask for the opposite side, or leave it to be placed with --gate auto.",
        )


def _along(option: MoldOption, bore_mm: float, brief: Brief, why: str) -> GatePlan:
    """A bore through the first piece; one that nobody asked for may be narrower than usual."""
    least_mm = bore_mm if brief.gate_bore_mm is not None else least_bore_mm(brief)
    return GatePlan("bore", option.pull, bore_mm, True, why, beside=option.sides, least_mm=least_mm)


def _through_first(option: MoldOption) -> str:
    """Why a bore comes out through the first piece only, along its pull; empty where it may in the seam."""
    if option.leans is not None:
        return "beside a piece that leaves aslant none comes out"
    pull = np.asarray(option.pull)
    if option.base_mm is not None:
        shut = not is_clear(-np.asarray(option.sides[-1]), option)
    else:
        one = sideways(np.eye(3)[int(np.argmin(np.abs(pull)))], pull)
        shut = not any(is_clear(way, option) for way in _round_about(one, pull))
    return "side pieces stand all round" if shut else ""


def _round_about(one: np.ndarray, pull: np.ndarray) -> np.ndarray:
    """Ways (n, 3) across a pull, all round from `one` (3,)."""
    turns = np.arange(0.0, 2.0 * np.pi, WAYS_RAD)
    ways: np.ndarray = np.cos(turns)[:, None] * one + np.sin(turns)[:, None] * np.cross(pull, one)
    return ways


def is_clear(out: np.ndarray, option: MoldOption) -> bool:
    """Whether a gate that comes out along a way (3,) comes out beside the side pieces."""
    clear = math.cos(math.radians(shelf.value("practice", "gate_clear_of_side_deg").value))
    return max((float(out @ np.asarray(side)) for side in option.sides), default=0.0) < clear


def _bore(obj: MeasuredObject, brief: Brief) -> float:
    def practice(name: str) -> float:
        return shelf.value("practice", name).value

    closes = practice("closing_bore_factor") * brief.ware_wall_mm
    if brief.gate_bore_mm is not None:
        if brief.gate_bore_mm <= closes:
            raise InputError(
                f"a round bore of {brief.gate_bore_mm:g} mm closes while a wall of "
                f"{brief.ware_wall_mm:g} mm builds up.",
                where="--gate-bore",
                remedy=f"Ask for more than {closes:.1f} mm, or a thinner wall with --ware-wall.",
            )
        return brief.gate_bore_mm
    if obj.solid_ml > practice("gate_large_volume_ml"):
        usual = practice("gate_bore_large_mm")
    elif brief.ware_wall_mm <= practice("ware_wall_small_mm"):
        usual = practice("gate_bore_small_mm")
    else:
        usual = practice("gate_bore_medium_mm")
    return max(usual, least_bore_mm(brief))


def least_bore_mm(brief: Brief) -> float:
    """The narrowest bore that still keeps a clear way for draining: a bore D narrows to sqrt(D² - 8 L²) while
    a wall L builds up, mm.
    """
    clear_mm = shelf.value("practice", "gate_clear_least_mm").value
    return math.ceil(math.sqrt(clear_mm**2 + 8.0 * brief.ware_wall_mm**2))


def _slot(bore_mm: float, brief: Brief) -> float:
    """How thick the object must be behind a bore, mm: both walls of the ware and a clear way between them."""
    closes = shelf.value("practice", "closing_slot_factor").value * brief.ware_wall_mm
    return min(bore_mm, closes + shelf.value("practice", "gate_clear_least_mm").value)


def long_way(obj: MeasuredObject, pull: np.ndarray) -> np.ndarray:
    """The way (3,), unit, from the middle of an object to its blunter end, square to a pull (3,)."""
    flat = obj.mesh.vertices_mm - obj.mesh.vertices_mm.mean(axis=0)
    flat = flat - np.outer(flat @ pull, pull)
    _, _, axes = np.linalg.svd(flat, full_matrices=False)
    along = flat @ axes[0]
    # The blunter end carries more of the surface beyond one standard deviation.
    blunt = np.sign((along > along.std()).sum() - (along < -along.std()).sum()) or 1.0
    end: np.ndarray = axes[0] * blunt
    return end


def _squared(way: np.ndarray, option: MoldOption) -> np.ndarray:
    """The way along or square to the first side piece that leaves level which is nearest to a way (3,) across
    the main pull; the way itself where none leaves level.

    The block is turned to its gate: so that piece leaves along a side of the block, not a degree beside a
    straight hole that it fills.
    """
    along = first_level(option.sides, option.pull)
    if along is None:
        return way
    across = np.cross(option.pull, along)
    return max((along, -along, across, -across), key=lambda one: float(one @ way))


def _sideways_raw(v: np.ndarray, pull: np.ndarray) -> np.ndarray:
    flat: np.ndarray = v - (v @ pull) * pull
    return flat


def sideways(v: np.ndarray, pull: np.ndarray) -> np.ndarray:
    """The way (3,), unit, square to a pull (3,) that is nearest to `v` (3,)."""
    flat = _sideways_raw(v, pull)
    unit: np.ndarray = flat / np.linalg.norm(flat)
    return unit


def _tuple(v: np.ndarray) -> tuple[float, float, float]:
    x, y, z = (float(c) for c in v)
    return x, y, z
