"""What the ware page says: the fired piece, the cast or the pressing, the drying; as plain texts."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any, Final

from claybed import wording
from claybed.hole_words import cut_words
from claybed.materials import shelf
from claybed.sheets.places import without_axes
from claybed.units import say_area, say_length, say_mass, say_temperature, say_time, say_volume
from claybed.ware.letting_go import held_pieces, in_time, off_in_time, opening_letters
from claybed.wording import in_system

_STATES: Final = {
    "press_ready": "ready to press",
    "slip_ready": "ready for slip",
    "shelf_dry": "dry for the shelf",
}
_PREPARE: Final = (
    "Wipe the soap off: half white vinegar, half water; rinse, no soak (common practice, no source).",
    "What is still sharp outside, off with a damp sponge; nothing off cavity and seam. Rasp and chisel were "
    "for the closed mold: from now on wooden tools only, no metal on the plaster, no crumbs in the clay.",
)
_PREPARE_HUMP: Final = (
    _PREPARE[0],
    "What is still sharp along the ledge, off with a damp sponge; nothing off the hump. From now on wooden "
    "tools only: no metal near the clay, no crumbs of plaster in it.",
)
_CASTING: Final = (
    "Strap the mold. Pour in without a stop, and top up as the slip sinks.",
    "Pour out slowly at a slant, then stand it upside down over sticks.",
    "Trim the spare (the clay that stands in the gate) with a soft tool when its shine has gone.",
    "Open it fully when the clay has drawn away all round at the gate.",
)
_PRESSING: Final = (
    "Press from the middle outwards; leave the edges a little proud.",
    "Bevel, score and slip both edges, close the mold, press a coil into the seam.",
    "Open when the rim has drawn away from the plaster.",
)


_DRAPING: Final = (
    "Roll the slab on a cloth, turn it over onto the hump from the middle outwards, and peel the cloth off.",
    "Press it on from the middle down with a rib, without thinning it; where it folds at the rim, cut the "
    "fold out, bevel, score and slip both edges, and press them together.",
    "Trim it with a wooden knife laid flat on the ledge. Throw away trimmings that touched a chipped edge.",
    "Lay a bat on the foot of the ware, turn both over, and lift the hump straight out by its plinth.",
)


def ware_page(plan: Mapping[str, Any], us: bool) -> dict[str, Any] | None:
    """Texts and figures of the ware page, None for a plan without ware. `us` in US units."""
    ware = plan.get("ware")
    if not isinstance(ware, Mapping):
        return None
    cast, press = ware.get("cast"), ware.get("press")
    opening = opening_letters(plan)
    closes = len(opening) != 1
    hump = (plan.get("mold") or {}).get("hump")
    since = "pouring out" if cast else "closing" if closes else "pressing"
    steps = (
        _DRAPING
        if hump
        else _casting(plan, us)
        if cast
        else tuple(step for step in _PRESSING if closes or "close the mold" not in step)
    )
    return {
        "says": _says(ware, us, "its inside is" if hump else "it is"),
        "facts": [
            *(_cast_facts(cast, us) if cast else _press_facts(press, us) if press else [])[
                : -1 if hump else None
            ],
            *_grip_facts(ware.get("grip"), us, hump=bool(hump), since=since, opening=opening),
        ],
        "cuts": [without_axes(says, plan.get("pose")) for says in cut_words(plan, us=us)],
        "casting": bool(cast),
        "draping": bool(hump),
        "walls": _walls(cast) if cast else [],
        "casts": _casts(cast) if cast else [],
        "steps": [*_PREPARE_HUMP, *steps]
        if hump
        else [*_PREPARE, *in_order(steps, ware.get("grip"), opening, since)],
        "drying": [_state(plan, place, state, us) for place, state in enumerate(ware["drying"]["states"])],
        "notes": [
            in_system(_placed(f"{one['says']} {one['remedy']}".strip(), plan), us=us)
            for one in ware.get("findings") or ()
        ],
        "stands": f"{'closed and strapped, ' if closes else ''}on slats, in {_room(ware['drying'], us)}",
        "apart": _apart(ware, us),
        "quoted": _quoted(),
    }


def _casting(plan: Mapping[str, Any], us: bool) -> tuple[str, ...]:
    """The steps of a cast; where the mold leans to fill or drain, how it is held stands in its place."""
    strap, drain, *rest = _CASTING
    held = (plan.get("flow") or {}).get("held") or []
    says = {str(one["act"]): wording.in_system(str(one["says"]), us=us) for one in held}
    drained = [says[act] for act in ("drain", "turn") if act in says]
    upright = "Then stand it upside down over sticks."
    vents = (plan.get("flow") or {}).get("vents")
    return (
        *(
            [_placed(wording.in_system(f"Before the first cast {vents[:1].lower()}{vents[1:]}", us=us), plan)]
            if vents
            else []
        ),
        *([says["fill"]] if "fill" in says else []),
        strap,
        *([*drained, upright] if drained else [drain]),
        *rest,
    )


def _placed(text: str, plan: Mapping[str, Any]) -> str:
    """A sentence on a place of the closed mold, its height told of the board of the first pour."""
    return without_axes(text, plan.get("pose")).replace("above the board", "above the board as for pour 1")


def _says(ware: Mapping[str, Any], us: bool, it_is: str) -> str:
    fired = ware.get("fired")
    if not fired:
        return "No clay was named, so nothing is said of the fired size: claybed plan --clay stoneware."
    size = " × ".join(say_length(fired[key], us=us) for key in ("x_mm", "y_mm", "z_mm"))
    holds = fired.get("capacity_ml")
    room = f", and holds {say_volume(holds, us=us)}" if holds else ""
    clay = str(ware["shrinkage"]["clay"]).replace("_", " ")
    share = ware["shrinkage"]["total_percent"]
    wall = say_length(fired["wall_mm"], us=us)
    return f"Fired in {clay} ({share:.3g} % shrinkage) {it_is} {size}{room}, its wall {wall}."


def _cast_facts(cast: Mapping[str, Any], us: bool) -> list[list[str]]:
    facts = [
        ["Wall, wet", say_length(cast["wall_mm"], us=us)],
        [f"Time at k = {cast['k_mm2_per_min']:.3g} mm²/min", say_time(cast["minutes"])],
        ["Draws away after pouring out, about", say_time(cast["release_minutes"])],
    ]
    slip = cast.get("per_cast")
    if slip:
        facts += [
            ["Slip to fill", say_volume(slip["fill_ml"], us=us)],
            ["Slip used by a cast", say_volume(slip["slip_ml"], us=us)],
            ["of it to top up", say_volume(slip["top_up_ml"], us=us)],
        ]
    if cast.get("casts_before_drying") is not None:
        facts.append(["Casts before drying", f"{math.floor(cast['casts_before_drying'])}"])
    if cast.get("discarded_casts"):
        facts.append(["Thrown away, new mold", f"first {cast['discarded_casts']:.0f}"])
    for narrow in cast.get("narrows") or ():
        width = say_length(narrow["width_mm"], us=us)
        facts.append([f"The {narrow['kind']} of {width} closes after", say_time(narrow["closes_minutes"])])
    if cast.get("top_ups"):
        times = ", ".join(say_time(one["minutes"]) for one in cast["top_ups"])
        facts.append(["Top up after", times])
    return facts


def _press_facts(press: Mapping[str, Any], us: bool) -> list[list[str]]:
    facts = [
        ["Slab", say_length(press["slab_mm"], us=us)],
        ["Slab to roll, edges included", say_area(press["slab_area_cm2"], us=us)],
        ["Clay in the piece", say_mass(press["clay_g"], us=us)],
        ["Clay to start with", say_mass(press["raw_clay_g"], us=us)],
    ]
    if press.get("coil_mm") is not None:
        facts += [
            ["Coil along the seam", say_length(press["coil_mm"], us=us)],
            ["Slip for scoring", say_volume(press["scoring_slip_ml"], us=us)],
        ]
    facts.append(["Open after, about", say_time(press["wait_minutes"])])
    return facts


def in_order(
    steps: Sequence[str], grip: Mapping[str, Any] | None, opening: Sequence[str], since: str
) -> list[str]:
    """The steps of a cast or a pressing, with what comes off in time before the last; where that is all of
    the mold nothing is left to wait for.
    """
    first = off_first(grip, opening, since=since)
    if not first or not grip:
        return list(steps)
    over = len(off_in_time(grip, opening)) in (0, len(opening))
    return [*steps[:-1], *first, *([] if over else steps[-1:])]


def off_first(
    grip: Mapping[str, Any] | None, opening: Sequence[str] = (), *, since: str = "pouring out"
) -> list[str]:
    """What comes off before the clay lets go by itself, of pieces that come off in the order `opening`; empty
    where it grips nothing.
    """
    if not grip or grip["within_minutes"] is None:
        return []
    off = off_in_time(grip, opening)
    rest = [letter for letter in opening if letter not in off] if off else []
    held = held_pieces(grip, opening) or (grip["piece"],)
    whom = "the plaster" if len(opening) == 1 else f"piece{'s' * (len(held) > 1)} {wording.in_a_row(held)}"
    waits = f" {wording.in_a_row(rest)} may wait." if rest else ""
    return [
        f"The clay grips {whom} as it shrinks: {in_time(grip, opening)} within about "
        f"{say_time(grip['within_minutes'])} after {since}.{waits}"
    ]


def _grip_facts(
    grip: Mapping[str, Any] | None, us: bool, *, hump: bool, since: str, opening: Sequence[str]
) -> list[list[str]]:
    if not grip:
        return []
    if grip["within_minutes"] is None:
        return [["Shrinks onto the plaster", "nowhere"]]
    off = off_in_time(grip, opening)
    return [
        ["Shrinks onto the plaster by", in_system(say_length(grip["grip_mm"]), us=us)],
        [
            "Lift it off the hump, after draping, within"
            if hump
            else f"Take the ware out, after {since}, within"
            if len(off) in (0, len(opening))
            else f"Take piece {off[-1]} off, after {since}, within",
            say_time(grip["within_minutes"]),
        ],
    ]


def _walls(cast: Mapping[str, Any]) -> list[list[str]]:
    """Minutes for the same wall at other casting rates: read the row of your own test pour."""
    square = float(cast["wall_mm"]) ** 2
    return [[f"{rate:g}", f"{square / rate:.3g}"] for rate in (0.5, 1.0, 1.5, 2.0, 3.0, 5.0)]


def _casts(cast: Mapping[str, Any]) -> list[list[str]]:
    return [
        [f"{row['number']:.0f}", say_time(row["minutes"]), f"{row['water_percent']:.0f} %"]
        for row in cast.get("rows") or ()
    ]


def _state(plan: Mapping[str, Any], place: int, state: Mapping[str, Any], us: bool) -> list[str]:
    """A state of dryness, the weight that shows it, and when it is reached at the earliest and the latest."""
    hours = state.get("hours")
    time = ""
    if hours is not None:
        figure = (plan.get("figures") or {}).get(f"/ware/drying/states/{place}/hours") or {}
        low, high = (say_time(60 * (figure.get(end) or hours)) for end in ("low", "high"))
        # One unit at the end is enough when both are days.
        low = low.removesuffix(" days") if high.endswith(" days") else low
        time = f"about {say_time(60 * hours)}" + ("" if low == high else f", {low} to {high}")
    return [
        _STATES[state["id"]],
        "" if state.get("mass_g") is None else say_mass(state["mass_g"], us=us),
        time,
    ]


def _room(drying: Mapping[str, Any], us: bool) -> str:
    """The air that the times are told for."""
    warm = say_temperature(drying["air_celsius"], us=us)
    return f"air of {warm} and {drying['humidity_percent']:.0f} % that hardly moves"


def _apart(ware: Mapping[str, Any], us: bool) -> str:
    """How much sooner a mold is ready for slip with its pieces apart."""
    apart = ware.get("drying_open")
    if not apart or apart["area_cm2"] == ware["drying"]["area_cm2"]:
        return ""
    hours = next(state.get("hours") for state in apart["states"] if state["id"] == "slip_ready")
    if hours is None:
        return ""
    more, less = (say_area(ware[key]["area_cm2"], us=us) for key in ("drying_open", "drying"))
    return (
        f"Apart, with {more} of plaster open to the air instead of {less}, it is ready for slip after about "
        f"{say_time(60 * hours)}; lay the pieces flat, so that they do not bend."
    )


def _quoted() -> str:
    """What people quote, why it differs, and what decides."""
    shelf_d, fan_d = (shelf.value("drying", f"quoted_{where}_d") for where in ("shelf", "fan"))
    return (
        f"People quote {shelf_d.low:g} to {shelf_d.high:g} days on a shelf, {fan_d.low:g} to {fan_d.high:g} "
        "with fan and sun (common practice, no source): their molds stand open, the air moves more, or they "
        "cast while the mold is damp. The scale decides: dry is when it loses under 0.3 % in a day."
    )
