"""A way to make a mold that was cut, and why it was left."""

from __future__ import annotations

from dataclasses import dataclass

from claybed.records.finding import Check
from claybed.records.surveyed import MoldOption


@dataclass(frozen=True, slots=True)
class Tried:
    """One way that was cut: `option` as it was told before the cut; `over` when its side pieces part over the
    object.

    `left_ml` is what it leaves to fill as it was cut, None when no mold that opens came of it. It was left
    for the `check` that does not hold, or for `why` in words; the way that was taken has neither.
    """

    option: MoldOption
    over: bool
    left_ml: float | None
    check: Check | None = None
    why: str = ""
