"""A figure and its working: what a person sees when asking where a number comes from."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Figure:
    """How one number of a document came about.

    `unit` as written; `formula` in words and symbols; `inputs` name -> value (numbers or text, the name
    carries the unit); `source` a key of docs/sources.md, or "measured", "asked", "geometry", "common
    practice, no source", "from memory"; `low` and `high` bound the value when it is uncertain, else both are
    None.
    """

    unit: str
    formula: str
    source: str
    inputs: dict[str, float | str] = field(default_factory=dict)
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True)
class Worked:
    """A number, or several in one list, together with their working.

    One that is handed on to be reckoned with is a `records.reckoned.Reckoned`.
    """

    value: float | tuple[float, ...]
    figure: Figure

    @property
    def number(self) -> float:
        """The number itself; raises TypeError when there are several."""
        if isinstance(self.value, tuple):
            raise TypeError("there are several numbers under one working")
        return self.value
