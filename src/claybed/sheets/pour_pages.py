"""The two pages for the person at the bench: one for each pour, numbers first, then the order of work.

A step is a title, sentences, and perhaps something to fill in: landmarks, buckets, the form as built,
weights. Texts come from the plan; what a plan does not hold is left out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from claybed import wording
from claybed.sheets.bench_words import (
    base_words,
    bed_words,
    fill_words,
    front_words,
    gate_words,
    pose_words,
    seam_words,
)
from claybed.sheets.workings import Workings
from claybed.units import say_length, say_mass, say_volume
from claybed.wording import ruler

Step = dict[str, Any]
# More buckets than this are listed on a page of their own.
MOST_BUCKETS = 3
AGAIN = (
    "As for the first pour: mask and goggles for the dust, dry hands at the drill, never a hand or any part "
    "of a body in plaster, nothing down a drain.",
)


def pour_pages(plan: Mapping[str, Any], workings: Workings, *, us: bool) -> list[dict[str, Any]]:
    """One page for each pour, in order; the last one also takes the mold apart and dries it."""
    pours = plan["pours"]
    return [_page(plan, k, k == len(pours) - 1, workings, us) for k in range(len(pours))]


def _page(plan: Mapping[str, Any], index: int, last: bool, workings: Workings, us: bool) -> dict[str, Any]:
    steps = _setting_up(plan, workings, us) if index == 0 else _turned(plan, index, us)
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
    return {"title": title, "says": list(says), **more}


def _facts(plan: Mapping[str, Any], index: int, workings: Workings, us: bool) -> list[list[str]]:
    """What is looked up while standing at the form: name, figure, key into the workings."""
    pour, mold = plan["pours"][index], plan["mold"]
    form = pour.get("form") or {}
    facts: list[list[str]] = []

    def add(name: str, text: str, pointer: str) -> None:
        facts.append([name, text, workings.key(pointer)])

    # A side piece stands in a form of its own; all else in the outline of the block.
    across, inside_at = mold["outer_mm"], "/mold/outer_mm"
    if form and abs(pour["form"]["inside_mm"][0] - across[0]) > 0.5:
        across, inside_at = form["inside_mm"], f"/pours/{index}/form/inside_mm"
    if len(across) == 1 or (mold["shape"] == "round" and inside_at == "/mold/outer_mm"):
        add("Form inside", f"Ø {ruler(across[0], us)}", inside_at)
    else:
        add("Form inside", " × ".join(ruler(side, us) for side in across[:2]), inside_at)
    if form:
        high = "Band at least" if form.get("band") else "Boards at least"
        at = f"/pours/{index}/form"
        add(high, f"{ruler(form['height_least_mm'], us)} high", f"{at}/height_least_mm")
        add("Coil to seal it", say_length(form["coil_mm"], us=us), f"{at}/coil_mm")
    bed = plan.get("bed")
    if bed and index == 0:
        add("Clay for the bed", say_mass(bed["clay_g"], us=us), "/bed/clay_g")
        add("Bed at the form", f"{ruler(bed['height_mm'], us)} up", "/bed/height_mm")
    if index == 0 and len(plan["pours"]) > 1:
        plaster = say_mass(sum(p["plaster_g"] for p in plan["pours"]), us=us)
        facts.append(["Plaster, all pours", plaster, ""])
    for k, piece in enumerate(plan["pieces"]):
        if piece["id"] == pour["piece"]:
            wet, dry = (say_mass(piece[key] * 1000.0, us=us) for key in ("wet_kg", "dry_kg"))
            add(f"Piece {piece['id']} wet", wet, f"/pieces/{k}/wet_kg")
            add(f"Piece {piece['id']} dry", dry, f"/pieces/{k}/dry_kg")
    return facts


def _setting_up(plan: Mapping[str, Any], workings: Workings, us: bool) -> list[Step]:
    """From a print to an object that lies in its bed."""
    pose = plan.get("pose") or {}
    saddles = pose.get("saddles") or []
    made = [f"saddles {' and '.join(s['id'] for s in saddles)}"] if saddles else []
    made += ["the seam strip"] if pose.get("stations") and not pose.get("level") else []
    made += ["the bed cards"] if pose.get("bed_cards") else []
    made += ["the key card"] if pose.get("keys") else []
    listed = ", ".join(made[:-1]) + f" and {made[-1]}" if len(made) > 1 else "".join(made)
    steps = [
        _step(
            "Print and cut",
            [
                "Lay a ruler on both 150 mm bars, here and on the templates; print again if one is off.",
                _cutting(listed, pose, us),
                base_words(plan, us),
                front_words(plan),
            ],
        ),
        _step("Make the object ready", [*fill_words(plan, us), *_releases(plan, 1, "object", us)]),
    ]
    steps.append(_step("Set the pose", pose_words(plan, us), landmarks=_landmarks(pose, us)))
    if pose.get("stations"):
        steps.append(_step("Draw the seam", seam_words(plan, workings, us)))
    plug = gate_words(plan, us)
    if plug:
        steps.append(_step("Make the gate", plug))
    bed = plan.get("bed")
    if bed:
        steps.append(_step("Build the bed", bed_words(plan, us), care=bed.get("cautions", [])))
    return steps


def _held(plan: Mapping[str, Any], index: int) -> list[Step]:
    """How a light object is kept down, when it would come up in slurry."""
    hold = plan["pours"][index].get("hold")
    if not hold or not plan["object"].get("floats_in_slurry"):
        return []
    heavy = [b["says"] for b in hold["ballast"] if b.get("fits") is not False][:1] if index == 0 else []
    return [_step("Keep it down", [hold["says"], *(f"Or fill the hollow: {text}" for text in heavy)])]


def _cutting(listed: str, pose: Mapping[str, Any], us: bool) -> str:
    """What is cut, and from which card."""
    if not listed:
        return ""
    saddles = pose.get("saddles") or []
    thick = ruler(saddles[0]["card_mm"], us) if saddles else "stiff"
    return f"Cut {listed} from {thick} card and tape over it, so that clay does not soak it."


def _landmarks(pose: Mapping[str, Any], us: bool) -> list[list[str]]:
    rows: list[list[str]] = []
    if pose.get("on_board"):
        return rows
    for mark in pose.get("landmarks") or []:
        span = ""
        if mark["high_mm"] - mark["low_mm"] > 3.0:
            span = f"{ruler(mark['low_mm'], us).rsplit(' ', 1)[0]} to {ruler(mark['high_mm'], us)}"
        rows.append([str(mark["name"]), ruler(mark["height_mm"], us), span])
    return rows


def _turned(plan: Mapping[str, Any], index: int, us: bool) -> list[Step]:
    """From a set first piece to one that lies face up, cleaned."""
    after = plan["pours"][index - 1].get("after") or {}
    says = list(after.get("steps") or [])
    if not says:
        return [_step("Turn it over", ["Take the form off, turn the piece over with the object in it."])]
    off, rest = says[0], says[1:]
    titles = ("Scrape and round", "Turn it over", "Clean")
    steps = [_step("Take the form off", [off], care=after.get("cautions", [])[:1])]
    for title, text in zip(titles, rest, strict=False):
        care = after.get("cautions", [])[1:2] if title == titles[1] else []
        plug = ""
        if title == "Turn it over" and not text.startswith("Turn"):
            title = "Tip it on its side"
        if title == "Clean" and (plan["mold"].get("gate") or {}).get("kind") == "bore":
            plug = "The gate plug stays in as well."
        steps.append(_step(title, [text, plug], care=care))
    return steps


def _releases(plan: Mapping[str, Any], pour: int, part: str, us: bool) -> list[str]:
    """What is released for a pour: only the object, or all else."""
    says: list[str] = []
    told: set[str] = set()
    for step in (plan.get("release") or {}).get("steps", []):
        about_object = "object" in str(step["where"])
        if step["pour"] != pour or about_object != (part == "object"):
            continue
        coats = f"{step['coats_count']:.0f} coats of" if step["coats_count"] > 1 else "one coat of"
        wait = f", {step['wait_min']:.0f} minutes each" if step.get("wait_min") else ""
        how = f"{coats} {step['what']}{wait}"
        says.append(f"Release {step['where']}: {'the same' if how in told else how}. {step['says']}")
        told.add(how)
    return says


def _standing(plan: Mapping[str, Any], index: int, us: bool) -> list[Step]:
    """The form, its release and the line where the pour stops."""
    pour = plan["pours"][index]
    form = pour.get("form") or {}
    says: list[str] = []
    if index > 0 and form:
        before = plan["pours"][index - 1].get("form") or {}
        more = form["height_least_mm"] - before.get("height_least_mm", form["height_least_mm"])
        if more > 0.5:
            says.append(
                f"This pour needs higher sides: {ruler(form['height_least_mm'], us)}, "
                f"{ruler(more, us)} more than the {'first' if index == 1 else 'one before'}."
            )
    if form:
        coil = say_length(form["coil_mm"], us=us)
        straps = " and ".join(ruler(s["from_board_mm"], us) for s in form.get("straps") or [])
        says += [
            form["how"],
            f"Straps or clamps at {straps} above the board." if straps else "",
            form.get("stiffen", ""),
            f"Seal every joint with {coil} of clay rolled as thick as a finger. "
            + " ".join(form.get("leaks") or []),
        ]
    line = pour.get("fill_line") or {"from_board_mm": pour["fill_line_mm"], "from_rim_mm": None}
    stop = f"{ruler(line['from_board_mm'], us)} up from the board"
    if line["from_rim_mm"] is not None:
        stop += f", {ruler(line['from_rim_mm'], us)} down from the rim"
    built = [f"Mark the line where the pour stops on all sides: {stop}. Measure the form as it stands."]
    per_mm = pour.get("grams_per_mm")
    if per_mm:
        water, plaster = (_per_step(per_mm[key], us) for key in ("water", "plaster"))
        step = "sixteenth of an inch" if us else "millimetre"
        built.append(f"For each {step} that the line is higher: {water} water and {plaster} plaster more.")
    steps = [_step("Set up the form", says, care=form.get("cautions", []))] if form else []
    others = _releases(plan, index + 1, "rest", us)
    if index > 0:
        others = [*_releases(plan, index + 1, "object", us), *others]
    if others:
        never = (plan.get("release") or {}).get("never", [])[:1]
        care = (plan.get("release") or {}).get("cautions", []) if index == 0 else []
        steps.append(_step("Release", [*others, *never], care=care))
    steps.append(_step("Mark and measure", built, built=["inside", "line"]))
    return [*steps, *_held(plan, index)]


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
    says = [f"Bucket of at least {say_volume(least * 1000.0, us=us)}." if least else ""]
    if count > MOST_BUCKETS:
        says.append(f"{count} buckets: weights and start times are in the bucket list.")
    steps = mixing.get("steps") or []
    # The first page says it in full; the second takes it as read.
    care = (mixing.get("cautions") or []) if index == 0 else list(AGAIN)
    late = mixing.get("too_late") or []
    mixed = [text for text in steps if not text.startswith(("Pour", "Scrape"))]
    poured = [text for text in steps if text.startswith(("Pour", "Scrape"))]
    if late:
        poured.append("Too late to pour: " + " ".join(late))
    if mixing.get("rescue"):
        poured.append(mixing["rescue"])
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
    care = list(after.get("cautions") or [])
    steps = [_step("Open the mold", texts[:-1], care=care)]
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


def _usual_shares(plan: Mapping[str, Any]) -> bool:
    """Whether the plan's press-ready and slip-ready weights are the shares that the sentence names."""
    return all(
        abs(t["press_ready_g"] / t["dry_g"] - 1.15) < 5e-4
        and abs(t["slip_ready_g"] / t["dry_g"] - 1.05) < 5e-4
        for t in plan.get("dry_targets") or []
    )
