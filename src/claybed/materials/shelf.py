"""The numbers the product rests on, each with its unit, spread, source and how that source was known."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Final, Literal, get_args

from claybed.errors import InputError

Seen = Literal["read", "memory", "derived", "practice", "chosen"]
FILES: Final = (
    "plaster",
    "practice",
    "clay",
    "slip",
    "drying",
    "boards",
    "bench",
    "measuring",
    "printing",
    "cases",
)


@dataclass(frozen=True, slots=True)
class Constant:
    """One number of the shelf.

    `value` in `unit` ("-" for a pure number); `low` and `high` bound what is met in practice or in print;
    `source` is a key of docs/sources.md; `seen` says how it was known: read, memory (recalled), derived
    (worked from others), practice (common practice, no source) or chosen (for this program, no source);
    `note` anything a reader should know.
    """

    value: float
    unit: str
    low: float
    high: float
    source: str
    seen: Seen
    note: str


def value(file: str, name: str) -> Constant:
    """Look one constant up: `file` is one of FILES, `name` its snake_case name with the unit as suffix.

    Raises InputError naming the nearest entries when there is no such file or name.
    """
    shelf = entries(file)
    if name not in shelf:
        near = get_close_matches(name, shelf, n=3) or sorted(shelf)[:3]
        raise InputError(
            f"there is no entry “{name}” in materials.",
            where=file,
            remedy=f"Entries near it: {', '.join(near)}.",
        )
    return shelf[name]


@cache
def entries(file: str) -> Mapping[str, Constant]:
    """All constants of one file, by name, read-only.

    Raises InputError for an unknown file, ValueError for an entry that is incomplete or outside its spread.
    """
    if file not in FILES:
        raise InputError(f"there is no materials file “{file}”.", remedy=f"Files: {', '.join(FILES)}.")
    text = resources.files("claybed.materials").joinpath("data", f"{file}.toml").read_text(encoding="utf-8")
    return MappingProxyType(
        {name: _constant(f"{file}.{name}", row) for name, row in tomllib.loads(text).items()}
    )


def consistency_range(plaster: str) -> Constant:
    """Water per 100 of plaster by mass that a plaster is made for; `plaster` such as "pottery_plaster".

    Raises InputError listing the plasters known.
    """
    name = f"{plaster}_consistency_per_100"
    shelf = entries("plaster")
    if name not in shelf:
        known = sorted(
            entry.removesuffix("_consistency_per_100")
            for entry in shelf
            if entry.endswith("_consistency_per_100") and not entry.startswith("use_")
        )
        raise InputError(
            f"the plaster “{plaster}” is not known.",
            where="--plaster",
            remedy=f"Use one of {', '.join(known)}.",
        )
    return shelf[name]


def _constant(place: str, row: Mapping[str, object]) -> Constant:
    missing = {"value", "unit", "low", "high", "source", "seen"} - set(row)
    unknown = set(row) - {"value", "unit", "low", "high", "source", "seen", "note"}
    if missing or unknown:
        raise ValueError(f"{place}: missing {sorted(missing)}, unknown {sorted(unknown)}")
    number, low, high = (_float(place, key, row[key]) for key in ("value", "low", "high"))
    if not low <= number <= high:
        raise ValueError(f"{place}: {number} is outside its spread {low}..{high}")
    for seen in get_args(Seen):
        if row["seen"] == seen:
            return Constant(
                number, str(row["unit"]), low, high, str(row["source"]), seen, str(row.get("note", ""))
            )
    raise ValueError(f"{place}: seen must be one of {get_args(Seen)}")


def _float(place: str, key: str, raw: object) -> float:
    if isinstance(raw, bool) or not isinstance(raw, int | float):
        raise ValueError(f"{place}: {key} must be a number")
    return float(raw)
