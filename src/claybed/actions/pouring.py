"""A plan as a person works through it on the day: step by step, each with number, timer and caution."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

from claybed.fill_line import down_words, per_mm_words
from claybed.sheets.bench_words import bed_words, plug_words, pose_words
from claybed.sheets.between_pours import RESTS, opening
from claybed.sheets.pour_pages import landmarks
from claybed.units import say_length, say_mass, say_spread
from claybed.wording import in_system

# Not "part": that is what the mold does when it opens.
COATED = "Coat with release"
# Each filler and each set piece in the form is told in a line of its own.
_APART = re.compile(r"(?<=\.) (?=On the side to |The filler of |The form stands |Piece )")
Step = dict[str, Any]
Document = Mapping[str, Any]


def pour_steps(document: Document, *, us: bool) -> list[Step]:
    """Every step of a plan's pours in the order of work, as plain values.

    Keys of a step: `id`, unique in the plan; `pour` (letter); `title`; `says`, sentences; `number` and `unit`
    to be read at arm's length, or None, and `off`, how far that may be off, or ""; `minutes` of its timer, or
    None; `ask`, the fields to write in (name, label, unit and `as_planned` in that unit); `batch` or None;
    `caution`, or "". Raises KeyError for a document that is no plan.
    """
    steps: list[Step] = []
    for index, pour in enumerate(document["pours"]):
        letter = str(pour["piece"])
        if index == 0:
            steps += _setting_up(document, letter, us=us)
        steps += _before(document, pour, letter, us=us)
        for batch in _buckets(pour):
            steps += _mixing(pour, letter, batch, _spreads(document, index, batch, us=us), us=us)
        steps += _after(document, index, letter)
    for step in steps:
        step["says"] = [in_system(text, us=us) for text in step["says"]]
        step["caution"] = in_system(step["caution"], us=us)
    return steps


def _step(pour: str, name: str, title: str, says: Sequence[str], **more: Any) -> Step:
    empty: Step = {"number": None, "unit": "", "minutes": None, "ask": [], "batch": None}
    empty |= {"off": "", "caution": ""}
    made = {"id": f"{pour}.{name}", "pour": pour, "title": title, "says": [s for s in says if s]}
    return {**empty, **made, **more}


def _said(text: str) -> dict[str, str]:
    fluid = text.endswith(" fl oz")
    number, _, unit = text.removesuffix(" oz").rpartition(" ") if fluid else text.rpartition(" ")
    unit = "fl oz" if fluid else unit
    return {"number": number or text, "unit": unit if number else ""}


def _setting_up(document: Document, letter: str, *, us: bool) -> list[Step]:
    """From the object to its bed, as the bench sheet says it, whose templates are used there."""
    bed, steps = document.get("bed"), []
    if bed:
        marks = [f"{name}: {height}" for name, height, _ in landmarks(document, us)]
        steps.append(_step(letter, "pose", "Set the pose", [*pose_words(document, us), *marks]))
    plug = plug_words(document, us)
    if plug:
        steps.append(_step(letter, "plug", "Set the gate plug", [plug]))
    if bed:
        steps.append(
            _step(
                letter,
                "bed",
                "Build the bed",
                bed_words(document, us),
                **_said(say_length(bed["height_mm"], us=us)),
                caution=" ".join(bed["cautions"]),
            )
        )
    return steps


def _before(document: Document, pour: Document, letter: str, *, us: bool) -> list[Step]:
    order = int(pour["order"])
    steps = []
    form, hold = pour.get("form"), pour.get("hold")
    release = document.get("release")
    for number, coat in enumerate(
        (one for one in (release or {}).get("steps", ()) if one["pour"] == order), 1
    ):
        coats = int(coat["coats_count"])
        times = f"{coats} coats" if coats != 1 else "one coat"
        says = [
            f"On {coat['where']}: {times} of {coat['what']}, {coat['wait_min']:.0f} minutes each.",
            coat["says"],
        ]
        steps.append(_step(letter, f"release{number}", COATED, says, minutes=coat["wait_min"] or None))
    if release and steps and steps[-1]["title"] == COATED:
        steps[-1]["caution"] = " ".join(release["never"][:1])
    if form:
        line = pour.get("fill_line") or {}
        says = [*_APART.split(form["how"]), *form["leaks"], form["stiffen"]]
        if line.get("from_rim_mm") is not None:
            says.append(f"Mark the fill line, {down_words(line, us)} below the rim.")
        steps.append(
            _step(
                letter,
                "form",
                "Stand the form",
                says,
                **_said(say_length(pour["fill_line_mm"], us=us)),
                caution=" ".join(form["cautions"]),
            )
        )
    if hold and hold.get("says"):
        steps.append(_step(letter, "hold", "Hold it down", [hold["says"], hold.get("cap", "")]))
    return steps


def _buckets(pour: Document) -> list[Document]:
    times = {int(one["number"]): one for one in (pour.get("mixing") or {}).get("buckets", ())}
    return [{**batch, **times.get(int(batch["number"]), {})} for batch in pour["batches"]]


def _spreads(document: Document, index: int, batch: Document, *, us: bool) -> dict[str, str]:
    """How far water and plaster of a batch may be off, by its share of the pour; "" for an object taken at
    its word.
    """
    band = (document["object"].get("measured") or {}).get("band") or {}
    off = {}
    for key in ("water_g", "plaster_g"):
        grams = float(batch[key])
        share = grams / float(document["pours"][index][key])
        ends = document["figures"][f"/pours/{index}/{key}"] if any(band.values()) else {}
        low, high = (ends[end] * share if ends.get(end) is not None else None for end in ("low", "high"))
        off[key] = say_spread(grams, low, high, lambda amount: say_mass(amount, us=us))
    return off


def _mixing(pour: Document, letter: str, bucket: Document, off: Mapping[str, str], *, us: bool) -> list[Step]:
    number = int(bucket["number"])
    of = f", bucket {number} of {len(pour['batches'])}" if len(pour["batches"]) > 1 else ""
    mixing = pour.get("mixing") or {}
    cautions: list[str] = [str(one) for one in mixing.get("cautions", ())]
    dust, others = "".join(cautions[:1]), cautions[1:]
    unit = "oz" if us else "g"
    per_unit = 28.349523125 if us else 1.0

    def ask(name: str, label: str, grams: float) -> dict[str, Any]:
        return {
            "name": name,
            "label": label,
            "unit": unit,
            "per_unit": per_unit,
            "as_planned": grams / per_unit,
            "low": 0.0,
            "high": 10.0 * grams / per_unit,
        }

    start = bucket.get("sift_at_min", 0.0)
    begin = f"Begin this bucket {start:.0f} minutes after the first." if start else ""
    spans = _spans(bucket)
    heat = {"name": "water_c", "label": "Its temperature", "unit": "°F" if us else "°C"}

    coldest, hottest = (32.0, 140.0) if us else (0.0, 60.0)

    def step(name: str, title: str, says: Sequence[str], **more: Any) -> Step:
        return _step(letter, f"{name}{number}", f"{title}{of}", says, batch=number, **more)

    sieve = "Sift the plaster into the water, low over the surface, until all of it is in."
    late = " ".join(mixing.get("too_late", ()))
    return [
        step(
            "water",
            "Weigh the water",
            [
                begin,
                "Set the empty bucket on the scale and press tare. Water first, plaster into it later.",
                per_mm_words([pour], us=us) if number == 1 else "",
            ],
            **_said(say_mass(bucket["water_g"], us=us)),
            off=off["water_g"],
            ask=[
                ask("water_g", "Water on the scale", bucket["water_g"]),
                {**heat, "per_unit": 1.0, "as_planned": None, "low": coldest, "high": hottest},
            ],
        ),
        step(
            "plaster",
            "Weigh the plaster",
            ["Into a dry bucket of its own, tared."],
            **_said(say_mass(bucket["plaster_g"], us=us)),
            off=off["plaster_g"],
            ask=[ask("plaster_g", "Plaster on the scale", bucket["plaster_g"])],
            caution=dust,
        ),
        step("sift", "Sift", [sieve], minutes=spans["sift"], caution=dust),
        step(
            "slake",
            "Let it slake",
            ["Do not touch it. The water soaks in by itself."],
            minutes=spans["slake"],
        ),
        step(
            "mix",
            "Mix",
            [str(mixing.get("pace", "")), "Slow, under the surface, until it coats a stick. Tap and skim."],
            minutes=spans["mix"],
            caution=" ".join(others).strip(),
        ),
        step(
            "pour",
            "Pour",
            ["Into the lowest corner, slowly, up to the fill line.", f"Too late: {late}" if late else ""],
            **_said(say_length(pour["fill_line_mm"], us=us)),
        ),
    ]


def _spans(bucket: Document) -> dict[str, float | None]:
    if "slake_at_min" not in bucket:
        return {"sift": None, "slake": None, "mix": None}
    sift, slake = bucket["sift_at_min"], bucket["slake_at_min"]
    mix, pour = bucket["mix_at_min"], bucket["pour_at_min"]
    return {"sift": slake - sift, "slake": mix - slake, "mix": pour - mix}


def _after(document: Document, index: int, letter: str) -> list[Step]:
    pour = document["pours"][index]
    mixing, after = pour.get("mixing") or {}, pour.get("after") or {}
    minutes = after.get("form_off_min")
    wait = "Wait until a nail leaves no dent and the heat has peaked; the timer is a usual time, not a clock."
    steps = [
        _step(
            letter,
            "set",
            "Let it set",
            [wait, str(mixing.get("heat", "")), str(mixing.get("leftover_use", ""))],
            minutes=minutes,
            ask=[
                {"name": "set_at", "label": "It is set", "unit": "now", "per_unit": 1.0, "as_planned": None}
            ],
            caution=" ".join(after.get("cautions", ())[:1]),
        )
    ]
    if after:
        cautions = " ".join(after["cautions"][1:])
        texts = list(after["steps"])
        rests = next((k for k, text in enumerate(texts) if text.startswith(RESTS)), len(texts))
        steps.append(_step(letter, "after", "Take the form off", texts[:rests], caution=cautions))
        steps.append(_step(letter, "scratch", "Scratch into the plaster", [after["scratch"]], caution=""))
        # What is done a day later is no part of taking the form off.
        opened = opening(texts[rests:-1], document, index)
        if opened:
            steps.append(_step(letter, "open", "Open the mold, a day later", opened))
            steps.append(_step(letter, "dry", "Weigh and dry", texts[-1:]))
    return steps
