"""Readings as people type them, CSV or TOML, made into a form."""

from __future__ import annotations

import csv
import io
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Final

from claybed import units
from claybed.errors import InputError
from claybed.materials import shelf
from claybed.records.form import SECTIONS, Form, Reading, Section, Tube

MOST_READINGS: Final = 2_000
LARGEST_BYTES: Final = 1_000_000
UNITS: Final = ("mm", "cm", "m", "in", "ft")
_COLUMNS: Final = {
    "height": ("height", "h", "z", "level"),
    "width": ("diameter", "d", "width", "w", "across"),
    "depth": ("depth", "front"),
    "inside": ("inside", "inner", "bore"),
    "corner": ("corner", "edge", "sharp"),
}
_UNIT_TAIL: Final = re.compile(r"[\s_(\[]*(mm|cm|m|in|ft|inches|inch)[\s)\]]*$")
_YES: Final = {"x", "y", "yes", "1", "sharp", "true"}
_KEYS: Final = {
    "unit", "section", "exponent", "corner", "reading", "outside", "inside", "foot_inside", "foot_deep",
    "lip", "handle", "spout",
}  # fmt: skip
_TUBE_KEYS: Final = {"path", "width", "thick", "bore", "around"}


def read_form(data: bytes, name: str, asked: Mapping[str, Any]) -> Form:
    """Make a form of the bytes of a CSV or TOML file called `name`.

    `asked` may hold unit, section, exponent, corner_mm, lip and reading_mm, which outweigh the file. Lengths
    take the unit asked for, else the file's, else mm; one with a unit of its own keeps it. Raises InputError
    that names the row or key.
    """
    if len(data) > LARGEST_BYTES:
        raise InputError(
            f"is {len(data) / 1e6:.1f} MB; readings take a few lines.",
            where=name,
            remedy="Name the readings.",
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as reason:
        raise InputError(
            "is no text.",
            where=name,
            remedy="Save the readings as CSV in UTF-8, or type them in a text file.",
        ) from reason
    if "\0" in text:
        raise InputError("is no text.", where=name, remedy="Save the readings as CSV or TOML.")
    toml = name.casefold().endswith(".toml") or bool(re.search(r"^\s*outside\s*=", text, re.MULTILINE))
    form = _from_toml(text, name, asked) if toml else _from_csv(text, name, asked)
    return _asked(form, asked)


def _asked(form: Form, asked: Mapping[str, Any]) -> Form:
    kind = asked.get("section") or form.section.kind
    exponent = asked.get("exponent") or form.section.exponent
    if kind == "superellipse" and not 0.5 <= exponent <= 20.0:
        raise InputError(
            f"a superellipse of exponent {exponent:g} is not drawn.",
            where="--exponent",
            remedy="Use 0.5 to 20.",
        )
    corner_mm = form.section.corner_mm if asked.get("corner_mm") is None else asked["corner_mm"]
    if kind == "rectangle" and not corner_mm > 0.0:
        raise InputError(
            "a rectangle needs the radius of its corners.", where="--corner", remedy="Such as --corner 6mm."
        )
    more = {name: asked[name] for name in ("lip", "reading_mm") if asked.get(name) is not None}
    form = replace(form, section=Section(kind, exponent, corner_mm), **more)
    apart = [r for r in (*form.outside, *form.inside) if r.width_mm != r.depth_mm]
    if kind == "round" and apart:
        return replace(form, section=replace(form.section, kind="oval"))
    return form


def _from_csv(text: str, name: str, asked: Mapping[str, Any]) -> Form:
    rows = _rows(text, name)
    columns, unit, first = _header(rows[0][1], name)
    unit = str(asked.get("unit") or unit or "mm")
    outside, inside = [], []
    for number, cells in rows[first:]:
        got = {key: cells[at].strip() for key, at in columns.items() if at < len(cells)}
        if not got.get("height") or not got.get("width"):
            raise InputError(
                f"row {number} lacks a height or a diameter.",
                where=name,
                remedy="Give both, or delete the row.",
            )
        height, width = (_length(got[key], unit, f"{name}, row {number}") for key in ("height", "width"))
        depth = _length(got["depth"], unit, f"{name}, row {number}") if got.get("depth") else width
        sharp = got.get("corner", "").casefold() in _YES
        outside.append(Reading(height, width, depth, sharp))
        if got.get("inside"):
            across = _length(got["inside"], unit, f"{name}, row {number}")
            ratio = depth / width if width else 1.0
            inside.append(Reading(height, across, across * ratio, sharp))
    return Form(tuple(outside), tuple(inside), reading_mm=usual_reading_mm())


def usual_reading_mm() -> float:
    """How far one reading with calipers may be off (95 %), mm. Source: materials/measuring."""
    return shelf.value("measuring", "caliper_reading_mm").value


def _rows(text: str, name: str) -> list[tuple[int, list[str]]]:
    """Rows with anything in them, numbered as an editor does."""
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith("#")]
    if not lines:
        raise InputError(
            "holds no readings.", where=name, remedy="Give a height and a diameter on each line."
        )
    if len(lines) > MOST_READINGS:
        raise InputError(
            f"holds {len(lines):,} lines; at most {MOST_READINGS:,} readings are taken.",
            where=name,
            remedy="Give fewer.",
        )
    mark = next((m for m in ("\t", ";") if m in lines[0]), ",")
    try:
        found = [
            (number, next(csv.reader(io.StringIO(line), delimiter=mark, strict=True)))
            for number, line in enumerate(text.splitlines(), start=1)
            if line.strip() and not line.lstrip().startswith("#")
        ]
    except csv.Error as reason:
        raise InputError(
            "is no CSV that can be read.", where=name, remedy="Write height, diameter on each line."
        ) from reason
    if max(len(cells) for _, cells in found) < 2:
        raise InputError(
            "has one column; readings take a height and a diameter.",
            where=name,
            remedy="Write them as 40, 85 on each line.",
        )
    return found


def _header(cells: Sequence[str], name: str) -> tuple[dict[str, int], str | None, int]:
    """Which column holds what, the unit the header names, and the first row of readings."""
    if re.match(r"\s*[-+.,\d]", cells[0]):
        order = ("height", "width") if len(cells) == 2 else ("height", "width", "depth")
        return {key: at for at, key in enumerate(order)}, None, 0
    columns: dict[str, int] = {}
    named: set[str] = set()
    for at, cell in enumerate(cells):
        word = cell.strip().casefold()
        tail = _UNIT_TAIL.search(word)
        if tail and tail.start() > 0:
            named.add({"inches": "in", "inch": "in"}.get(tail[1], tail[1]))
            word = word[: tail.start()]
        found = next((key for key, words in _COLUMNS.items() if word in words), None)
        if found is None or found in columns:
            raise InputError(
                f"the column “{cell.strip()[:30]}” is not known.",
                where=name,
                remedy="Columns are height, diameter (or width and depth), inside and corner.",
            )
        columns[found] = at
    if not {"height", "width"} <= set(columns):
        raise InputError("lacks a column of heights or diameters.", where=name, remedy="Name both columns.")
    if len(named) > 1:
        raise InputError("names two units in its header.", where=name, remedy="Use one unit throughout.")
    return columns, next(iter(named), None), 1


def _length(value: object, unit: str, where: str) -> float:
    """A length in mm, typed or a number in `unit`."""
    if isinstance(value, int | float) and not isinstance(value, bool):
        return units.length_mm(f"{value!r}", default_unit=unit, where=where, signed=True)
    if not isinstance(value, str):
        raise InputError("a length is a number or a text such as 85mm.", where=where, remedy="Write it so.")
    return units.length_mm(value, default_unit=unit, where=where, signed=True)


def _from_toml(text: str, name: str, asked: Mapping[str, Any]) -> Form:
    try:
        tree = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as reason:
        raise InputError(
            f"cannot be read: {str(reason)[:80]}.", where=name, remedy="Check the line that it names."
        ) from reason
    unknown = sorted(set(tree) - _KEYS)
    if unknown:
        raise InputError(
            f"the key “{unknown[0][:30]}” is not known.",
            where=name,
            remedy=f"Keys: {', '.join(sorted(_KEYS))}.",
        )
    unit = str(asked.get("unit") or tree.get("unit") or "mm")
    if unit not in UNITS:
        raise InputError(f"“{unit[:20]}” is no unit.", where=name, remedy=f"Use {', '.join(UNITS)}.")
    lip, kind = tree.get("lip", "flat"), tree.get("section", "round")
    if lip not in ("flat", "round") or kind not in SECTIONS:
        raise InputError(
            "lip or section has a word that is not known.",
            where=name,
            remedy=f"lip is flat or round; section is {', '.join(SECTIONS)}.",
        )
    exponent = tree.get("exponent", 2.0)
    if not isinstance(exponent, int | float) or isinstance(exponent, bool):
        raise InputError("exponent is a number.", where=name, remedy="Such as 2.5.")

    def length(key: str, usual_mm: float) -> float:
        return _length(tree[key], unit, f"{name}, {key}") if key in tree else usual_mm

    return Form(
        outside=_levels(tree.get("outside", []), unit, f"{name}, outside"),
        inside=_levels(tree.get("inside", []), unit, f"{name}, inside"),
        section=Section(kind, float(exponent), length("corner", 0.0)),
        foot_inside_mm=length("foot_inside", 0.0),
        foot_deep_mm=length("foot_deep", 0.0),
        lip=lip,
        tubes=tuple(
            _tube(one, kind_of, unit, f"{name}, {kind_of} {number}")
            for kind_of in ("handle", "spout")
            for number, one in enumerate(_list(tree.get(kind_of, []), f"{name}, {kind_of}"), start=1)
        ),
        reading_mm=length("reading", usual_reading_mm()),
    )


def _levels(rows: object, unit: str, where: str) -> tuple[Reading, ...]:
    found = []
    for number, row in enumerate(_list(rows, where), start=1):
        at = f"{where}, reading {number}"
        sharp = isinstance(row, list) and bool(row) and row[-1] == "sharp"
        cells = row[:-1] if isinstance(row, list) and sharp else row
        if not isinstance(cells, list) or len(cells) not in (2, 3):
            raise InputError(
                "is not [height, diameter] or [height, width, depth].", where=at, remedy="Such as [40, 85]."
            )
        values = [_length(cell, unit, at) for cell in cells]
        found.append(Reading(values[0], values[1], values[-1], sharp))
    return tuple(found)


def _list(value: object, where: str) -> list[Any]:
    if not isinstance(value, list) or len(value) > MOST_READINGS:
        raise InputError("is not a list of readings.", where=where, remedy="Such as [[0, 60], [40, 85]].")
    return value


def _tube(one: object, kind: str, unit: str, where: str) -> Tube:
    if not isinstance(one, dict) or not {"path", "width"} <= set(one) or set(one) - _TUBE_KEYS:
        raise InputError(
            "is not a tube.",
            where=where,
            remedy=f"Write [[{kind}]] with path, width and, if wanted, {', '.join(sorted(_TUBE_KEYS))}.",
        )
    path = []
    for number, point in enumerate(_list(one["path"], f"{where}, path"), start=1):
        at = f"{where}, path point {number}"
        if not isinstance(point, list) or len(point) != 2:
            raise InputError("is not [out, up].", where=at, remedy="Out from the axis, up from the board.")
        path.append((_length(point[0], unit, at), _length(point[1], unit, at)))
    width_mm = _length(one["width"], unit, f"{where}, width")
    thick_mm = _length(one.get("thick", one["width"]), unit, f"{where}, thick")
    bore_mm = _length(one["bore"], unit, f"{where}, bore") if "bore" in one else 0.0
    around = one.get("around", 0.0)
    if not isinstance(around, int | float) or isinstance(around, bool) or not abs(around) <= 360.0:
        raise InputError("around is degrees from -360 to 360.", where=where, remedy="Such as 90.")
    if not min(width_mm, thick_mm) > 0.0 or not 0.0 <= bore_mm < min(width_mm, thick_mm):
        raise InputError(
            "must be thicker than nothing and than its bore.", where=where, remedy="Measure it again."
        )
    if len(path) < 2:
        raise InputError("needs two points or more.", where=where, remedy="Give where it begins and ends.")
    return Tube(kind, tuple(path), width_mm, thick_mm, bore_mm, float(around))
