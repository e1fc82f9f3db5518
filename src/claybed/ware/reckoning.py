"""Numbers worked out with their bounds: at every corner of what went in."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product

from claybed.errors import InputError
from claybed.materials.shelf import Constant
from claybed.records.figure import Figure
from claybed.records.reckoned import Reckoned

Input = float | Constant | Reckoned


def reckon(work: Callable[..., float], unit: str, formula: str, source: str, **inputs: Input) -> Reckoned:
    """The number that `work` makes of `inputs`, with bounds when any of them has bounds.

    `work` takes the inputs by name, as plain floats, and must rise or fall with each over its spread: the
    bounds are the least and largest of all corners. A corner at which `work` cannot be done is left out.
    Raises what `work` raises for the inputs themselves.
    """
    value = work(**{name: middle(given) for name, given in inputs.items()})
    ends = [
        sorted({low_of(given), high_of(given)}) if low_of(given) < high_of(given) else [middle(given)]
        for given in inputs.values()
    ]
    found = [value]
    if any(len(pair) > 1 for pair in ends):
        for corner in product(*ends):
            try:
                found.append(work(**dict(zip(inputs, corner, strict=True))))
            except (InputError, ZeroDivisionError):
                continue
    low, high = (None, None) if len(found) == 1 else (min(found), max(found))
    shown: dict[str, float | str] = {name: middle(given) for name, given in inputs.items()}
    return Reckoned(value, Figure(unit, formula, source, shown, low, high))


def taken(given: Input, unit: str, formula: str, factor: float = 1.0) -> Reckoned:
    """A number taken as it is, times `factor` to its unit: asked, from the shelf, or worked out before."""
    if isinstance(given, Reckoned) and factor == 1.0:
        return given
    source = given.source if isinstance(given, Constant) else "asked"
    low, high = low_of(given) * factor, high_of(given) * factor
    bounds = (low, high) if low < high else (None, None)
    return Reckoned(middle(given) * factor, Figure(unit, formula, source, {}, *bounds))


def asked(value: float, unit: str = "") -> Constant:
    """What a person said, without a spread."""
    return Constant(value, unit, value, value, "asked", "read", "")


def within_error(value: float, tolerance: float, unit: str = "") -> Constant:
    """What a person measured, give or take an error."""
    return Constant(value, unit, value - tolerance, value + tolerance, "measured", "read", "")


def middle(given: Input) -> float:
    """The number itself."""
    return float(given) if isinstance(given, int | float) else given.value


def low_of(given: Input) -> float:
    """Its lower bound."""
    return float(given) if isinstance(given, int | float) else given.low


def high_of(given: Input) -> float:
    """Its upper bound."""
    return float(given) if isinstance(given, int | float) else given.high
