"""A document written together with the working of its figures: neither can be without the other."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any

import numpy as np

from claybed.records.figure import Figure

Inputs = Mapping[str, float | str | None]


class Part:
    """One object of a document at a JSON pointer; numbers go in with their figure, all else without one."""

    def __init__(self, entry: dict[str, Any], pointer: str, figures: dict[str, Figure]) -> None:
        self.entry = entry
        self.pointer = pointer
        self.figures = figures

    def say(self, **words: object) -> None:
        """Add texts, flags, None and lists of them; raises ValueError for anything that holds a number."""
        for key, value in words.items():
            if has_number(value):
                raise ValueError(f"{self.pointer}/{key} holds a number and needs its working")
            self.entry[key] = value

    def number(
        self,
        key: str,
        value: float | Iterable[float] | None,
        unit: str,
        formula: str,
        source: str,
        inputs: Inputs | None = None,
        *,
        low: float | None = None,
        high: float | None = None,
    ) -> None:
        """Add a number, or a list of numbers under one figure; what is not finite becomes None.

        A list must have the same unit throughout.
        """
        plain = plain_number(value)
        self.entry[key] = plain
        if has_number(plain):
            given = {name: item for name, item in (inputs or {}).items() if finite(item)}
            figure = Figure(
                unit, formula, source, {k: v for k, v in given.items() if v is not None}, low, high
            )
            self.figures[f"{self.pointer}/{key}"] = figure

    def take(self, entry: Mapping[str, Any], worked: Mapping[str, Figure]) -> None:
        """Add values that were worked out elsewhere, with figures by their pointer in the document.

        Raises ValueError when a number of `entry` has none.
        """
        bare = sorted(set(numbers_at(entry, self.pointer)) - set(worked))
        if bare:
            raise ValueError(f"no working for {', '.join(bare)}")
        self.entry.update(entry)
        self.figures.update(worked)

    def part(self, key: str) -> Part:
        """A new object under `key`."""
        entry: dict[str, Any] = {}
        self.entry[key] = entry
        return Part(entry, f"{self.pointer}/{key}", self.figures)

    def row(self, key: str) -> Part:
        """A new object at the end of the list under `key`, which is begun when there is none."""
        rows = self.entry.setdefault(key, [])
        entry: dict[str, Any] = {}
        rows.append(entry)
        return Part(entry, f"{self.pointer}/{key}/{len(rows) - 1}", self.figures)


def new_document() -> Part:
    """An empty document to write into."""
    return Part({}, "", {})


def finished(document: Part) -> dict[str, Any]:
    """The document as plain values, its figures under "figures"."""
    return document.entry | {
        "figures": {pointer: asdict(figure) for pointer, figure in document.figures.items()}
    }


def numbers_at(value: object, pointer: str = "") -> list[str]:
    """Pointers of all numbers in plain JSON values; numbers in one list share the list's pointer."""
    if isinstance(value, Mapping):
        return [at for key, item in value.items() for at in numbers_at(item, f"{pointer}/{key}")]
    if isinstance(value, list | tuple):
        if any(is_number(item) for item in value):
            return [pointer]
        return [at for k, item in enumerate(value) for at in numbers_at(item, f"{pointer}/{k}")]
    return [pointer] if is_number(value) else []


def has_number(value: object) -> bool:
    """Whether plain values hold a number anywhere."""
    return bool(numbers_at(value))


def is_number(value: object) -> bool:
    """Whether a value is a number; a flag is none."""
    return isinstance(value, int | float | np.number) and not isinstance(value, bool | np.bool_)


def finite(value: object) -> bool:
    """Whether a value can stand in JSON as it is: a text, or a finite number."""
    return isinstance(value, str) or (is_number(value) and math.isfinite(value))  # type: ignore[arg-type]


def plain_number(value: Any) -> Any:
    """A number, or a list of them, as plain JSON values; None for what is missing or not finite."""
    if value is None:
        return None
    if is_number(value):
        return value if isinstance(value, int) else float(value) if math.isfinite(value) else None
    return [plain_number(item) for item in value]
