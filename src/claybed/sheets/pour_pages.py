"""The two pages for the person at the bench: one for each pour, numbers first, then the order of work.

A step is a title, sentences, and perhaps something to fill in: landmarks, buckets, the form as built,
weights. Texts come from the plan; what a plan does not hold is left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from claybed import wording
from claybed.sheets.bench_words import bed_words, plug_words, pose_words, seam_words
from claybed.sheets.between_pours import closed, finishing, turned
from claybed.sheets.pour_words import across, bucket_words, form_words, kept_places, release_words
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
    if index == 0:
        steps = _setting_up(plan, us)
    else:
        steps = turned(plan, index, us) if index == 1 else closed(plan, index, us)
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
                **{name: held for name, held in one.items() if name != "figures"},
                "keys": workings.keys(*one["figures"]),
                "n": str(n),
                "says": [wording.in_system(text, us=us, rule=True) for text in one["says"]],
                "care": [wording.in_system(text, us=us, rule=True) for text in one.get("care", []) if text],
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
                "First do everything on the page “Getting ready”, which lies behind these pages; it explains "
                "the words, and the forms are drawn after it. Now the object is ready and released, and the "
                "chart is taped to the base board, front towards you."
            ],
        )
    ]
    marks, at = pose.get("landmarks"), "/pose/landmarks"
    heights = each(marks, at, "height_mm", "low_mm", "high_mm")
    posed = [*heights, ["/pose/tilt_deg"]] if not pose.get("on_board") else []
    steps.append(step("Set the pose", pose_words(plan, us), figures=posed, landmarks=_landmarks(pose, us)))
    stations, at = pose.get("stations"), "/pose/stations"
    if stations:
        drawn = each(stations, at, "seam_mm", "stray_up_mm", "stray_down_mm")
        steps.append(step("Draw the seam", seam_words(plan, us), figures=drawn))
    gate = plug_words(plan)
    if gate:
        steps.append(step("Set the gate plug", [gate]))
    bed = plan.get("bed")
    if bed:
        built = [["/bed/clay_g"], *each(stations, at, "bed_mm", "bed_down_mm"), ["/pose/rim_mm"]]
        built += each(pose.get("keys"), "/pose/keys", "ball_mm", "depth_mm", "diameter_mm")
        steps.append(step("Build the bed", bed_words(plan, us), figures=built, care=bed.get("cautions", [])))
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
    at = f"/pours/{index}/form"
    set_up = [
        [f"{at}/height_least_mm"],
        *each(form.get("boards"), f"{at}/boards", "length_mm", "height_mm", "thickness_mm"),
        [f"{at}/inside_mm"],
        *each(form.get("straps"), f"{at}/straps", "from_board_mm"),
        [f"{at}/coil_mm"],
    ]
    steps = []
    if form:
        steps.append(step("Set up the form", says, figures=set_up, care=form.get("cautions", [])))
    others = release_words(plan, index + 1, "rest" if index == 0 else "all")
    if index > 1 and not others:
        others = [f"On all plaster faces and the object that {pour['piece']} will touch: as for pour 2."]
    if others:
        coats = (plan.get("release") or {}).get("steps", [])
        mine = [k for k, coat in enumerate(coats) if coat["pour"] == index + 1]
        leaves = ("coats_count", "wait_min")
        told = [[f"/release/steps/{k}/{leaf}" for k in mine] for leaf in leaves]
        steps.append(step("Release", others, figures=told))
    return [*steps, _marked(plan, index, us)]


def _marked(plan: Mapping[str, Any], index: int, us: bool) -> Step:
    """The line where the pour stops, what a millimetre of it takes, and the form as it was built."""
    pour = plan["pours"][index]
    says = ["Draw the line where the pour stops inside, on all sides."]
    if index > 0:
        says = ["Draw the line where this pour stops."]
    per_mm = pour.get("grams_per_mm")
    if per_mm:
        water, plaster = (_per_mark(per_mm[key], us) for key in ("water", "plaster"))
        mark = "sixteenth of an inch" if us else "millimetre"
        says.append(f"Each {mark} higher takes {water} of water and {plaster} of plaster more.")
    says.append(
        "Measure the form, too: if it came out otherwise, “If something is off” leads to new weights."
    )
    at = f"/pours/{index}/grams_per_mm"
    figures = [[f"{at}/water"], [f"{at}/plaster"]]
    return step(
        "Mark and measure",
        says,
        figures=figures,
        built=["inside"] * len((pour.get("form") or {}).get("inside_mm") or [0, 0]),
    )


def _per_mark(grams_per_mm: float, us: bool) -> str:
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
        # What to do at a leak was told with the first pour.
        poured = [text.partition(" If the form leaks")[0] for text in poured]
    if late:
        signs = " ".join(late) if index == 0 else late[0]
        poured.append(f"Too late to pour: {signs} Then let it set in the bucket and mix anew.")
    if mixing.get("rescue"):
        poured.append("Too little? “If something is off” tells what to do at once.")
    return [
        step("Weigh and mix", [*says, *mixed], figures=weighed, buckets=buckets, care=care[:3]),
        step("Pour", [*poured, mixing.get("heat", "")], figures=[[f"{at}/peak_celsius"]], care=care[3:]),
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
