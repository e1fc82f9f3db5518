"""The page of what is done before the bench day, and of the words the bench pages use."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from claybed import wording
from claybed.sheets.bench_words import base_words, fill_words, front_words, gate_words
from claybed.sheets.pour_words import hold_words, release_words, strings, tools_words
from claybed.units import MM_PER_IN
from claybed.wording import ruler

# Length of the bars that every printed page carries, both ways.
BAR_MM = 150.0
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
    ("Saddles", "two cards, slotted together, that hold the object in its pose", "bed"),
    ("Keys", "bumps on one piece and hollows in the next, so that they close one way only", "bed"),
    ("Gate", "the channel by which slip goes in and out", "gate"),
    ("Form", "the boards or the band that hold the pour", "pours"),
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
)


def getting_ready(plan: Mapping[str, Any], *, us: bool) -> dict[str, Any]:
    """Steps before the bench day, what to do when plaster runs short, and words with their meanings."""
    pose = plan.get("pose") or {}
    never = strings((plan.get("release") or {}).get("never", [])[:1])
    steps = [
        ("Print and cut", [_printing(pose, us), _cutting(pose, us)]),
        ("Lay out", [f"Have ready: {tools_words(plan, us)}.", base_words(plan, us), front_words(plan)]),
        ("Make the object ready", [*fill_words(plan, us), *release_words(plan, 1, "object"), *never]),
    ]
    held, plug = hold_words(plan, us), gate_words(plan, us)
    if held:
        steps.append(("Keep it down", held))
    if plug:
        steps.append(("Make the gate", plug))
    first = plan["pours"][0]
    inside = (first.get("form") or {}).get("inside_mm") or []
    told = [
        *dict.fromkeys(
            str(rescue) for pour in plan["pours"] if (rescue := (pour.get("mixing") or {}).get("rescue"))
        )
    ]
    if inside and first.get("grams_per_mm"):
        size = "x".join(f"{side:.0f}" for side in inside)
        line = f"{first['fill_line_mm']:.0f}"
        told.append(
            "Is the form wider or narrower inside than told? Type what you measured, inside and line from "
            "the board, and get new weights: claybed mix --plan FOLDER "
            f"--piece {first['piece']} --inside {size}mm --line {line}mm"
        )

    care = {2: strings((plan.get("release") or {}).get("cautions", []))}
    return {
        "steps": [
            {
                "title": title,
                "says": [wording.in_system(text, us=us) for text in strings(says)],
                "care": [wording.in_system(text, us=us) for text in care.get(k, [])],
            }
            for k, (title, says) in enumerate(steps)
        ],
        "told": [wording.in_system(text, us=us) for text in told[:-1]] + told[-1:],
        "words": [[word, means] for word, means, needs in WORDS if _met(plan, needs)],
    }


def _met(plan: Mapping[str, Any], needs: str) -> bool:
    if needs == "gate":
        return (plan["mold"].get("gate") or {}).get("kind") == "bore"
    return bool(plan.get(needs))


def _printing(pose: Mapping[str, Any], us: bool) -> str:
    # To a hundredth: sixteenths of an inch would call a true bar half a per cent long.
    bar = f"{BAR_MM / MM_PER_IN:.2f} in" if us else f"{BAR_MM:g} mm"
    twice = (
        "Print the page with the chart twice, and cut the object's outline out of one: it marks the keys."
        if pose.get("keys")
        else ""
    )
    return (
        "Print templates.pdf, which lies beside this sheet, at 100 %. A ruler must read "
        f"{bar} on each bar of the print; if not, print again. {twice}".strip()
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
        strip = " Cut the seam strip from thin card that bends, and tape its tiles end to end."
    return f"Glue {listed} to {thick} and cut out. Tape over them against wet clay.{strip}"
