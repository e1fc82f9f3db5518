"""Where a formula stops holding, an InputError says so instead of a number."""

from __future__ import annotations

import math

from claybed.errors import InputError


def above(amount: float, limit: float, name: str, unit: str) -> float:
    """The amount itself when it is finite and greater than the limit; else InputError."""
    if not (math.isfinite(amount) and amount > limit):
        raise InputError(
            f"{amount:g} {unit} cannot be.", where=name, remedy=f"It must be above {limit:g} {unit}."
        )
    return amount


def within(amount: float, low: float, high: float, name: str, unit: str) -> float:
    """The amount itself when low <= amount <= high; else InputError."""
    if not low <= amount <= high:
        raise InputError(
            f"{amount:g} {unit} is out of range.", where=name, remedy=f"Use {low:g} to {high:g} {unit}."
        )
    return amount
