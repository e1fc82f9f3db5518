"""The page of what is done before the bench day, and of the words the bench pages use."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from claybed import wording
from claybed.fill_line import short_words
from claybed.sheets.bench_words import base_words, front_words, openings, seam_words
from claybed.sheets.fill_words import fill_words
from claybed.sheets.gate_plug import gate_words
from claybed.sheets.holding_words import hold_words
from claybed.sheets.hump_pages import hump_of
from claybed.sheets.pour_words import SIDE, across, filler_words, release_words, seal_words
from claybed.sheets.steps import each, strings
from claybed.sheets.things import things
from claybed.sheets.workings import Workings
from claybed.units import MM_PER_IN
from claybed.wording import ruler

# Length of the bars that every printed page carries, both ways.
BAR_MM = 150.0
# About so many letters of a word's meaning stand in one line of its column.
COLUMN_LETTERS = 58
# Each with the key of the plan without which nobody meets the word.
WORDS = (
    ("Bed", "clay built up round the object to the seam, so that the first pour stops there", "bed"),
    ("Chart", "the template that lies under the work: outline of the form, stations, keys, saddles", "pose"),
    (
        "Stations",
        "numbered places round the object; on the chart the seam's height stands inside each",
        "bed",
    ),
    ("Seam", "the line on the object where the mold pieces meet", "bed"),
    ("Saddles", "two cards, slotted together, that hold the object in its pose", "saddles"),
    ("Keys", "bumps on one piece and hollows in the next, so that they close one way only", "bed"),
    ("Gate", "the channel by which slip goes in and out", "gate"),
    ("Pose", "how the object lies for the first pour", "bed"),
    ("Form", "the boards or the band that hold the pour; its rim is their upper edge", "pours"),
    ("Chamfer", "cut an edge off at a slant, so that it does not chip", "pours"),
    ("Release", "a thin coat, here mold soap or the like, that plaster does not stick to", "release"),
    (
        "Water clay, oil clay",
        "clay that dries, for bed and joints; clay that never dries, for filling",
        "pours",
    ),
    ("Slurry", "plaster and water, mixed and not yet set", "pours"),
    ("Slake", "leave the sifted plaster alone until it has drunk water", "pours"),
    ("Slip", "liquid clay for casting", "pours"),
    ("Parting face", "the face of a piece that meets the other piece", "bed"),
    ("Filler", "board or clay that keeps the place of a piece until that is poured", "fillers"),
)


# The figures of what keeps an object down, where a plan has them.
HELD = ("seeping_up_g", "hold_down_g", "displaced_g", "packing/clay_g", "packing/least_g")
_SHARED = ("Form", "Chamfer", "Release", "Water clay, oil clay", "Slurry", "Slake")
HUMP_WORDS = (
    ("Hump", "plaster that clay is draped over; here the filling of the vessel", "pours"),
    ("Plinth", "what the hump stands on, poured with it above the rim", "pours"),
    ("Ledge", "the rim of the plinth round the hump, that ware is trimmed against", "pours"),
    ("Bed", "sand, and clay on it level with the rim, round the vessel", "bed"),
    (
        "Chart",
        "the template that lies under the work: outline of the form and of the vessel's inside",
        "pose",
    ),
    *(row for row in WORDS if row[0] in _SHARED),
)


def getting_ready(plan: Mapping[str, Any], *, us: bool, workings: Workings | None = None) -> dict[str, Any]:
    """Steps before the bench day, what to do when plaster runs short, and words with their meanings.

    `workings` numbers the figures that lead to their workings; none are numbered without it.
    """
    pose = plan.get("pose") or {}
    never = strings((plan.get("release") or {}).get("never", [])[:1])
    steps = [
        ("Print and cut", [_printing(pose, us), _cutting(pose, us)]),
        ("Have ready", []),
        ("Lay the chart", [base_words(plan, us), front_words(plan)]),
    ]
    held, plug = hold_words(plan, us), gate_words(plan, us)
    seam = _seam(plan, us)
    # What is cut or stuck on comes before the coats that close the surface.
    loose = (plan["mold"].get("gate") or {}).get("kind") == "bore"
    if plug and loose:
        steps.append(("Make the gate", plug))
    if held:
        steps.append(("Keep it down", [" ".join(held)]))
    steps.append(("Make the object ready", [seal_words(plan), *([] if seam else fill_words(plan, us))]))
    if plug and not loose:
        steps.append(("Make the gate", plug))
    if seam:
        steps.append(("Draw the seam", [seam[0], " ".join(seam[1:]), " ".join(fill_words(plan, us))]))
    kept = filler_words(plan["pours"][0].get("form") or {}).replace(f" {SIDE}", f"\n{SIDE}").splitlines()
    if kept:
        steps.append(("Make the filler" if len(kept) == 1 else "Make the fillers", kept))
    coats = release_words(plan, 1, "object")
    if coats:
        out = [f"Lift it {'out of its saddles' if pose.get('saddles') else 'off its pad'}."] if seam else []
        faded = ["Draw again what has faded of the line."] if seam else []
        harm = ["The thin line of a marker does no harm."] if seam else []
        steps.append(("Coat the object", [" ".join([*out, *coats, *faded]), " ".join([*never, *harm])]))
    first = plan["pours"][0]
    inside = (first.get("form") or {}).get("inside_mm") or []
    told = [{"says": wording.in_system(text, us=us), "command": ""} for text in _rescues(plan, us)]
    if inside and first.get("grams_per_mm"):
        size, line = across(inside, us).replace(" × ", " x "), ruler(first["fill_line_mm"], us)
        told.append(
            {
                "says": "Is the form wider or narrower inside than told, or the line higher? The tables "
                "above tell what to add; no more is needed. A computer works it out from the plan's folder:",
                "command": f'claybed mix --plan FOLDER --piece {first["piece"]} --inside "{size}" '
                f'--line "{line}"{" --units us" if us else ""}',
            }
        )

    known = HUMP_WORDS if hump_of(plan) else WORDS
    words = [[word, means] for word, means, needs in known if _met(plan, needs)]
    if not pose.get("saddles"):
        words = [[word, means.replace(", keys, saddles", " and keys")] for word, means in words]
    care = {"Make the object ready": strings((plan.get("release") or {}).get("cautions", []))}
    figures = _figures(plan)
    return {
        "steps": [
            {
                "title": title,
                "says": [wording.in_system(text, us=us) for text in strings(says)],
                "things": things(plan, us) if title == "Have ready" else [],
                "keys": workings.keys(*figures.get(title, [])) if workings else "",
                "care": [wording.in_system(text, us=us) for text in care.get(title, [])],
            }
            for title, says in steps
        ],
        "told": told,
        "words": words,
        "half": _half(words),
    }


def _half(words: Sequence[Sequence[str]]) -> int:
    """After how many words the second column begins, so that both are about as tall."""
    lines = [math.ceil((len(word) + len(means) + 3) / COLUMN_LETTERS) for word, means in words]
    return min(range(len(words) + 1), key=lambda n: max(sum(lines[:n]), sum(lines[n:])))


def _figures(plan: Mapping[str, Any]) -> dict[str, list[list[str]]]:
    """The figures that a step tells, by its title, as tables of pointers."""
    pose = plan.get("pose") or {}
    coats = (plan.get("release") or {}).get("steps") or []
    mine = [k for k, coat in enumerate(coats) if coat["pour"] == 1 and "object" in str(coat["where"])]
    seam = each(pose.get("stations"), "/pose/stations", "seam_mm", "stray_up_mm", "stray_down_mm")
    return {
        "Keep it down": [[f"/pours/0/hold/{leaf}"] for leaf in HELD],
        "Draw the seam": [*seam, *each(pose.get("fill"), "/pose/fill", "clay_g", "height_mm", "depth_mm")],
        "Coat the object": [
            [f"/release/steps/{k}/{leaf}" for k in mine] for leaf in ("coats_count", "wait_min")
        ],
    }


def _seam(plan: Mapping[str, Any], us: bool) -> list[str]:
    """How the seam is drawn on the object while it lies in its pose; empty where there is none to draw."""
    if not (plan.get("pose") or {}).get("stations"):
        return []
    return [
        "Set the object in its pose as step 2 of the first pour tells. The seam is where the mold pieces "
        "will meet, the thick line in the pictures of “The object as it lies”.",
        *seam_words(plan, us),
    ]


def _rescues(plan: Mapping[str, Any], us: bool) -> list[str]:
    """What to mix when a pour runs short; told of its pieces where they do not all take the same."""
    pieces: dict[str, list[str]] = {}
    for pour in plan["pours"]:
        _, at_once, then = str((pour.get("mixing") or {}).get("rescue") or "").partition(" at once")
        if at_once:
            rescue = f"{short_words(pour['grams_per_mm'], us=us)}{then}"
            pieces.setdefault(rescue, []).append(str(pour["piece"]))
    if len(pieces) < 2:
        return [f"S{text[1:]}" for text in pieces]
    return [f"Piece {' or '.join(letters)} {text}" for text, letters in pieces.items()]


def _met(plan: Mapping[str, Any], needs: str) -> bool:
    if needs == "gate":
        return (plan["mold"].get("gate") or {}).get("kind") == "bore"
    if needs == "saddles":
        return bool((plan.get("pose") or {}).get("saddles"))
    if needs == "fillers":
        return bool(filler_words(plan["pours"][0].get("form") or {}))
    return bool(plan.get(needs))


def _printing(pose: Mapping[str, Any], us: bool) -> str:
    # To a hundredth: sixteenths of an inch would call a true bar half a per cent long.
    bar = f"{BAR_MM / MM_PER_IN:.2f} in (15 cm)" if us else f"{BAR_MM:g} mm"
    twice = (
        "Print the chart twice, and cut the second out along the seam line round object and gate: laid "
        "on the bed, it marks the keys. Small numbers in brackets on these pages lead to “How the numbers "
        "came about”."
        if pose.get("keys")
        else ""
    )
    return (
        "Print templates.pdf, which lies beside this sheet, at 100 %. A ruler must read "
        f"{bar} on each bar of the print; if not, print again. Where a drawing runs over several pages, tape "
        f"them cross on cross. {twice}".strip()
    )


def _cutting(pose: Mapping[str, Any], us: bool) -> str:
    """What is cut, and from which card."""
    saddles: Sequence[Mapping[str, Any]] = pose.get("saddles") or []
    made = [f"saddles {' and '.join(str(s['id']) for s in saddles)}"] if saddles else []
    made += ["the bed cards"] if pose.get("bed_cards") else []
    made += ["the key card"] if pose.get("keys") else []
    if not made:
        return ""
    listed = ", ".join(made[:-1]) + f" and {made[-1]}" if len(made) > 1 else made[0]
    thick = f"card {ruler(saddles[0]['card_mm'], us)} thick" if saddles else "stiff card"
    strip = ""
    if pose.get("stations") and not pose.get("level"):
        slots = ", slots and all" if openings({"pose": pose}) and saddles else ""
        strip = f" Cut the seam strip from thin card that bends{slots}, as closely as scissors go."
    out = f"Glue {listed} to {thick} and cut out. Tape over "
    return f"{out}them against wet clay.{strip}"
