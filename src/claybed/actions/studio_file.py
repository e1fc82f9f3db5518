"""The studio's file: found, read, written, and turned into what a plan takes for granted."""

from __future__ import annotations

import contextlib
import os
import re
import tomllib
from collections.abc import Callable, Mapping
from datetime import date
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Final

from claybed import units
from claybed.actions.asking import (
    LIFTERS,
    RELEASES,
    SYSTEMS,
    celsius,
    choice,
    length_above_nothing_mm,
    mass_above_nothing_g,
    sides_mm,
    volume_above_nothing_ml,
    whole,
)
from claybed.errors import InputError
from claybed.materials import shelf
from claybed.materials.bodies import CLAY_TABLES
from claybed.records.studio import Band, BoardSet, Bucket, Person, PlasterLot, Studio

BOARD_MATERIALS: Final = ("mdf", "melamine", "ply", "plastic")
BAND_MATERIALS: Final = ("steel", "plastic", "lino")
_MOST_BYTES: Final = 200_000
_MOST_ROWS: Final = 200
Reader = Callable[[Any, str], Any]


def studio_path(asked: Path | None) -> Path | None:
    """Where the studio's file is: as asked, else CLAYBED_STUDIO, else the user's own when there is one.

    Raises InputError when a file that was named is not there.
    """
    named = os.environ.get("CLAYBED_STUDIO", "")
    for path, where in ((asked, "--studio"), (Path(named) if named else None, "CLAYBED_STUDIO")):
        if path is None:
            continue
        if not path.is_file():
            raise InputError(
                f"there is no studio file {path}.", where=where, remedy="Make one with claybed studio init."
            )
        return path
    own = own_path()
    return own if own.is_file() else None


def own_path() -> Path:
    """The user's own studio file: claybed/studio.toml under $XDG_CONFIG_HOME, or under ~/.config."""
    home = os.environ.get("XDG_CONFIG_HOME", "")
    base = Path(home) if home and Path(home).is_absolute() else Path.home() / ".config"
    return base / "claybed" / "studio.toml"


def read_studio(path: Path) -> Studio:
    """Read a studio's file. Raises InputError that names the entry, what is wrong and what to write."""
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise InputError("this is too long for a studio's file.", where=path.name, remedy="Name another.")
        content = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as fault:
        raise InputError(
            f"the studio's file cannot be read: {fault}.",
            where=path.name,
            remedy="Mend that line, or write a new file with claybed studio init.",
        ) from fault
    return studio_from(content, path.name)


def studio_from(content: Mapping[str, Any], where: str) -> Studio:
    """A studio from the entries of its file; `where` names the file in errors. Raises InputError."""
    # Clays and slips stand in the same file and are read where they are used.
    content = {name: part for name, part in content.items() if name not in CLAY_TABLES}
    found: dict[str, Any] = _entries(content, _PLAIN, where)
    for name, (kind, readers) in _ROWS.items():
        listed = content.get(name, [])
        if not isinstance(listed, list) or len(listed) > _MOST_ROWS:
            raise InputError(
                f"“{name}” must be a list.", where=where, remedy=f"Begin each entry with [[{name}]]."
            )
        found[name] = tuple(
            _row(kind, row, readers, f"{where}, {name} {k}") for k, row in enumerate(listed, start=1)
        )
    return Studio(**found)


def studio_toml(studio: Studio) -> str:
    """The studio's file as text: TOML that a person can read on and change."""
    lines = ["# What the studio owns and keeps to. Lengths, volumes and masses with their unit.", ""]
    amounts = {
        "name": studio.name or None,
        "units": studio.units,
        "ratio": None if studio.consistency is None else _ratio(studio.consistency),
        "bench": _said(studio.bench_mm, "mm"),
        "shelf": _said(studio.shelf_mm, "mm"),
        "scale_step": _said(studio.scale_step_g, "g"),
        "lift": _said(studio.lift_kg, "kg"),
        "water": _said(studio.water_celsius, "C"),
        "release": studio.release,
        "drills": studio.drills,
    }
    lines += [f"{key} = {_toml(value)}" for key, value in amounts.items() if value is not None]
    for board in studio.boards:
        lines += ["", "[[boards]]", f"name = {_toml(board.name)}", f'length = "{board.length_mm:g}mm"']
        lines += [f'height = "{board.height_mm:g}mm"', f'thickness = "{board.thickness_mm:g}mm"']
        lines += [f"count = {board.count}", f"material = {_toml(board.material)}"]
    for band in studio.bands:
        lines += ["", "[[bands]]", f"name = {_toml(band.name)}", f'length = "{band.length_mm:g}mm"']
        lines += [f'height = "{band.height_mm:g}mm"', f"material = {_toml(band.material)}"]
    for bucket in studio.buckets:
        lines += ["", "[[buckets]]", f'volume = "{bucket.volume_l:g}L"', f"count = {bucket.count}"]
    for person in studio.people:
        lines += ["", "[[people]]", f"name = {_toml(person.name)}", f"lifts = {_toml(person.lifts)}"]
    for sack in studio.plasters:
        lines += ["", "[[plasters]]", f"kind = {_toml(sack.kind)}", f"lot = {_toml(sack.lot)}"]
        lines += [f"opened = {_toml(sack.opened)}"]
        lines += [] if sack.consistency is None else [f"ratio = {_toml(_ratio(sack.consistency))}"]
    return "\n".join(lines) + "\n"


def write_studio(studio: Studio, path: Path, *, replace: bool) -> None:
    """Write the studio's file, whole or not at all; an earlier one only with `replace`. Raises InputError."""
    if path.exists() and not replace:
        raise InputError(
            f"there is a studio file {path} already.",
            where="--out",
            remedy="Change it by hand, or write it anew with --replace.",
        )
    part = path.with_name(f".{path.name}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_text(studio_toml(studio), encoding="utf-8")
        part.replace(path)
    except OSError as fault:
        with contextlib.suppress(OSError):
            part.unlink(missing_ok=True)
        raise InputError(
            f"{path} cannot be written: {fault.strerror}.", where="--out", remedy="Name another place."
        ) from fault


def kept_fields(studio: Studio) -> dict[str, Any]:
    """What a plan takes from the studio, by field of the brief, where the command line says nothing.

    The batch is what fills the largest bucket as far as one should, and no more than one person mixes at
    once. Source: materials/practice.
    """
    lifter = "school" if studio.people and all(p.lifts == "school" for p in studio.people) else "staff"
    kept: dict[str, Any] = {
        "boards": studio.boards,
        "bands": studio.bands,
        "drills": max(studio.drills, 1),
        "mixing": "drill" if studio.drills else "hand",
        "lifter": lifter,
        "scale_step_g": studio.scale_step_g,
        "bench_mm": studio.bench_mm,
        "shelf_mm": studio.shelf_mm,
        "release": studio.release,
        "water_celsius": studio.water_celsius,
        "consistency": studio.consistency,
        "lift_kg": studio.lift_kg,
    }
    if studio.boards or studio.bands:
        kept["form"] = "boards"
    if studio.lift_kg is None and studio.people:
        kept["lift_kg"] = shelf.value("practice", f"lift_stop_{lifter}_kg").value
    if studio.buckets:
        largest_l = max(bucket.volume_l for bucket in studio.buckets)
        filled_l = largest_l * shelf.value("practice", "bucket_fill_fraction").value
        kept["bucket_l"] = min(filled_l, shelf.value("practice", "batch_most_l").value)
    if studio.plasters:
        sack = studio.plasters[0]
        kept["plaster"] = sack.kind
        kept["consistency"] = sack.consistency or studio.consistency
    return {name: value for name, value in kept.items() if value is not None}


def boards_typed(text: str, *, where: str) -> BoardSet:
    """Read boards as typed: "4 600x200x18mm mdf" (count and material may be left out). Raises InputError."""
    count, body, material = _counted(text, BOARD_MATERIALS)
    length_mm, height_mm, thickness_mm = sides_mm(body, 3, where=where, such_as="4 600x250x18mm mdf")
    name = f"{length_mm:g} × {height_mm:g}"
    return BoardSet(name, length_mm, height_mm, thickness_mm, count or 4, material or "mdf")  # type: ignore[arg-type]


def band_typed(text: str, *, where: str) -> Band:
    """Read a band as typed: "1500x300mm plastic" (the material may be left out). Raises InputError."""
    _, body, material = _counted(text, BAND_MATERIALS)
    length_mm, height_mm = sides_mm(body, 2, where=where, such_as="1500x300mm plastic")
    return Band(f"{length_mm:g} × {height_mm:g}", length_mm, height_mm, material or "plastic")  # type: ignore[arg-type]


def bucket_typed(text: str, *, where: str) -> Bucket:
    """Read buckets as typed: "2 10L" (the count may be left out). Raises InputError."""
    found = re.fullmatch(r"(?:(\d{1,3})\s+)?(\d.*)", text.strip())
    body = found[2] if found else text
    return Bucket(
        volume_above_nothing_ml(body, where=where) / 1000.0, int(found[1]) if found and found[1] else 1
    )


def person_typed(text: str, *, where: str) -> Person:
    """Read a person as typed: "Ros" or "Ros: school". Raises InputError."""
    name, _, lifts = (part.strip() for part in text.partition(":"))
    return Person(name, choice(lifts or "staff", LIFTERS, where=where))  # type: ignore[arg-type]


def _counted(text: str, materials: tuple[str, ...]) -> tuple[int | None, str, str | None]:
    kinds = "|".join(materials)
    found = re.fullmatch(rf"(?:(\d{{1,3}})\s+)?(.+?)(?:\s+({kinds}))?", text.strip(), re.IGNORECASE)
    if found is None:
        return None, text, None
    return (int(found[1]) if found[1] else None), found[2], (found[3].casefold() if found[3] else None)


def _text(value: Any, where: str) -> str:
    if not isinstance(value, str) or len(value) > 120:
        raise InputError("this must be a short text.", where=where, remedy='Write it like "tall".')
    return value


def _amount(read: Callable[..., float]) -> Reader:
    return lambda value, where: read(_text(value, where), where=where)


def _count(value: Any, where: str, least: int = 1) -> int:
    if isinstance(value, bool) or not isinstance(value, int):
        raise InputError("this must be a whole number.", where=where, remedy="Such as 4.")
    return whole(value, least, most=1000, where=where)


def _day(value: Any, where: str) -> str:
    if isinstance(value, date):
        return value.isoformat()
    text = _text(value, where)
    try:
        return date.fromisoformat(text).isoformat() if text else ""
    except ValueError as fault:
        raise InputError(f"“{text}” is not a day.", where=where, remedy="Write 2026-10-02.") from fault


def _plaster(value: Any, where: str) -> str:
    text = _text(value, where)
    shelf.consistency_range(text)
    return text


def _one_of(allowed: tuple[str, ...]) -> Reader:
    return lambda value, where: choice(_text(value, where), allowed, where=where)


_LENGTH: Final = _amount(length_above_nothing_mm)
_RATIO: Final = _amount(units.ratio_consistency)
# Entry of the file -> field of the record and its reader.
_PLAIN: Final[dict[str, tuple[str, Reader]]] = {
    "name": ("name", _text),
    "units": ("units", _one_of(SYSTEMS)),
    "ratio": ("consistency", _RATIO),
    "bench": ("bench_mm", _LENGTH),
    "shelf": ("shelf_mm", _LENGTH),
    "scale_step": ("scale_step_g", _amount(mass_above_nothing_g)),
    "lift": ("lift_kg", lambda value, where: _amount(mass_above_nothing_g)(value, where) / 1000.0),
    "water": ("water_celsius", _amount(celsius)),
    "release": ("release", _one_of(RELEASES)),
    "drills": ("drills", lambda value, where: _count(value, where, 0)),
}
_ROWS: Final[dict[str, tuple[type, dict[str, tuple[str, Reader]]]]] = {
    "boards": (
        BoardSet,
        {
            "name": ("name", _text),
            "length": ("length_mm", _LENGTH),
            "height": ("height_mm", _LENGTH),
            "thickness": ("thickness_mm", _LENGTH),
            "count": ("count", _count),
            "material": ("material", _one_of(BOARD_MATERIALS)),
        },
    ),
    "bands": (
        Band,
        {
            "name": ("name", _text),
            "length": ("length_mm", _LENGTH),
            "height": ("height_mm", _LENGTH),
            "material": ("material", _one_of(BAND_MATERIALS)),
        },
    ),
    "buckets": (
        Bucket,
        {
            "volume": (
                "volume_l",
                lambda value, where: _amount(volume_above_nothing_ml)(value, where) / 1000.0,
            ),
            "count": ("count", _count),
        },
    ),
    "people": (Person, {"name": ("name", _text), "lifts": ("lifts", _one_of(LIFTERS))}),
    "plasters": (
        PlasterLot,
        {
            "kind": ("kind", _plaster),
            "lot": ("lot", _text),
            "opened": ("opened", _day),
            "ratio": ("consistency", _RATIO),
        },
    ),
}


def _entries(
    content: Mapping[str, Any], readers: Mapping[str, tuple[str, Reader]], where: str
) -> dict[str, Any]:
    known = {*readers, *(_ROWS if readers is _PLAIN else ())}
    for key in content:
        if key not in known:
            near = get_close_matches(key, known, n=1) or [", ".join(sorted(known))]
            raise InputError(
                f"“{key}” is no entry of a studio's file.", where=where, remedy=f"Try {near[0]}."
            )
    return {
        field: read(content[key], f"{where}, {key}")
        for key, (field, read) in readers.items()
        if key in content
    }


def _row(kind: type, row: Any, readers: Mapping[str, tuple[str, Reader]], where: str) -> Any:
    if not isinstance(row, Mapping):
        raise InputError(
            "this must hold named entries.", where=where, remedy=f"Such as {', '.join(readers)}."
        )
    try:
        return kind(**_entries(row, readers, where))
    except TypeError as fault:
        missing = [key for key, (field, _) in readers.items() if f"'{field}'" in str(fault)]
        raise InputError(
            f"{' and '.join(missing)} is missing.", where=where, remedy="Add it, with its unit."
        ) from fault


def _said(value: float | None, unit: str) -> str | None:
    return None if value is None else f"{value:g}{unit}"


def _ratio(consistency: float) -> str:
    """The ratio as studios say it where that is exact, else the water per 100 of plaster."""
    parts = f"{100.0 / consistency:.4g}"
    exact = consistency <= 100.0 and abs(100.0 / float(parts) - consistency) < 1e-9
    return f"1:{parts}" if exact else f"{consistency:.12g}"


def _toml(value: str | int) -> str:
    if isinstance(value, int):
        return str(value)
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", " ") + '"'
