"""The words of paper and page: what a check is called, what a piece's pull is, and the cautions.

Sentences are what a colleague would say. An id that is not listed here is still printed, spelled out.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

# By how the check's id begins; what follows names the piece. The longest beginning wins.
CHECKS: Mapping[str, str] = {
    "air": "No air is trapped",
    "drain": "The mold drains",
    "edge": "No edge too sharp to last",
    "file_on_lattice": "Files are as they were written",
    "gate": "The gate stays open",
    "keys": "Keys sit firmly",
    "keys_close_one_way": "Keys close one way only",
    "lift": "Weight to lift",
    "model": "The model is the object",
    "model_leaves_last": "The model leaves last",
    "one_body": "Everything is in one piece each",
    "pieces_overlap": "Pieces do not overlap",
    "pose": "Pose on the bed",
    "release": "Pieces leave along their pulls",
    "seam": "The seam closes",
    "solid_closed": "Every solid is closed",
    "volumes": "Volumes add up",
    "volumes_fill_block": "Volumes add up to the block",
    "wall": "Plaster round the cavity",
}
IN_FILES = "file_"

SEVERITIES: Mapping[str, str] = {"stop": "Stop", "look": "Look here", "note": "Good to know"}

LOCK_CLASSES: Mapping[str, str] = {
    "ignore": "nothing to do",
    "scrape": "scrape or soften",
    "fill": "close with oil clay",
}

CAUTIONS: Sequence[tuple[str, str]] = (
    (
        "Dust",
        "Plaster powder is fine dust. Wear a fitted dust mask, keep the sack low, and sift the "
        "plaster into the "
        "water, never water onto plaster. Wipe up wet; do not sweep dry.",
    ),
    (
        "Heat",
        "Plaster heats while it sets and can burn deeply. Never enclose a hand or any part of a body "
        "in plaster, "
        "and never leave a hand in the bucket.",
    ),
    (
        "Eyes and skin",
        "Wear goggles when mixing, scraping or chipping. Rinse plaster off the skin before it sets.",
    ),
    (
        "Lifting",
        "Wet pieces are heavy and slippery, and a closed mold full of slip shifts as you lift it. "
        "Read the weights "
        "on page one and take a second person when in doubt.",
    ),
    (
        "Water and electricity",
        "Plug a mixer into a protected outlet, keep hands dry, and unplug it before touching the paddle.",
    ),
    (
        "Drains and waste",
        "No plaster and no rinse water down a drain: it sets in the pipe. Let leftovers set in a "
        "flexible bucket, "
        "break them out, and keep plaster scrap apart from other waste.",
    ),
)

DEFER = (
    "These cautions are not complete. The data sheets of your plaster and the rules of your "
    "workplace, school and "
    "country come first."
)


UNITS: Mapping[str, str] = {"deg": "°", "mm2": "mm²", "mm3": "mm³", "cm2": "cm²", "percent": "%", "-": ""}


def unit_words(unit: str) -> str:
    """A unit as it is read: "mm3" becomes "mm³"; one that is not listed stays."""
    return UNITS.get(unit, unit)


def check_family(check_id: str) -> str:
    """What checks of one kind are called together: "release_A" and "release_B" share a name."""
    return _family_and_rest(check_id)[0]


def check_words(check_id: str, all_ids: Sequence[str]) -> str:
    """What a check is called; `all_ids` are the ids on the same sheet, so that two never read alike."""
    family, rest, tail = _family_and_rest(check_id)
    namesakes = sum(check_family(other) == family for other in all_ids)
    if namesakes < 2 or not rest:
        return f"{family}{tail}"
    subject = "the model" if rest == "model" else f"piece {rest}" if len(rest) < 3 else spelled(rest).lower()
    return f"{family}{tail}: {subject}"


def _family_and_rest(check_id: str) -> tuple[str, str, str]:
    code, tail = check_id.replace(".", "_"), ""
    known = [start for start in CHECKS if code == start or code.startswith(f"{start}_")]
    if not known and code.startswith(IN_FILES):
        code, tail = code.removeprefix(IN_FILES), ", in the files"
        known = [start for start in CHECKS if code == start or code.startswith(f"{start}_")]
    if not known:
        return spelled(check_id), "", ""
    start = max(known, key=len)
    return CHECKS[start], code.removeprefix(start).strip("_"), tail


def spelled(code: str) -> str:
    """A snake_case code as words: "edge_acute" becomes "Edge acute"; a trailing unit is left off."""
    words = re.sub(r"_(mm|mm2|mm3|ml|g|kg|deg|cm2|rel|percent)$", "", code)
    words = re.sub(r"[._]+", " ", words).strip()
    return words[:1].upper() + words[1:]


def pull_words(pull: Sequence[float]) -> str:
    """Where a piece leaves to, in words: straight up, straight down, or sideways with the direction."""
    x, y, z = (float(v) for v in pull)
    length = math.sqrt(x * x + y * y + z * z)
    if length < 1e-9:
        return "not given"
    up = math.degrees(math.asin(max(-1.0, min(1.0, z / length))))
    if up > 89.0:
        return "straight up"
    if up < -89.0:
        return "straight down"
    turn = math.degrees(math.atan2(y, x)) % 360.0
    names = {0: "to the right", 90: "to the back", 180: "to the left", 270: "to the front"}
    nearest = min(names, key=lambda a: abs((turn - a + 180.0) % 360.0 - 180.0))
    off = abs((turn - nearest + 180.0) % 360.0 - 180.0)
    sideways = names[nearest] if off < 1.0 else f"{turn:.0f}° round from the right"
    if abs(up) < 1.0:
        return sideways
    return f"{sideways}, {abs(up):.0f}° {'up' if up > 0 else 'down'}"


def object_sentences(found: Mapping[str, Any]) -> list[str]:
    """What is to be said of the object beside its measures: unit, mouth, floating, repairs."""
    says: list[str] = []
    unit = found.get("unit")
    if isinstance(unit, Mapping) and unit.get("says"):
        says.append(str(unit["says"]))
    if found.get("mouth"):
        says.append("The mouth is closed by a surface across the rim, so plaster stays out of the vessel.")
    if found.get("floats_in_slurry"):
        more = "" if found.get("floats_in_water") else " although it sinks in water"
        says.append(f"It floats in liquid plaster{more}: fix it down before the pour.")
    says += [str(r["says"]) for r in found.get("repairs") or [] if isinstance(r, Mapping) and r.get("says")]
    return says
