"""Keys from the sheet into a list of workings: each printed figure leads to formula, inputs and source."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from claybed.wording import unit_words

MOST_INPUTS = 6
# Of figures that share a key, so many are told.
MOST_ALIKE = 8
# Less than this share of its largest neighbour is what rounding left.
NOTHING_SHARE = 1e-9
ROW_NAMES = {"pieces": "id", "pours": "piece", "dry_targets": "piece", "checks": "id"}


class Workings:
    """Numbers given to figures in the order in which they are printed."""

    def __init__(self, plan: Mapping[str, Any]) -> None:
        self._plan = plan
        self._figures: Mapping[str, Any] = plan.get("figures") or {}
        self._keys: dict[str, int] = {}
        self._alike: dict[str, list[str]] = {}

    def key(self, pointer: str) -> str:
        """The key of a figure by its JSON pointer, "" when the plan has no working for it."""
        if pointer not in self._figures:
            return ""
        return str(self._keys.setdefault(pointer, len(self._keys) + 1))

    def keys(self, *tables: Sequence[str]) -> str:
        """The keys of several figures or tables of figures, in short: "7, 12-15"; "" when none has a working.

        A table holds pointers of figures of one kind: those that come about in the same way share a key, that
        of the first.
        """
        found: list[int] = []
        for table in tables:
            kinds: dict[tuple[str, str], list[str]] = {}
            for pointer in table:
                if pointer in self._figures:
                    figure = self._figures[pointer]
                    kinds.setdefault((str(figure["formula"]), str(figure["source"])), []).append(pointer)
            for known in kinds.values():
                found.append(int(self.key(known[0])))
                alike = self._alike.setdefault(known[0], [])
                alike += [pointer for pointer in known if pointer not in alike]
        return _in_short(sorted(set(found)))

    def pointers(self) -> dict[str, list[str]]:
        """The figures that each key stands for, by their JSON pointers."""
        return {str(key): self._alike.get(pointer) or [pointer] for pointer, key in self._keys.items()}

    def rows(self) -> list[dict[str, str]]:
        """Every figure that was given a key, in order, with its working in words."""
        rows = [self._row(pointer, key) for pointer, key in self._keys.items()]
        told: dict[tuple[str, str, str], tuple[str, list[str]]] = {}
        for row in rows:
            kind = (row["name"].rpartition(".")[2], row["formula"], row["source"])
            inputs = row["inputs"].split(", ")
            if kind not in told:
                told[kind] = (row["key"], inputs)
                continue
            # What was told of the first of a kind is not told of the others: only where they differ.
            first, same = told[kind]
            row["formula"] = f"as [{first}]"
            row["inputs"] = ", ".join(given for given in inputs if given not in same)
        return rows

    def _row(self, pointer: str, key: int) -> dict[str, str]:
        figure = self._figures[pointer]
        given = list((figure.get("inputs") or {}).items())
        inputs = [f"{name.replace('_', ' ')} {_said(value)}" for name, value in given[:MOST_INPUTS]]
        if len(given) > MOST_INPUTS:
            inputs.append(f"and {len(given) - MOST_INPUTS} more")
        low, high = figure.get("low"), figure.get("high")
        spread = "" if low is None or high is None else f", {_said(low)} to {_said(high)}"
        alike = self._alike.get(pointer) or [pointer]
        values = [_said(value_at(self._plan, one)) for one in alike]
        if len(set(values)) == 1:
            values = values[:1]
        if len(alike) > 1:
            # What stands beside is the working of the first; the others go the same way.
            spread, inputs = "", inputs[:0]
            values = [*values[:MOST_ALIKE], "…"] if len(values) > MOST_ALIKE else values
        unit = unit_words(str(figure.get("unit", "")))
        names = name_of(self._plan, pointer)
        if len(alike) > 1:
            names += f" and {len(alike) - 1} alike"
        return {
            "key": str(key),
            "name": names,
            "value": f"{', '.join(values)} {unit}".strip() + spread,
            "formula": str(figure.get("formula", "")),
            "inputs": ", ".join(inputs),
            "source": str(figure.get("source", "")),
        }


def _in_short(numbers: Sequence[int]) -> str:
    """Whole numbers in rising order with runs of three and more told by their ends."""
    parts: list[str] = []
    at = 0
    while at < len(numbers):
        end = at
        while end + 1 < len(numbers) and numbers[end + 1] == numbers[end] + 1:
            end += 1
        run = [str(number) for number in numbers[at : end + 1]]
        parts += [f"{run[0]}–{run[-1]}"] if len(run) > 2 else run
        at = end + 1
    return ", ".join(parts)


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
        # What is nothing beside the others is told as nothing, not as what rounding left of it.
        most = max((abs(v) for v in value if isinstance(v, float)), default=0.0)
        return " × ".join(
            "0" if isinstance(v, float) and abs(v) < NOTHING_SHARE * most else _said(v) for v in value
        )
    return str(value)
