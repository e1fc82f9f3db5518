"""What cases are built to: lengths of the shelf, and steps between the most and the least of one."""

from __future__ import annotations

from claybed.materials import shelf

_STEP_MM = 0.5


def size_mm(name: str) -> float:
    """A length of a case by its name without the unit. Raises InputError for one that is not on the shelf."""
    return shelf.value("cases", f"{name}_mm").value


def falling_mm(name: str, count: int) -> tuple[float, ...]:
    """`count` lengths, 2 or more, from the most of one to its least, each the same share of the one before.

    To half a millimetre. Raises InputError for a length that is not on the shelf.
    """
    spread = shelf.value("cases", f"{name}_mm")
    share = (spread.low / spread.high) ** (1.0 / (count - 1))
    return tuple(round(spread.high * share**k / _STEP_MM) * _STEP_MM for k in range(count))
