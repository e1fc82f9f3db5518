"""A cast or a pressing as a person works through it, step by step, in the form of the steps of a pour."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from claybed.units import MM_PER_IN, say_length, say_mass, say_time, say_volume
from claybed.wording import in_system

Step = dict[str, Any]
Document = Mapping[str, Any]
_DUST = "Dried slip and clay are dust by tomorrow, and dust harms lungs: wipe up wet, do not sweep."


def cast_steps(document: Document, *, us: bool, slip: str = "", lift_g: float | None = None) -> list[Step]:
    """The steps of one cast, as plain values; see actions.pouring for the keys that every step has.

    `document` of actions.casting; `lift_g` what the closed mold weighs, g, for the caution about turning it.
    The last step has `log`, what goes into the register beside the fields that are asked.
    """
    per = document.get("per_cast", {})
    fill_ml, drain_ml = per.get("fill_ml"), per.get("drain_ml")
    tops = [f"Top it up after about {say_time(row['minutes'])}." for row in document.get("top_ups", ())][:3]
    shuts = [
        f"The {row['kind']} grows shut after about {say_time(row['closes_minutes'])}; pour out before."
        for row in document.get("narrows", ())
    ]
    heavy = ""
    if lift_g is not None:
        full_g = lift_g + float(per.get("dry_g") or 0.0) + float(fill_ml or 0.0)
        heavy = (
            f"Full it weighs about {say_mass(full_g, us=us)} or more. Two people turn it, or a cradle does."
        )
    wall_mm = float(document["wall_mm"])
    wall_in_unit = wall_mm / MM_PER_IN if us else wall_mm
    length = {
        "name": "wall_mm",
        "label": "Wall, measured",
        "unit": "in" if us else "mm",
        "per_unit": MM_PER_IN if us else 1.0,
        "as_planned": wall_in_unit,
        "low": 0.1 / (MM_PER_IN if us else 1.0),
        "high": 10.0 * wall_in_unit,
    }
    stood = {
        "name": "stood_min",
        "label": "Slip stood",
        "unit": "min",
        "per_unit": 1.0,
        "as_planned": float(document["minutes"]),
        "low": 0.1,
        "high": 1440.0,
    }
    ready, firm_min = _firm(document)
    steps = [
        _step(
            "fill",
            "Fill with slip",
            [
                "The mold closed, strapped and level.",
                "Sieved slip in one go, along the side, to the rim of the gate.",
            ],
            caution=_DUST,
            **(_said(say_volume(fill_ml, us=us)) if fill_ml else {}),
        ),
        _step(
            "stand",
            "Let it stand",
            [*tops, *shuts, "The timer is worked out; look at the rim of the gate, where the wall shows."],
            minutes=float(document["minutes"]),
            clocks="measure.stood_min",
        ),
        _step(
            "drain",
            "Pour out",
            [
                "Slowly, so that air gets in.",
                "Leave it upside down and a little tilted until it stops dripping.",
            ],
            caution=heavy,
            **(_said(say_volume(drain_ml, us=us)) if drain_ml else {}),
        ),
        _step(
            "firm",
            "Let it firm up",
            ["Trim the gate when the slip has lost its shine.", ready],
            minutes=firm_min,
        ),
        _step(
            "measure",
            "Open, and measure the wall",
            ["Cut the trimmed gate across, or a cast that is lost, and measure where it is even."],
            ask=[stood, length],
            log={"slip": slip, "kept": True},
        ),
    ]
    return _told(steps, us=us)


def _firm(document: Document) -> tuple[str, float]:
    """When a cast has firmed up, in words, and the minutes of its timer: clay that grips a piece tears if it
    is left until it comes off by itself.
    """
    grip, release_min = document.get("grip") or {}, float(document["release_minutes"])
    within_min = grip.get("within_minutes")
    if within_min is None or within_min >= release_min:
        return "It is ready when it has come off the plaster.", release_min
    opens = str(document["opens"])
    ready = f"{opens[:1].upper()}{opens[1:]} before the time is up: clay that grips tears if it waits."
    return ready, float(within_min)


def press_steps(document: Document, *, us: bool) -> list[Step]:
    """The steps of one pressing, as plain values; `document` of actions.pressing."""
    slab = say_length(document["slab_mm"], us=us)
    coil = document.get("coil_mm")
    joint = [f"{say_length(coil, us=us)} of coil along the joints, worked in with a finger."] if coil else []
    slip_ml = document.get("scoring_slip_ml")
    score = (
        [f"Score the edges; about {say_volume(slip_ml, us=us)} of slip."] if slip_ml else ["Score the edges."]
    )
    done = f"Pressed from slabs of {slab}."
    steps = [
        _step(
            "wedge",
            "Wedge the clay",
            [f"With what is cut off: {say_mass(document['raw_clay_g'], us=us)}."],
            caution=_DUST,
            **_said(say_mass(document["clay_g"], us=us)),
        ),
        _step("roll", "Roll the slabs", ["Even, both ways, and turned over between."], **_said(slab)),
        _step(
            "press", "Press them in", ["From the middle outwards, with a damp sponge; no air stays under."]
        ),
        _step(
            "join",
            "Close the joints",
            [*score, *joint],
            caution="A closed mold full of clay is heavy: two people turn it.",
            **(_said(say_length(coil, us=us)) if coil else {}),
        ),
        _step(
            "firm",
            "Let it firm up",
            ["It is ready when the clay comes off the plaster at the rim."],
            minutes=float(document["wait_minutes"]),
        ),
        _step(
            "open",
            "Open the mold",
            ["Lift the piece off along its arrow, straight, then mend the seam."],
            log={"kind": "note", "words": done},
        ),
    ]
    return _told(steps, us=us)


def _step(name: str, title: str, says: Sequence[str], **more: Any) -> Step:
    empty: Step = {"number": None, "unit": "", "minutes": None, "ask": [], "batch": None}
    empty |= {"off": "", "caution": ""}
    return {**empty, "id": name, "pour": "", "title": title, "says": list(says), **more}


def _told(steps: list[Step], *, us: bool) -> list[Step]:
    for step in steps:
        step["says"] = [in_system(text, us=us) for text in step["says"]]
        step["caution"] = in_system(step["caution"], us=us)
    return steps


def _said(text: str) -> dict[str, str]:
    fluid = text.endswith(" fl oz")
    number, _, unit = text.removesuffix(" oz").rpartition(" ") if fluid else text.rpartition(" ")
    unit = "fl oz" if fluid else unit
    return {"number": number or text, "unit": unit if number else ""}
