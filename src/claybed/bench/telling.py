"""Short ways to write a number down together with its working."""

from __future__ import annotations

from collections.abc import Mapping

from claybed.materials import shelf
from claybed.records.figure import Figure, Worked

Inputs = Mapping[str, float | str]


def worked(
    amount: float | tuple[float, ...],
    unit: str,
    formula: str,
    source: str,
    inputs: Inputs | None = None,
    *,
    low: float | None = None,
    high: float | None = None,
) -> Worked:
    """A number in `unit` with formula, source and inputs; `low` and `high` bound it when it is uncertain."""
    return Worked(amount, Figure(unit, formula, source, dict(inputs or {}), low, high))


def from_shelf(file: str, name: str, formula: str) -> Worked:
    """A constant of materials as it is, with its spread; `formula` says what it stands for."""
    constant = shelf.value(file, name)
    return worked(
        constant.value,
        constant.unit,
        formula,
        constant.source,
        {name: constant.value},
        low=constant.low,
        high=constant.high,
    )


def weighed(volume_ml: float, file: str, density: str, formula: str, *, called: str = "clay_ml") -> Worked:
    """The grams of a volume of something, with the spread of its density: `density` (g/ml) is a constant of
    materials' `file`, and the volume is `called` so among the inputs.
    """
    constant = shelf.value(file, density)
    return worked(
        volume_ml * constant.value,
        "g",
        formula,
        constant.source,
        {called: volume_ml, density: constant.value},
        low=volume_ml * constant.low,
        high=volume_ml * constant.high,
    )


def practice(name: str) -> float:
    """A value of materials/practice."""
    return shelf.value("practice", name).value


def bench(name: str) -> float:
    """A value of materials/bench."""
    return shelf.value("bench", name).value
