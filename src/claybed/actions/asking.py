"""What a person typed for a plan, made into a Brief: on the command line or in a form of the app."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from claybed import units
from claybed.errors import InputError
from claybed.materials import shelf
from claybed.materials.bodies import body as body_named
from claybed.records.brief import Brief, KeepOut, KeepOutSpot, Region, Vector

UNITS: Final = ("mm", "cm", "m", "in", "ft")
SYSTEMS: Final = ("metric", "us")
RELEASES: Final = ("soap", "oil", "wax")
OPEN_MOLDS: Final = ("block", "hump")
LIFTERS: Final = ("school", "staff")
MADE_OF: Final = ("unknown", "ceramic", "wood", "pla", "oil_clay", "wax")
SECOND_POURS: Final = ("same_day", "wrapped", "soaked")
_NAMED: Final[dict[str, Vector]] = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}
_LEAST_TRIANGLES: Final = 4
# Of these none can be chosen for anybody: they are what was measured or wanted.
_NOTHING_REMEDY: Final = {
    "--space": "Give the space to fill: 10L.",
    "--box": "Give the inside of the boards and the height of the pour: 200x150x90mm.",
    "--round": "Give the inside of the band and the height of the pour: 180mm x 120mm.",
}
_ELSE: Final = "Give an amount above 0, or leave the option out."
_TIMES: Final = re.compile(r"\s*[x×*]\s*", re.IGNORECASE)
_REGION_REMEDY: Final = "Write z>=20mm, 10mm<=x<=3cm or within 8mm of (10,-5,62)."
_DIRECTION: Final = r"(?:[+-]?[xyz]|\([^()]*\))"
_ONE_SIDE: Final = re.compile(rf"({_DIRECTION})\s*([<>])=?\s*([^<>=]+)", re.IGNORECASE)
_SPOT: Final = re.compile(r"within\s+([^()]+?)\s+of\s+\(([^()]*)\)", re.IGNORECASE)
_TWO_SIDES: Final = re.compile(rf"([^<>=]+?)\s*<=?\s*({_DIRECTION})\s*<=?\s*([^<>=]+)", re.IGNORECASE)


def direction(text: str, *, where: str) -> Vector:
    """Read a direction ("z", "-y" or "0.2,0,1") as a unit vector.

    Raises InputError for anything else, numbers that are not finite, or a direction of no length.
    """
    body = text.strip().casefold()
    sign = -1.0 if body.startswith("-") else 1.0
    if body.lstrip("+-") in _NAMED and len(body) <= 2:
        x, y, z = _NAMED[body[-1]]
        return (sign * x + 0.0, sign * y + 0.0, sign * z + 0.0)
    parts = body.removeprefix("(").removesuffix(")").split(",")
    try:
        numbers = [float(part) for part in parts]
    except ValueError:
        numbers = []
    length = math.hypot(*numbers)
    if len(numbers) != 3 or not math.isfinite(length) or length < 1e-9:
        raise InputError(f"“{text}” is not a direction.", where=where, remedy="Write x, -z or 0.2,0,1.")
    return (numbers[0] / length, numbers[1] / length, numbers[2] / length)


def keep_out(text: str, *, where: str) -> Region:
    """Read a region ("z>=20mm", "-y<=5", "10mm<=x<=3cm" or "(0,1,1)>=20"; lengths along the direction, in
    mm), or a spot ("within 8mm of (10,-5,62)").

    Raises InputError for anything else, or a region that holds nothing.
    """
    body = " ".join(text.split())
    if spot := _SPOT.fullmatch(body):
        return _spot(spot[1], spot[2], text, where)
    two, one = _TWO_SIDES.fullmatch(body), _ONE_SIDE.fullmatch(body)
    lo_mm, hi_mm = -math.inf, math.inf
    if two:
        lo_mm, hi_mm = (units.length_mm(side, where=where, signed=True) for side in (two[1], two[3]))
        along = direction(two[2], where=where)
    elif one:
        along, side_mm = direction(one[1], where=where), units.length_mm(one[3], where=where, signed=True)
        lo_mm, hi_mm = (side_mm, hi_mm) if one[2] == ">" else (lo_mm, side_mm)
    else:
        raise InputError(f"“{text}” is not a region.", where=where, remedy=_REGION_REMEDY)
    if not lo_mm < hi_mm:
        raise InputError(f"“{text}” holds nothing.", where=where, remedy="Write the smaller length first.")
    return KeepOut(along, lo_mm, hi_mm)


def _spot(radius: str, centre: str, text: str, where: str) -> KeepOutSpot:
    parts = centre.split(",")
    if len(parts) != 3:
        raise InputError(f"“{text}” is not a region.", where=where, remedy=_REGION_REMEDY)
    x, y, z = (units.length_mm(part, where=where, signed=True) for part in parts)
    return KeepOutSpot((x, y, z), length_above_nothing_mm(radius, where=where))


def choice(text: str, allowed: tuple[str, ...], *, where: str) -> str:
    """Read one of the `allowed` words, in any case; raises InputError that lists them."""
    word = text.strip().casefold()
    if word not in allowed:
        raise InputError(
            f"“{text}” is not one of {', '.join(allowed)}.", where=where, remedy="Choose one of them."
        )
    return word


def whole(number: int, least: int, *, where: str, most: int | None = None) -> int:
    """Pass on a whole number from `least` to `most`; raises InputError outside."""
    if number < least or (most is not None and number > most):
        span = f"{least} or more" if most is None else f"{least} to {most}"
        raise InputError(f"{number} is not possible here.", where=where, remedy=f"Use {span}.")
    return number


def above_nothing(amount: float, text: str, *, where: str) -> float:
    """Pass on an amount above 0; raises InputError with what was typed otherwise."""
    if not 0.0 < amount < math.inf:
        raise InputError(f"“{text}” must be above 0.", where=where, remedy=_NOTHING_REMEDY.get(where, _ELSE))
    return amount


def length_above_nothing_mm(text: str, *, where: str) -> float:
    """Read a length above 0, in mm; raises InputError otherwise."""
    return above_nothing(units.length_mm(text, where=where), text, where=where)


def with_unit(text: str, example: str, where: str) -> str:
    """Return the text if it names a unit: a bare number of litres read as millilitres makes a wrong mix.

    Zero needs none. Raises InputError for a bare number.
    """
    bare = text.strip().replace(",", ".")
    if any(letter.isalpha() for letter in bare) or not bare.strip("0. "):
        return text
    raise InputError(f"“{text}” has no unit.", where=where, remedy=f"Write it like {example}.")


def volume_above_nothing_ml(text: str, *, where: str) -> float:
    """Read a volume above 0, in ml; raises InputError otherwise."""
    return above_nothing(units.volume_ml(with_unit(text, "10L", where), where=where), text, where=where)


def mass_above_nothing_g(text: str, *, where: str) -> float:
    """Read a mass above 0, in g; raises InputError otherwise."""
    return above_nothing(units.mass_g(with_unit(text, "310g", where), where=where), text, where=where)


def sides_mm(text: str, count: int, *, where: str, such_as: str = "") -> tuple[float, ...]:
    """Read `count` lengths joined by x ("200x150x90mm"); a side without a unit takes that of the last.
    Above 0, in mm.

    Raises InputError for another count, or a side that is not a length; the remedy shows one `such_as` this.
    """
    parts = _TIMES.split(text.strip())
    if len(parts) != count:
        example = such_as or ("200x150x90mm" if count == 3 else "180mm x 120mm")
        raise InputError(f"“{text}” does not name {count} lengths.", where=where, remedy=f"Write {example}.")
    unit = re.search(r"(mm|cm|m|in|ft|inch|inches|feet|foot|\"|″|'|′)$", parts[-1].strip(), re.IGNORECASE)
    default = units.length_mm(f"1 {unit[1]}") if unit else 1.0
    sides = []
    for part in parts:
        bare = re.fullmatch(r"\d+(?:[.,]\d+)?|(?:\d+[ -])?\d+/\d+", part)
        side_mm = units.length_mm(part, where=where)
        sides.append(above_nothing(side_mm * default if bare else side_mm, part, where=where))
    return tuple(sides)


def celsius(text: str, *, where: str) -> float:
    """Read the temperature of water ("18C", "65F"; a bare number is °C), in °C, from 1 to 60.

    Raises InputError for anything else.
    """
    found = re.fullmatch(r"(\d+(?:[.,]\d+)?)\s*°?\s*([cf]?)", text.strip().casefold())
    if found is None:
        raise InputError(f"“{text}” is not a temperature.", where=where, remedy="Write 18C or 65F.")
    number = float(found[1].replace(",", "."))
    degrees = (number - 32.0) / 1.8 if found[2] == "f" else number
    if not 1.0 <= degrees <= 60.0:
        raise InputError(
            f"water of {degrees:.0f} °C is not for plaster.", where=where, remedy="Use 15 to 25 °C."
        )
    return degrees


def _plaster_name(text: str, where: str) -> str:
    word = re.sub(r"[\s-]+", "_", text.strip().casefold())
    if not re.fullmatch(r"[a-z][a-z0-9_]*", word):
        raise InputError(f"“{text}” is not a name.", where=where, remedy="Such as pottery_plaster.")
    return word


def _tolerance_deg(number: float, where: str) -> float:
    if not 0.0 <= number < 90.0:
        raise InputError(f"{number:g} degrees is not possible here.", where=where, remedy="Use 0 to 89.")
    return number


def body_words(texts: Sequence[str], clay: str | None) -> tuple[int | None, str | None]:
    """Read --body: a number picks a body of the file, a name is the clay body, as is `clay`; None for what is
    missing.

    Raises InputError when either is told twice.
    """
    number: int | None = None
    for text in texts:
        counts = text.strip().lstrip("-").isdigit()
        twice = (number if counts else clay) is not None
        if counts:
            number = int(text)
        else:
            clay = text.strip()
        if twice or not text.strip():
            raise InputError(
                f"“{text}” is one too many.", where="--body", remedy="Give one number, one name, or both."
            )
    return number, clay


def _gate(typed: str, where: str) -> str | Vector:
    """Read where slip goes in: auto, none, or a direction in which the gate comes out."""
    word = typed.strip().casefold()
    if word in ("auto", "none"):
        return word
    try:
        return direction(typed, where=where)
    except InputError:
        raise InputError(
            f"“{typed}” is no place for a gate.",
            where=where,
            remedy="Write auto, none, or where it comes out, as the file lies: z, -x or 0.2,0,1.",
        ) from None


_READERS: Final[dict[str, Callable[[Any, str], object]]] = {
    "unit": lambda typed, where: choice(typed, UNITS, where=where),
    "height_mm": lambda typed, where: length_above_nothing_mm(typed, where=where),
    "mouth": lambda typed, where: bool(typed),
    "close_holes": lambda typed, where: bool(typed),
    "mass_g": lambda typed, where: mass_above_nothing_g(typed, where=where),
    "body": lambda typed, where: whole(typed, 1, where=where),
    "up": lambda typed, where: direction(typed, where=where),
    "max_triangles": lambda typed, where: whole(typed, _LEAST_TRIANGLES, where=where),
    "axis": lambda typed, where: direction(typed, where=where),
    "flat_seam": lambda typed, where: bool(typed),
    "keep_out": lambda typed, where: tuple(keep_out(text, where=where) for text in typed),
    "max_fill_ml": lambda typed, where: units.volume_ml(with_unit(typed, "10ml", where), where=where),
    "pose_tolerance_deg": lambda typed, where: _tolerance_deg(typed, where),
    "pieces": lambda typed, where: whole(typed, 1, most=6, where=where),
    "shape": lambda typed, where: choice(typed, ("auto", "boxed", "round"), where=where),
    "use": lambda typed, where: choice(typed, ("slip", "press"), where=where),
    "open": lambda typed, where: choice(typed, OPEN_MOLDS, where=where),
    "wall_mm": lambda typed, where: length_above_nothing_mm(typed, where=where),
    "ware_wall_mm": lambda typed, where: length_above_nothing_mm(typed, where=where),
    "gate": lambda typed, where: _gate(typed, where),
    "gate_bore_mm": lambda typed, where: length_above_nothing_mm(typed, where=where),
    "keys": lambda typed, where: bool(typed),
    "consistency": lambda typed, where: units.ratio_consistency(typed, where=where),
    "waste": lambda typed, where: units.fraction(typed, where=where),
    "form": lambda typed, where: choice(typed, ("hand", "boards", "case"), where=where),
    "bucket_l": lambda typed, where: volume_above_nothing_ml(typed, where=where) / 1000.0,
    "plaster": lambda typed, where: _plaster_name(typed, where),
    "clay": lambda typed, where: str(typed),
    "slip": lambda typed, where: str(typed),
    "fired_height_mm": lambda typed, where: length_above_nothing_mm(typed, where=where),
    "fired_capacity_ml": lambda typed, where: volume_above_nothing_ml(typed, where=where),
    "expansion_fraction": lambda typed, where: units.fraction(typed, where=where),
    "generations": lambda typed, where: whole(typed, 1, most=10, where=where),
    "lift_kg": lambda typed, where: mass_above_nothing_g(typed, where=where) / 1000.0,
    "drills": lambda typed, where: whole(typed, 1, most=20, where=where),
    "mixing": lambda typed, where: choice(typed, ("drill", "hand"), where=where),
    "release": lambda typed, where: choice(typed, RELEASES, where=where),
    "lifter": lambda typed, where: choice(typed, LIFTERS, where=where),
    "water_celsius": lambda typed, where: celsius(typed, where=where),
    "porous": lambda typed, where: bool(typed),
    "hollow_ml": lambda typed, where: volume_above_nothing_ml(typed, where=where),
    "made_of": lambda typed, where: choice(typed.replace("-", "_"), MADE_OF, where=where),
    "second_pour": lambda typed, where: choice(typed.replace("-", "_"), SECOND_POURS, where=where),
}

OPTIONS: Final[dict[str, str]] = {
    "unit": "--unit",
    "height_mm": "--height",
    "mouth": "--mouth",
    "close_holes": "--close-holes",
    "mass_g": "--mass",
    "body": "--body",
    "up": "--up",
    "max_triangles": "--max-triangles",
    "axis": "--axis",
    "flat_seam": "--flat-seam",
    "keep_out": "--keep-out",
    "max_fill_ml": "--max-fill",
    "pose_tolerance_deg": "--pose-tolerance",
    "pieces": "--pieces",
    "shape": "--shape",
    "use": "--use",
    "open": "--open",
    "wall_mm": "--wall",
    "ware_wall_mm": "--ware-wall",
    "gate": "--gate",
    "gate_bore_mm": "--gate-bore",
    "keys": "--no-keys",
    "consistency": "--ratio",
    "waste": "--waste",
    "form": "--form",
    "bucket_l": "--bucket",
    "plaster": "--plaster",
    "clay": "--clay",
    "slip": "--slip",
    "fired_height_mm": "--fired-height",
    "fired_capacity_ml": "--fired-capacity",
    "expansion_fraction": "--expansion",
    "generations": "--generations",
    "lift_kg": "--lift",
    "drills": "--drills",
    "mixing": "--mixing",
    "release": "--release",
    "lifter": "--lifter",
    "water_celsius": "--water",
    "porous": "--porous",
    "hollow_ml": "--hollow",
    "made_of": "--made-of",
    "second_pour": "--second-pour",
}


def words_of(typed: Mapping[str, Any]) -> list[str]:
    """Return the options that give what was `typed`, by field name, as words of a command line."""
    words: list[str] = []
    for name, value in typed.items():
        if value is True or (name == "keys" and value is False):
            words.append(OPTIONS[name])
        elif isinstance(value, list):
            words += [word for text in value for word in (OPTIONS[name], text)]
        elif value is not None and value is not False:
            words += [OPTIONS[name], str(value)]
    return words


def brief_from(typed: Mapping[str, Any], kept: Mapping[str, Any] | None = None) -> Brief:
    """Make the Brief from what was typed, by field name; None and missing fields take what the studio has
    `kept`, and else the Brief's own default.

    Raises InputError that names the option.
    """
    read = {name: _READERS[name](value, OPTIONS[name]) for name, value in typed.items() if value is not None}
    opened = read.pop("open", None)
    brief = Brief(**{**(kept or {}), **read})
    if opened is not None:
        brief = _opened(brief, str(opened), read)
    known_names(brief)
    return brief


def _opened(brief: Brief, kind: str, read: Mapping[str, object]) -> Brief:
    """The brief of an open mold: one piece for pressing, a block that clay goes into or a hump it goes over.

    Raises InputError for what such a mold cannot have.
    """
    against = [
        (read.get("pieces") not in (None, 1), "--pieces", "An open mold is one piece"),
        (read.get("use") == "slip", "--use slip", "An open mold is for clay that is pressed or draped"),
        (kind == "hump" and brief.axis is not None, "--axis", "A hump leaves along --up"),
        (kind == "hump" and bool(brief.keep_out), "--keep-out", "A hump has no seam"),
        (kind == "hump" and brief.flat_seam, "--flat-seam", "A hump has no seam"),
    ]
    for refused, option, why in against:
        if refused:
            raise InputError(
                f"{option} and --open {kind} do not go together.",
                where="--open",
                remedy=f"{why}: leave one of them out.",
            )
    hump = kind == "hump"
    # A hump is of the inside: what a mouth would close of the outside is not asked for.
    return replace(brief, pieces=1, use="press", hump=hump, mouth=brief.mouth and not hump)


def known_names(brief: Brief) -> None:
    """Raise InputError for a plaster or a clay body that nobody knows, before any place or file is judged."""
    shelf.consistency_range(brief.plaster)
    if brief.clay is not None:
        body_named(brief.clay, brief.clays)
