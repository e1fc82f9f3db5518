"""Where one figure of a plan comes from: formula, inputs and their own origin, source, common rule."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Final

from claybed.actions.plan_file import read_figures
from claybed.errors import InputError
from claybed.materials import shelf
from claybed.materials.sources import sources

Progress = Callable[[str, float], None]
WHY_SCHEMA: Final = "claybed-why-1"
MOST_NEAR: Final = 6
# Origins that are no key of docs/sources.md, in words.
_ORIGINS: Final = {
    "measured": "Measured.",
    "asked": "As it was asked for, or as the studio keeps it.",
    "geometry": "Computed from the shape in the file.",
    "practice": "Common practice, no source.",
    "memory": "From memory; measure your own before relying on it.",
    "derived": "Worked from other figures by the formula.",
    "chosen": "Chosen for this program, no source.",
}
# Figures that the trade's usual rule also gives: leaf of the figure -> where the rule's figure stands.
_COMMON: Final = {"water_g": "common_rule/water_g", "plaster_g": "common_rule/plaster_g"}
_COMMON_SAYS: Final = "as much water as space to fill, plaster at the ratio"


def run(payload: Mapping[str, Any], progress: Progress) -> dict[str, Any]:
    """Explain the figure payload["name"] of the plan folder payload["path"].

    Without a name, or for a name that stands for a group, returns the names below it under "names". Raises
    InputError for a folder that holds no plan, and for a name that is not there, with those near it.
    """
    progress("reading", 0.0)
    plan = read_figures(Path(payload["path"]))
    progress("reading", 1.0)
    return explained(plan, str(payload.get("name") or ""))


def explained(plan: Mapping[str, Any], name: str) -> dict[str, Any]:
    """The working of one figure of a plan as plain values; see `run`."""
    figures = plan.get("figures")
    if not isinstance(figures, Mapping) or not all(isinstance(one, Mapping) for one in figures.values()):
        raise InputError("holds no figures.", where="plan.json", remedy="Plan it again.")
    known = {dotted(plan, pointer): pointer for pointer in figures}
    wanted = name.strip().strip("/").replace("/", ".")
    chosen = _find(plan, wanted, known)
    if chosen is None:
        below = [one for one in known if not wanted or one.casefold().startswith(wanted.casefold() + ".")]
        if below:
            return {"schema": WHY_SCHEMA, "name": wanted, "names": below}
        raise InputError(
            f"there is no figure “{name}” in this plan.",
            where="claybed why",
            remedy=f"Near it: {', '.join(_near(wanted, list(known)))}.",
        )
    pointer = known[chosen]
    figure = figures[pointer]
    try:
        return _document(plan, chosen, pointer, figure, known)
    except (KeyError, IndexError, TypeError, ValueError) as reason:
        raise InputError(
            f"the figure “{chosen}” is not whole.", where="plan.json", remedy="Plan it again."
        ) from reason


def dotted(plan: Mapping[str, Any], pointer: str) -> str:
    """A pointer as it is typed: /pours/0/plaster_g is pours.A.plaster_g; other rows are counted from 1."""
    words: list[str] = []
    for part in pointer.strip("/").split("/"):
        words.append(_row_name(plan, words, part) if part.isdigit() else part)
    return ".".join(words)


def _row_name(plan: Mapping[str, Any], before: list[str], number: str) -> str:
    """What a row of a list is called: a piece's letter, a check's code, else its place."""
    table, letter = before[-1], {
        "pieces": "id", "pours": "piece", "dry_targets": "piece", "checks": "id", "cases": "piece",
        "parts": "id",
    }  # fmt: skip
    if table in letter and (len(before) == 1 or table == "parts"):
        rows = _rows(plan, before)
        if isinstance(rows, list) and int(number) < len(rows) and isinstance(rows[int(number)], Mapping):
            return str(rows[int(number)].get(letter[table], number))
    return str(int(number) + 1)


def _rows(plan: Mapping[str, Any], words: list[str]) -> Any:
    """The list that typed words lead to: a table, or the parts of a case."""
    if len(words) == 1:
        return plan.get(words[0])
    for case in plan.get("cases", ()):
        if words[:2] == ["cases", str(case.get("piece"))]:
            return case.get(words[-1])
    return None


def _find(plan: Mapping[str, Any], wanted: str, known: Mapping[str, str]) -> str | None:
    """The name that was meant: as typed in any case, as a pointer, or by an ending that only one has."""
    folded = {name.casefold(): name for name in known}
    if wanted.casefold() in folded:
        return folded[wanted.casefold()]
    as_pointer = "/" + wanted.replace(".", "/")
    if as_pointer in known.values():
        return dotted(plan, as_pointer)
    ends = [name for name in known if wanted and name.casefold().endswith("." + wanted.casefold())]
    return ends[0] if len(ends) == 1 else None


def _near(wanted: str, names: list[str]) -> list[str]:
    """Names that resemble what was typed: by their whole, then by their last word."""
    found = get_close_matches(wanted, names, n=MOST_NEAR, cutoff=0.6)
    leaf = wanted.rpartition(".")[2]
    leaves: dict[str, list[str]] = {}
    for name in names:
        leaves.setdefault(name.rpartition(".")[2], []).append(name)
    for close in get_close_matches(leaf, list(leaves), n=3, cutoff=0.5):
        found += leaves[close][:2]
    found += [name for name in names if leaf and leaf in name]
    return list(dict.fromkeys(found))[:MOST_NEAR] or names[:MOST_NEAR]


def _document(
    plan: Mapping[str, Any],
    name: str,
    pointer: str,
    figure: Mapping[str, Any],
    known: Mapping[str, str],
) -> dict[str, Any]:
    given = figure["inputs"]
    return {
        "schema": WHY_SCHEMA,
        "name": name,
        "pointer": pointer,
        "value": value_at(plan, pointer),
        "unit": figure["unit"],
        "low": figure.get("low"),
        "high": figure.get("high"),
        "formula": figure["formula"],
        "inputs": [
            {"name": key, "value": value, "from": _origin(plan, pointer, key, value, known)}
            for key, value in given.items()
        ],
        "source": _source(str(figure["source"])),
        "common_rule": _common(plan, pointer),
    }


def value_at(plan: Mapping[str, Any], pointer: str) -> Any:
    """The value of a plan at a JSON pointer. Raises KeyError or IndexError when there is none."""
    held: Any = plan
    for part in pointer.strip("/").split("/"):
        held = held[int(part)] if isinstance(held, list) else held[part]
    return held


def _source(key: str) -> dict[str, Any]:
    """The source of a figure: its key, what it is in words, and how it was known."""
    if key in _ORIGINS:
        return {"key": key, "text": _ORIGINS[key], "seen": key}
    found = sources().get(key)
    if found is None:
        return {"key": key, "text": key[:1].upper() + key[1:] + ".", "seen": ""}
    return {"key": key, "text": found.text, "seen": found.seen}


def _origin(
    plan: Mapping[str, Any], pointer: str, key: str, value: Any, known: Mapping[str, str]
) -> dict[str, Any]:
    """Where an input comes from: a constant of materials, another figure of the plan, or a wish.

    A figure or constant counts only when its value is the one that went in.
    """
    for file in shelf.FILES:
        constant = shelf.entries(file).get(key)
        if constant is not None and constant.value == value:
            unit = "" if constant.unit == "-" else f" {constant.unit}"
            return {
                "kind": "constant",
                "says": f"{_seen_words(constant.seen)}, {constant.low:g} to {constant.high:g}{unit}"
                + (f". {constant.note}" if constant.note else ""),
                "source": _source(constant.source),
            }
    nearest = _nearest(plan, pointer, key, value, known)
    if nearest is not None:
        return {"kind": "figure", "says": nearest, "source": None}
    asked = plan.get("made", {}).get("brief", {})
    for field in (key, re.sub(r"_per_100$", "", key)):
        if isinstance(asked, Mapping) and field in asked and asked[field] == value:
            return {"kind": "wish", "says": "as asked, or as the studio keeps it", "source": None}
    return {"kind": "step", "says": "worked out on the way", "source": None}


def _nearest(
    plan: Mapping[str, Any], pointer: str, key: str, value: Any, known: Mapping[str, str]
) -> str | None:
    """The figure with that name and value that shares the longest way with this one."""
    best, shared = None, -1
    own = pointer.split("/")
    for name, at in known.items():
        parts = at.split("/")
        if parts[-1] != key or at == pointer or value_at(plan, at) != value:
            continue
        same = next((k for k, (a, b) in enumerate(zip(own, parts, strict=False)) if a != b), len(parts))
        if same > shared:
            best, shared = name, same
    return best


def _seen_words(seen: str) -> str:
    words = {
        "read": "read in its source",
        "memory": "from memory",
        "derived": "worked from other entries",
        "practice": "common practice, no source",
        "chosen": "chosen for this program, no source",
    }
    return words.get(seen, seen)


def _common(plan: Mapping[str, Any], pointer: str) -> dict[str, Any] | None:
    """What the trade's usual rule gives for the same figure, when there is one."""
    parts = pointer.strip("/").split("/")
    if parts[0] == "timetable" and parts[-1] == "ready_d":
        days = plan["figures"][pointer]["inputs"].get("days_people_quote")
        return {"value": days, "unit": "d", "says": "what people say of drying"} if days else None
    if len(parts) != 3 or parts[0] != "pours" or parts[2] not in _COMMON:
        return None
    at = f"/{parts[0]}/{parts[1]}/{_COMMON[parts[2]]}"
    return {"value": value_at(plan, at), "unit": "g", "says": _COMMON_SAYS}
