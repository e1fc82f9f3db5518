"""What people type in a studio, read into mm, ml and g; and figures written so that they can be weighed.

Inside the program lengths are mm in geometry and m in physics; this module converts at the rim, nowhere else.
The factors are exact by definition (international yard and pound 1959; US gallon of 231 cubic inches).
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from fractions import Fraction
from typing import Final

from claybed.errors import InputError

MM_PER_IN: Final = 25.4
MM_PER_FT: Final = 304.8
ML_PER_US_GAL: Final = 3785.411784
ML_PER_US_QT: Final = ML_PER_US_GAL / 4
ML_PER_US_FL_OZ: Final = ML_PER_US_GAL / 128
ML_PER_IN3: Final = 16.387064
G_PER_LB: Final = 453.59237
G_PER_OZ: Final = G_PER_LB / 16

# Sides of an interval that are nearer to each other than this are written as one.
EVEN_ENOUGH: Final = 0.8

# A consistency outside this range is no gypsum plaster that the density model was compared with.
CONSISTENCY_LEAST: Final = 20.0
CONSISTENCY_MOST: Final = 200.0

# Each kind: spelling -> (factor, system, rank). A compound such as "4 lb 3 oz" stays in one system, its ranks
# falling.
_Table = dict[str, tuple[float, str, int]]


def _spell(*rows: tuple[str, float, str, int]) -> _Table:
    return {word: (factor, system, rank) for words, factor, system, rank in rows for word in words.split("|")}


_LENGTH: Final = _spell(
    ("m|metre|metres|meter|meters", 1000.0, "metric", 3),
    ("cm|centimetre|centimetres|centimeter|centimeters", 10.0, "metric", 2),
    ("mm|millimetre|millimetres|millimeter|millimeters", 1.0, "metric", 1),
    ("ft|foot|feet|'|′", MM_PER_FT, "us", 2),
    ("in|inch|inches|\"|″|''", MM_PER_IN, "us", 1),
)
_VOLUME: Final = _spell(
    ("m3|m³", 1e6, "metric", 3),
    ("l|litre|litres|liter|liters|dm3|dm³", 1000.0, "metric", 2),
    ("dl", 100.0, "metric", 1),
    ("cl", 10.0, "metric", 1),
    ("ml|cc|cm3|cm³|millilitre|millilitres|milliliter|milliliters", 1.0, "metric", 0),
    ("gal|gallon|gallons", ML_PER_US_GAL, "us", 4),
    ("qt|qts|quart|quarts", ML_PER_US_QT, "us", 3),
    ("pt|pint|pints", ML_PER_US_GAL / 8, "us", 2),
    ("cup|cups", ML_PER_US_GAL / 16, "us", 1),
    ("fl oz|floz|fl. oz|fl. oz.|fluid ounce|fluid ounces", ML_PER_US_FL_OZ, "us", 0),
    ("in3|in³|cu in|cubic inch|cubic inches", ML_PER_IN3, "cubic", 0),
    ("ft3|ft³|cu ft|cubic foot|cubic feet", ML_PER_IN3 * 1728, "cubic", 1),
)
_MASS: Final = _spell(
    ("kg|kilo|kilos|kilogram|kilograms", 1000.0, "metric", 2),
    ("g|gr|gram|grams|gramme|grammes", 1.0, "metric", 1),
    ("lb|lbs|lb.|pound|pounds|#", G_PER_LB, "us", 2),
    ("oz|oz.|ounce|ounces", G_PER_OZ, "us", 1),
)

_AREA: Final = _spell(
    ("m2|m²", 1e4, "metric", 2),
    ("cm2|cm²|sq cm", 1.0, "metric", 1),
    ("mm2|mm²", 0.01, "metric", 0),
    ("in2|in²|sq in", MM_PER_IN**2 / 100, "us", 1),
    ("ft2|ft²|sq ft", MM_PER_FT**2 / 100, "us", 2),
)

_VULGAR: Final = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
_FRACTION: Final = re.compile(r"(?:(\d+)(?:\s+|-))?(\d+)\s*/\s*(\d+)", re.ASCII)
_DECIMAL: Final = re.compile(r"\d+(?:[.,]\d+)?|[.,]\d+", re.ASCII)


def length_mm(text: str, *, default_unit: str = "mm", where: str = "", signed: bool = False) -> float:
    """Read a length as typed ("18cm", "7 1/2 in", "1ft 3in", "3,5 cm"), in mm.

    A bare number takes `default_unit`. `where` names the option or field in the message; `signed` allows a
    leading plus or minus. Raises InputError for anything left over, an unknown unit, a negative number or one
    that can be read two ways.
    """
    return _read(text, _LENGTH, "length", "18cm, 180mm or 7 1/2 in", default_unit, where, signed)


def volume_ml(text: str, *, default_unit: str = "ml", where: str = "") -> float:
    """Read a volume as typed ("10L", "350ml", "2 qt", "1.5 gal"; US measures), in ml.

    A bare number takes `default_unit`. Raises InputError as `length_mm` does.
    """
    return _read(text, _VOLUME, "volume", "10L, 350ml or 2 qt", default_unit, where, False)


def mass_g(text: str, *, default_unit: str = "g", where: str = "") -> float:
    """Read a mass as typed ("310g", "2.75 lb", "4 lb 3 oz"), in g.

    A bare number takes `default_unit`. Raises InputError as `length_mm` does.
    """
    return _read(text, _MASS, "mass", "310g, 2.4kg or 4 lb 3 oz", default_unit, where, False)


def area_cm2(text: str, *, default_unit: str = "cm2", where: str = "") -> float:
    """Read an area as typed ("300cm2", "50 sq in", "0.1 m²"), in cm².

    A bare number takes `default_unit`. Raises InputError as `length_mm` does.
    """
    return _read(text, _AREA, "area", "300cm2, 0.1m2 or 50 in2", default_unit, where, False)


def temperature_celsius(text: str, *, where: str = "") -> float:
    """Read a temperature as typed ("22C", "22 °C", "72F"), in °C; a bare number is °C.

    Raises InputError for anything else, or a temperature below -50 or above 200 °C.
    """
    shown = _short(text, where)
    found = re.fullmatch(r"([-−]?\d+(?:[.,]\d+)?)\s*(?:°|deg)?\s*([cf]?)", shown.casefold())
    if found is None:
        raise InputError(f"“{shown}” is not a temperature.", where=where, remedy="Write 22C or 72F.")
    degrees = float(found[1].replace("−", "-").replace(",", "."))
    celsius = (degrees - 32.0) / 1.8 if found[2] == "f" else degrees
    if not -50.0 <= celsius <= 200.0:
        raise InputError(f"“{shown}” is out of range.", where=where, remedy="Write 22C or 72F.")
    return celsius


def ratio_consistency(text: str, *, where: str = "") -> float:
    """Read a ratio water : plaster by mass ("1:1.3") or a consistency ("77"), as water per 100 of plaster.

    Valid from 20 to 200. Raises InputError for anything else, for a ratio that seems to be written plaster
    first, and for a bare number that could be a ratio ("1.3").
    """
    shown = _short(text, where)
    parts = [part.strip() for part in shown.split(":")]
    if not all(_DECIMAL.fullmatch(part) for part in parts) or len(parts) > 2:
        raise InputError(
            f"“{shown}” is not a ratio.", where=where, remedy="Write water : plaster, such as 1:1.3, or 77."
        )
    numbers = [_decimal(part, shown, where) for part in parts]
    if len(numbers) == 2:
        if min(numbers) <= 0:
            raise InputError(f"“{shown}” lacks one of its two amounts.", where=where, remedy="Such as 1:1.3.")
        if numbers[0] > numbers[1]:
            raise InputError(
                f"“{shown}” has more water than plaster.",
                where=where,
                remedy=f"Write water : plaster, or {100 * numbers[0] / numbers[1]:g} if that is meant.",
            )
        consistency = 100.0 * numbers[0] / numbers[1]
    else:
        consistency = numbers[0]
        if consistency < 10.0:
            raise InputError(
                f"“{shown}” could be a ratio either way round.",
                where=where,
                remedy="Write 1:1.3, or 77 per 100.",
            )
    if not CONSISTENCY_LEAST <= consistency <= CONSISTENCY_MOST:
        raise InputError(
            f"{consistency:g} parts of water per 100 of plaster is no plaster mix.",
            where=where,
            remedy=f"Use {CONSISTENCY_LEAST:g} to {CONSISTENCY_MOST:g}; pottery plaster takes 70 to 80.",
        )
    return consistency


def fraction(text: str, *, where: str = "") -> float:
    """Read a share as typed ("10%", "10 %" or "0.1"), as a fraction from 0 to 1.

    Raises InputError for anything else; a bare number above 1 is refused: "10" could be meant either way.
    """
    shown = _short(text, where)
    body = shown.removesuffix("%").strip()
    if not _DECIMAL.fullmatch(body):
        raise InputError(f"“{shown}” is not a share.", where=where, remedy="Write 10% or 0.1.")
    share = _decimal(body, shown, where) / (100.0 if shown.endswith("%") else 1.0)
    if share > 1.0:
        raise InputError(f"“{shown}” is more than the whole.", where=where, remedy="Write 10% or 0.1.")
    return share


def say_count(count: int, noun: str) -> str:
    """Return a number of things, the noun in its number: 1 hole, 1,200 holes."""
    return f"{count:,} {noun}" if count == 1 else f"{count:,} {noun}s"


def say_share(share: float, digits: int = 0) -> str:
    """Return a fraction in per cent: 0.1 -> 10 %."""
    return f"{100.0 * share:.{digits}f} %"


def say_mass(grams: float, *, us: bool = False) -> str:
    """Write a mass in g so that it can be weighed: to 5 g from 1 kg on, to 1 g below; in US units lb and oz.

    US figures go to 0.1 oz from 1 lb on and to 0.05 oz below. Raises ValueError when `grams` is not finite.
    """
    sign, amount = _split_sign(grams)
    if us:
        tenths = round(amount / G_PER_OZ * 10)
        if tenths >= 160:
            pounds, rest = divmod(tenths, 160)
            return f"{sign}{pounds} lb {rest / 10:.1f} oz"
        twentieths = round(amount / G_PER_OZ * 20)
        return f"{sign}{twentieths / 20:.2f} oz" if twentieths or not amount else "under 0.05 oz"
    if round(amount) >= 1000:
        return f"{sign}{_to_step(amount, 5) / 1000:.3f} kg"
    return f"{sign}{round(amount)} g" if round(amount) or not amount else "under 1 g"


def say_length(mm: float, *, us: bool = False) -> str:
    """Write a length in mm: whole mm from 10 mm on, tenths below; in US units as an inch rule shows it.

    Under a sixteenth of an inch, which no rule shows well, thousandths. Raises ValueError unless finite.
    """
    sign, amount = _split_sign(mm)
    if us:
        on_rule = not amount or amount >= MM_PER_IN / 16
        return f"{sign}{say_inches(amount) if on_rule else say_gauged(amount, us=True)}"
    return f"{sign}{round(amount)} mm" if round(amount, 1) >= 10 else f"{sign}{amount:.1f} mm"


def say_inches(mm: float) -> str:
    """Write a length, not negative, as an inch rule shows it: sixteenths, under half an inch half of them."""
    marks = 16 if mm >= MM_PER_IN / 2 else 32
    whole, rest = divmod(round(mm / MM_PER_IN * marks), marks)
    return f"{' '.join(str(piece) for piece in (whole, Fraction(rest, marks)) if piece) or 0} in"


def say_gauged(mm: float, *, us: bool = False) -> str:
    """Write a length as calipers or a feeler gauge show it: tenths of a mm, or thousandths of an inch."""
    return f"{mm / MM_PER_IN:.3f} in" if us else f"{mm:.1f} mm"


def say_opening(width_mm: float, length_mm: float, *, us: bool = False) -> str:
    """Write the size of a hole, least and largest width in mm: one width when round, both when not."""
    wide, long = say_length(width_mm, us=us), say_length(length_mm, us=us)
    return f"{wide} wide" if length_mm < 1.1 * width_mm else f"{wide} × {long}"


def say_volume(ml: float, *, us: bool = False) -> str:
    """Write a volume in ml: litres to 10 ml from 1 l on, whole ml below, tenths under 10 ml, and no 0.0 ml.

    In US units gal and qt to hundredths, fl oz to tenths. Raises ValueError when `ml` is not finite.
    """
    sign, amount = _split_sign(ml)
    if us:
        for name, size in (("gal", ML_PER_US_GAL), ("qt", ML_PER_US_QT)):
            if round(amount / size, 2) >= 1:
                return f"{sign}{amount / size:.2f} {name}"
        ounces = amount / ML_PER_US_FL_OZ
        if 0 < ounces < 0.005:
            return "under 0.01 fl oz"
        return f"{sign}{ounces:.{1 if ounces >= 1 else 2}f} fl oz"
    if round(amount) >= 1000:
        return f"{sign}{amount / 1000:.2f} l"
    if 0.0 < amount < 0.05:
        return "under 0.1 ml"
    return f"{sign}{round(amount)} ml" if round(amount, 1) >= 10 else f"{sign}{amount:.1f} ml"


def say_spread(value: float, low: float | None, high: float | None, say: Callable[[float], str]) -> str:
    """Write how far a figure may be off as `say` writes amounts: "± 12 g", or "+ 3 g, − 12 g".

    Sides that differ by less than a fifth are written as one, the wider. Empty for a figure without bounds.
    """
    if low is None or high is None or not low < high:
        return ""
    less, more = max(value - low, 0.0), max(high - value, 0.0)
    if min(less, more) >= EVEN_ENOUGH * max(less, more):
        return f"± {say(max(less, more))}"
    return f"+ {say(more)}, − {say(less)}"


def say_area(cm2: float, *, us: bool = False) -> str:
    """Write an area in cm², or in US units square inches, to whole ones. Raises ValueError unless finite."""
    sign, amount = _split_sign(cm2)
    return f"{sign}{amount * 100 / MM_PER_IN**2:.0f} in²" if us else f"{sign}{amount:.0f} cm²"


def say_temperature(celsius: float, *, us: bool = False) -> str:
    """Write a temperature to whole degrees, °C or °F. Raises ValueError when it is not finite."""
    if not math.isfinite(celsius):
        raise ValueError(f"a figure must be finite, got {celsius}")
    return f"{celsius * 1.8 + 32:.0f} °F" if us else f"{celsius:.0f} °C"


def say_time(minutes: float) -> str:
    """Write a time as one would say it: seconds, minutes, hours and minutes, or days from two days on.

    Raises ValueError when `minutes` is not finite.
    """
    if not math.isfinite(minutes):
        raise ValueError(f"a figure must be finite, got {minutes}")
    if minutes < 2:
        return f"{round(minutes * 60)} s"
    if minutes < 90:
        return f"{minutes:.0f} min" if minutes >= 10 else f"{minutes:.1f}".removesuffix(".0") + " min"
    if minutes < 48 * 60:
        hours, rest = divmod(round(minutes / 5) * 5, 60)
        return f"{hours} h {rest} min" if rest and hours < 10 else f"{round(minutes / 60)} h"
    return f"{minutes / 1440:.1f}".removesuffix(".0") + " days"


def say_ratio(consistency: float) -> str:
    """Write water per 100 of plaster as studios do: water : plaster, with the consistency behind it."""
    return f"1 : {100 / consistency:.2f}".rstrip("0").rstrip(".") + f" ({consistency:.0f} per 100)"


def _short(text: str, where: str) -> str:
    shown = " ".join(text.split())
    if len(shown) > 40:  # no amount is that long, and a number of 400 digits would be infinite
        raise InputError(
            f"“{shown[:20]}…” is too long for an amount.", where=where, remedy="Write 18cm or 1:1.3."
        )
    return shown


def _split_sign(amount: float) -> tuple[str, float]:
    if not math.isfinite(amount):
        raise ValueError(f"a figure must be finite, got {amount}")
    return ("-" if amount < 0 else ""), abs(amount)


def _to_step(amount: float, step: int) -> int:
    return round(amount / step) * step


def _decimal(text: str, shown: str, where: str) -> float:
    # "1,250" is a thousand and a quarter in one country and one and a quarter in the next.
    if re.fullmatch(r"[1-9]\d{0,2},\d{3}", text):
        whole, part = text.replace(",", ""), float(text.replace(",", "."))
        raise InputError(f"“{shown}” can be read two ways.", where=where, remedy=f"Write {whole} or {part}.")
    return float(text.replace(",", "."))


def _number(text: str, at: int, shown: str, where: str) -> tuple[float, int] | None:
    """One number of `text` at index `at` and the index behind it; None when there is none."""
    match = _FRACTION.match(text, at)
    if match:
        whole, top, bottom = match.groups()
        if int(bottom) == 0:
            raise InputError(f"“{shown}” divides by nothing.", where=where, remedy="Such as 7 1/2 in.")
        return float(int(whole or 0) + Fraction(int(top), int(bottom))), match.end()
    match = _DECIMAL.match(text, at)
    return (_decimal(match.group(), shown, where), match.end()) if match else None


def _unit(text: str, at: int, table: _Table) -> str | None:
    """The longest spelling of `table` that stands at `at` and is not the start of a longer word."""
    rest = text[at:].casefold()
    for word in sorted(table, key=len, reverse=True):
        if rest.startswith(word) and not (word[-1].isalpha() and rest[len(word) : len(word) + 1].isalpha()):
            return word
    return None


def _behind_space(text: str, at: int) -> int:
    return at + 1 if text.startswith(" ", at) else at


def _read(
    text: str, table: _Table, kind: str, example: str, default_unit: str, where: str, signed: bool
) -> float:
    shown = body = _short(text, where)
    for sign, spelled in _VULGAR.items():
        body = re.sub(rf"(?<=\d)\s*{sign}", f" {spelled}", body).replace(sign, spelled)
    factor = 1.0
    if signed and body[:1] in ("-", "+", "−"):
        factor = -1.0 if body[0] != "+" else 1.0
        body = body[1:].lstrip()

    def refuse(why: str) -> InputError:
        return InputError(f"“{shown}” {why}.", where=where, remedy=f"Write a {kind} such as {example}.")

    total, at, last, terms = 0.0, 0, ("", 99), 0
    while at < len(body):
        found = _number(body, at, shown, where)
        if found is None:
            raise refuse("is negative" if body[at] in "-−" and not terms else f"is not a {kind}")
        amount, at = found
        at = _behind_space(body, at)
        if at == len(body) and not terms:
            return factor * amount * table[default_unit][0]
        unit = _unit(body, at, table)
        if unit is None:
            raise refuse(f"has no unit of {kind} behind its number" if at < len(body) else f"is not a {kind}")
        size, system, rank = table[unit]
        if terms and (system != last[0] or rank >= last[1]):
            raise refuse("mixes its units")
        total, last, terms = total + amount * size, (system, rank), terms + 1
        at = _behind_space(body, at + len(unit) + body.startswith(".", at + len(unit)))
    if not terms:
        raise refuse(f"is not a {kind}")
    return factor * total
