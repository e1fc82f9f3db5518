"""What a person should know about a plan, and what every plan is tested for."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Severity = Literal["note", "look", "stop"]
# What follows the height of a place in words: its frame is that of the closed block.
ABOVE_FOOT = "mm above the foot of the closed block"


@dataclass(frozen=True, slots=True)
class Amount:
    """A measured amount with its unit, as it stands on the plan."""

    value: float
    unit: str


@dataclass(frozen=True, slots=True)
class Finding:
    """Something true of the plan that a person should know.

    `id` a stable snake_case code; `severity` note (good to know), look (check by eye), stop (do not go on);
    `where` the place in words; `at_mm` the place in the block's or object's frame, when there is one;
    `says` one sentence a colleague would say; `remedy` what to do.
    """

    id: str
    severity: Severity
    where: str
    says: str
    remedy: str = ""
    amount: Amount | None = None
    at_mm: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class Check:
    """A property every plan is tested for.

    `measured` against `limit` in `unit`; `sense` says which way is good: "most" measured must not exceed the
    limit, "least" it must not fall below. `where` the place of the worst value; `how` the method in a few
    words.
    """

    id: str
    ok: bool
    measured: float
    limit: float
    unit: str
    sense: Literal["most", "least"]
    where: str
    how: str
    remedy: str = ""
    at_mm: tuple[float, float, float] | None = None
