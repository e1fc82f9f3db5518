"""Clay bodies and casting slips by name: those of the shelf, and the studio's own, which come first."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import Any, Final

from claybed.errors import InputError
from claybed.materials.shelf import Constant, entries, value

STUDIO: Final = "studio"
_TOTAL: Final = "_total_shrinkage_fraction"
CLAY_TABLES: Final = ("body", "slip")


@dataclass(frozen=True, slots=True)
class Body:
    """A clay body: linear shrinkage from mold to fired (`total`), the part of it that is drying (on the
    plastic length), and its water when plastic, over the wet mass; all fractions.
    """

    name: str
    total: Constant
    drying: Constant
    water: Constant


@dataclass(frozen=True, slots=True)
class Slip:
    """A casting slip: `rate` k in mm²/min, `density` and `solids` against water, water of the wall just
    drained and leather-hard over the wet mass, lengthening of each further cast, deflocculant over dry clay.
    """

    name: str
    rate: Constant
    density: Constant
    solids: Constant
    cast_water: Constant
    leather_water: Constant
    damp_slope: Constant
    deflocculant: Constant


# Keys of a studio's file -> (field, factor to the shelf's unit, least, most).
_BODY_KEYS: Final = {
    "total_shrinkage_percent": ("total", 0.01, 0.0, 40.0),
    "drying_shrinkage_percent": ("drying", 0.01, 0.0, 25.0),
    "plastic_water_percent": ("water", 0.01, 5.0, 50.0),
}
_SLIP_KEYS: Final = {
    "casting_rate_mm2_per_min": ("rate", 1.0, 0.01, 100.0),
    "density_ratio": ("density", 1.0, 1.2, 2.2),
    "solids_density_ratio": ("solids", 1.0, 2.0, 4.0),
    "cast_water_percent": ("cast_water", 0.01, 5.0, 50.0),
    "leather_water_percent": ("leather_water", 0.01, 5.0, 40.0),
    "damp_slope_ratio": ("damp_slope", 1.0, 0.0, 1.0),
    "deflocculant_percent": ("deflocculant", 0.01, 0.0, 3.0),
}
_SLIP_SHELF: Final = {
    "rate": "casting_rate_mm2_per_min",
    "density": "slip_density_ratio",
    "solids": "slip_solids_ratio",
    "cast_water": "cast_water_fraction",
    "leather_water": "leather_water_fraction",
    "damp_slope": "damp_slope_ratio",
    "deflocculant": "deflocculant_fraction",
}


def body(name: str, studio: str = "") -> Body:
    """Return a clay body by name; `studio` is the text of the studio's own file, which comes first.

    Raises InputError naming the bodies known, or the line of the studio's file that cannot be used.
    """
    own = studio_entries(studio)["body"]
    word = _plain(name)
    known = {entry.removesuffix(_TOTAL) for entry in entries("clay") if entry.endswith(_TOTAL)}
    if word not in known | set(own):
        raise InputError(
            f"the clay body “{name}” is not known.",
            where="--body",
            remedy=f"{_near(word, known | set(own))}; or give its shrinkage, or a studio file.",
        )
    cast = word.endswith("slip")
    drying = value("clay", f"{'cast' if cast else 'plastic'}_drying_shrinkage_fraction")
    total = value("clay", f"{word}{_TOTAL}") if word in known else _missing(word, own[word])
    base = Body(word, total, drying, value("clay", "plastic_water_fraction"))
    fields: dict[str, Any] = dict(own.get(word, {}))
    return replace(base, **fields)


def slip(name: str | None = None, studio: str = "") -> Slip:
    """Return a casting slip: what is usual, with what the studio's file says of the slip of that name.

    Raises InputError for a name that the file does not hold, or a file that cannot be used.
    """
    usual = Slip("", **{field: value("slip", entry) for field, entry in _SLIP_SHELF.items()})
    if name is None:
        return usual
    own = studio_entries(studio)["slip"]
    word = _plain(name)
    if word not in own:
        raise InputError(
            f"the slip “{name}” is not in the studio's file.",
            where="--slip",
            remedy=_near(word, set(own)) if own else "Give --studio FILE, or --k and --sg.",
        )
    fields: dict[str, Any] = dict(own[word])
    return replace(usual, name=word, **fields)


def studio_entries(text: str) -> dict[str, dict[str, dict[str, Constant]]]:
    """Read a studio's own bodies and slips from its file's text: tables [body.NAME] and [slip.NAME].

    Each value is a number, or [least, usual, most]; keys end in their unit, such as
    total_shrinkage_percent = 11.8 or casting_rate_mm2_per_min = [1.2, 1.4, 1.6]. Raises InputError that names
    the entry.
    """
    found: dict[str, dict[str, dict[str, Constant]]] = {"body": {}, "slip": {}}
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise InputError(f"is not TOML: {problem}.", where=STUDIO, remedy="Look at that line.") from None
    for part, rows in tables.items():
        if part not in CLAY_TABLES:  # boards, buckets and the like
            continue
        if not isinstance(rows, Mapping):
            raise InputError(f"“{part}” holds no tables.", where=STUDIO, remedy=f"Begin with [{part}.NAME].")
        keys = _BODY_KEYS if part == "body" else _SLIP_KEYS
        for name, row in rows.items():
            if not isinstance(row, Mapping):
                raise InputError(
                    f"“{name}” holds no table.", where=STUDIO, remedy=f"Begin it with [{part}.{name}]."
                )
            found[part][_plain(name)] = {
                keys[key][0]: _own(f"{part}.{name}.{key}", raw, keys[key])
                for key, raw in row.items()
                if _known(key, keys, f"{part}.{name}")
            }
    return found


def _known(key: str, keys: Mapping[str, object], where: str) -> bool:
    if key not in keys:
        raise InputError(
            f"“{key}” is not known.", where=f"{STUDIO}, {where}", remedy=f"Use {', '.join(keys)}."
        )
    return True


def _own(place: str, raw: Any, rule: tuple[str, float, float, float]) -> Constant:
    _, factor, least, most = rule
    numbers = raw if isinstance(raw, list) and len(raw) == 3 else [raw, raw, raw]
    for number in numbers:
        if isinstance(number, bool) or not isinstance(number, int | float) or not math.isfinite(number):
            raise InputError(
                "is not a number.", where=f"{STUDIO}, {place}", remedy="Write 11.8 or [11.5, 11.8, 12]."
            )
        if not least <= number <= most:
            raise InputError(
                f"{number:g} is out of range.",
                where=f"{STUDIO}, {place}",
                remedy=f"Use {least:g} to {most:g}.",
            )
    low, usual, high = (float(number) * factor for number in numbers)
    if not low <= usual <= high:
        raise InputError("is not in order.", where=f"{STUDIO}, {place}", remedy="Write least, usual, most.")
    return Constant(usual, "", low, high, STUDIO, "read", "The studio's own.")


def _missing(word: str, own: Mapping[str, Constant]) -> Constant:
    if "total" not in own:
        raise InputError(
            f"body.{word} has no total_shrinkage_percent.",
            where=STUDIO,
            remedy="Fire a bar and write it down.",
        )
    return own["total"]


def _plain(name: str) -> str:
    return "_".join(name.strip().casefold().replace("-", " ").split())


def _near(word: str, known: set[str]) -> str:
    near = get_close_matches(word, known, n=3)
    return f"Nearest: {', '.join(near)}" if near else f"Known: {', '.join(sorted(known))}"
