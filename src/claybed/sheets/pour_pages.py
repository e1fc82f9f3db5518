"""The two pages for the person at the bench: one for each pour, numbers first, then the order of work.

A step is a title, sentences, and perhaps something to fill in: landmarks, buckets, the form as built,
weights. Texts come from the plan; what a plan does not hold is left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from claybed import wording
from claybed.fill_line import down_words
from claybed.materials import shelf
from claybed.sheets.bench_words import bed_edge_mm, bed_words, height_words, plug_words, pose_words
from claybed.sheets.between_pours import closed, finishing, turned
from claybed.sheets.holding_words import risen_words
from claybed.sheets.hump_pages import hump_facts, hump_of, hump_setup
from claybed.sheets.pour_words import (
    across,
    bucket_words,
    form_words,
    from_the_rim,
    kept_places,
    per_mark,
    release_words,
    side_pieces,
)
from claybed.sheets.steps import Step, each, step
from claybed.sheets.workings import Workings
from claybed.units import say_mass
from claybed.wording import ruler

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
    hump = hump_of(plan)
    if hump is not None:
        steps = [*hump_setup(plan, hump, us), *_coated(plan, index, us)]
    elif index == 0:
        steps = [*_setting_up(plan, us), *_standing(plan, index, us)]
    else:
        aside = any(p["id"] == plan["pours"][index]["piece"] for p in side_pieces(plan))
        steps = closed(plan, index, us) if aside else turned(plan, index, us)
        steps += _standing(plan, index, us)
    steps += _pouring(plan, index, us)
    if last:
        steps += finishing(plan, index, workings)
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
                "later": False,
                **{name: held for name, held in one.items() if name != "figures"},
                "keys": workings.keys(*one["figures"]),
                "n": str(n),
                "says": [wording.in_system(text, us=us) for text in one["says"]],
                "care": [wording.in_system(text, us=us) for text in one.get("care", []) if text],
            }
            for n, one in enumerate(steps, start=1)
        ],
    }


def _facts(plan: Mapping[str, Any], index: int, workings: Workings, us: bool) -> list[list[str]]:
    """What is looked up while standing at the form: name, figure, key into the workings."""
    pour, mold = plan["pours"][index], plan["mold"]
    form = pour.get("form") or {}
    facts: list[list[str]] = []

    def add(name: str, text: str, pointer: str) -> None:
        facts.append([name, text, workings.key(pointer)])

    # A side piece stands in a form of its own; all else in the outline of the block.
    sides, inside_at = mold["outer_mm"], "/mold/outer_mm"
    inside = form.get("inside_mm") or []
    if any(abs(own - block) > 0.5 for own, block in zip(inside, sides, strict=False)):
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
    for fact in hump_facts(hump, us) if (hump := hump_of(plan)) else ():
        add(*fact)
    if bed and index == 0:
        add("Clay for the bed", wording.rough_mass(bed["clay_g"], us=us), "/bed/clay_g")
    if index == 0 and len(plan["pours"]) > 1:
        plaster = say_mass(sum(p["plaster_g"] for p in plan["pours"]), us=us)
        facts.append(["Plaster, all pours", plaster, ""])
    for k, piece in enumerate(plan["pieces"]):
        if piece["id"] == pour["piece"]:
            wet, dry = (say_mass(piece[key] * 1000.0, us=us) for key in ("wet_kg", "dry_kg"))
            add("Piece, wet", wet, f"/pieces/{k}/wet_kg")
            add("Piece, dry", dry, f"/pieces/{k}/dry_kg")
    return facts


def _setting_up(plan: Mapping[str, Any], us: bool) -> list[Step]:
    """From a print to an object that lies in its bed."""
    pose = plan.get("pose") or {}
    steps = [
        step(
            "Get ready",
            [
                "First do all of “Getting ready”, behind these pages. The chart lies on the base board, "
                "front towards you."
            ],
        )
    ]
    marks, at = pose.get("landmarks"), "/pose/landmarks"
    heights = each(marks, at, "height_mm", "low_mm", "high_mm")
    posed = [*heights, ["/pose/near_mm"]] if not pose.get("on_board") else [["/pours/0/hold/packing/clay_g"]]
    steps.append(step("Set the pose", pose_words(plan, us), figures=posed, landmarks=landmarks(plan, us)))
    stations, at = pose.get("stations"), "/pose/stations"
    gate = plug_words(plan, us)
    if gate:
        steps.append(step("Set the gate plug", [gate], figures=[["/mold/gate/at_mm"], ["/pose/board_mm"]]))
    bed = plan.get("bed")
    if bed:
        built = [["/bed/clay_g"], *each(stations, at, "bed_mm"), ["/pose/near_mm"]]
        built += each(pose.get("keys"), "/pose/keys", "ball_mm", "depth_mm", "diameter_mm")
        steps.append(step("Build the bed", bed_words(plan, us), figures=built, care=bed.get("cautions", [])))
    return steps


def landmarks(plan: Mapping[str, Any], us: bool) -> list[list[str]]:
    """Name and height of each place; of a blunt one, between which heights a square touches it."""
    pose = plan.get("pose") or {}
    rows: list[list[str]] = []
    if pose.get("on_board"):
        return rows
    on_mouth = (plan["mold"].get("gate") or {}).get("kind") == "mouth"
    for mark in pose.get("landmarks") or []:
        name = str(mark["name"]).partition(", at the gate")[0].replace(" when it stands", "")
        if on_mouth and ", at the gate" in str(mark["name"]):
            name += ", over and under the plug"
        name += ", flat" if mark.get("flat") else ""
        rows.append([name, height_words(mark, us), ""])
    return rows


def _standing(plan: Mapping[str, Any], index: int, us: bool) -> list[Step]:
    """The form, its release and the line where the pour stops."""
    pour = plan["pours"][index]
    form = pour.get("form") or {}
    says: list[str] = []
    if index > 0 and form:
        last = plan["pours"][index - 1].get("form") or {}
        more = form["height_least_mm"] - last.get("height_least_mm", form["height_least_mm"])
        if more > 0.5:
            than = "the first" if index == 1 else "the one before"
            says.append(
                f"This pour needs higher sides: {ruler(form['height_least_mm'], us)}, "
                f"{ruler(more, us)} more than {than}."
            )
    if form:
        before = (plan["pours"][index - 1].get("form") or {}) if index > 0 else None
        says += form_words(form, us, again=index > 0, before=before)
    checked = _bed_down(plan, us) if index == 0 and form else ""
    says.append(checked)
    if index < 2:
        says += kept_places(plan, index, us)
    at = f"/pours/{index}/form"
    set_up = [
        [f"{at}/height_least_mm"],
        *each(form.get("boards"), f"{at}/boards", "length_mm", "height_mm", "thickness_mm"),
        [f"{at}/inside_mm"],
        *([] if from_the_rim(form) else each(form.get("straps"), f"{at}/straps", "from_board_mm")),
        [f"{at}/coil_mm"],
    ]
    if checked:
        set_up += [*each(plan["pose"]["stations"], "/pose/stations", "bed_down_mm"), ["/pose/rim_mm"]]
    steps = []
    if form:
        steps.append(step("Set up the form", says, figures=set_up, care=form.get("cautions", [])))
    return [*steps, *_coated(plan, index, us)]


def _coated(plan: Mapping[str, Any], index: int, us: bool) -> list[Step]:
    """Release on the form and what stands in it, and the line where the pour stops."""
    pour = plan["pours"][index]
    steps: list[Step] = []
    others = release_words(plan, index + 1, "rest" if index == 0 else "all")
    if index > 1 and not others:
        others = [f"On all plaster faces and the object that {pour['piece']} will touch: as for pour 2."]
    if others:
        coats = (plan.get("release") or {}).get("steps", [])
        mine = [k for k, coat in enumerate(coats) if coat["pour"] == index + 1]
        leaves = ("coats_count", "wait_min")
        told = [[f"/release/steps/{k}/{leaf}" for k in mine] for leaf in leaves]
        steps.append(step("Coat with release", others, figures=told))
    return [*steps, _marked(plan, index, us)]


def _bed_down(plan: Mapping[str, Any], us: bool) -> str:
    """What a straightedge on the rim tells of the bed, once the form stands."""
    pose = plan.get("pose") or {}
    if not plan.get("bed") or not pose.get("stations"):
        return ""
    low, high = bed_edge_mm(pose)
    down = [ruler(pose["rim_mm"] - level, us) for level in (high, low)]
    told = down[0] if high - low < 1.0 else f"{down[0]} to {down[1]}"
    return f"A straightedge laid on the rim must find the bed {told} below it."


def _marked(plan: Mapping[str, Any], index: int, us: bool) -> Step:
    """The line where the pour stops, the form as it was built, and what each millimetre off takes."""
    pour = plan["pours"][index]
    form = pour.get("form") or {}
    line = pour.get("fill_line") or {}
    down = f", {down_words(line, us)} down from the rim" if line.get("from_rim_mm") else ""
    says = [f"With the china marker draw the line where the pour stops, inside, all round{down}."]
    if index > 0:
        says.append("Measure, and add or take off, as for the first pour.")
    elif per_mark(pour, us):
        says.append(
            "Measure the form inside, above what stands in it, and the line; if they are not as told, the "
            "table under “The form of each pour” tells what to add or to take off."
        )
    else:
        says.append("Measure the form inside, too.")
    at = f"/pours/{index}"
    figures = [[f"{at}/grams_per_mm/water"], [f"{at}/grams_per_mm/plaster"], [f"{at}/form/per_mm_wider_ml"]]
    return step(
        "Mark and measure",
        says,
        figures=figures,
        built=["inside"] * len(form.get("inside_mm") or [0, 0]),
    )


def _pouring(plan: Mapping[str, Any], index: int, us: bool) -> list[Step]:
    pour = plan["pours"][index]
    mixing = pour.get("mixing") or {}
    count = len(pour["batches"])
    buckets = [_bucket(b, mixing, us) for b in pour["batches"]] if count <= MOST_BUCKETS else []
    least = mixing.get("bucket_least_l")
    says = []
    if least and index > 0 and _larger(plan, index):
        says.append(f"Bucket of {bucket_words(least, us)} or more.")
    if count > MOST_BUCKETS:
        says.append(f"{count} buckets: weights and start times are in the bucket list.")
    steps = mixing.get("steps") or []
    at = f"/pours/{index}/mixing"
    weighed = [[f"{at}/bucket_least_l"], [f"{at}/water_celsius"]]
    weighed += each(buckets, f"/pours/{index}/batches", "water_g", "plaster_g") if count > 1 else []
    weighed += each(buckets, f"{at}/buckets", "sift_at_min") if count > 1 else []
    # The first page says it in full; the second takes it as read.
    care = (mixing.get("cautions") or []) if index == 0 else list(AGAIN)
    late = mixing.get("too_late") or []
    mixed = [text for text in steps if not text.startswith(("Pour", "Scrape"))]
    poured = [text for text in steps if text.startswith(("Pour", "Scrape"))]
    if index > 0:
        # What was told at length with the first pour.
        mixed = _mixed_again(mixing, us) if steps else []
        poured = [text.partition(" If the form leaks")[0] for text in poured]
        poured.append(" ".join([*risen_words(plan), "A leak, too late, too little: as for the first pour."]))
    else:
        if late:
            poured.append(f"Too late to pour: {' '.join(late)} Then let it set in the bucket and mix anew.")
        if mixing.get("rescue"):
            poured.append("Too little? “If something is off” tells what to do at once.")
    # Told once, with the pour that closes the mold.
    heat = mixing.get("heat", "") if index == len(plan["pours"]) - 1 else ""
    return [
        step("Weigh and mix", [*says, *mixed], figures=weighed, buckets=buckets, care=care[:3]),
        step("Pour", [*poured, heat], figures=[[f"{at}/peak_celsius"]] if heat else [], care=care[3:]),
    ]


def _mixed_again(mixing: Mapping[str, Any], us: bool) -> list[str]:
    """The mixing of a later pour: its times, the rest as before."""
    sift, slake = (shelf.value("practice", f"{name}_min").value for name in ("sift", "slake"))
    drill = mixing.get("method") == "drill"
    stir = shelf.value("practice", "mix_min") if drill else shelf.value("bench", "mix_hand_min")
    water = wording.in_system(f"{mixing['water_celsius']:.0f} °C", us=us)
    return [
        f"As for the first pour: weigh the water first, {water}; sift over {sift:g} minutes, slake "
        f"{slake:g}, mix about {stir.value:g} until a stick comes out evenly coated; tap, skim."
    ]


def _larger(plan: Mapping[str, Any], index: int) -> bool:
    """Whether a pour needs a larger bucket than those before it."""
    least = [(pour.get("mixing") or {}).get("bucket_least_l") or 0.0 for pour in plan["pours"][: index + 1]]
    return least[-1] > max(least[:-1], default=0.0)


def _bucket(batch: Mapping[str, Any], mixing: Mapping[str, Any], us: bool) -> dict[str, str]:
    times = [b for b in mixing.get("buckets") or [] if b["number"] == batch["number"]]
    start = f"{times[0]['sift_at_min']:.0f} min" if times else ""
    return {
        "number": str(batch["number"]),
        "water": say_mass(batch["water_g"], us=us),
        "plaster": say_mass(batch["plaster_g"], us=us),
        "start": start if len(mixing.get("buckets") or []) > 1 else "",
    }
