"""The two pages for the person at the bench: one for each pour, numbers first, then the order of work.

A step is a title, sentences, and perhaps something to fill in: landmarks, buckets, the form as built,
weights. Texts come from the plan; what a plan does not hold is left out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from claybed import wording
from claybed.sheets.bench_words import bed_words, plug_words, pose_words, seam_words
from claybed.sheets.pour_words import (
    across,
    bucket_words,
    closed_words,
    form_words,
    kept_places,
    release_words,
    strings,
)
from claybed.sheets.workings import Workings
from claybed.units import say_mass
from claybed.wording import ruler

Step = dict[str, Any]
# More buckets than this are listed on a page of their own.
MOST_BUCKETS = 3
AGAIN = (
    "As before: mask and goggles for the dust, dry hands at the drill, never a hand or any part of a body in "
    "plaster, nothing down a drain.",
)


def pour_pages(plan: Mapping[str, Any], workings: Workings, *, us: bool) -> list[dict[str, Any]]:
    """One page for each pour, in order; the last one also takes the mold apart and dries it."""
    pours = plan["pours"]
    return [_page(plan, k, k == len(pours) - 1, workings, us) for k in range(len(pours))]


def _page(plan: Mapping[str, Any], index: int, last: bool, workings: Workings, us: bool) -> dict[str, Any]:
    if index == 0:
        steps = _setting_up(plan, workings, us)
    else:
        steps = _turned(plan, index) if index == 1 else _closed(plan, index, us)
    steps += _standing(plan, index, us)
    steps += _pouring(plan, index, us)
    if last:
        steps += _finishing(plan, index, workings, us)
    return {
        "number": str(index + 1),
        "of": str(len(plan["pours"])),
        "piece": str(plan["pours"][index]["piece"]),
        "facts": _facts(plan, index, workings, us),
        "steps": [
            {
                "landmarks": [],
                "buckets": [],
                "built": [],
                "weights": [],
                **step,
                "n": str(n),
                "says": [wording.in_system(text, us=us) for text in step["says"] if text],
                "care": [wording.in_system(text, us=us) for text in step.get("care", []) if text],
            }
            for n, step in enumerate(steps, start=1)
        ],
    }


def _step(title: str, says: Sequence[str], **more: Any) -> Step:
    return {"title": title, "says": strings(says), **more}


def _facts(plan: Mapping[str, Any], index: int, workings: Workings, us: bool) -> list[list[str]]:
    """What is looked up while standing at the form: name, figure, key into the workings."""
    pour, mold = plan["pours"][index], plan["mold"]
    form = pour.get("form") or {}
    facts: list[list[str]] = []

    def add(name: str, text: str, pointer: str) -> None:
        facts.append([name, text, workings.key(pointer)])

    # A side piece stands in a form of its own; all else in the outline of the block.
    sides, inside_at = mold["outer_mm"], "/mold/outer_mm"
    if form.get("inside_mm") and abs(form["inside_mm"][0] - sides[0]) > 0.5:
        sides, inside_at = form["inside_mm"], f"/pours/{index}/form/inside_mm"
    if len(sides) == 1 or (mold["shape"] == "round" and inside_at == "/mold/outer_mm"):
        add("Form inside", f"Ø {ruler(sides[0], us)}", inside_at)
    else:
        add("Form inside", across(sides[:2], us), inside_at)
    if form:
        add(
            "Sides at least",
            f"{ruler(form['height_least_mm'], us)} high",
            f"/pours/{index}/form/height_least_mm",
        )
    bed = plan.get("bed")
    if bed and index == 0:
        add("Clay for the bed", say_mass(bed["clay_g"], us=us), "/bed/clay_g")
    if index == 0 and len(plan["pours"]) > 1:
        plaster = say_mass(sum(p["plaster_g"] for p in plan["pours"]), us=us)
        facts.append(["Plaster, all pours", plaster, ""])
    for k, piece in enumerate(plan["pieces"]):
        if piece["id"] == pour["piece"]:
            wet, dry = (say_mass(piece[key] * 1000.0, us=us) for key in ("wet_kg", "dry_kg"))
            add("Piece, wet", wet, f"/pieces/{k}/wet_kg")
            add("Piece, dry", dry, f"/pieces/{k}/dry_kg")
    return facts


def _setting_up(plan: Mapping[str, Any], workings: Workings, us: bool) -> list[Step]:
    """From a print to an object that lies in its bed."""
    pose = plan.get("pose") or {}
    steps = [
        _step(
            "Get ready",
            [
                "First do all of the page “Getting ready”, after the pours; it also says what words mean. "
                "Now the object is filled and released, and the chart is taped to the base board, front "
                "towards you."
            ],
        )
    ]
    steps.append(_step("Set the pose", pose_words(plan, us), landmarks=_landmarks(pose, us)))
    if pose.get("stations"):
        steps.append(_step("Draw the seam", seam_words(plan, workings, us)))
    gate = plug_words(plan)
    if gate:
        steps.append(_step("Set the gate plug", [gate]))
    bed = plan.get("bed")
    if bed:
        steps.append(_step("Build the bed", bed_words(plan, us), care=bed.get("cautions", [])))
    return steps


def _landmarks(pose: Mapping[str, Any], us: bool) -> list[list[str]]:
    rows: list[list[str]] = []
    if pose.get("on_board"):
        return rows
    for mark in pose.get("landmarks") or []:
        span = ""
        if mark["high_mm"] - mark["low_mm"] > 3.0:
            span = "–".join(ruler(mark[end], us).rsplit(" ", 1)[0] for end in ("low_mm", "high_mm"))
        rows.append([str(mark["name"]), ruler(mark["height_mm"], us), span])
    return rows


def _turned(plan: Mapping[str, Any], index: int) -> list[Step]:
    """From a set first piece to one that lies face up, cleaned."""
    after = plan["pours"][index - 1].get("after") or {}
    says = list(after.get("steps") or [])
    care = list(after.get("cautions") or [])
    piece = plan["pours"][index - 1]["piece"]
    if not says:
        return [_step("Turn it over", ["Take the form off, turn the piece over with the object in it."])]
    steps = [
        _step("Take the form off", [says[0], *(f"At once: {text}" for text in says[1:2])], care=care[:1])
    ]
    if len(says) > 2:
        steps.append(_step("Turn it over", [says[2]], care=care[1:2]))
    if len(says) > 3:
        rest = []
        if (plan.get("pose") or {}).get("saddles"):
            rest.append("The saddles go with it.")
        if (plan["mold"].get("gate") or {}).get("kind") == "bore":
            rest.append("The gate plug stays in as well.")
        rest.append(f"Set piece {piece} back on the base board, object up.")
        if plan["object"].get("floats_in_slurry"):
            rest.append("Do not loosen the object: light as it is, slurry under it would lift it.")
        carved = [text for text in says[4:] if text.startswith("Carve")]
        steps.append(_step("Clean", [says[3], *carved, *rest]))
    return steps


def _closed(plan: Mapping[str, Any], index: int, us: bool) -> list[Step]:
    """From main pieces that have set to a closed mold that stands with an open place up."""
    after = plan["pours"][index - 1].get("after") or {}
    says, care = list(after.get("steps") or []), list(after.get("cautions") or [])
    off = [_step("Take the form off", says[:2], care=care[:1])] if says else []
    tipped = [text for text in says if text.startswith("Strap")]
    emptied = [text for text in says if text.startswith("Take out")]
    told = closed_words(plan, index, us)
    if tipped and emptied:
        # What the plan tells of this very mold; only the levels are added.
        told = [*tipped, *emptied, *told[2:]]
    return [*off, _step("Tip it on its side", told, care=care[1:2])]


def _standing(plan: Mapping[str, Any], index: int, us: bool) -> list[Step]:
    """The form, its release and the line where the pour stops."""
    pour = plan["pours"][index]
    form = pour.get("form") or {}
    says: list[str] = []
    if index > 0 and form:
        before = plan["pours"][index - 1].get("form") or {}
        more = form["height_least_mm"] - before.get("height_least_mm", form["height_least_mm"])
        if more > 0.5:
            than = "the first" if index == 1 else "the one before"
            says.append(
                f"This pour needs higher sides: {ruler(form['height_least_mm'], us)}, "
                f"{ruler(more, us)} more than {than}."
            )
    if form:
        says += form_words(form, us, again=index > 0)
    if index < 2:
        says += kept_places(plan, index, us)
    line = pour.get("fill_line") or {"from_board_mm": pour["fill_line_mm"], "from_rim_mm": None}
    stop = f"{ruler(line['from_board_mm'], us)} up from the board"
    if line["from_rim_mm"] is not None:
        stop += f", {ruler(line['from_rim_mm'], us)} down from the rim"
    built = [f"Draw the line where the pour stops inside, on all sides: {stop}."]
    per_mm = pour.get("grams_per_mm")
    if per_mm:
        water, plaster = (_per_step(per_mm[key], us) for key in ("water", "plaster"))
        step = "sixteenth of an inch" if us else "millimetre"
        built.append(f"For each {step} that you draw it higher: {water} water and {plaster} plaster more.")
    built.append("Measure the form, too: if its inside is off, “Getting ready” tells how to get new weights.")
    steps = [_step("Set up the form", says, care=form.get("cautions", []))] if form else []
    others = release_words(plan, index + 1, "rest")
    if index > 0:
        others = [*release_words(plan, index + 1, "object"), *others]
    if index > 1 and not others:
        others = [f"On all plaster faces and the object that {pour['piece']} will touch: as for pour 2."]
    if others:
        steps.append(_step("Release", others))
    steps.append(_step("Mark and measure", built, built=["inside", "line"]))
    return steps


def _per_step(grams_per_mm: float, us: bool) -> str:
    if us:
        return say_mass(grams_per_mm * 25.4 / 16.0, us=True)
    return f"{grams_per_mm:.0f} g"


def _pouring(plan: Mapping[str, Any], index: int, us: bool) -> list[Step]:
    pour = plan["pours"][index]
    mixing = pour.get("mixing") or {}
    count = len(pour["batches"])
    buckets = [_bucket(b, mixing, us) for b in pour["batches"]] if count <= MOST_BUCKETS else []
    least = mixing.get("bucket_least_l")
    says = [f"Bucket of {bucket_words(least, us)} or more." if least and index > 0 else ""]
    if count > MOST_BUCKETS:
        says.append(f"{count} buckets: weights and start times are in the bucket list.")
    steps = mixing.get("steps") or []
    # The first page says it in full; the second takes it as read.
    care = (mixing.get("cautions") or []) if index == 0 else list(AGAIN)
    late = mixing.get("too_late") or []
    mixed = [text for text in steps if not text.startswith(("Pour", "Scrape"))]
    poured = [text for text in steps if text.startswith(("Pour", "Scrape"))]
    if late:
        poured.append("Too late to pour: " + " ".join(late) + " Then let it set in the bucket and mix anew.")
    if mixing.get("rescue"):
        poured.append("Too little? “Getting ready” tells what to do at once.")
    return [
        _step("Weigh and mix", [*says, *mixed], buckets=buckets, care=care[:3]),
        _step("Pour", [*poured, mixing.get("heat", "")], care=care[3:]),
    ]


def _bucket(batch: Mapping[str, Any], mixing: Mapping[str, Any], us: bool) -> dict[str, str]:
    times = [b for b in mixing.get("buckets") or [] if b["number"] == batch["number"]]
    start = f"{times[0]['sift_at_min']:.0f} min" if times else ""
    return {
        "number": str(batch["number"]),
        "water": say_mass(batch["water_g"], us=us),
        "plaster": say_mass(batch["plaster_g"], us=us),
        "start": start if len(mixing.get("buckets") or []) > 1 else "",
    }


def _finishing(plan: Mapping[str, Any], index: int, workings: Workings, us: bool) -> list[Step]:
    """From the last pour to a dry mold."""
    after = plan["pours"][index].get("after") or {}
    texts = list(after.get("steps") or [])
    if not texts:
        return []
    pour_letter = str(plan["pours"][index]["piece"])
    # What the page has said of heat and weight at its head is not said again.
    before = (plan["pours"][index - 1].get("after") or {}).get("cautions") or [] if index > 0 else []
    care = [text for text in after.get("cautions") or [] if text not in before]
    steps = [_step("Open the mold", [_opening(text, pour_letter) for text in texts[:-1]], care=care)]
    weights = []
    for k, target in enumerate(plan.get("dry_targets") or []):
        weights.append(
            [str(target["piece"]), f"{target['dry_share']:.4f}", workings.key(f"/dry_targets/{k}/dry_share")]
        )
    dry = [texts[-1]]
    if weights:
        dry.append(
            "Dry is the trimmed wet weight times the number below. It may be pressed in at 1.15 times dry, "
            "and take slip at 1.05."
            if _usual_shares(plan)
            else "Dry is the trimmed wet weight times the number below."
        )
        dry.append("It is dry when a day takes off less than 0.3 %.")
    table = plan.get("timetable") or {}
    if table.get("says"):
        dry.append(str(table["says"]))
    steps.append(_step("Weigh and dry", dry, weights=weights))
    return steps


def _opening(text: str, letter: str) -> str:
    """A sentence of the last day with each piece's own letter, and the way out in plain words."""
    return text.replace(f"each piece: {letter} ·", "each piece: its letter ·").replace(
        "out along its pull", "straight out of the piece it lies in"
    )


def _usual_shares(plan: Mapping[str, Any]) -> bool:
    """Whether the plan's press-ready and slip-ready weights are the shares that the sentence names."""
    return all(
        abs(t["press_ready_g"] / t["dry_g"] - 1.15) < 5e-4
        and abs(t["slip_ready_g"] / t["dry_g"] - 1.05) < 5e-4
        for t in plan.get("dry_targets") or []
    )
