"""Keys from the sheet into a list of workings: each printed figure leads to formula, inputs and source."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from claybed.wording import unit_words

MOST_INPUTS = 6
ROW_NAMES = {"pieces": "id", "pours": "piece", "dry_targets": "piece", "checks": "id"}


class Workings:
    """Numbers given to figures in the order in which they are printed."""

    def __init__(self, plan: Mapping[str, Any]) -> None:
        self._plan = plan
        self._figures: Mapping[str, Any] = plan.get("figures") or {}
        self._keys: dict[str, int] = {}

    def key(self, pointer: str) -> str:
        """The key of a figure by its JSON pointer, "" when the plan has no working for it."""
        if pointer not in self._figures:
            return ""
        return str(self._keys.setdefault(pointer, len(self._keys) + 1))

    def rows(self) -> list[dict[str, str]]:
        """Every figure that was given a key, in order, with its working in words."""
        return [self._row(pointer, key) for pointer, key in self._keys.items()]

    def _row(self, pointer: str, key: int) -> dict[str, str]:
        figure = self._figures[pointer]
        given = list((figure.get("inputs") or {}).items())
        inputs = [f"{name.replace('_', ' ')} {_said(value)}" for name, value in given[:MOST_INPUTS]]
        if len(given) > MOST_INPUTS:
            inputs.append(f"and {len(given) - MOST_INPUTS} more")
        low, high = figure.get("low"), figure.get("high")
        spread = "" if low is None or high is None else f", {_said(low)} to {_said(high)}"
        value = value_at(self._plan, pointer)
        unit = unit_words(str(figure.get("unit", "")))
        return {
            "key": str(key),
            "name": name_of(self._plan, pointer),
            "value": f"{_said(value)} {unit}{spread}".strip(),
            "formula": str(figure.get("formula", "")),
            "inputs": ", ".join(inputs),
            "source": str(figure.get("source", "")),
        }


def name_of(plan: Mapping[str, Any], pointer: str) -> str:
    """A JSON pointer as it is asked for at the command line: "/pours/0/water_g" is pours.A.water_g."""
    parts: list[str] = []
    here: Any = plan
    for part in pointer.strip("/").split("/"):
        if isinstance(here, list):
            here = here[int(part)]
            # The tables whose rows have names of their own; other rows are counted from 1.
            own = ROW_NAMES.get(parts[0]) if len(parts) == 1 and isinstance(here, Mapping) else None
            parts.append(str(here[own]) if own and own in here else str(int(part) + 1))
        else:
            here = here[part]
            parts.append(part)
    return ".".join(parts)


def value_at(plan: Mapping[str, Any], pointer: str) -> Any:
    """The value that a JSON pointer names; raises KeyError when there is none."""
    here: Any = plan
    for part in pointer.strip("/").split("/"):
        here = here[int(part)] if isinstance(here, list) else here[part]
    return here


def _said(value: Any) -> str:
    if isinstance(value, float):
        return f"{value:.4g}"
    if isinstance(value, list):
        return " × ".join(_said(item) for item in value)
    return str(value)
